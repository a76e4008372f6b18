"""Compiled steps of the least squares: symmetric systems, and the whole way down for a chain.

Unknowns of a chain follow one another round the outline and each edge reads five of them, so its matrix is a band,
but for the last rows of a closed one, which reach back to the first. Cholesky's factor keeps that outline (A. Jennings,
1966), so that a system costs a few operations an unknown and right-hand side.

The way down is Gauss and Newton's, damped (D. Marquardt, 1963); under smooth joins each step solves the quadratic
problem with the joins linearised (sequential quadratic programming).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from platewright.fit.kernels import COMPILED, normal_equations

__all__ = ["constrained", "known", "refined", "solved", "spread_evenly"]

STEP = 1e-6
"""Step of the central differences of a join [mm]."""


@njit(**COMPILED)
def _factor(a, low, first):  # type: ignore[no-untyped-def]
    """Fill `low` with Cholesky's factor of `a`, and `first` with the first column of each row that is not 0."""
    for i in range(len(a)):
        f = 0
        while f < i and a[i, f] == 0.0:
            f += 1
        first[i] = f
        for j in range(f, i):
            s = a[i, j]
            for k in range(max(f, first[j]), j):
                s -= low[i, k] * low[j, k]
            low[i, j] = s / low[j, j]
        s = a[i, i]
        for k in range(f, i):
            s -= low[i, k] * low[i, k]
        low[i, i] = np.sqrt(s)


@njit(**COMPILED)
def _substitute(low, first, x):  # type: ignore[no-untyped-def]
    """Turn right-hand sides `x` (N, K) into solutions."""
    n, many = x.shape
    for i in range(n):
        for j in range(first[i], i):
            c = low[i, j]
            for k in range(many):
                x[i, k] -= c * x[j, k]
        c = 1.0 / low[i, i]
        for k in range(many):
            x[i, k] *= c
    for i in range(n - 1, -1, -1):
        c = 1.0 / low[i, i]
        for k in range(many):
            x[i, k] *= c
        for j in range(first[i], i):
            c = low[i, j]
            for k in range(many):
                x[j, k] -= c * x[i, k]


@njit(**COMPILED)
def solved(a, right):  # type: ignore[no-untyped-def]
    """Return the solutions (N, K) of a positive definite system (N, N) for right-hand sides (N, K); not finite if it is none."""
    low, first, x = np.empty((len(a), len(a))), np.empty(len(a), np.int64), right.copy()
    _factor(a, low, first)
    _substitute(low, first, x)
    return x


@njit(**COMPILED)
def known(hessian, free, share, more, least):  # type: ignore[no-untyped-def]
    """Return the part of a matrix for the `free` unknowns, with a `share` of `more` and `least` added to its diagonal."""
    m = len(free)
    out = np.empty((m, m))
    for i in range(m):
        for j in range(m):
            out[i, j] = hessian[free[i], free[j]]
        out[i, i] += share * more[free[i]] + least
    return out


@njit(**COMPILED)
def spread_evenly(hessian, start, stop, out):  # type: ignore[no-untyped-def]
    """Fill `out` with a Hessian's diagonal from `start` to `stop`, so that turning the axes changes nothing.

    Both coordinates of a vertex are alike, and none is next to nothing.
    """
    usual = 1e-9
    for v in range(start, stop, 3):
        out[v] = out[v + 1] = 0.5 * (hessian[v, v] + hessian[v + 1, v + 1])
        out[v + 2] = max(hessian[v + 2, v + 2], 1e-12)
        usual = max(usual, out[v])
    for v in range(start, stop, 3):
        out[v] = out[v + 1] = max(out[v], 1e-3 * usual)


@njit(**COMPILED)
def _largest(values):  # type: ignore[no-untyped-def]
    most = 0.0
    for i in range(len(values)):
        most = max(most, abs(values[i, 0]))
    return most


@njit(**COMPILED)
def _step(hessian, slope, free, damp, g, slopes, x):  # type: ignore[no-untyped-def]
    """Fill the first column of `x` (M, 1 + K) with the damped step of the free unknowns that meets the linearised joins.

    What two joins say alike is met once: a billionth more on their diagonal keeps the system definite.
    """
    m, many = len(free), len(g)
    scale, low, first = np.empty(len(hessian)), np.empty((m, m)), np.empty(m, np.int64)
    spread_evenly(hessian, 0, len(hessian), scale)
    for i in range(m):
        x[i, 0] = -slope[free[i]]
        for k in range(many):
            x[i, 1 + k] = slopes[free[i], k]
    _factor(known(hessian, free, damp, scale, 1e-12), low, first)
    _substitute(low, first, x)
    if many == 0:
        return
    s, push = np.zeros((many, many)), np.empty((many, 1))
    for k in range(many):
        push[k, 0] = -g[k, 0]
        for i in range(m):
            c = slopes[free[i], k]
            push[k, 0] -= c * x[i, 0]
            for j in range(many):
                s[k, j] += c * x[i, 1 + j]
        s[k, k] *= 1 + 1e-9
    _factor(s, low, first)
    _substitute(low, first, push)
    for i in range(m):
        for k in range(many):
            x[i, 0] += x[i, 1 + k] * push[k, 0]


@njit(**COMPILED)
def refined(points, weights, labels, rows, free, closed, frozen, anchors, hold, rounds):  # type: ignore[no-untyped-def]
    """Return (rows, labels, hessian, slope, misfit, sum of squares) of a chain at its least; the `free` unknowns move.

    `rows` and `labels` are written over.
    """
    size, m = 3 * len(rows), len(free)
    hessian, slope, misfit = np.empty((size, size)), np.empty(size), np.empty(len(points))
    hessian2, slope2, misfit2 = np.empty((size, size)), np.empty(size), np.empty(len(points))
    here, trial, at, at2 = rows, np.empty((len(rows), 3)), labels, np.empty(len(labels), np.int64)
    total = normal_equations(points, weights, at, here, closed, frozen, anchors, hold, hessian, slope, misfit)
    move, none, nothing = np.empty((m, 1)), np.empty((0, 1)), np.empty((size, 0))
    damp = 1e-3
    for _ in range(rounds):
        _step(hessian, slope, free, damp, none, nothing, move)
        share = min(1.0, 1.0 / max(_largest(move), 1e-12))
        for i in range(size):
            trial[i // 3, i % 3] = here[i // 3, i % 3]
        for i in range(m):
            trial[free[i] // 3, free[i] % 3] += share * move[i, 0]
        for i in range(len(at)):
            at2[i] = at[i]
        there = normal_equations(
            points, weights, at2, trial, closed, frozen, anchors, hold, hessian2, slope2, misfit2
        )
        if there <= total:
            gained, total = total - there, there
            here, trial, at, at2 = trial, here, at2, at
            hessian, hessian2, slope, slope2 = hessian2, hessian, slope2, slope
            misfit, misfit2 = misfit2, misfit
            damp = max(damp * 0.2, 1e-6)
            if gained < 1e-6 * total:
                break
        else:
            damp *= 8
            if damp > 1e4:
                break
    return here, at, hessian, slope, misfit, total


@njit(**COMPILED)
def _heading(x0, y0, bulge, x1, y1):  # type: ignore[no-untyped-def]
    """Return the direction of travel at an edge's end."""
    dx, dy = x1 - x0, y1 - y0
    size = max(np.hypot(dx, dy), 1e-12)
    tx, ty = dx / size, dy / size
    c, s = (1 - bulge * bulge) / (1 + bulge * bulge), 2 * bulge / (1 + bulge * bulge)
    return tx * c - ty * s, tx * s + ty * c


@njit(**COMPILED)
def _join(v):  # type: ignore[no-untyped-def]
    """Return how far two edges in a row (8 unknowns) are from running on smoothly: a radian counts as 10 mm."""
    ax, ay = _heading(v[0], v[1], v[2], v[3], v[4])
    bx, by = _heading(v[3], v[4], -v[5], v[6], v[7])
    return 10.0 * (ax * by - ay * bx)


@njit(**COMPILED)
def _joins(rows, joins, g, slopes):  # type: ignore[no-untyped-def]
    """Fill the values (K, 1) and slopes (3 V, K) of smooth joins of an open chain at these vertices."""
    v = np.empty(8)
    for k in range(len(joins)):
        for i in range(len(slopes)):
            slopes[i, k] = 0.0
        first = 3 * (joins[k] - 1)
        for i in range(8):
            v[i] = rows[(first + i) // 3, (first + i) % 3]
        g[k, 0] = _join(v)
        for i in range(8):
            was = v[i]
            v[i] = was + STEP
            more = _join(v)
            v[i] = was - STEP
            slopes[first + i, k] = (more - _join(v)) / (2 * STEP)
            v[i] = was


@njit(**COMPILED)
def constrained(points, weights, labels, rows, free, closed, frozen, anchors, hold, joins, rounds, still):  # type: ignore[no-untyped-def]
    """Return (rows, labels, hessian, slope, misfit, sum of squares, largest join unmet) of an open chain with smooth joins.

    `rows` and `labels` are written over.
    """
    size, m, many = 3 * len(rows), len(free), len(joins)
    hessian, slope, misfit = np.empty((size, size)), np.empty(size), np.empty(len(points))
    total = normal_equations(
        points, weights, labels, rows, closed, frozen, anchors, hold, hessian, slope, misfit
    )
    g, slopes, x = np.empty((many, 1)), np.empty((size, many)), np.empty((m, 1 + many))
    for _ in range(rounds):
        _joins(rows, joins, g, slopes)
        _step(hessian, slope, free, 1e-6, g, slopes, x)
        largest = _largest(x)
        share = min(1.0, 2.0 / max(largest, 1e-12))
        for i in range(m):
            rows[free[i] // 3, free[i] % 3] += share * x[i, 0]
        total = normal_equations(
            points, weights, labels, rows, closed, frozen, anchors, hold, hessian, slope, misfit
        )
        if largest < still and _largest(g) < 1e-9:
            break
    _joins(rows, joins, g, slopes)
    return rows, labels, hessian, slope, misfit, total, _largest(g)
