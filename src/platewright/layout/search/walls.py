"""Compiled half-planes that keep a piece out of a forbidden region near where it lies.

For a shift v outside a region (or barely inside) a few half-planes are chosen so that their common part, within a
given reach of v, holds no point of the region. They need not bound the region elsewhere, so the region may be of any
shape: hooked, holed, in several loops. Each is either the line of an edge that v lies in front of, or stands across
the way from v to the nearest point of an edge that sticks out past those chosen already.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit
from platewright.layout.search.kernels import inside

__all__ = ["pair_walls", "walls"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST = 8
"""Most half-planes for one pair [-]."""

HAIR = 1e-7
"""How far an edge must stick out past the half-planes to count [mm]."""


@njit(cache=True, nogil=True)
def _nearest(ax: float, ay: float, vx: float, vy: float, t0: float, t1: float, x: float, y: float) -> float:
    """Return the parameter in t0..t1 of the point of a segment nearest to (x, y) [-]."""
    long = vx * vx + vy * vy
    t = ((x - ax) * vx + (y - ay) * vy) / long if long > 0.0 else t0
    return min(max(t, t0), t1)


@njit(cache=True, nogil=True)
def walls(sides: Floats, first: int, last: int, x: float, y: float, reach: float, out: Floats) -> int:
    """Fill rows nx, ny, c (n . v >= c [mm] keeps v out within `reach` [mm]) and return how many."""
    count = 0
    if inside(sides, first, last, x, y):
        least, bx, by = np.inf, x, y
        for k in range(first, last):
            ax, ay = sides[0, k], sides[1, k]
            vx, vy = sides[2, k], sides[3, k]
            t = _nearest(ax, ay, vx, vy, 0.0, 1.0, x, y)
            qx, qy = ax + t * vx, ay + t * vy
            away = (qx - x) ** 2 + (qy - y) ** 2
            if away < least:
                least, bx, by = away, qx, qy
                length = math.hypot(vx, vy)
                out[0, 0], out[0, 1] = vy / length, -vx / length
        out[0, 2] = out[0, 0] * bx + out[0, 1] * by
        x, y, count = bx, by, 1
    while count < MOST:
        least, front = reach, -np.inf
        nx = ny = c = 0.0
        for k in range(first, last):
            ax, ay = sides[0, k], sides[1, k]
            vx, vy = sides[2, k], sides[3, k]
            t0, t1 = 0.0, 1.0
            for m in range(count):
                start = out[m, 0] * ax + out[m, 1] * ay - out[m, 2] - HAIR
                slope = out[m, 0] * vx + out[m, 1] * vy
                if slope > 0.0:
                    t0 = max(t0, -start / slope)
                elif slope < 0.0:
                    t1 = min(t1, -start / slope)
                elif start <= 0.0:
                    t1 = -1.0
            if t1 <= t0:
                continue
            t = _nearest(ax, ay, vx, vy, t0, t1, x, y)
            qx, qy = ax + t * vx, ay + t * vy
            away = math.hypot(x - qx, y - qy)
            if away > least + HAIR:
                continue
            length = math.hypot(vx, vy)
            ahead = ((x - ax) * vy - (y - ay) * vx) / length
            if away < least - HAIR or ahead > front:
                least, front = min(away, least), ahead
                if ahead >= -HAIR:
                    nx, ny = vy / length, -vx / length
                    c = nx * ax + ny * ay
                else:
                    nx, ny = (x - qx) / away, (y - qy) / away
                    c = nx * qx + ny * qy
        if nx == 0.0 and ny == 0.0:
            break
        out[count, 0], out[count, 1], out[count, 2] = nx, ny, c
        count += 1
    return count


@njit(cache=True, nogil=True)
def pair_walls(
    pos: Floats, form: Ints, table: Ints, at: Ints, boxes: Floats, sides: Floats, reach: float, who: Ints, rows: Floats
) -> int:  # fmt: skip
    """List half-planes of all pairs within `reach` [mm]: `who` gets (still, moving, pair), `rows` gets nx, ny and n . v - c [mm]."""
    total = pairs = 0
    out = np.empty((MOST, 3))
    n = len(pos)
    for i in range(n):
        for j in range(i):
            region = table[form[i], form[j]]
            if region < 0:
                continue
            x, y = pos[j, 0] - pos[i, 0], pos[j, 1] - pos[i, 1]
            if (
                x < boxes[region, 0] - reach
                or y < boxes[region, 1] - reach
                or x > boxes[region, 2] + reach
                or y > boxes[region, 3] + reach
            ):
                continue
            count = walls(sides, at[region], at[region + 1], x, y, reach, out)
            if total + count > len(who):
                return -1
            for k in range(count):
                who[total, 0], who[total, 1], who[total, 2] = i, j, pairs
                rows[total, 0], rows[total, 1] = out[k, 0], out[k, 1]
                rows[total, 2] = out[k, 0] * x + out[k, 1] * y - out[k, 2]
                total += 1
            pairs += count > 0
    return total
