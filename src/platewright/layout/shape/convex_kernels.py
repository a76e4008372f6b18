"""Compiled operations on convex polygons: hull, merge, difference and erosion."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = ["convex_difference", "convex_erosion", "hull", "is_convex", "merged_convex"]

Floats = NDArray[np.float64]


@njit(cache=True)
def is_convex(loop: Floats) -> bool:
    """Tell whether a counterclockwise loop [mm] turns left everywhere (nearly straight counts)."""
    n = len(loop)
    for i in range(n):
        ax, ay = loop[i, 0], loop[i, 1]
        bx, by = loop[(i + 1) % n, 0], loop[(i + 1) % n, 1]
        cx, cy = loop[(i + 2) % n, 0], loop[(i + 2) % n, 1]
        if (bx - ax) * (cy - by) - (by - ay) * (cx - bx) < -1e-9:
            return False
    return True


def hull(points: Floats) -> Floats:
    """Return the convex hull of points [mm], counterclockwise."""
    return _chain(np.ascontiguousarray(points[np.lexsort((points[:, 1], points[:, 0]))]))


@njit(cache=True)
def _chain(order: Floats) -> Floats:
    """Return the hull of points sorted by x, then y (monotone chain)."""
    n = len(order)
    out = np.empty((2 * n + 2, 2))
    k = 0
    for sweep in range(2):
        base = k + 1 if sweep == 0 else k
        for m in range(n):
            i = m if sweep == 0 else n - 1 - m
            if sweep == 1 and m == 0:
                continue
            px, py = order[i, 0], order[i, 1]
            while (
                k > base
                and (out[k - 1, 0] - out[k - 2, 0]) * (py - out[k - 2, 1])
                - (out[k - 1, 1] - out[k - 2, 1]) * (px - out[k - 2, 0])
                <= 0
            ):
                k -= 1
            out[k, 0], out[k, 1] = px, py
            k += 1
    return out[: max(k - 1, 1)].copy()


@njit(cache=True)
def merged_convex(a: Floats, b: Floats, x0: float, y0: float, x1: float, y1: float) -> Floats:
    """Return two convex polygons [mm] merged over a shared edge, or no points if that is not convex."""
    na, nb = len(a), len(b)
    ia, ib = -1, -1
    for i in range(na):
        j = (i + 1) % na
        if (a[i, 0] == x0 and a[i, 1] == y0 and a[j, 0] == x1 and a[j, 1] == y1) or (
            a[i, 0] == x1 and a[i, 1] == y1 and a[j, 0] == x0 and a[j, 1] == y0
        ):
            ia = i
    for i in range(nb):
        j = (i + 1) % nb
        if (b[i, 0] == x0 and b[i, 1] == y0 and b[j, 0] == x1 and b[j, 1] == y1) or (
            b[i, 0] == x1 and b[i, 1] == y1 and b[j, 0] == x0 and b[j, 1] == y0
        ):
            ib = i
    if ia < 0 or ib < 0:
        return np.empty((0, 2))
    out = np.empty((na + nb - 2, 2))
    k = 0
    for m in range(na):  # from the shared edge's end round to its start
        i = (ia + 1 + m) % na
        out[k, 0], out[k, 1] = a[i, 0], a[i, 1]
        k += 1
    for m in range(nb - 2):
        i = (ib + 2 + m) % nb
        out[k, 0], out[k, 1] = b[i, 0], b[i, 1]
        k += 1
    return out if is_convex(out) else np.empty((0, 2))


@njit(cache=True)
def convex_difference(a: Floats, b: Floats) -> Floats:
    """Return the shifts [mm] at which convex counterclockwise b meets convex counterclockwise a: a plus minus-b."""
    na, nb = len(a), len(b)
    ia, ib = 0, 0
    for i in range(na):
        if a[i, 1] < a[ia, 1] or (a[i, 1] == a[ia, 1] and a[i, 0] < a[ia, 0]):
            ia = i
    for i in range(nb):  # lowest of minus-b is the highest of b
        if b[i, 1] > b[ib, 1] or (b[i, 1] == b[ib, 1] and b[i, 0] > b[ib, 0]):
            ib = i
    out = np.empty((na + nb, 2))
    i, j, k = 0, 0, 0
    while i < na or j < nb:
        p, q = (ia + i) % na, (ib + j) % nb
        out[k, 0], out[k, 1] = a[p, 0] - b[q, 0], a[p, 1] - b[q, 1]
        k += 1
        p2, q2 = (ia + i + 1) % na, (ib + j + 1) % nb
        ux, uy = a[p2, 0] - a[p, 0], a[p2, 1] - a[p, 1]
        vx, vy = b[q, 0] - b[q2, 0], b[q, 1] - b[q2, 1]
        turn = ux * vy - uy * vx
        if j >= nb or (i < na and turn > 0):
            i += 1
        elif i >= na or turn < 0:
            j += 1
        else:
            i += 1
            j += 1
    return out[:k].copy()


@njit(cache=True)
def convex_erosion(room: Floats, body: Floats) -> Floats:
    """Return the shifts [mm] at which a body lies inside a convex counterclockwise room; no points if none."""
    n = len(room)
    big = 0.0
    for i in range(n):
        big = max(big, abs(room[i, 0]), abs(room[i, 1]))
    for i in range(len(body)):
        big = max(big, abs(body[i, 0]), abs(body[i, 1]))
    big *= 4.0
    now, then = (
        np.empty((n + 8, 2)),
        np.empty((n + 8, 2)),
    )  # a square far outside, cut by one edge of the room after another
    for i in range(4):
        now[i, 0], now[i, 1] = -big if i in (0, 3) else big, -big if i < 2 else big
    count = 4
    for e in range(n):
        ax, ay = room[e, 0], room[e, 1]
        dx, dy = room[(e + 1) % n, 0] - ax, room[(e + 1) % n, 1] - ay
        least = np.inf
        for i in range(len(body)):
            least = min(least, dx * body[i, 1] - dy * body[i, 0])
        limit = dx * ay - dy * ax - least  # keep t with dx*ty - dy*tx >= limit
        k = 0
        for i in range(count):
            j = (i + 1) % count
            si = dx * now[i, 1] - dy * now[i, 0] - limit
            sj = dx * now[j, 1] - dy * now[j, 0] - limit
            if si >= 0:
                then[k, 0], then[k, 1] = now[i, 0], now[i, 1]
                k += 1
            if (si > 0 and sj < 0) or (si < 0 and sj > 0):
                t = si / (si - sj)
                then[k, 0] = now[i, 0] + t * (now[j, 0] - now[i, 0])
                then[k, 1] = now[i, 1] + t * (now[j, 1] - now[i, 1])
                k += 1
        now, then = then, now
        count = k
        if k < 3:
            return np.empty((0, 2))
    return now[:count].copy()
