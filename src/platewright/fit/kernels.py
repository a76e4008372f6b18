"""Compiled loops of the fit over edges that are there: distances, the normal equations of a chain, arcs through samples.

The loops that find the edges are in ``edges.kernels``.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

Floats = NDArray[np.float64]

COMPILED: dict[str, Any] = {
    "cache": True, "nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True,
}  # fmt: skip
"""How the loops are compiled: kept beside the code, and without the wrapper for other compiled languages."""


class Edge(NamedTuple):
    """An edge of a chain: its ends [mm] and its bulge [-]."""

    x0: float
    y0: float
    x1: float
    y1: float
    bulge: float


@njit(**COMPILED)
def _edge(rows, e):  # type: ignore[no-untyped-def]
    """Return edge number e of a chain; after the last row comes the first."""
    f = (e + 1) % len(rows)
    return Edge(rows[e, 0], rows[e, 1], rows[f, 0], rows[f, 1], rows[e, 2])


@njit(**COMPILED)
def _edge_misfit(px, py, edge, grad):  # type: ignore[no-untyped-def]
    """Return (signed distance to the edge's line or circle, distance to the edge itself) [mm].

    `grad` receives the slope of the signed distance by (x0, y0, bulge, x1, y1). Smooth through bulge 0:
    the circle is written as 2b(u² - Lu + v²) - (1 - b²)Lv = 0 in the frame of its chord.
    """
    x0, y0, x1, y1, bulge = edge
    dx, dy = x1 - x0, y1 - y0
    length = max(np.sqrt(dx * dx + dy * dy), 1e-12)
    tx, ty = dx / length, dy / length
    nx, ny = -ty, tx
    u = (px - x0) * tx + (py - y0) * ty
    v = (px - x0) * nx + (py - y0) * ny
    b2 = bulge * bulge
    d = length * (1.0 + b2)
    w = u * u - length * u + v * v
    e = (2.0 * bulge * w - (1.0 - b2) * length * v) / d
    curve = 4.0 * bulge / d
    inner = np.sqrt(max(1.0 + 2.0 * e * curve, 1e-9))
    signed = 2.0 * e / (1.0 + inner)
    eu = 2.0 * bulge * (2.0 * u - length) / d / inner
    ev = (4.0 * bulge * v - (1.0 - b2) * length) / d / inner
    el = ((-2.0 * bulge * u - (1.0 - b2) * v) / d - e / length) / inner
    eb = ((2.0 * w + 2.0 * bulge * length * v) / d - e * 2.0 * bulge / (1.0 + b2)) / inner
    turn = (eu * v - ev * u) / length
    gx, gy = tx * el + nx * turn, ty * el + ny * turn
    grad[0] = -gx - tx * eu - nx * ev
    grad[1] = -gy - ty * eu - ny * ev
    grad[2] = eb
    grad[3] = gx
    grad[4] = gy
    # inside the edge? the point lies between the normals at both ends
    if bulge == 0.0:
        inside = 0.0 <= u <= length
    else:
        # seen from the centre, from the middle of the arc, by half the angle: its tangent is at most |bulge|
        across, out = u - 0.5 * length, length * (1.0 - b2) / (4.0 * bulge) - v
        if bulge < 0:
            out = -out
        far, across = np.sqrt(across * across + out * out), abs(across)
        inside = across <= abs(bulge) * (far + out) if out > 0 else far - out <= abs(bulge) * across
    if inside:
        away = abs(signed)
    else:
        away = np.sqrt(min(u * u + v * v, (u - length) ** 2 + v * v))
    return signed, away


@njit(**COMPILED)
def _boxes(rows, edges):  # type: ignore[no-untyped-def]
    """Return (E, 4) least and most x and y of a box that holds each edge [mm]: its chord's, wider by its height."""
    out = np.empty((edges, 4))
    for e in range(edges):
        f = (e + 1) % len(rows)
        dx, dy = rows[f, 0] - rows[e, 0], rows[f, 1] - rows[e, 1]
        high = 0.5 * abs(rows[e, 2]) * np.sqrt(dx * dx + dy * dy)
        out[e, 0], out[e, 1] = min(rows[e, 0], rows[f, 0]) - high, max(rows[e, 0], rows[f, 0]) + high
        out[e, 2], out[e, 3] = min(rows[e, 1], rows[f, 1]) - high, max(rows[e, 1], rows[f, 1]) + high
    return out


class Sampled(NamedTuple):
    """Samples of a chain, as `chain.Chain` has them: where [mm], their weights, their edges, which stay with it [-]."""

    points: Floats
    weights: Floats
    labels: NDArray[np.int64]
    frozen: NDArray[np.bool_]


@njit(**COMPILED)
def normal_equations(samples, rows, closed, anchors, hold):  # type: ignore[no-untyped-def]
    """Return a chain's Hessian, slope, sum of squares and each sample's misfit [mm]; a row is x, y, bulge [mm, -].

    A sample that is not frozen goes to the nearest of its edge and that edge's two neighbours: its label is changed.
    `anchors` (V, 2) [mm], or none, pull at the vertices with weight `hold`.
    """
    points, weights, labels, frozen = samples
    rows_n = len(rows)
    size = 3 * rows_n
    hessian, slope, misfit = np.zeros((size, size)), np.zeros(size), np.empty(len(points))
    edges = rows_n if closed else rows_n - 1
    boxes = _boxes(rows, edges)
    sums = np.zeros((edges, 20))  # of each edge: slope, then the Hessian's lower half row by row
    total = 0.0
    g, trial = np.zeros(5), np.zeros(5)
    for i in range(len(points)):
        x, y, best = points[i, 0], points[i, 1], labels[i]
        d, best_away = _edge_misfit(x, y, _edge(rows, best), g)
        if not frozen[i]:
            home = best
            for step in (-1, 1):
                other = home + step
                if closed:
                    other %= edges
                elif other < 0 or other >= edges:
                    continue
                ox = max(boxes[other, 0] - x, x - boxes[other, 1], 0.0)
                oy = max(boxes[other, 2] - y, y - boxes[other, 3], 0.0)
                if ox * ox + oy * oy > (best_away + 1e-6) ** 2:  # farther than the nearest so far
                    continue
                d2, away = _edge_misfit(x, y, _edge(rows, other), trial)
                if away < best_away - 1e-12 or (away < best_away + 1e-12 and abs(d2) < abs(d) - 1e-12):
                    best, best_away, d = other, away, d2
                    for a in range(5):
                        g[a] = trial[a]
            labels[i] = best
        misfit[i] = d
        w = weights[i]
        if w == 0.0:
            continue
        total += w * d * d
        own, k = sums[best], 5
        for a in range(5):
            wg = w * g[a]
            own[a] += wg * d
            for b in range(a + 1):
                own[k] += wg * g[b]
                k += 1
    _spread(sums, rows_n, hessian, slope)
    for i in range(len(anchors)):
        for c in range(2):
            off, k = rows[i, c] - anchors[i, c], 3 * i + c
            hessian[k, k] += hold
            slope[k] += hold * off
            total += hold * off * off
    return hessian, slope, total, misfit


@njit(**COMPILED)
def _spread(sums, rows_n, hessian, slope):  # type: ignore[no-untyped-def]
    """Add the sums of every edge to a Hessian and a slope."""
    index = np.zeros(5, np.int64)
    for e in range(len(sums)):
        after = (e + 1) % rows_n
        index[0], index[1], index[2], index[3], index[4] = (
            3 * e,
            3 * e + 1,
            3 * e + 2,
            3 * after,
            3 * after + 1,
        )
        k = 5
        for a in range(5):
            slope[index[a]] += sums[e, a]
            for b in range(a + 1):
                hessian[index[a], index[b]] += sums[e, k]
                if a != b:
                    hessian[index[b], index[a]] += sums[e, k]
                k += 1


@njit(**COMPILED)
def distances(points, rows, closed):  # type: ignore[no-untyped-def]
    """Return the distance of every point to the chain [mm] and the edge it is nearest to."""
    edges = len(rows) if closed else len(rows) - 1
    out = np.full(len(points), np.inf)
    which = np.zeros(len(points), np.int64)
    g = np.zeros(5)
    for i in range(len(points)):
        for e in range(edges):
            _, away = _edge_misfit(points[i, 0], points[i, 1], _edge(rows, e), g)
            if away < out[i]:
                out[i], which[i] = away, e
    return out, which


@njit(**COMPILED)
def _through(u, v, length):  # type: ignore[no-untyped-def]
    """Return the bulge of the arc from (0, 0) to (length, 0) through (u, v)."""
    if v == 0.0:
        return 0.0
    w = u * u - length * u + v * v
    root = np.sqrt(w * w + (length * v) ** 2)
    return -length * v / (root - w) if w < 0 else -(w + root) / (length * v)


@njit(**COMPILED)
def channel(points, i, j, tolerance):  # type: ignore[no-untyped-def]
    """Return (low, high) bulges of arcs from sample i to sample j within `tolerance` [mm] of all between; low > high if none."""
    dx, dy = points[j, 0] - points[i, 0], points[j, 1] - points[i, 1]
    length = np.sqrt(dx * dx + dy * dy)
    if length < 1e-12:
        return 1.0, -1.0
    tx, ty = dx / length, dy / length
    low, high = -2.4, 2.4  # sweeps up to 270 degrees
    for k in range(i + 1, j):
        rx, ry = points[k, 0] - points[i, 0], points[k, 1] - points[i, 1]
        u, v = rx * tx + ry * ty, ry * tx - rx * ty
        b = _through(u, v, length)
        # outward from the circle through the sample: away from its centre
        if b == 0.0:
            mx, my = 0.0, 1.0
        else:
            cx, cy = 0.5 * length, length * (1.0 - b * b) / (4.0 * b)
            far = np.sqrt((u - cx) ** 2 + (v - cy) ** 2)
            mx, my = (u - cx) / far, (v - cy) / far
        near_end = min(np.sqrt(u * u + v * v), np.sqrt((u - length) ** 2 + v * v)) <= tolerance
        if not near_end:
            b1 = _through(u + tolerance * mx, v + tolerance * my, length)
            b2 = _through(u - tolerance * mx, v - tolerance * my, length)
            low, high = max(low, min(b1, b2)), min(high, max(b1, b2))
        if low > high:
            return 1.0, -1.0
    return low, high


@njit(**COMPILED)
def reaches(points, tolerance):  # type: ignore[no-untyped-def]
    """Return the farthest sample each sample reaches with one arc within `tolerance` [mm], by doubling and halving."""
    n = len(points)
    out = np.zeros(n, np.int64)
    for i in range(n - 1):
        good, step = i + 1, 1
        bad = n
        while good + step < n:
            low, high = channel(points, i, good + step, tolerance)
            if low <= high:
                good += step
                step *= 2
            else:
                bad = good + step
                break
        if bad == n and good < n - 1:
            low, high = channel(points, i, n - 1, tolerance)
            if low <= high:
                good = n - 1
            else:
                bad = n - 1
        while bad - good > 1 and good < n - 1:
            mid = (good + bad) // 2
            low, high = channel(points, i, mid, tolerance)
            if low <= high:
                good = mid
            else:
                bad = mid
        out[i] = good
    out[n - 1] = n - 1
    return out
