"""Compiled loops of the exact finish: where true lines and arcs of two pieces come near one another.

A contact is a pair of points, one on each piece, whose distance is least as seen from one of three sides: a corner and an
edge, a line and the foot of an arc's centre, the line through two arcs' centres. The least distance of two pieces is the
least of their contacts, so keeping every contact apart keeps the pieces apart.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = ["LONG", "Edges", "contacts"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LONG = 9
"""Values in one contact: first and second body, clearance [mm], normal from first to second [-], and both points [mm]."""

NEARLY = 1e-9


class Edges(NamedTuple):
    """Edges of bodies where they lie: ends, arcs' centre, radius (0 for a line), first angle and sweep; bodies' first edges and boxes."""

    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    first: Floats
    sweep: Floats
    at: Ints
    boxes: Floats


@njit(cache=True)
def _on(first: float, sweep: float, dx: float, dy: float) -> bool:
    """Tell whether a direction from an arc's centre lies within its sweep."""
    turn = math.atan2(dy, dx) - first
    turn = (turn if sweep > 0 else -turn) % (2 * math.pi)
    return turn <= abs(sweep) + NEARLY or turn >= 2 * math.pi - NEARLY


class Pair(NamedTuple):
    """Two bodies, their clearance and how near their contacts are to be listed [mm]."""

    one: int
    other: int
    clear: float
    far: float


@njit(cache=True)
def _put(rows: Floats, count: int, pair: Pair, p: tuple[float, float], q: tuple[float, float]) -> int:
    """Add a contact of point p of the first and q of the second body, if nearer than the limit [mm]; return the count."""
    dx, dy = q[0] - p[0], q[1] - p[1]
    far = math.hypot(dx, dy)
    if far > pair.far or far < NEARLY:
        return count
    if count < len(rows):
        row = rows[count]
        row[0], row[1], row[2] = pair.one, pair.other, pair.clear
        row[3], row[4] = dx / far, dy / far
        row[5], row[6], row[7], row[8] = p[0], p[1], q[0], q[1]
    return count + 1


@njit(cache=True)
def _foot(e: Edges, k: int, x: float, y: float) -> tuple[float, float, bool]:
    """Return the point of edge k nearest to (x, y) [mm]; False if that is its end, which is the next edge's start."""
    ax, ay, bx, by = e.start[k, 0], e.start[k, 1], e.end[k, 0], e.end[k, 1]
    if e.sweep[k] == 0.0:
        vx, vy = bx - ax, by - ay
        long = vx * vx + vy * vy
        t = ((x - ax) * vx + (y - ay) * vy) / long if long > 0.0 else 0.0
        if t >= 1.0:
            return bx, by, False
        t = max(t, 0.0)
        return ax + t * vx, ay + t * vy, True
    dx, dy = x - e.centre[k, 0], y - e.centre[k, 1]
    away = math.hypot(dx, dy)
    if away > NEARLY and _on(e.first[k], e.sweep[k], dx, dy):
        return e.centre[k, 0] + e.radius[k] * dx / away, e.centre[k, 1] + e.radius[k] * dy / away, True
    return ax, ay, math.hypot(x - ax, y - ay) <= math.hypot(x - bx, y - by)


@njit(cache=True)
def _line_arc(e: Edges, one: int, other: int, rows: Floats, count: int, pair: Pair) -> int:
    """Add the contact of two edges, of which one is a line and one an arc, at the foot of the arc's centre."""
    flip = e.sweep[one] != 0.0  # the line is the second body's
    k, m = (other, one) if flip else (one, other)
    ax, ay = e.start[k, 0], e.start[k, 1]
    vx, vy = e.end[k, 0] - ax, e.end[k, 1] - ay
    long = vx * vx + vy * vy
    cx, cy = e.centre[m, 0], e.centre[m, 1]
    t = ((cx - ax) * vx + (cy - ay) * vy) / long if long > 0.0 else -1.0
    if t < 0.0 or t > 1.0:
        return count
    px, py = ax + t * vx, ay + t * vy
    dx, dy = px - cx, py - cy
    away = math.hypot(dx, dy)
    if away < NEARLY or not _on(e.first[m], e.sweep[m], dx, dy):
        return count
    q = (cx + e.radius[m] * dx / away, cy + e.radius[m] * dy / away)
    if flip:
        return _put(rows, count, pair, q, (px, py))
    return _put(rows, count, pair, (px, py), q)


@njit(cache=True)
def _arc_arc(e: Edges, k: int, m: int, rows: Floats, count: int, pair: Pair) -> int:
    """Add the contacts of two arcs on the line through their centres."""
    dx, dy = e.centre[m, 0] - e.centre[k, 0], e.centre[m, 1] - e.centre[k, 1]
    away = math.hypot(dx, dy)
    if away < NEARLY:
        return count
    ux, uy = dx / away, dy / away
    for one in (1.0, -1.0):
        if not _on(e.first[k], e.sweep[k], one * ux, one * uy):
            continue
        p = (e.centre[k, 0] + one * e.radius[k] * ux, e.centre[k, 1] + one * e.radius[k] * uy)
        for two in (1.0, -1.0):
            if _on(e.first[m], e.sweep[m], two * ux, two * uy):
                q = (e.centre[m, 0] + two * e.radius[m] * ux, e.centre[m, 1] + two * e.radius[m] * uy)
                count = _put(rows, count, pair, p, q)
    return count


@njit(cache=True)
def _boxes_clear(e: Edges, k: int, m: int, limit: float) -> bool:
    """Tell whether the boxes of two edges lie farther apart than a limit [mm]."""
    for axis in range(2):
        if e.sweep[k] == 0.0:
            lo, hi = min(e.start[k, axis], e.end[k, axis]), max(e.start[k, axis], e.end[k, axis])
        else:
            lo, hi = e.centre[k, axis] - e.radius[k], e.centre[k, axis] + e.radius[k]
        if e.sweep[m] == 0.0:
            low, high = min(e.start[m, axis], e.end[m, axis]), max(e.start[m, axis], e.end[m, axis])
        else:
            low, high = e.centre[m, axis] - e.radius[m], e.centre[m, axis] + e.radius[m]
        if low - hi > limit or lo - high > limit:
            return True
    return False


@njit(cache=True)
def contacts(e: Edges, clear: Floats, movable: int, reach: float, rows: Floats) -> int:
    """List the contacts nearer than clearance and reach [mm] of all pairs with a movable body; return how many there are.

    The first `movable` bodies move. `clear` holds the clearance of each pair [mm]. If there are more contacts than rows,
    the rest is not listed.
    """
    count, n = int(0), len(e.at) - 1  # int(): callees would be compiled for a bare constant too
    for i in range(movable):
        for j in range(i + 1, n):
            c = clear[i, j]
            far = c + reach
            if (
                e.boxes[i, 0] > e.boxes[j, 2] + far
                or e.boxes[j, 0] > e.boxes[i, 2] + far
                or e.boxes[i, 1] > e.boxes[j, 3] + far
                or e.boxes[j, 1] > e.boxes[i, 3] + far
            ):
                continue
            pair = Pair(i, j, c, far)
            for k in range(e.at[i], e.at[i + 1]):
                for m in range(e.at[j], e.at[j + 1]):
                    if _boxes_clear(e, k, m, far):
                        continue
                    px, py = e.start[k, 0], e.start[k, 1]
                    qx, qy, own = _foot(e, m, px, py)
                    if own:
                        count = _put(rows, count, pair, (px, py), (qx, qy))
                    qx, qy = e.start[m, 0], e.start[m, 1]
                    px, py, own = _foot(e, k, qx, qy)
                    if own:
                        count = _put(rows, count, pair, (px, py), (qx, qy))
                    if (e.sweep[k] == 0.0) != (e.sweep[m] == 0.0):
                        count = _line_arc(e, k, m, rows, count, pair)
                    elif e.sweep[k] != 0.0:
                        count = _arc_arc(e, k, m, rows, count, pair)
    return count
