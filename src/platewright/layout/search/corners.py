"""Compiled: places where a piece touches two others, or one and the room's edge, and overlaps nothing.

Such a place is where the edges of two forbidden regions cross, or a corner of one. Of those within a window the one is
taken that touches most: along an edge of a region the two pieces touch the longer, the farther from the edge's ends.

What some other region surely covers of an edge, as the rasters tell, is left out before edges are crossed: in a full room that
is most of them. How long a piece touches is asked only where it overlaps nothing.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit
from platewright.layout.search.kernels import Flags, Look, Pieces, Room, Shorts, Work, _random, _span, depth

__all__ = ["ROWS", "Aim", "refill"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROWS = 1500
"""Most edges looked at when a place for one piece is sought in the corners of what lies there [-]."""

NEAR = 0.5
"""How near a region's edge counts as touching it [mm]."""

STRETCH = 2.0
"""Longest stretch of an edge that is looked at at once, over the rasters' step [-]."""

HAIR = 1e-9
"""How far past its ends an edge still meets another [mm], or over its length [-]."""


class Aim(NamedTuple):
    """Pieces to put in their order, the kind and area [mm²] of each, the box they shall come into [mm], area still free [mm²],
    depth that counts as touching [mm], how much chance counts, most turns tried of a piece [-], and pairs looked at, of edges or of
    an edge and a region [-].
    """

    who: Ints
    kind: Ints
    area: Floats
    window: Floats
    free: float
    touch: float
    noise: float
    turns: int
    book: Floats


@njit(cache=True, nogil=True)
def _edges(
    look: Look, pieces: Pieces, near: Ints, i: int, f: int, span: Floats, within: Floats, rows: Floats
) -> tuple[int, int]:
    """List the regions of form f that come into a box as (piece, region), their edges that do and the box of places; return how many.

    An edge is a row ax, ay, vx, vy [mm], room for the shares of it between which it may be free, and its region's place in the list.
    """
    count = found = 0
    pos, form, boxes, sides = pieces.pos, pieces.form, look.boxes, look.sides
    for j in range(len(pos)):
        region = look.table[form[j], f]
        if j == i or region < 0:
            continue
        px, py = pos[j, 0], pos[j, 1]
        if (
            px + boxes[region, 0] > within[2]
            or py + boxes[region, 1] > within[3]
            or px + boxes[region, 2] < within[0]
            or py + boxes[region, 3] < within[1]
        ):
            continue
        near[found, 0], near[found, 1] = j, region
        found += 1
        for k in range(look.at[region], look.at[region + 1]):
            ax, ay, vx, vy = sides[0, k] + px, sides[1, k] + py, sides[2, k], sides[3, k]
            if (
                min(ax, ax + vx) <= within[2]
                and max(ax, ax + vx) >= within[0]
                and min(ay, ay + vy) <= within[3]
                and max(ay, ay + vy) >= within[1]
                and count < len(rows) - 4
            ):
                rows[count, 0], rows[count, 1], rows[count, 2], rows[count, 3] = ax, ay, vx, vy
                rows[count, 6] = found - 1
                count += 1
    x0, y0, x1, y1 = span
    for n in range(4):
        rows[count, 0], rows[count, 1] = (x1 if n in (1, 2) else x0), (y1 if n in (2, 3) else y0)
        rows[count, 2] = (x1 - x0) if n == 0 else (x0 - x1) if n == 2 else 0.0
        rows[count, 3] = (y1 - y0) if n == 1 else (y0 - y1) if n == 3 else 0.0
        rows[count, 6] = -1
        count += 1
    return found, count


@njit(cache=True, nogil=True)
def _bare(look: Look, pos: Floats, near: Ints, within: Floats, rows: Floats) -> int:
    """Keep the edges that may be free somewhere in a box, each from where to where it may; return how many.

    Each is cut to the box, then stretches are taken off its ends that some other region surely holds: one that is deeper than
    half the stretch at its middle. Most edges go: what is left costs the square of its number.
    """
    kept = 0
    boxes, rasters, at, size, h = look.boxes, look.rasters, look.raster_at, look.raster_size, look.h
    for r in range(len(rows)):
        ax, ay, vx, vy, own = rows[r, 0], rows[r, 1], rows[r, 2], rows[r, 3], int(rows[r, 6])
        t0, t1 = 0.0, 1.0
        for axis in range(2):
            p, v = rows[r, axis], rows[r, 2 + axis]
            if v != 0.0:
                one, other = (within[axis] - p) / v, (within[2 + axis] - p) / v
                t0, t1 = max(t0, min(one, other)), min(t1, max(one, other))
        if t1 < t0 - HAIR:
            continue
        long = max(t1 - t0, 0.0) * np.sqrt(vx * vx + vy * vy)
        parts = int(long / (STRETCH * h)) + 1
        step = (t1 - t0) / parts
        enough = (0.5 * long / parts + 0.75 * h) / look.unit
        low, high, end, by = 0, parts, 0, 0
        while low < high and end < 2:
            t = t0 + ((low if end == 0 else high - 1) + 0.5) * step
            x, y, held = ax + t * vx, ay + t * vy, False
            for n in range(len(near)):
                k = (by + n) % len(near)  # first the one that held the last stretch
                region = near[k, 1]
                tx, ty = x - pos[near[k, 0], 0] - boxes[region, 0], y - pos[near[k, 0], 1] - boxes[region, 1]
                if k == own or tx <= 0.0 or ty <= 0.0:
                    continue
                a, b = int(tx / h + 0.5), int(ty / h + 0.5)
                ny = size[region, 1]
                if a < size[region, 0] and b < ny and rasters[at[region] + a * ny + b] > enough:
                    by, held = k, True
                    break
            if not held:
                end += 1
            elif end == 0:
                low += 1
            else:
                high -= 1
        if low < high:
            rows[kept, 0], rows[kept, 1], rows[kept, 2], rows[kept, 3] = ax, ay, vx, vy
            rows[kept, 4], rows[kept, 5], rows[kept, 6] = t0 + low * step, t0 + high * step, own
            kept += 1
    return kept


@njit(cache=True, nogil=True)
def _free(
    pos: Floats, at: Ints, boxes: Floats, sides: Floats, rasters: Shorts, raster_at: Ints, raster_size: Ints, near: Ints,
    place: tuple[float, float, float, float, float],
) -> bool:  # fmt: skip
    """Tell whether a place (x, y, depth that counts as touching, step of the rasters [mm], depth that is sure [units]) lies in no region.

    The one that it lies in comes first next time. Plain arrays: named tuples handed on in the inner loop cost several times as much.
    """
    x, y, touch, h, enough = place
    for n in range(len(near)):
        j, region = near[n, 0], near[n, 1]
        tx, ty = x - pos[j, 0], y - pos[j, 1]
        x0, y0 = boxes[region, 0], boxes[region, 1]
        if tx <= x0 or ty <= y0 or tx >= boxes[region, 2] or ty >= boxes[region, 3]:
            continue
        a, b = int((tx - x0) / h + 0.5), int((ty - y0) / h + 0.5)
        nx, ny = raster_size[region, 0], raster_size[region, 1]
        sure = a < nx and b < ny and rasters[raster_at[region] + a * ny + b] > enough
        if sure or depth(sides, at[region], at[region + 1], tx, ty, touch) > 0.0:
            near[n, 0], near[n, 1] = near[0, 0], near[0, 1]
            near[0, 0], near[0, 1] = j, region
            return False
    return True


@njit(cache=True, nogil=True)
def _contact(rows: Floats, x: float, y: float) -> float:
    """Return about how long a piece at (x, y) touches what lies there [mm]: along each edge, how far its nearer end is."""
    total = 0.0
    for k in range(len(rows)):
        vx, vy = rows[k, 2], rows[k, 3]
        long = vx * vx + vy * vy
        if long <= 0.0:
            continue
        wx, wy = x - rows[k, 0], y - rows[k, 1]
        t = (wx * vx + wy * vy) / long
        if t < 0.0 or t > 1.0:
            continue
        dx, dy = wx - t * vx, wy - t * vy
        if dx * dx + dy * dy <= NEAR * NEAR:
            total += min(t, 1.0 - t) * np.sqrt(long)
    return total


@njit(cache=True, nogil=True)
def _best_of(
    look: Look, pieces: Pieces, work: Work, aim: Aim, i: int, f: int, span: Floats, within: Floats
) -> tuple[float, float, float]:  # fmt: skip
    """Return the place (x, y) [mm] of piece i as form f that touches most, and how much [mm]; -1 if there is none."""
    rows = work.rows
    found, count = _edges(look, pieces, work.near, i, f, span, within, rows)
    aim.book[0] += count * found
    count = _bare(look, pieces.pos, work.near[:found], within, rows[:count])
    aim.book[0] += count * count
    one = rows[:count, :2] + rows[:count, 4:5] * rows[:count, 2:4]
    other = rows[:count, :2] + rows[:count, 5:6] * rows[:count, 2:4]
    lows, ends = np.minimum(one[:, 0], other[:, 0]), np.maximum(one[:, 0], other[:, 0])
    under, over = np.minimum(one[:, 1], other[:, 1]), np.maximum(one[:, 1], other[:, 1])
    order = np.argsort(lows)
    best, bx, by = -1.0, 0.0, 0.0
    pos, at, boxes, sides, near = pieces.pos, look.at, look.boxes, look.sides, work.near[:found]
    rasters, raster_at, raster_size = look.rasters, look.raster_at, look.raster_size
    touch, h, all_rows, enough = aim.touch, look.h, rows[:count], 0.75 * look.h / look.unit
    for m in range(count):
        p = order[m]
        ax, ay, ux, uy = rows[p, 0], rows[p, 1], rows[p, 2], rows[p, 3]
        for k in range(m, count):
            q = order[k]
            if lows[q] > ends[p] + HAIR:
                break
            if q == p:
                if rows[p, 4] > 0.0:
                    continue
                x, y = ax, ay
            else:
                if rows[p, 6] == rows[q, 6]:
                    continue
                if under[q] > over[p] + HAIR or over[q] < under[p] - HAIR:
                    continue
                vx, vy = rows[q, 2], rows[q, 3]
                cross = ux * vy - uy * vx
                if cross == 0.0:
                    continue
                wx, wy = rows[q, 0] - ax, rows[q, 1] - ay
                t = (wx * vy - wy * vx) / cross
                if t < rows[p, 4] - HAIR or t > rows[p, 5] + HAIR:
                    continue
                s = (wx * uy - wy * ux) / cross
                if s < rows[q, 4] - HAIR or s > rows[q, 5] + HAIR:
                    continue
                x, y = ax + t * ux, ay + t * uy
            if x < within[0] or y < within[1] or x > within[2] or y > within[3]:
                continue
            if not _free(
                pos, at, boxes, sides, rasters, raster_at, raster_size, near, (x, y, touch, h, enough)
            ):
                continue
            value = _contact(all_rows, x, y) * (1.0 + aim.noise * _random(work.state))
            if value > best:
                best, bx, by = value, x, y
    return bx, by, best


@njit(cache=True, nogil=True)
def _place(look: Look, room: Room, pieces: Pieces, work: Work, aim: Aim, i: int, out: Floats) -> float:
    """Set the place and form (x, y, form) at which a piece touches most within the window; return how much of it touches [-], -1 if it finds no place."""
    span, within = np.empty(4), np.empty(4)
    best = -1.0
    turns = pieces.counts[i]
    first = int(_random(work.state) * turns)
    for n in range(min(turns, aim.turns)):
        f = pieces.choices[i, (first + n) % turns]
        if not _span(room, f, span):
            continue
        within[0] = max(span[0], aim.window[0] - room.highs[f, 0])
        within[1] = max(span[1], aim.window[1] - room.highs[f, 1])
        within[2] = min(span[2], aim.window[2] - room.lows[f, 0])
        within[3] = min(span[3], aim.window[3] - room.lows[f, 1])
        if within[2] < within[0] or within[3] < within[1]:
            continue
        x, y, value = _best_of(look, pieces, work, aim, i, f, span, within)
        if value >= 0.0:
            value /= max(room.highs[f, 0] - room.lows[f, 0] + room.highs[f, 1] - room.lows[f, 1], 1.0)
        if value > best:
            best, out[0], out[1], out[2] = value, x, y, f
    return best


@njit(cache=True, nogil=True)
def refill(look: Look, room: Room, pieces: Pieces, work: Work, aim: Aim, done: Flags) -> None:
    """Put pieces in their order, each where it touches most, and mark them as `done`.

    Of a kind that finds no place no more are tried.
    """
    free = aim.free
    hopeless = np.zeros(len(aim.who), dtype=np.bool_)
    place = np.empty(3)
    for n in range(len(aim.who)):
        if hopeless[n] or aim.area[n] > free:
            continue
        i = aim.who[n]
        if _place(look, room, pieces, work, aim, i, place) < 0.0:
            hopeless |= aim.kind == aim.kind[n]
            continue
        pieces.pos[i, 0], pieces.pos[i, 1], pieces.form[i] = place[0], place[1], int(place[2])
        done[n] = True
        free -= aim.area[n]
