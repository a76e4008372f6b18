"""Compiled loops over breaks: the dynamic programme that cuts a row of samples into lines and arcs.

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

from typing import NamedTuple

import numpy as np

from platewright.compiled import njit
from platewright.fit.kernels import COMPILED

_TILE = 128
"""Nodes that share an origin of their sums [-]."""

_LOOK = 32
"""Clicks between two looks whether any longer run may still be worth its misfit [-]."""

LINE_LEAST = 2
ARC_LEAST = 5
"""Fewest samples an edge may rest on [-]."""

CLICKS_LEAST = 4
"""Fewest clicks an arc may rest on [-]: three always lie on some circle."""


class Prices(NamedTuple):
    """What an edge costs: as `segment.Price` says, worked out once [1/mm², -]."""

    weight: float
    line: float
    arc: float
    click: float
    clicks: float


class Moments(NamedTuple):
    """Sums over a run of samples: how many, x, y, their products, and those with z = x² + y² [mm and its powers]."""

    n: float
    x: float
    y: float
    xx: float
    xy: float
    yy: float
    xz: float
    yz: float
    zz: float


@njit(**COMPILED)
def _line_misfit(m):  # type: ignore[no-untyped-def]
    """Return the misfit of the best line [mm²] from moment sums."""
    n, sx, sy, sxx, sxy, syy, _, _, _ = m
    a = sxx - sx * sx / n
    b = sxy - sx * sy / n
    c = syy - sy * sy / n
    low = 0.5 * (a + c) - np.sqrt(0.25 * (a - c) ** 2 + b * b)
    return max(low, 0.0)


@njit(**COMPILED)
def _arc_misfit(m):  # type: ignore[no-untyped-def]
    """Return the misfit of Taubin's circle [mm²] from moment sums."""
    n, sx, sy, sxx, sxy, syy, sxz, syz, szz = m
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
def _arc_radius(m):  # type: ignore[no-untyped-def]
    """Return the radius [mm] of the simple algebraic circle (Kasa) from moment sums."""
    n, sx, sy, sxx, sxy, syy, sxz, syz, _ = m
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
def partition(points, prices, first, ahead_of, most):  # type: ignore[no-untyped-def]
    """Return (cost, from, kind) of every node; the first nodes may start at cost `first`. Kind 0 line, 1 arc.

    Parameters: points (n, 2) [mm]; prices; what the way from each node to the last costs at least (n + 1,), and the
    cost above which no way is wanted [-].
    """
    weight, line_price, arc_price, _, _ = prices
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
                try_line = count >= LINE_LEAST and base + weight * old_line[s] + line_price < best
                try_arc = count >= ARC_LEAST and base + weight * old_arc[s] + arc_price < best
                if not (try_line or try_arc):
                    continue
                f = ahead[t - tile]
                if s < tile:
                    g = back[s]
                    m = Moments(
                        g[0] + f[0], g[1] + f[1], g[2] + f[2], g[3] + f[3], g[4] + f[4], g[5] + f[5],
                        g[6] + f[6], g[7] + f[7], g[8] + f[8],
                    )  # fmt: skip
                else:
                    g = ahead[s - tile]
                    m = Moments(
                        f[0] - g[0], f[1] - g[1], f[2] - g[2], f[3] - g[3], f[4] - g[4], f[5] - g[5],
                        f[6] - g[6], f[7] - g[7], f[8] - g[8],
                    )  # fmt: skip
                if try_line:
                    old_line[s] = max(old_line[s], _line_misfit(m))
                    cost = base + weight * old_line[s] + line_price
                    if cost < best:
                        best, where, which = cost, s, 0
                if try_arc:
                    old_arc[s] = max(old_arc[s], _arc_misfit(m))
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
            sums = Moments(m[0], m[1], m[2], m[3], m[4], m[5], m[6], m[7], m[8])
            out[r, 0], out[r, 1] = _line_misfit(sums), _arc_misfit(sums)
    return out


@njit(**COMPILED)
def partition_clicks(points, prices, widest):  # type: ignore[no-untyped-def]
    """Return (cost, from, kind) of every click as the end of an edge; edges share their end clicks.

    An arc holds no step longer than `widest` [mm], or else at least six clicks, evenly set and turning at most 25 degrees
    a step: a person clicks along a curve and only at the ends of a straight. Each click along a line costs
    `prices.click`, all those of one line at most `prices.clicks`. The last click is the first again, and no edge is the
    whole lap.
    """
    weight, line_price, arc_price, click_price, most = prices
    n = len(points)
    total = np.full(n, np.inf)
    came = np.full(n, -1, np.int64)
    kind = np.zeros(n, np.int8)
    total[0] = 0.0
    for t in range(1, n):
        m = Moments(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        # a longer run has no less misfit, so what a shorter one had is a limit (of a circle's, roughly: half of it)
        line = arc = wide = 0.0
        run = 0.0
        ox, oy = points[t, 0], points[t, 1]
        for s in range(t, -1, -1):
            x, y = points[s, 0] - ox, points[s, 1] - oy
            z = x * x + y * y
            m = Moments(
                m.n + 1, m.x + x, m.y + y, m.xx + x * x, m.xy + x * y, m.yy + y * y, m.xz + x * z, m.yz + y * z, m.zz + z * z
            )  # fmt: skip
            if s == t:
                continue
            step = np.sqrt((points[s, 0] - points[s + 1, 0]) ** 2 + (points[s, 1] - points[s + 1, 1]) ** 2)
            wide = max(wide, step)
            if s == 0 and t == n - 1:
                continue
            if total[s] + 0.99 * weight * line + line_price < total[t]:
                line = _line_misfit(m)
                cost = total[s] + weight * line + line_price
                cost += min(most, click_price * (m.n - 2))
                if cost < total[t]:
                    total[t], came[t], kind[t] = cost, s, 0
            run += step
            if (t - s) % _LOOK == 0:
                line = _line_misfit(m)
                arc = _arc_misfit(m)
                least = min(0.99 * weight * line + line_price, 0.5 * weight * arc + arc_price)
                if least >= total[t]:  # nor can any longer run cost less
                    break
            if m.n < CLICKS_LEAST or not total[s] + 0.5 * weight * arc + arc_price < total[t]:
                continue
            ok = wide <= widest
            if not ok and m.n >= 6 and wide * (m.n - 1) < 3 * run:
                ok = wide < 0.44 * _arc_radius(m)
            if ok:
                arc = _arc_misfit(m)
                cost = total[s] + weight * arc + arc_price
                if cost < total[t]:
                    total[t], came[t], kind[t] = cost, s, 1
    return total, came, kind
