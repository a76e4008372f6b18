"""Compiled loops of the search: depth in a forbidden region, the overlap field of one piece, guided passes.

A form is a shape at one turn. For two forms the forbidden region is a set of edges (even-odd); ``depth`` is how far
a shift lies inside it: the shortest push that frees the two pieces. ``field`` sums the weighted depths of all other
pieces on a raster of a piece's places, so the best place on the whole room is seen at once; ``settle`` then finds
the nearby minimum with exact depths. The room's outside is one more piece that never moves.

What the kernels look up and work on comes in four named tuples: ``Look`` (tables that never change), ``Room``,
``Pieces`` (what is moved) and ``Way`` (how).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["Look", "Pieces", "Room", "Way", "depth", "measure", "press", "raster_depths"]

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Words = NDArray[np.uint64]


class Look(NamedTuple):
    """Region of each pair of forms (still, moving), first side of each region, box [mm], sides, and depths on a raster of step h [mm]."""

    table: Ints
    at: Ints
    boxes: Floats
    sides: Floats
    rasters: Singles
    raster_at: Ints
    raster_size: Ints
    h: float


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
    """Memory of one worker: a field, its rows' least values, neighbours, an order of pieces, random numbers."""

    field: Singles
    lows: Singles
    near: Ints
    order: Ints
    state: Words


NICETY = 0.03
"""Finest step of a descent as a share of the depth left [-]."""


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
def _pair(look: Look, still: int, moving: int, x: float, y: float, touch: float) -> float:
    """Return how deep two forms lie in one another at a shift (x, y) [mm]."""
    region = look.table[still, moving]
    if region < 0:
        return 0.0
    boxes = look.boxes
    if x <= boxes[region, 0] or y <= boxes[region, 1] or x >= boxes[region, 2] or y >= boxes[region, 3]:
        return 0.0
    return depth(look.sides, look.at[region], look.at[region + 1], x, y, touch)


@njit(cache=True, nogil=True)
def measure(look: Look, pieces: Pieces, touch: float) -> float:
    """Fill the matrix of pair depths [mm], each times the pair's size [-], and return its sum."""
    total = 0.0
    pos, form, depths = pieces.pos, pieces.form, pieces.depths
    n = len(pos)
    for i in range(n):
        depths[i, i] = 0.0
        for j in range(i + 1, n):
            d = _pair(look, form[j], form[i], pos[i, 0] - pos[j, 0], pos[i, 1] - pos[j, 1], touch)
            d *= pieces.sizes[i, j]
            depths[i, j] = d
            depths[j, i] = d
            total += d
    return total


@njit(cache=True, nogil=True)
def _stamp(field: Singles, raster: Singles, sx: int, sy: int, w: float) -> None:
    """Add w times a raster of depths to a field, its corner at node (sx, sy)."""
    nx, ny = field.shape
    rx, ry = raster.shape
    a0, a1 = max(0, -sx), min(rx, nx - sx)
    b0, b1 = max(0, -sy), min(ry, ny - sy)
    if b1 <= b0:
        return
    weight = np.float32(w)
    for a in range(a0, a1):
        row = field[sx + a, sy + b0 : sy + b1]
        source = raster[a, b0:b1]
        for b in range(len(row)):
            row[b] += weight * source[b]


@njit(cache=True, nogil=True, fastmath={"nnan", "nsz"})
def _row_low(row: Singles) -> float:
    """Return the least of a row (no NaN can stand in a field, so the compiler may run it in lanes)."""
    low: float = row[0]
    for b in range(len(row)):
        low = min(low, row[b])
    return low


@njit(cache=True, nogil=True)
def _lowest(field: Singles, lows: Singles, state: Words) -> tuple[int, int]:
    """Return a node of least value; among equals one at random."""
    nx, ny = field.shape
    least = np.float32(np.inf)
    for a in range(nx):
        lows[a] = _row_low(field[a])
        least = min(least, lows[a])
    rows = 0
    for a in range(nx):
        if lows[a] == least:
            rows += 1
    pick = int(_random(state) * rows)
    for a in range(nx):
        if lows[a] == least:
            if pick > 0:
                pick -= 1
                continue
            first = int(_random(state) * ny)
            for n in range(ny):
                b = first + n if first + n < ny else first + n - ny
                if field[a, b] == least:
                    return a, b
    return 0, 0


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
def _near_cost(
    look: Look, pieces: Pieces, near: Ints, i: int, x: float, y: float, touch: float, stop: float
) -> float:
    """Return the weighted depth [mm] over the neighbours listed, or some value from `stop` up."""
    total: float = 0.0
    pos, boxes = pieces.pos, look.boxes
    for n in range(len(near)):
        j, region = near[n, 0], near[n, 1]
        tx, ty = x - pos[j, 0], y - pos[j, 1]
        if (
            tx <= boxes[region, 0]
            or ty <= boxes[region, 1]
            or tx >= boxes[region, 2]
            or ty >= boxes[region, 3]
        ):
            continue
        d = depth(look.sides, look.at[region], look.at[region + 1], tx, ty, touch)
        if d > 0.0:
            total += pieces.weights[i, j] * d
            if total >= stop:
                return total
    return total


@njit(cache=True, nogil=True)
def _settle(
    look: Look, pieces: Pieces, work: Work, span: Floats, i: int, f: int, start: tuple[float, float],
    steps: tuple[float, float], touch: float,
) -> tuple[float, float, float]:  # fmt: skip
    """Go downhill from a start [mm] with exact depths along random axes; the step shrinks on failure. Returns x, y, cost.

    It ends at the second of the `steps`, or at ``NICETY`` of the depth still left: how exactly a bad place is bad is of no use.
    """
    step, least = steps
    sx, sy = step, step
    margin = 3.0 * step
    x, y = start
    px, py = x, y
    near = work.near
    count = _neighbours(look, pieces, near, i, f, x, y, margin)
    value = _near_cost(look, pieces, near[:count], i, x, y, touch, np.inf)
    heavy = 1.0
    for n in range(count):
        heavy = max(heavy, pieces.weights[i, near[n, 0]])
    while value > 0.0 and max(sx, sy) > max(least, NICETY * value / heavy):
        axis = int(_random(work.state) * 4)
        if axis == 0:
            dx, dy = sx, 0.0
        elif axis == 1:
            dx, dy = 0.0, sy
        elif axis == 2:
            dx, dy = sx * 0.7071, sy * 0.7071
        else:
            dx, dy = -sx * 0.7071, sy * 0.7071
        better = False
        for sign in (1.0, -1.0):
            qx = min(max(x + sign * dx, span[0]), span[2])
            qy = min(max(y + sign * dy, span[1]), span[3])
            if qx == x and qy == y:
                continue
            if abs(qx - px) > margin or abs(qy - py) > margin:
                px, py = qx, qy
                count = _neighbours(look, pieces, near, i, f, qx, qy, margin)
            c = _near_cost(look, pieces, near[:count], i, qx, qy, touch, value)
            if c < value:
                x, y, value = qx, qy, c
                better = True
                break
        factor = 1.1 if better else 0.5
        if axis != 1:
            sx *= factor if axis == 0 else math.sqrt(factor)
        if axis != 0:
            sy *= factor if axis == 1 else math.sqrt(factor)
    return x, y, value


@njit(cache=True, nogil=True)
def _span(room: Room, f: int, span: Floats) -> bool:
    """Set the least and greatest place of a form in the room [mm]; tell whether it fits."""
    span[0], span[1] = room.box[0] - room.lows[f, 0], room.box[1] - room.lows[f, 1]
    span[2], span[3] = room.box[2] - room.highs[f, 0], room.box[3] - room.highs[f, 1]
    return bool(span[2] >= span[0] and span[3] >= span[1])


@njit(cache=True, nogil=True)
def _fill(look: Look, pieces: Pieces, i: int, f: int, span: Floats, field: Singles) -> None:
    """Fill a field with the weighted depths of all other pieces at the places of piece i as form f [mm]."""
    nx, ny = field.shape
    field[:] = 0
    pos, h = pieces.pos, look.h
    for j in range(len(pos)):
        if j == i:
            continue
        region = look.table[pieces.form[j], f]
        if region < 0:
            continue
        sx = math.floor((pos[j, 0] + look.boxes[region, 0] - span[0]) / h + 0.5)
        sy = math.floor((pos[j, 1] + look.boxes[region, 1] - span[1]) / h + 0.5)
        rx, ry = look.raster_size[region, 0], look.raster_size[region, 1]
        if sx >= nx or sy >= ny or sx + rx <= 0 or sy + ry <= 0:
            continue
        r0 = look.raster_at[region]
        _stamp(field, look.rasters[r0 : r0 + rx * ry].reshape(rx, ry), sx, sy, pieces.weights[i, j])


@njit(cache=True, nogil=True)
def _move(look: Look, room: Room, pieces: Pieces, way: Way, work: Work, i: int) -> None:
    """Move piece i to the best place found: now and then downhill from where it is, else over the whole room."""
    h, touch, state = look.h, way.touch, work.state
    span = np.empty(4)
    pos, form = pieces.pos, pieces.form
    x, y, f = pos[i, 0], pos[i, 1], form[i]
    close = _neighbours(look, pieces, work.near, i, f, x, y, 0.0)
    now = _near_cost(look, pieces, work.near[:close], i, x, y, touch, np.inf)
    if _random(state) < way.local and _span(room, f, span):
        x, y, c = _settle(look, pieces, work, span, i, f, (x, y), (2.0 * h, way.fine), touch)
        if c < now:
            pos[i, 0], pos[i, 1] = x, y
            return
    best_x, best_y, best_f = x, y, f
    k = pieces.counts[i]
    tries = min(k, way.turns)
    offset = int(_random(state) * k)
    least = np.float32(np.inf)
    for n in range(tries):
        g = pieces.choices[i, (offset + n) % k]
        if n == 0 and tries < k:
            g = form[i]
        if not _span(room, g, span):
            continue
        nx, ny = int((span[2] - span[0]) / h) + 1, int((span[3] - span[1]) / h) + 1
        field = work.field[: nx * ny].reshape(nx, ny)
        _fill(look, pieces, i, g, span, field)
        a, b = _lowest(field, work.lows, state)
        if field[a, b] < least:
            least = field[a, b]
            x, y, f = span[0] + a * h, span[1] + b * h, g
            if least <= 0.0:
                break
    if least < np.inf and _span(room, f, span):
        x, y, c = _settle(look, pieces, work, span, i, f, (x, y), (h, h * 0.02), touch)
        if c < now:
            best_x, best_y, best_f = x, y, f
    _span(room, best_f, span)
    x, y, _ = _settle(look, pieces, work, span, i, best_f, (best_x, best_y), (h * 0.05, way.fine), touch)
    pos[i, 0], pos[i, 1], form[i] = x, y, best_f


@njit(cache=True, nogil=True)
def _reweigh(weights: Floats, sizes: Floats, depths: Floats) -> None:
    """Raise the weights of pairs that overlap, the deepest the most; let the others fall back."""
    n = len(depths)
    top = depths.max()
    for i in range(n):
        for j in range(i):
            d, w = depths[i, j], weights[i, j]
            w = w * (1.2 + 0.8 * d / top) if d > 0.0 else max(sizes[i, j], w * 0.95)
            weights[i, j] = w
            weights[j, i] = w


@njit(cache=True, nogil=True)
def _shuffled(movable: Flags, order: Ints, state: Words) -> int:
    """Fill `order` with the movable pieces in random order; return how many."""
    count = 0
    for i in range(len(movable)):
        if movable[i]:
            order[count] = i
            count += 1
    for k in range(count - 1, 0, -1):
        m = int(_random(state) * (k + 1))
        order[k], order[m] = order[m], order[k]
    return count


@njit(cache=True, nogil=True)
def _measure_one(look: Look, pieces: Pieces, i: int, touch: float) -> None:
    """Fill row and column i of the matrix of pair depths [mm], each times the pair's size [-]."""
    pos, form, depths = pieces.pos, pieces.form, pieces.depths
    for j in range(len(pos)):
        if j != i:
            d = _pair(look, form[j], form[i], pos[i, 0] - pos[j, 0], pos[i, 1] - pos[j, 1], touch)
            depths[i, j] = depths[j, i] = d * pieces.sizes[i, j]


@njit(cache=True, nogil=True)
def press(
    look: Look, room: Room, pieces: Pieces, way: Way, work: Work, best_pos: Floats, best_form: Ints, book: Floats,
    passes: int, patience: int, close: float,
) -> int:  # fmt: skip
    """Separate overlapping pieces by guided passes; returns 1 when free of overlap, 2 when `close` to it [mm], 0 to be
    continued, -1 given up.

    The pieces' sizes are what a depth between two counts for [-], and the least weights; weights grow from there.
    `book` holds the least sum of sized depths so far [mm], passes since it fell [-], and moves made [-].
    """
    depths = pieces.depths
    n = len(pieces.pos)
    total = measure(look, pieces, way.touch)
    for _ in range(passes):
        if total < book[0]:
            if total < 0.98 * book[0]:
                book[1] = 0
            book[0] = total
            best_pos[:] = pieces.pos
            best_form[:] = pieces.form
        if total <= 0.0:
            return 1
        if total <= close:
            return 2
        book[1] += 1
        if book[1] > patience:
            return -1
        _reweigh(pieces.weights, pieces.sizes, depths)
        count = _shuffled(pieces.movable, work.order, work.state)
        for k in range(count):
            i = work.order[k]
            if depths[i].max() > 0.0:
                _move(look, room, pieces, way, work, i)
                _measure_one(look, pieces, i, way.touch)
                book[2] += 1
        total = 0.0
        for i in range(n):
            for j in range(i):
                total += depths[i, j]
    return 0
