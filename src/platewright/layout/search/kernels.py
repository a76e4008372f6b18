"""Compiled loops of the search: depth in a forbidden region, the overlap field of one piece.

A form is a shape at one turn. For two forms the forbidden region is a set of edges (even-odd); ``depth`` is how far
a shift lies inside it: the shortest push that frees the two pieces. ``_fill`` sums the weighted depths of all other
pieces on a raster of a piece's places, so the best place on the whole room is seen at once; ``settle`` then finds
the nearby minimum with exact depths. The room's outside is one more piece that never moves.

What the kernels look up and work on comes in named tuples: ``Look`` (tables that never change), ``Room``,
``Pieces`` (what is moved), ``Way`` (how) and ``Work`` (memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit
from platewright.layout.search.lanes import LANES, add_lanes, least_lanes

__all__ = [
    "AWAY",
    "Look",
    "Pieces",
    "Room",
    "Way",
    "Work",
    "depth",
    "measure",
    "measure_one",
    "raster_depths",
    "row_length",
]

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Shorts = NDArray[np.uint16]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Words = NDArray[np.uint64]


AWAY = 1e6
"""How far apart pieces lie that are not in hand [mm]."""


class Look(NamedTuple):
    """Region of each pair of forms (still, moving), first side of each region, box [mm], sides, and depths, in units, on a raster of step h [mm]."""

    table: Ints
    at: Ints
    boxes: Floats
    sides: Floats
    rasters: Shorts
    raster_at: Ints
    raster_size: Ints
    h: float
    unit: float


class Room(NamedTuple):
    """The room's box [mm], and the box of each form about its origin [mm]."""

    box: Floats
    lows: Floats
    highs: Floats


class Pieces(NamedTuple):
    """Places [mm] and forms, forms each may take and how many, weights and sizes of pairs [-], their sized depths [mm]."""

    pos: Floats
    form: Ints
    choices: Ints
    counts: Ints
    movable: Flags
    weights: Floats
    sizes: Floats
    depths: Floats


class Way(NamedTuple):
    """Depth that counts as touching and finest step [mm], share of moves made near the place [-], turns looked at in a move."""

    touch: float
    fine: float
    local: float
    turns: int


class Work(NamedTuple):
    """Memory of one worker: a field, its columns' least values, neighbours, an order of pieces, random numbers, lines to settle by,
    edges among which a corner is sought.
    """

    field: Singles
    lows: Singles
    near: Ints
    order: Ints
    state: Words
    lines: Floats
    rows: Floats


@njit(cache=True, nogil=True)
def _random(state: Words) -> float:
    """Return the next random number in 0..1 [-] (xorshift64*, Marsaglia 2003)."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True, nogil=True, fastmath={"nnan", "nsz"})
def inside(sides: Floats, first: int, last: int, x: float, y: float) -> bool:
    """Tell whether (x, y) lies in the region of sides first..last, even-odd."""
    ax, ay, by = sides[0, first:last], sides[1, first:last], sides[5, first:last]
    vx, vy = sides[2, first:last], sides[3, first:last]
    odd = 0
    for k in range(len(ax)):  # no branches, so that the compiler may run it in lanes
        left = (x - ax[k]) * vy[k] * vy[k] < vx[k] * (y - ay[k]) * vy[k]
        odd += 1 if ((ay[k] > y) != (by[k] > y)) & left else 0
    return odd & 1 == 1


@njit(cache=True, nogil=True)
def depth(sides: Floats, first: int, last: int, x: float, y: float, touch: float) -> float:
    """Return how far (x, y) lies inside the region of sides first..last [mm]; 0 outside and up to `touch` [mm]."""
    if not inside(sides, first, last, x, y):
        return 0.0
    least = np.inf
    for k in range(first, last):
        vx, vy = sides[2, k], sides[3, k]
        wx, wy = x - sides[0, k], y - sides[1, k]
        t = min(max((wx * vx + wy * vy) * sides[4, k], 0.0), 1.0)
        dx, dy = wx - t * vx, wy - t * vy
        least = min(least, dx * dx + dy * dy)
    return math.sqrt(least) if least > touch * touch else 0.0


@njit(cache=True, nogil=True)
def raster_depths(edges: Floats, x0: float, y0: float, h: float, out: Singles) -> None:
    """Fill `out` with depths [mm] at nodes x0 + i h, y0 + j h; only nodes between crossings of a column are asked."""
    count = len(edges)
    cross = np.empty(count)
    for i in range(out.shape[0]):
        x = x0 + i * h
        found = 0
        for k in range(count):
            if (edges[k, 0] > x) != (edges[k, 2] > x):
                t = (x - edges[k, 0]) / (edges[k, 2] - edges[k, 0])
                cross[found] = edges[k, 1] + t * (edges[k, 3] - edges[k, 1])
                found += 1
        ordered = np.sort(cross[:found])
        for c in range(0, found - 1, 2):
            low = max(0, math.ceil((ordered[c] - y0) / h))
            high = min(out.shape[1] - 1, math.floor((ordered[c + 1] - y0) / h))
            for j in range(low, high + 1):
                out[i, j] = _to_edge(edges, x, y0 + j * h)


@njit(cache=True, nogil=True)
def _to_edge(edges: Floats, x: float, y: float) -> float:
    """Return the distance from (x, y) to the nearest edge [mm]."""
    least = np.inf
    for k in range(len(edges)):
        vx, vy = edges[k, 2] - edges[k, 0], edges[k, 3] - edges[k, 1]
        wx, wy = x - edges[k, 0], y - edges[k, 1]
        t = min(max((wx * vx + wy * vy) * edges[k, 4], 0.0), 1.0)
        dx, dy = wx - t * vx, wy - t * vy
        least = min(least, dx * dx + dy * dy)
    return math.sqrt(least)


@njit(cache=True, nogil=True)
def measure_one(look: Look, pieces: Pieces, i: int, first: int, touch: float) -> float:
    """Fill row and column i of the matrix of pair depths [mm], each times the pair's size [-], from piece `first` on; return the sum.

    The room's outside, the last piece, only ever stands still: its row is filled by the others.

    Arrays are taken out of the tuples once: a tuple handed on in the inner loop costs ten times as much.
    """
    pos, form, depths, sizes = pieces.pos, pieces.form, pieces.depths, pieces.sizes
    table, boxes, at, sides = look.table, look.boxes, look.at, look.sides
    x, y, f = pos[i, 0], pos[i, 1], form[i]
    total = 0.0
    for j in range(first, len(pos)):
        region = table[form[j], f]
        d = 0.0
        if region >= 0 and j != i:
            tx, ty = x - pos[j, 0], y - pos[j, 1]
            if (
                tx > boxes[region, 0]
                and ty > boxes[region, 1]
                and tx < boxes[region, 2]
                and ty < boxes[region, 3]
            ):
                d = depth(sides, at[region], at[region + 1], tx, ty, touch) * sizes[i, j]
        depths[i, j] = depths[j, i] = d
        total += d
    return total


@njit(cache=True, nogil=True)
def measure(look: Look, pieces: Pieces, touch: float) -> float:
    """Fill the matrix of pair depths [mm], each times the pair's size [-], and return its sum."""
    total = 0.0
    for i in range(len(pieces.pos)):
        total += measure_one(look, pieces, i, i, touch)
    return total


@njit(cache=True, nogil=True)
def _lowest(work: Work, nx: int, ny: int) -> tuple[int, int, float]:
    """Return a node of least value of a field of nx by ny, at random among equals, and its value [mm]."""
    field, lows, stride = work.field, work.lows, row_length(ny)
    lows[:stride] = np.inf
    for a in range(nx):
        first = LANES + a * stride
        for b in range(0, stride - LANES, LANES):
            least_lanes(lows, b, field, first + b)
    least = lows[:ny].min()
    columns = 0
    for b in range(ny):
        if lows[b] == least:
            columns += 1
    pick = int(_random(work.state) * columns)
    for b in range(ny):
        if lows[b] == least:
            if pick > 0:
                pick -= 1
                continue
            first = int(_random(work.state) * nx)
            for n in range(nx):
                a = first + n if first + n < nx else first + n - nx
                if field[LANES + a * stride + b] == least:
                    return a, b, least
    return 0, 0, least


@njit(cache=True, nogil=True)
def _neighbours(
    look: Look, pieces: Pieces, near: Ints, i: int, f: int, x: float, y: float, margin: float
) -> int:
    """List (piece, region) whose region's box comes within a margin of (x, y); return how many."""
    count = 0
    pos, form, boxes = pieces.pos, pieces.form, look.boxes
    for j in range(len(pos)):
        if j == i:
            continue
        region = look.table[form[j], f]
        if region < 0:
            continue
        tx, ty = x - pos[j, 0], y - pos[j, 1]
        if (
            tx > boxes[region, 0] - margin
            and ty > boxes[region, 1] - margin
            and tx < boxes[region, 2] + margin
            and ty < boxes[region, 3] + margin
        ):
            near[count, 0], near[count, 1] = j, region
            count += 1
    return count


@njit(cache=True, nogil=True)
def _span(room: Room, f: int, span: Floats) -> bool:
    """Set the least and greatest place of a form in the room [mm]; tell whether it fits."""
    span[0], span[1] = room.box[0] - room.lows[f, 0], room.box[1] - room.lows[f, 1]
    span[2], span[3] = room.box[2] - room.highs[f, 0], room.box[3] - room.highs[f, 1]
    return bool(span[2] >= span[0] and span[3] >= span[1])


@njit(cache=True, nogil=True)
def row_length(ny: int) -> int:
    """Return how long a field's row of ny nodes is with what is added [-]: whole lanes, and a lane of no node before the next row."""
    return (ny + LANES - 1) // LANES * LANES + LANES


@njit(cache=True, nogil=True)
def _fill(look: Look, pieces: Pieces, i: int, f: int, span: Floats, field: Singles, nx: int, ny: int) -> None:
    """Fill a field of nx by ny nodes with the weighted depths of all other pieces at the places of piece i as form f [mm].

    Rows lie one after the other from the second lane on. What is no node is infinite: whatever a lane that sticks out of a row
    adds there changes nothing.
    """
    stride = row_length(ny)
    field[:LANES] = np.inf
    for a in range(nx):
        first = LANES + a * stride
        field[first : first + ny] = 0
        field[first + ny : first + stride] = np.inf
    pos, form, weights, h, unit = pieces.pos, pieces.form, pieces.weights, look.h, look.unit
    table, boxes, rasters, at, size = look.table, look.boxes, look.rasters, look.raster_at, look.raster_size
    for j in range(len(pos)):
        if j == i:
            continue
        region = table[form[j], f]
        if region < 0:
            continue
        sx = math.floor((pos[j, 0] + boxes[region, 0] - span[0]) / h + 0.5)
        sy = math.floor((pos[j, 1] + boxes[region, 1] - span[1]) / h + 0.5)
        rx, ry = size[region, 0], size[region, 1]
        b0, b1 = max(0, -sy) // LANES * LANES, min(ry, ny - sy)
        weight = np.float32(weights[i, j] * unit)
        for a in range(max(0, -sx), min(rx, nx - sx)):
            to, of = LANES + (sx + a) * stride + sy, at[region] + a * ry
            for b in range(b0, b1, LANES):
                add_lanes(field, to + b, rasters, of + b, weight)
