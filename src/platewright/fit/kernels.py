"""Compiled loops of the fit: the dynamic programme over breaks and the normal equations of a chain.

Glossary
--------
node : a place between two samples; node t has t samples before it
misfit : sum of squared distances of a run of samples to its best line or circle [mm²]
cost : misfit * weight + a price for every line and every arc [-] (nats)

Method
------
Line misfit: smaller eigenvalue of the 2 by 2 scatter. Circle misfit: Taubin's algebraic fit (G. Taubin,
1991; N. Chernov, "Circular and linear regression", 2010, section 5), the smallest root of its cubic by
Newton from 0. Both in O(1) from moment sums. The sums are taken about an origin that moves along with
the end of the run (one origin a tile of 128 nodes), so nothing is lost to cancellation on large plates.

Breaks by optimal partitioning with pruning (R. Killick, P. Fearnhead, I. Eckley, 2012): a start that
already costs more than the best is never a best start later, because misfit only grows with a run.
The same fact lets an old misfit stand as a lower limit, so most pairs are never measured again.

Cost: O(n²) pairs looked at in the worst case (one edge), each a few nanoseconds; about a tenth measured.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

COMPILED: dict[str, Any] = {
    "cache": True, "nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True,
}  # fmt: skip
"""How the loops are compiled: kept beside the code, and without the wrapper for other compiled languages."""

_TILE = 128
"""Nodes that share an origin of their sums [-]."""

_LOOK = 32
"""Clicks between two looks whether any longer run may still be worth its misfit [-]."""


@njit(**COMPILED)
def _line_misfit(n, sx, sy, sxx, sxy, syy):  # type: ignore[no-untyped-def]
    """Return the misfit of the best line [mm²] from moment sums."""
    a = sxx - sx * sx / n
    b = sxy - sx * sy / n
    c = syy - sy * sy / n
    low = 0.5 * (a + c) - np.sqrt(0.25 * (a - c) ** 2 + b * b)
    return max(low, 0.0)


@njit(**COMPILED)
def _arc_misfit(n, sx, sy, sxx, sxy, syy, sxz, syz, szz):  # type: ignore[no-untyped-def]
    """Return the misfit of Taubin's circle [mm²] from moment sums."""
    u, v = sx / n, sy / n
    a, b, c = sxx / n, syy / n, sxy / n
    p, q, r = sxz / n, syz / n, szz / n
    mz0 = a + b
    k = u * u + v * v
    mz = mz0 - k
    mxx, myy, mxy = a - u * u, b - v * v, c - u * v
    mxz = p - 2 * u * a - 2 * v * c + k * u - u * mz
    myz = q - 2 * u * c - 2 * v * b + k * v - v * mz
    mzz = r + 4 * u * u * a + 4 * v * v * b + 8 * u * v * c - 4 * u * p - 4 * v * q + 2 * k * mz0 - 3 * k * k
    cov = mxx * myy - mxy * mxy
    var = mzz - mz * mz
    a3 = 4 * mz
    a2 = -3 * mz * mz - mzz
    a1 = var * mz + 4 * cov * mz - mxz * mxz - myz * myz
    a0 = mxz * (mxz * myy - myz * mxy) + myz * (myz * mxx - mxz * mxy) - var * cov
    x = 0.0
    y = a0
    for _ in range(12):
        slope = a1 + x * (2 * a2 + 3 * a3 * x)
        if slope == 0.0:
            break
        nx = x - y / slope
        if not (nx > x) or nx == x:
            break
        ny = a0 + nx * (a1 + nx * (a2 + nx * a3))
        if abs(ny) >= abs(y):
            break
        done = nx - x < 1e-7 * nx
        x, y = nx, ny
        if done:
            break
    return n * max(x, 0.0)


@njit(**COMPILED)
def _arc_radius(n, sx, sy, sxx, sxy, syy, sxz, syz):  # type: ignore[no-untyped-def]
    """Return the radius [mm] of the simple algebraic circle (Kasa) from moment sums."""
    u, v = sx / n, sy / n
    a, b, c = sxx / n, syy / n, sxy / n
    mxx, myy, mxy = a - u * u, b - v * v, c - u * v
    mz = mxx + myy
    k = u * u + v * v
    mxz = sxz / n - 2 * u * a - 2 * v * c + k * u - u * mz
    myz = syz / n - 2 * u * c - 2 * v * b + k * v - v * mz
    det = mxx * myy - mxy * mxy
    if det <= 0.0:
        return np.inf
    x, y = 0.5 * (mxz * myy - myz * mxy) / det, 0.5 * (myz * mxx - mxz * mxy) / det
    return np.sqrt(x * x + y * y + mz)


@njit(**COMPILED)
def partition(points, weight, line_price, arc_price, first, line_least, arc_least, ahead_of, most):  # type: ignore[no-untyped-def]
    """Return (cost, from, kind) of every node; the first nodes may start at cost `first`. Kind 0 line, 1 arc.

    Parameters: points (n, 2) [mm]; weight [1/mm²]; prices [-]; least samples of a line and of an arc; what the way
    from each node to the last costs at least (n + 1,), and the cost above which no way is wanted [-].
    """
    n = len(points)
    total = np.full(n + 1, np.inf)
    came = np.full(n + 1, -1, np.int64)
    kind = np.zeros(n + 1, np.int8)
    sources = len(first)
    live = np.empty(n + 1, np.int64)  # starts that may still be best, rising
    for s in range(sources):
        total[s], live[s] = first[s], s
    many, known = sources, sources
    old_line = np.zeros(n + 1)
    old_arc = np.zeros(n + 1)
    back = np.zeros((n + 1, 9))
    ahead = np.zeros((_TILE + 1, 9))
    for tile in range(0, n, _TILE):
        ox, oy = points[tile, 0], points[tile, 1]
        end = min(tile + _TILE, n)
        _sums_back(points, tile, live[0] if many else tile, ox, oy, back)
        _sums_ahead(points, tile, end, ox, oy, ahead)
        for t in range(tile + 1, end + 1):
            best, where, which = total[t], -1, 0
            for i in range(many - 1, -1, -1):
                s = live[i]
                if s >= t:
                    continue
                base = total[s]
                count = t - s
                try_line = count >= line_least and base + weight * old_line[s] + line_price < best
                try_arc = count >= arc_least and base + weight * old_arc[s] + arc_price < best
                if not (try_line or try_arc):
                    continue
                f = ahead[t - tile]
                if s < tile:
                    g = back[s]
                    m0, m1, m2 = g[0] + f[0], g[1] + f[1], g[2] + f[2]
                    m3, m4, m5 = g[3] + f[3], g[4] + f[4], g[5] + f[5]
                    m6, m7, m8 = g[6] + f[6], g[7] + f[7], g[8] + f[8]
                else:
                    g = ahead[s - tile]
                    m0, m1, m2 = f[0] - g[0], f[1] - g[1], f[2] - g[2]
                    m3, m4, m5 = f[3] - g[3], f[4] - g[4], f[5] - g[5]
                    m6, m7, m8 = f[6] - g[6], f[7] - g[7], f[8] - g[8]
                if try_line:
                    old_line[s] = max(old_line[s], _line_misfit(m0, m1, m2, m3, m4, m5))
                    cost = base + weight * old_line[s] + line_price
                    if cost < best:
                        best, where, which = cost, s, 0
                if try_arc:
                    old_arc[s] = max(old_arc[s], _arc_misfit(m0, m1, m2, m3, m4, m5, m6, m7, m8))
                    cost = base + weight * old_arc[s] + arc_price
                    if cost < best:
                        best, where, which = cost, s, 1
            if where >= 0:
                total[t], came[t], kind[t] = best, where, which
            kept = 0
            for i in range(many):
                s = live[i]
                if s >= t or not total[s] + weight * old_arc[s] >= total[t]:
                    live[kept] = s
                    kept += 1
            many = kept
            if t >= known and total[t] < np.inf and total[t] + ahead_of[t] <= most:
                live[many] = t
                many += 1
    return total, came, kind


@njit(**COMPILED)
def _sums_back(points, tile, low, ox, oy, back):  # type: ignore[no-untyped-def]
    for k in range(9):
        back[tile, k] = 0.0
    for s in range(tile - 1, low - 1, -1):
        x, y = points[s, 0] - ox, points[s, 1] - oy
        z = x * x + y * y
        b, f = back[s], back[s + 1]
        b[0] = f[0] + 1
        b[1] = f[1] + x
        b[2] = f[2] + y
        b[3] = f[3] + x * x
        b[4] = f[4] + x * y
        b[5] = f[5] + y * y
        b[6] = f[6] + x * z
        b[7] = f[7] + y * z
        b[8] = f[8] + z * z


@njit(**COMPILED)
def _sums_ahead(points, tile, end, ox, oy, ahead):  # type: ignore[no-untyped-def]
    for k in range(9):
        ahead[0, k] = 0.0
    for i in range(tile, end):
        x, y = points[i, 0] - ox, points[i, 1] - oy
        z = x * x + y * y
        b, f = ahead[i - tile + 1], ahead[i - tile]
        b[0] = f[0] + 1
        b[1] = f[1] + x
        b[2] = f[2] + y
        b[3] = f[3] + x * x
        b[4] = f[4] + x * y
        b[5] = f[5] + y * y
        b[6] = f[6] + x * z
        b[7] = f[7] + y * z
        b[8] = f[8] + z * z


@njit(**COMPILED)
def misfits(points, starts, ends):  # type: ignore[no-untyped-def]
    """Return (line, arc) misfits [mm²] of runs points[starts:ends] (ends may pass the length: closed)."""
    n = len(points)
    out = np.zeros((len(starts), 2))
    for r in range(len(starts)):
        a, e = starts[r], ends[r]
        ox, oy = points[a % n, 0], points[a % n, 1]
        m = np.zeros(9)
        for i in range(a, e):
            x, y = points[i % n, 0] - ox, points[i % n, 1] - oy
            z = x * x + y * y
            m[0] += 1
            m[1] += x
            m[2] += y
            m[3] += x * x
            m[4] += x * y
            m[5] += y * y
            m[6] += x * z
            m[7] += y * z
            m[8] += z * z
        if m[0] > 0:
            out[r, 0] = _line_misfit(m[0], m[1], m[2], m[3], m[4], m[5])
            out[r, 1] = _arc_misfit(m[0], m[1], m[2], m[3], m[4], m[5], m[6], m[7], m[8])
    return out


@njit(**COMPILED)
def _edge_misfit(px, py, x0, y0, x1, y1, bulge, grad):  # type: ignore[no-untyped-def]
    """Return (signed distance to the edge's line or circle, distance to the edge itself) [mm].

    `grad` receives the slope of the signed distance by (x0, y0, bulge, x1, y1). Smooth through bulge 0:
    the circle is written as 2b(u² - Lu + v²) - (1 - b²)Lv = 0 in the frame of its chord.
    """
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


@njit(**COMPILED)
def normal_equations(points, weights, labels, rows, closed, frozen, anchors, hold, hessian, slope, misfit):  # type: ignore[no-untyped-def]
    """Fill the normal equations of a chain (x, y, bulge a row) and each sample's misfit [mm]; return the sum of squares.

    A sample that is not `frozen` goes to the nearest of its edge and that edge's two neighbours. `anchors` (V, 2) [mm], or
    none, pull at the vertices with weight `hold`.
    """
    rows_n = len(rows)
    edges = rows_n if closed else rows_n - 1
    boxes = _boxes(rows, edges)
    sums = np.zeros((edges, 20))  # of each edge: slope, then the Hessian's lower half row by row
    total = 0.0
    g, trial = np.zeros(5), np.zeros(5)
    for i in range(len(points)):
        x, y, best = points[i, 0], points[i, 1], labels[i]
        after = (best + 1) % rows_n
        d, best_away = _edge_misfit(
            x, y, rows[best, 0], rows[best, 1], rows[after, 0], rows[after, 1], rows[best, 2], g
        )
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
                after = (other + 1) % rows_n
                d2, away = _edge_misfit(
                    x,
                    y,
                    rows[other, 0],
                    rows[other, 1],
                    rows[after, 0],
                    rows[after, 1],
                    rows[other, 2],
                    trial,
                )
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
    return total


@njit(**COMPILED)
def _spread(sums, rows_n, hessian, slope):  # type: ignore[no-untyped-def]
    """Fill a Hessian and a slope from the sums of every edge."""
    for i in range(len(slope)):
        slope[i] = 0.0
        for j in range(len(slope)):
            hessian[i, j] = 0.0
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
def partition_clicks(points, weight, line_price, arc_price, click_price, most, widest, arc_least, looped):  # type: ignore[no-untyped-def]
    """Return (cost, from, kind) of every click as the end of an edge; edges share their end clicks.

    An arc holds at least `arc_least` clicks and no step longer than `widest` [mm], or else at least six, evenly
    set and turning at most 25 degrees a step: a person clicks along a curve and only at the ends of a
    straight. Each click along a line costs `click_price`, all those of one line at most `most`: a person
    clicks the ends of a straight. A loop (`looped`) has more than one edge.
    """
    n = len(points)
    total = np.full(n, np.inf)
    came = np.full(n, -1, np.int64)
    kind = np.zeros(n, np.int8)
    total[0] = 0.0
    for t in range(1, n):
        m0 = m1 = m2 = m3 = m4 = m5 = m6 = m7 = m8 = 0.0
        # a longer run has no less misfit, so what a shorter one had is a limit (of a circle's, roughly: half of it)
        line = arc = wide = 0.0
        run = 0.0
        ox, oy = points[t, 0], points[t, 1]
        for s in range(t, -1, -1):
            x, y = points[s, 0] - ox, points[s, 1] - oy
            z = x * x + y * y
            m0 += 1
            m1 += x
            m2 += y
            m3 += x * x
            m4 += x * y
            m5 += y * y
            m6 += x * z
            m7 += y * z
            m8 += z * z
            if s == t:
                continue
            step = np.sqrt((points[s, 0] - points[s + 1, 0]) ** 2 + (points[s, 1] - points[s + 1, 1]) ** 2)
            wide = max(wide, step)
            if looped and s == 0 and t == n - 1:
                continue
            if total[s] + 0.99 * weight * line + line_price < total[t]:
                line = _line_misfit(m0, m1, m2, m3, m4, m5)
                cost = total[s] + weight * line + line_price
                cost += min(most, click_price * (m0 - 2))
                if cost < total[t]:
                    total[t], came[t], kind[t] = cost, s, 0
            run += step
            if (t - s) % _LOOK == 0:
                line = _line_misfit(m0, m1, m2, m3, m4, m5)
                arc = _arc_misfit(m0, m1, m2, m3, m4, m5, m6, m7, m8)
                least = min(0.99 * weight * line + line_price, 0.5 * weight * arc + arc_price)
                if least >= total[t]:  # nor can any longer run cost less
                    break
            if m0 < arc_least or not total[s] + 0.5 * weight * arc + arc_price < total[t]:
                continue
            ok = wide <= widest
            if not ok and m0 >= 6 and wide * (m0 - 1) < 3 * run:
                ok = wide < 0.44 * _arc_radius(m0, m1, m2, m3, m4, m5, m6, m7)
            if ok:
                arc = _arc_misfit(m0, m1, m2, m3, m4, m5, m6, m7, m8)
                cost = total[s] + weight * arc + arc_price
                if cost < total[t]:
                    total[t], came[t], kind[t] = cost, s, 1
    return total, came, kind


@njit(**COMPILED)
def distances(points, rows, closed):  # type: ignore[no-untyped-def]
    """Return the distance of every point to the chain [mm] and the edge it is nearest to."""
    rows_n = len(rows)
    edges = rows_n if closed else rows_n - 1
    out = np.full(len(points), np.inf)
    which = np.zeros(len(points), np.int64)
    g = np.zeros(5)
    for i in range(len(points)):
        for e in range(edges):
            f = (e + 1) % rows_n
            _, away = _edge_misfit(
                points[i, 0], points[i, 1], rows[e, 0], rows[e, 1], rows[f, 0], rows[f, 1], rows[e, 2], g
            )
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
