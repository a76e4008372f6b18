"""Compiled: from a place downhill to where a piece overlaps its neighbours least.

Method: near a place each overlap is about linear: how deep, less the way along the direction to the nearest edge of the
region. So is what a neighbour not met yet would cost. Their least weighted sum within a step is a linear programme in the
plane, so it is found at a crossing of two of the lines on which one of them begins, or at the foot of one: all are looked at.
Where the exact depths turn out no less there, the lines seen from there are added (cutting planes: Kelley 1960) and the step is shortened.
"""

from __future__ import annotations

import math

import numpy as np

from platewright.compiled import njit
from platewright.layout.search.kernels import Floats, Ints, Look, Pieces, Work, _neighbours, inside

__all__ = ["LINES", "settle"]

MOST = 14
"""Most lines taken at one place [-]."""

LINES = 2 * MOST + 4
"""Rows a worker keeps for lines [-]."""

TRIES = 20
"""Most steps [-]."""

NICETY = 0.03
"""Shortest step as a share of the depth left, and least gain for which the step stays as long, as a share of the cost [-]."""

HAIR = 1e-7
"""Difference that decides nothing [mm]."""

PROBE = 1e-4
"""How far from an edge it is tried which side of it is free [mm]."""


@njit(cache=True, nogil=True)
def _nearest(sides: Floats, first: int, last: int, x: float, y: float) -> tuple[float, float, float, int]:
    """Return how far the nearest side is [mm], the way from it to (x, y) [mm], and which it is."""
    least, qx, qy, at = np.inf, 0.0, 0.0, first
    for k in range(first, last):
        vx, vy = sides[2, k], sides[3, k]
        wx, wy = x - sides[0, k], y - sides[1, k]
        t = min(max((wx * vx + wy * vy) * sides[4, k], 0.0), 1.0)
        dx, dy = wx - t * vx, wy - t * vy
        d = dx * dx + dy * dy
        if d < least:
            least, qx, qy, at = d, dx, dy, k
    return math.sqrt(least), qx, qy, at


@njit(cache=True, nogil=True)
def _seen(
    look: Look, pieces: Pieces, near: Ints, i: int, x: float, y: float, touch: float, reach: float, lines: Floats, first: int
) -> tuple[float, int]:  # fmt: skip
    """Return the weighted depth of piece i at (x, y) [mm], and how many lines there are with those added that are seen from there.

    A row is nx, ny, c, weight: a shift (dx, dy) lies max(0, c - nx dx - ny dy) deep [mm].
    """
    total, count = 0.0, first
    sides = look.sides
    for n in range(len(near)):
        j, region = near[n, 0], near[n, 1]
        tx, ty = x - pieces.pos[j, 0], y - pieces.pos[j, 1]
        x0, y0, x1, y1 = look.boxes[region]
        if tx <= x0 - reach or ty <= y0 - reach or tx >= x1 + reach or ty >= y1 + reach:
            continue
        a, b = look.at[region], look.at[region + 1]
        deep = tx > x0 and ty > y0 and tx < x1 and ty < y1 and inside(sides, a, b, tx, ty)
        d, qx, qy, at = _nearest(sides, a, b, tx, ty)
        if deep and d > touch:
            total += pieces.weights[i, j] * d
        if (not deep and d > reach) or count - first >= MOST or count >= LINES - 4:
            continue
        if d > HAIR:
            s = -1.0 / d if deep else 1.0 / d
            lines[count, 0], lines[count, 1] = qx * s, qy * s
        else:
            s = math.sqrt(sides[4, at])  # on the edge itself: the side that is free is looked for
            nx, ny = sides[3, at] * s, -sides[2, at] * s
            s = -1.0 if inside(sides, a, b, tx + PROBE * nx, ty + PROBE * ny) else 1.0
            lines[count, 0], lines[count, 1] = nx * s, ny * s
        lines[count, 2] = d if deep else -d
        lines[count, 3] = pieces.weights[i, j]
        count += 1
    return total, count


@njit(cache=True, nogil=True)
def _cost(lines: Floats, count: int, x: float, y: float, stop: float) -> float:
    """Return the weighted depth of a shift by the lines [mm], or some value above `stop`."""
    total: float = 0.0
    for k in range(count):
        deep = lines[k, 2] - lines[k, 0] * x - lines[k, 1] * y
        if deep > 1e-9:
            total += lines[k, 3] * deep
            if total > stop:
                return total
    return total


@njit(cache=True, nogil=True)
def _best_shift(
    lines: Floats, count: int, box: tuple[float, float, float, float], now: float
) -> tuple[float, float]:
    """Return the shift within a box that costs least by the lines, and less than `now`; of equal ones the shortest [mm].

    The box's own lines, of no weight, are put behind the others.
    """
    for n in range(4):
        lines[count + n, 0], lines[count + n, 1] = (1.0, 0.0) if n % 2 == 0 else (0.0, 1.0)
        lines[count + n, 2], lines[count + n, 3] = box[n], 0.0
    best, bx, by, long = now, 0.0, 0.0, 0.0
    for p in range(-1, count + 4):
        for q in range(max(p + 1, 0), count + 4):
            c = lines[q, 2]
            if p < 0:  # the foot of one line
                if q >= count or c <= 0.0:
                    continue
                x, y = lines[q, 0] * c, lines[q, 1] * c
            else:
                cross = lines[p, 0] * lines[q, 1] - lines[p, 1] * lines[q, 0]
                if abs(cross) < 1e-6:
                    continue
                x = (lines[p, 2] * lines[q, 1] - lines[p, 1] * c) / cross
                y = (lines[p, 0] * c - lines[p, 2] * lines[q, 0]) / cross
            if x < box[0] - HAIR or y < box[1] - HAIR or x > box[2] + HAIR or y > box[3] + HAIR:
                continue
            value, far = _cost(lines, count, x, y, best + HAIR), x * x + y * y
            if value < best - HAIR or (value < best + HAIR and far < long):
                best, bx, by, long = value, x, y, far
    return bx, by


@njit(cache=True, nogil=True)
def settle(
    look: Look, pieces: Pieces, work: Work, span: Floats, i: int, f: int, start: tuple[float, float],
    steps: tuple[float, float], touch: float,
) -> tuple[float, float, float]:  # fmt: skip
    """Go downhill from a start [mm], no farther at once than the first of the `steps`; return x, y and the weighted depth there.

    It ends at the second of the steps, or at ``NICETY`` of the depth still left: how exactly a bad place is bad is of no use.
    """
    reach, least = steps
    x, y = start
    px, py = x, y
    lines, near = work.lines, work.near
    count = _neighbours(look, pieces, near, i, f, x, y, 3.0 * reach)
    heavy = 1.0
    for n in range(count):
        heavy = max(heavy, pieces.weights[i, near[n, 0]])
    value, many = _seen(look, pieces, near[:count], i, x, y, touch, reach, lines, 0)
    step = reach
    for _ in range(TRIES):
        if value <= 0.0 or step < max(least, NICETY * value / heavy):
            break
        box = (
            max(-step, span[0] - x),
            max(-step, span[1] - y),
            min(step, span[2] - x),
            min(step, span[3] - y),
        )
        dx, dy = _best_shift(lines, many, box, value)
        if dx == 0.0 and dy == 0.0:
            break
        qx, qy = min(max(x + dx, span[0]), span[2]), min(max(y + dy, span[1]), span[3])
        if abs(qx - px) > 2.0 * reach or abs(qy - py) > 2.0 * reach:
            px, py = qx, qy
            count = _neighbours(look, pieces, near, i, f, qx, qy, 3.0 * reach)
        there, seen = _seen(look, pieces, near[:count], i, qx, qy, touch, reach, lines, many)
        if there < value:
            step *= 1.0 if value - there > NICETY * value else 0.5
            x, y, value = qx, qy, there
            lines[: seen - many] = lines[many:seen].copy()
            many = seen - many
            continue
        step *= 0.3
        lines[many:seen, 2] += lines[many:seen, 0] * (qx - x) + lines[many:seen, 1] * (qy - y)
        many = seen
        if many >= MOST:
            _, many = _seen(look, pieces, near[:count], i, x, y, touch, reach, lines, 0)
    return x, y, value
