"""Compiled inner loops of the layout: raster scan, meeting of loops, sliding.

Cells are square; a column of the room is stored as signed run lengths: at a free cell the number of
free cells from it upward, at a taken cell minus the number of taken ones. A part is a list of vertical
runs, so one look tells whether a whole run fits and, if not, how far to skip.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = [
    "Bodies", "Region", "best_spot", "corner_spot", "cover_cells", "in_room", "largest_free", "loops_meet", "nearest_free",
    "point_in", "run_lengths", "runs_of", "slide",
]  # fmt: skip

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Cells = NDArray[np.uint8]
Runs = NDArray[np.int32]


class Region(NamedTuple):
    """Loops one after the other: points (N, 2) [mm], the first point of each and one past the last."""

    points: Floats
    starts: Ints


class Bodies(NamedTuple):
    """The loops of many things one after the other; `at` is the first loop of each and one past the last."""

    points: Floats
    starts: Ints
    at: Ints


@njit(cache=True)
def _mark_edge(ax: float, ay: float, bx: float, by: float, grid: Cells) -> None:
    nx, ny = grid.shape
    if ax > bx:
        ax, ay, bx, by = bx, by, ax, ay
    eps = 1e-7
    first, last = max(0, math.floor(ax - eps)), min(nx - 1, math.floor(bx + eps))
    for ix in range(first, last + 1):
        if bx - ax < 1e-12:
            lo, hi = min(ay, by), max(ay, by)
        else:
            t0 = min(max((ix - ax) / (bx - ax), 0.0), 1.0)
            t1 = min(max((ix + 1 - ax) / (bx - ax), 0.0), 1.0)
            ya, yb = ay + (by - ay) * t0, ay + (by - ay) * t1
            lo, hi = min(ya, yb), max(ya, yb)
        low, high = max(0, math.floor(lo - eps)), min(ny - 1, math.floor(hi + eps))
        for iy in range(low, high + 1):
            grid[ix, iy] = 1


@njit(cache=True)
def cover_cells(points: Floats, starts: Ints, grid: Cells) -> None:
    """Set every cell a region touches; coordinates are in cells [-], the region by the even-odd rule."""
    nx, ny = grid.shape
    count = len(starts) - 1
    for loop in range(count):
        a, b = starts[loop], starts[loop + 1]
        for i in range(a, b):
            j = i + 1 if i + 1 < b else a
            _mark_edge(points[i, 0], points[i, 1], points[j, 0], points[j, 1], grid)
    total = starts[count]
    cross = np.empty(total, dtype=np.float64)
    for ix in range(nx):
        x = ix + 0.5
        found = 0
        for loop in range(count):
            a, b = starts[loop], starts[loop + 1]
            for i in range(a, b):
                j = i + 1 if i + 1 < b else a
                if (points[i, 0] > x) != (points[j, 0] > x):
                    t = (x - points[i, 0]) / (points[j, 0] - points[i, 0])
                    cross[found] = points[i, 1] + t * (points[j, 1] - points[i, 1])
                    found += 1
        if found:
            ordered = np.sort(cross[:found])
            for k in range(0, found - 1, 2):
                low = max(0, math.floor(ordered[k] + 0.5))
                high = min(ny - 1, math.floor(ordered[k + 1] - 0.5))
                for iy in range(low, high + 1):
                    grid[ix, iy] = 1


@njit(cache=True)
def run_lengths(grid: Cells, runs: Runs, first: int, last: int) -> None:
    """Fill signed run lengths [cells, -] of columns first..last of a grid of taken cells."""
    ny = grid.shape[1]
    for ix in range(first, last + 1):
        count = 0
        for iy in range(ny - 1, -1, -1):
            if grid[ix, iy]:
                count = count - 1 if count < 0 else -1
            else:
                count = count + 1 if count > 0 else 1
            runs[ix, iy] = count


@njit(cache=True)
def runs_of(grid: Cells) -> Runs:
    """Return the vertical runs of set cells as rows of column, first cell, length [cells, -]."""
    nx, ny = grid.shape
    out = np.empty((nx * (ny // 2 + 1), 3), dtype=np.int32)
    found = 0
    for ix in range(nx):
        iy = 0
        while iy < ny:
            if grid[ix, iy]:
                start = iy
                while iy < ny and grid[ix, iy]:
                    iy += 1
                out[found, 0], out[found, 1], out[found, 2] = ix, start, iy - start
                found += 1
            else:
                iy += 1
    return out[:found].copy()


@njit(cache=True)
def best_spot(room: Runs, part: Runs, width: int, height: int, x_from: int, x_to: int) -> tuple[int, int]:
    """Return the leftmost, then lowest, cell position where a part's runs are all free; (-1, -1) if none [-]."""
    nx, ny = room.shape
    last_hit = 0
    count = len(part)
    for ix in range(x_from, min(nx - width, x_to) + 1):
        iy = 0
        while iy + height <= ny:
            skip = 0
            for n in range(count):
                k = last_hit + n
                if k >= count:
                    k -= count
                x, y, need = ix + part[k, 0], iy + part[k, 1], part[k, 2]
                free = room[x, y]
                if free < need:
                    block = y + max(free, 0)
                    skip = block - room[x, block] - y
                    last_hit = k
                    break
            if skip == 0:
                return ix, iy
            iy += skip
    return -1, -1


@njit(cache=True)
def _inside(points: Floats, starts: Ints, x: float, y: float) -> bool:
    odd = False
    for loop in range(len(starts) - 1):
        a, b = starts[loop], starts[loop + 1]
        j = b - 1
        for i in range(a, b):
            yi, yj = points[i, 1], points[j, 1]
            if (yi > y) != (yj > y) and x < (points[j, 0] - points[i, 0]) * (y - yi) / (yj - yi) + points[
                i, 0
            ]:
                odd = not odd
            j = i
    return odd


@njit(cache=True)
def _edges_cross(pa: Floats, sa: Ints, pb: Floats, sb: Ints, box: Floats) -> bool:
    """Tell whether any edge of a meets any edge of b within a box."""
    for la in range(len(sa) - 1):
        a0, a1 = sa[la], sa[la + 1]
        i = a1 - 1
        for j in range(a0, a1):
            ax, ay, bx, by = pa[i, 0], pa[i, 1], pa[j, 0], pa[j, 1]
            i = j
            if max(ax, bx) < box[0] or min(ax, bx) > box[2] or max(ay, by) < box[1] or min(ay, by) > box[3]:
                continue
            dx, dy = bx - ax, by - ay
            for lb in range(len(sb) - 1):
                b0, b1 = sb[lb], sb[lb + 1]
                k = b1 - 1
                for m in range(b0, b1):
                    cx, cy, ex, ey = pb[k, 0], pb[k, 1], pb[m, 0], pb[m, 1]
                    k = m
                    s1 = dx * (cy - ay) - dy * (cx - ax)
                    s2 = dx * (ey - ay) - dy * (ex - ax)
                    if (s1 > 0 and s2 > 0) or (s1 < 0 and s2 < 0):
                        continue
                    ux, uy = ex - cx, ey - cy
                    t1 = ux * (ay - cy) - uy * (ax - cx)
                    t2 = ux * (by - cy) - uy * (bx - cx)
                    if (t1 > 0 and t2 > 0) or (t1 < 0 and t2 < 0):
                        continue
                    if (
                        s1 == 0
                        and s2 == 0
                        and t1 == 0
                        and t2 == 0
                        and (
                            max(cx, ex) < min(ax, bx)
                            or min(cx, ex) > max(ax, bx)
                            or max(cy, ey) < min(ay, by)
                            or min(cy, ey) > max(ay, by)
                        )
                    ):
                        continue
                    return True
    return False


@njit(cache=True)
def loops_meet(pa: Floats, sa: Ints, pb: Floats, sb: Ints) -> bool:
    """Tell whether two regions given by loops [mm] share a point (touching counts)."""
    box = np.empty(4)
    box[0] = max(pa[:, 0].min(), pb[:, 0].min())
    box[1] = max(pa[:, 1].min(), pb[:, 1].min())
    box[2] = min(pa[:, 0].max(), pb[:, 0].max())
    box[3] = min(pa[:, 1].max(), pb[:, 1].max())
    if box[0] > box[2] or box[1] > box[3]:
        return False
    if _edges_cross(pa, sa, pb, sb, box):
        return True
    return _inside(pa, sa, pb[0, 0], pb[0, 1]) or _inside(pb, sb, pa[0, 0], pa[0, 1])


@njit(cache=True)
def in_room(room: Floats, room_starts: Ints, points: Floats, starts: Ints) -> bool:
    """Tell whether a region given by loops [mm] lies wholly inside the room's loops [mm]."""
    box = np.empty(4)
    box[0], box[1] = points[:, 0].min(), points[:, 1].min()
    box[2], box[3] = points[:, 0].max(), points[:, 1].max()
    if _edges_cross(room, room_starts, points, starts, box):
        return False
    if not _inside(room, room_starts, points[0, 0], points[0, 1]):
        return False
    for loop in range(len(room_starts) - 1):  # a hole of the room wholly inside the part
        i = room_starts[loop]
        if _inside(points, starts, room[i, 0], room[i, 1]):
            return False
    return True


@njit(cache=True)
def _one(bodies: Bodies, i: int) -> Region:
    """Return one of many things; its points are still those of all."""
    starts = bodies.starts[bodies.at[i] : bodies.at[i + 1] + 1]
    return Region(bodies.points[starts[0] : starts[-1]], starts - starts[0])


@njit(cache=True)
def _boxes(bodies: Bodies) -> Floats:
    """Return the box of each of many things as low x, low y, high x, high y (N, 4) [mm]."""
    boxes = np.empty((len(bodies.at) - 1, 4))
    for i in range(len(boxes)):
        points = _one(bodies, i).points
        boxes[i, 0], boxes[i, 1] = points[:, 0].min(), points[:, 1].min()
        boxes[i, 2], boxes[i, 3] = points[:, 0].max(), points[:, 1].max()
    return boxes


@njit(cache=True)
def _free(who: int, raw: Bodies, big: Bodies, boxes: Floats, room: Region, move: tuple[float, float]) -> bool:
    """Tell whether a thing moved [mm] lies in the room and meets none of the others, which are grown."""
    here = _one(raw, who)
    moved = here.points + np.array(move)
    if not in_room(room.points, room.starts, moved, here.starts):
        return False
    x0, y0, x1, y1 = moved[:, 0].min(), moved[:, 1].min(), moved[:, 0].max(), moved[:, 1].max()
    for other in range(len(boxes)):
        if other == who:
            continue
        if boxes[other, 0] > x1 or boxes[other, 2] < x0 or boxes[other, 1] > y1 or boxes[other, 3] < y0:
            continue
        there = _one(big, other)
        if loops_meet(there.points, there.starts, moved, here.starts):
            return False
    return True


@njit(cache=True)
def slide(order: Ints, raw: Bodies, big: Bodies, room: Region, longest: float, shortest: float) -> Floats:
    """Slide parts in order toward the lower left as far as they stay free; steps halve from longest to shortest [mm].

    `raw` are the parts' loops and `big` the same grown by the clearance, both moved in place; returns the moves [mm].
    """
    boxes = _boxes(big)
    count = len(boxes)
    moves = np.zeros((count, 2))
    for who in order:
        step = longest
        while step >= shortest:
            moved = False
            for turn in range(2):
                dx, dy = (-step, 0.0) if turn == 0 else (0.0, -step)
                while _free(who, raw, big, boxes, room, (dx, dy)):
                    for points in (_one(raw, who).points, _one(big, who).points):
                        for i in range(len(points)):
                            points[i, 0] += dx
                            points[i, 1] += dy
                    boxes[who, 0] += dx
                    boxes[who, 2] += dx
                    boxes[who, 1] += dy
                    boxes[who, 3] += dy
                    moves[who, 0] += dx
                    moves[who, 1] += dy
                    moved = True
            if not moved or step > shortest:
                step /= 2
            if step < shortest and moved:
                break
    return moves


@njit(cache=True)
def corner_spot(shape: Region, xs: Floats, ys: Floats, big: Bodies, room: Region) -> tuple[float, float]:
    """Return the first shift (x, y) [mm], xs before ys, at which a part is free of everything; NaN if there is none.

    `big` is what lies there, grown.
    """
    boxes = _boxes(big)
    count = len(boxes)
    part, starts = shape
    low_x, low_y, high_x, high_y = part[:, 0].min(), part[:, 1].min(), part[:, 0].max(), part[:, 1].max()
    for x in xs:
        for y in ys:
            free = True
            for n in range(2):  # whole boxes that lie in the way are told first
                for i in range(count):
                    if (
                        boxes[i, 0] > x + high_x
                        or boxes[i, 2] < x + low_x
                        or boxes[i, 1] > y + high_y
                        or boxes[i, 3] < y + low_y
                    ):
                        continue
                    there = _one(big, i)
                    if n == 0:
                        free = not (
                            len(there.starts) == 2
                            and _inside(there.points, there.starts, x + part[0, 0], y + part[0, 1])
                        )
                    else:
                        moved = part + np.array([x, y])
                        free = not loops_meet(there.points, there.starts, moved, starts)
                    if not free:
                        break
                if not free:
                    break
            if free and in_room(room.points, room.starts, part + np.array([x, y]), starts):
                return x, y
    return math.nan, math.nan


@njit(cache=True)
def point_in(points: Floats, starts: Ints, x: float, y: float) -> bool:
    """Tell whether a point [mm] lies in loops by the even-odd rule."""
    return _inside(points, starts, x, y)


@njit(cache=True)
def nearest_free(points: Floats, starts: Ints, x: float, y: float, push: float) -> tuple[float, float]:
    """Return the nearest point outside the loops, `push` beyond their edge [mm]; NaN if there is none."""
    count = starts[len(starts) - 1]
    where = np.empty((count, 2))
    normal = np.empty((count, 2))
    away = np.empty(count)
    for loop in range(len(starts) - 1):
        a, b = starts[loop], starts[loop + 1]
        for i in range(a, b):
            j = i + 1 if i + 1 < b else a
            vx, vy = points[j, 0] - points[i, 0], points[j, 1] - points[i, 1]
            long = vx * vx + vy * vy
            t = 0.0
            if long > 0:
                t = min(max(((x - points[i, 0]) * vx + (y - points[i, 1]) * vy) / long, 0.0), 1.0)
            where[i, 0], where[i, 1] = points[i, 0] + t * vx, points[i, 1] + t * vy
            size = math.sqrt(long) if long > 0 else 1.0
            normal[i, 0], normal[i, 1] = vy / size, -vx / size
            away[i] = math.hypot(where[i, 0] - x, where[i, 1] - y)
    for i in np.argsort(away, kind="mergesort"):
        for k in range(4):
            if k == 0:
                px, py = where[i, 0] + push * normal[i, 0], where[i, 1] + push * normal[i, 1]
            elif k == 1 and away[i] > 0:
                px = where[i, 0] + push * (where[i, 0] - x) / away[i]
                py = where[i, 1] + push * (where[i, 1] - y) / away[i]
            elif k == 2:
                px, py = (
                    where[i, 0] + 2 * push * (normal[i, 0] - normal[i, 1]),
                    where[i, 1] + 2 * push * (normal[i, 1] + normal[i, 0]),
                )
            else:
                px, py = (
                    where[i, 0] + 2 * push * (normal[i, 0] + normal[i, 1]),
                    where[i, 1] + 2 * push * (normal[i, 1] - normal[i, 0]),
                )
            if not _inside(points, starts, px, py):
                return px, py
    return math.nan, math.nan


@njit(cache=True)
def largest_free(taken: Cells) -> tuple[int, int, int, int]:
    """Return corner and size of the largest rectangle of free cells: column, row, columns, rows [-]."""
    nx, ny = taken.shape
    height = np.zeros(ny, dtype=np.int64)
    stack = np.empty(ny + 1, dtype=np.int64)
    best, bi, bj, bw, bh = 0, 0, 0, 0, 0
    for i in range(nx):
        for j in range(ny):
            height[j] = 0 if taken[i, j] else height[j] + 1
        top = 0
        for j in range(ny + 1):
            now = height[j] if j < ny else 0
            while top > 0 and height[stack[top - 1]] >= now:
                top -= 1
                tall = height[stack[top]]
                low = stack[top - 1] + 1 if top > 0 else 0
                if tall * (j - low) > best:
                    best = tall * (j - low)
                    bi, bj, bw, bh = i - tall + 1, low, tall, j - low
            if j < ny:
                stack[top] = j
                top += 1
    return bi, bj, bw, bh
