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

from platewright.geometry.fitting.kernels import normal_equations

__all__ = ["constrained", "inverse", "known", "refined", "solved", "spread_evenly"]

STEP = 1e-6
"""Step of the central differences of a join [mm]."""

SAME = 1e-7
"""A join of which the others leave less than this share unsaid is left out of a step [-]."""


@njit(cache=True, nogil=True, error_model="numpy")
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


@njit(cache=True, nogil=True, error_model="numpy")
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


@njit(cache=True, nogil=True, error_model="numpy")
def solved(a, right):  # type: ignore[no-untyped-def]
    """Return the solutions (N, K) of a positive definite system (N, N) for right-hand sides (N, K); not finite if it is none."""
    low, first, x = np.empty(a.shape), np.empty(len(a), np.int64), right.copy()
    _factor(a, low, first)
    _substitute(low, first, x)
    return x


@njit(cache=True, nogil=True, error_model="numpy")
def inverse(a):  # type: ignore[no-untyped-def]
    """Return the inverse of a positive definite matrix (N, N); not finite if it is none."""
    return solved(a, np.eye(len(a)))


@njit(cache=True, nogil=True, error_model="numpy")
def known(hessian, free, more):  # type: ignore[no-untyped-def]
    """Return the part of a matrix for the `free` unknowns, with `more` on its diagonal."""
    m = len(free)
    out = np.empty((m, m))
    for i in range(m):
        for j in range(m):
            out[i, j] = hessian[free[i], free[j]]
        out[i, i] += more[free[i]]
    return out


@njit(cache=True, nogil=True, error_model="numpy")
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


@njit(cache=True, nogil=True, error_model="numpy")
def _normal(points, weights, labels, rows, closed, frozen, anchors, hold, hessian, slope, misfit):  # type: ignore[no-untyped-def]
    """Fill the normal equations of a chain, those of its anchors (or none) added; return the sum of squares."""
    total = normal_equations(points, weights, labels, rows, closed, frozen, hessian, slope, misfit)
    for v in range(len(anchors)):
        for c in range(2):
            off = rows[v, c] - anchors[v, c]
            hessian[3 * v + c, 3 * v + c] += hold
            slope[3 * v + c] += hold * off
            total += hold * off * off
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _largest(values):  # type: ignore[no-untyped-def]
    most = 0.0
    for v in values:
        most = max(most, abs(v))
    return most


@njit(cache=True, nogil=True, error_model="numpy")
def refined(points, weights, labels, rows, free, closed, frozen, anchors, hold, rounds):  # type: ignore[no-untyped-def]
    """Return (rows, labels, hessian, slope, misfit, sum of squares) of a chain at its least; the `free` unknowns move."""
    size, m = 3 * len(rows), len(free)
    hessian, slope, misfit = np.empty((size, size)), np.empty(size), np.empty(len(points))
    hessian2, slope2, misfit2 = np.empty((size, size)), np.empty(size), np.empty(len(points))
    at, at2, here, trial = labels.copy(), labels.copy(), rows.copy(), rows.copy()
    total = _normal(points, weights, at, here, closed, frozen, anchors, hold, hessian, slope, misfit)
    scale, low, first, move = np.empty(size), np.empty((m, m)), np.empty(m, np.int64), np.empty((m, 1))
    damp = 1e-3
    for _ in range(rounds):
        spread_evenly(hessian, 0, size, scale)
        move[:, 0] = -slope[free]
        _factor(known(hessian, free, damp * scale + 1e-12), low, first)
        _substitute(low, first, move)
        share = min(1.0, 1.0 / max(_largest(move[:, 0]), 1e-12))
        trial[:, :] = here
        for i in range(m):
            trial[free[i] // 3, free[i] % 3] += share * move[i, 0]
        at2[:] = at
        there = _normal(points, weights, at2, trial, closed, frozen, anchors, hold, hessian2, slope2, misfit2)
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


@njit(cache=True, nogil=True, error_model="numpy")
def _heading(x0, y0, bulge, x1, y1, end):  # type: ignore[no-untyped-def]
    dx, dy = x1 - x0, y1 - y0
    size = max(np.hypot(dx, dy), 1e-12)
    tx, ty = dx / size, dy / size
    c, s = (1 - bulge * bulge) / (1 + bulge * bulge), 2 * bulge / (1 + bulge * bulge)
    if not end:
        s = -s
    return tx * c - ty * s, tx * s + ty * c


@njit(cache=True, nogil=True, error_model="numpy")
def _join(v):  # type: ignore[no-untyped-def]
    """Return how far two edges in a row (8 unknowns) are from running on smoothly: a radian counts as 10 mm."""
    ax, ay = _heading(v[0], v[1], v[2], v[3], v[4], True)
    bx, by = _heading(v[3], v[4], v[5], v[6], v[7], False)
    return 10.0 * (ax * by - ay * bx)


@njit(cache=True, nogil=True, error_model="numpy")
def _joins(rows, joins, g, slopes):  # type: ignore[no-untyped-def]
    """Fill the values (K,) and slopes (3 V, K) of smooth joins of an open chain at these vertices."""
    slopes[:, :] = 0.0
    v = np.empty(8)
    for k in range(len(joins)):
        first = 3 * (joins[k] - 1)
        for i in range(8):
            v[i] = rows[(first + i) // 3, (first + i) % 3]
        g[k] = _join(v)
        for i in range(8):
            was = v[i]
            v[i] = was + STEP
            more = _join(v)
            v[i] = was - STEP
            slopes[first + i, k] = (more - _join(v)) / (2 * STEP)
            v[i] = was


@njit(cache=True, nogil=True, error_model="numpy")
def _push(s, right):  # type: ignore[no-untyped-def]
    """Return x of s x = right for a positive semidefinite s (K, K); 0 for what the other rows say already.

    Elimination with the largest left first, after the diagonal is made 1 (N. J. Higham, 1990).
    """
    n = len(s)
    scale, a, x, order = np.empty(n), np.empty((n, n)), np.zeros(n), np.arange(n)
    for i in range(n):
        scale[i] = 1.0 / np.sqrt(max(s[i, i], 1e-300))
    y = right * scale
    for i in range(n):
        for j in range(n):
            a[i, j] = s[i, j] * scale[i] * scale[j]
    rank = 0
    while rank < n:
        best = rank
        for i in range(rank + 1, n):
            if a[order[i], order[i]] > a[order[best], order[best]]:
                best = i
        order[rank], order[best] = order[best], order[rank]
        p = order[rank]
        if not a[p, p] > SAME:
            break
        rank += 1
        for i in range(rank, n):
            q = order[i]
            c = a[q, p] / a[p, p]
            y[q] -= c * y[p]
            for j in range(rank, n):
                a[q, order[j]] -= c * a[p, order[j]]
    for k in range(rank - 1, -1, -1):
        p = order[k]
        t = y[p]
        for j in range(k + 1, rank):
            t -= a[p, order[j]] * x[order[j]]
        x[p] = t / a[p, p]
    return x * scale


@njit(cache=True, nogil=True, error_model="numpy")
def _joined_step(hessian, slope, free, g, slopes, x):  # type: ignore[no-untyped-def]
    """Fill the first column of `x` (M, 1 + K) with the step of the free unknowns that meets the linearised joins."""
    m, many = len(free), len(g)
    scale, low, first = np.empty(len(hessian)), np.empty((m, m)), np.empty(m, np.int64)
    s, right = np.zeros((many, many)), -g
    spread_evenly(hessian, 0, len(hessian), scale)
    x[:, 0], x[:, 1:] = -slope[free], slopes[free]
    _factor(known(hessian, free, 1e-6 * scale + 1e-12), low, first)
    _substitute(low, first, x)
    for k in range(many):
        for i in range(m):
            c = slopes[free[i], k]
            right[k] -= c * x[i, 0]
            for j in range(many):
                s[k, j] += c * x[i, 1 + j]
    push = _push(s, right)
    for i in range(m):
        for k in range(many):
            x[i, 0] += x[i, 1 + k] * push[k]


@njit(cache=True, nogil=True, error_model="numpy")
def constrained(points, weights, labels, rows, free, frozen, joins, rounds, still):  # type: ignore[no-untyped-def]
    """Return (rows, labels, hessian, slope, misfit, sum of squares, largest join unmet) of an open chain with smooth joins."""
    size, m, many = 3 * len(rows), len(free), len(joins)
    hessian, slope, misfit = np.empty((size, size)), np.empty(size), np.empty(len(points))
    at, here, none = labels.copy(), rows.copy(), np.empty((0, 2))
    total = _normal(points, weights, at, here, False, frozen, none, 0.0, hessian, slope, misfit)
    g, slopes, x = np.empty(many), np.empty((size, many)), np.empty((m, 1 + many))
    for _ in range(rounds):
        _joins(here, joins, g, slopes)
        _joined_step(hessian, slope, free, g, slopes, x)
        largest = _largest(x[:, 0])
        share = min(1.0, 2.0 / max(largest, 1e-12))
        for i in range(m):
            here[free[i] // 3, free[i] % 3] += share * x[i, 0]
        total = _normal(points, weights, at, here, False, frozen, none, 0.0, hessian, slope, misfit)
        if largest < still and _largest(g) < 1e-9:
            break
    _joins(here, joins, g, slopes)
    return here, at, hessian, slope, misfit, total, _largest(g)
