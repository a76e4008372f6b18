"""Compiled loops of the search: depth in a forbidden region, the overlap field of one piece, guided passes.

A form is a shape at one turn. For two forms the forbidden region is a set of edges (even-odd); ``depth`` is how far
a shift lies inside it: the shortest push that frees the two pieces. ``field`` sums the weighted depths of all other
pieces on a raster of a piece's places, so the best place on the whole room is seen at once; ``settle`` then finds
the nearby minimum with exact depths. The room's outside is one more piece that never moves.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["depth", "measure", "press", "raster_depths"]

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Words = NDArray[np.uint64]


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
def _pair(
    table: Ints,
    at: Ints,
    boxes: Floats,
    sides: Floats,
    touch: float,
    fixed_form: int,
    form: int,
    tx: float,
    ty: float,
) -> float:
    region = table[fixed_form, form]
    if region < 0:
        return 0.0
    if tx <= boxes[region, 0] or ty <= boxes[region, 1] or tx >= boxes[region, 2] or ty >= boxes[region, 3]:
        return 0.0
    return depth(sides, at[region], at[region + 1], tx, ty, touch)


@njit(cache=True, nogil=True)
def measure(
    pos: Floats,
    form: Ints,
    sizes: Floats,
    depths: Floats,
    table: Ints,
    at: Ints,
    boxes: Floats,
    sides: Floats,
    touch: float,
) -> float:
    """Fill the matrix of pair depths [mm], each times the pair's size [-], and return its sum."""
    total = 0.0
    n = len(pos)
    for i in range(n):
        depths[i, i] = 0.0
        for j in range(i + 1, n):
            d = _pair(
                table, at, boxes, sides, touch, form[j], form[i], pos[i, 0] - pos[j, 0], pos[i, 1] - pos[j, 1]
            )
            d *= sizes[i, j]
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
    i: int,
    f: int,
    x: float,
    y: float,
    margin: float,
    pos: Floats,
    form: Ints,
    table: Ints,
    boxes: Floats,
    near: Ints,
) -> int:
    """List (piece, region) whose region's box comes within a margin of (x, y); return how many."""
    count = 0
    for j in range(len(pos)):
        if j == i:
            continue
        region = table[form[j], f]
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
    i: int, x: float, y: float, count: int, near: Ints, pos: Floats, weights: Floats, at: Ints, boxes: Floats,
    sides: Floats, touch: float, stop: float,
) -> float:  # fmt: skip
    """Return the weighted depth [mm] over the neighbours listed, or some value from `stop` up."""
    total: float = 0.0
    for n in range(count):
        j, region = near[n, 0], near[n, 1]
        tx, ty = x - pos[j, 0], y - pos[j, 1]
        if (
            tx <= boxes[region, 0]
            or ty <= boxes[region, 1]
            or tx >= boxes[region, 2]
            or ty >= boxes[region, 3]
        ):
            continue
        d = depth(sides, at[region], at[region + 1], tx, ty, touch)
        if d > 0.0:
            total += weights[i, j] * d
            if total >= stop:
                return total
    return total


@njit(cache=True, nogil=True)
def _settle(
    i: int, f: int, x: float, y: float, step: float, least: float, lo: Floats, hi: Floats, pos: Floats, form: Ints,
    weights: Floats, table: Ints, at: Ints, boxes: Floats, sides: Floats, touch: float, near: Ints, state: Words,
) -> tuple[float, float, float]:  # fmt: skip
    """Go downhill with exact depths along random axes; the step shrinks on failure. Returns x, y, cost.

    It ends at steps of `least`, or of ``NICETY`` of the depth still left: how exactly a bad place is bad is of no use.
    """
    sx, sy = step, step
    margin = 3.0 * step
    px, py = x, y
    count = _neighbours(i, f, x, y, margin, pos, form, table, boxes, near)
    value = _near_cost(i, x, y, count, near, pos, weights, at, boxes, sides, touch, np.inf)
    heavy = 1.0
    for n in range(count):
        heavy = max(heavy, weights[i, near[n, 0]])
    while value > 0.0 and max(sx, sy) > max(least, NICETY * value / heavy):
        axis = int(_random(state) * 4)
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
            qx = min(max(x + sign * dx, lo[0]), hi[0])
            qy = min(max(y + sign * dy, lo[1]), hi[1])
            if qx == x and qy == y:
                continue
            if abs(qx - px) > margin or abs(qy - py) > margin:
                px, py = qx, qy
                count = _neighbours(i, f, qx, qy, margin, pos, form, table, boxes, near)
            c = _near_cost(i, qx, qy, count, near, pos, weights, at, boxes, sides, touch, value)
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
def _span(f: int, room: Floats, lows: Floats, highs: Floats, lo: Floats, hi: Floats) -> bool:
    """Set the least and greatest place of a form in the room [mm]; tell whether it fits."""
    lo[0], lo[1] = room[0] - lows[f, 0], room[1] - lows[f, 1]
    hi[0], hi[1] = room[2] - highs[f, 0], room[3] - highs[f, 1]
    return bool(hi[0] >= lo[0] and hi[1] >= lo[1])


@njit(cache=True, nogil=True)
def _fill(
    i: int, f: int, lo: Floats, field: Singles, pos: Floats, form: Ints, weights: Floats, table: Ints, boxes: Floats,
    rasters: Singles, raster_at: Ints, raster_size: Ints, h: float,
) -> None:  # fmt: skip
    """Fill a field with the weighted depths of all other pieces at the places of piece i as form f [mm]."""
    nx, ny = field.shape
    field[:] = 0
    for j in range(len(pos)):
        if j == i:
            continue
        region = table[form[j], f]
        if region < 0:
            continue
        sx = math.floor((pos[j, 0] + boxes[region, 0] - lo[0]) / h + 0.5)
        sy = math.floor((pos[j, 1] + boxes[region, 1] - lo[1]) / h + 0.5)
        rx, ry = raster_size[region, 0], raster_size[region, 1]
        if sx >= nx or sy >= ny or sx + rx <= 0 or sy + ry <= 0:
            continue
        r0 = raster_at[region]
        _stamp(field, rasters[r0 : r0 + rx * ry].reshape(rx, ry), sx, sy, weights[i, j])


@njit(cache=True, nogil=True)
def _move(
    i: int, room: Floats, lows: Floats, highs: Floats, choices: Ints, counts: Ints, most: int, pos: Floats, form: Ints,
    weights: Floats, table: Ints, at: Ints, boxes: Floats, sides: Floats, touch: float, rasters: Singles, raster_at: Ints,
    raster_size: Ints, h: float, fine: float, local: float, scratch: Singles, state: Words,
) -> None:  # fmt: skip
    """Move piece i to the best place found: now and then downhill from where it is, else over the whole room."""
    lo, hi = np.empty(2), np.empty(2)
    near = np.empty((len(pos), 2), dtype=np.int64)
    x, y, f = pos[i, 0], pos[i, 1], form[i]
    close = _neighbours(i, f, x, y, 0.0, pos, form, table, boxes, near)
    now = _near_cost(i, x, y, close, near, pos, weights, at, boxes, sides, touch, np.inf)
    if _random(state) < local and _span(f, room, lows, highs, lo, hi):
        x, y, c = _settle(
            i, f, x, y, 2.0 * h, fine, lo, hi, pos, form, weights, table, at, boxes, sides, touch, near, state
        )  # fmt: skip
        if c < now:
            pos[i, 0], pos[i, 1] = x, y
            return
    best_x, best_y, best_f, best = pos[i, 0], pos[i, 1], f, now
    row_lows = np.empty(int((room[2] - room[0]) / h) + 2, dtype=np.float32)
    k = counts[i]
    tries = min(k, most)
    offset = int(_random(state) * k)
    for n in range(tries):
        f = choices[i, (offset + n) % k]
        if n == 0 and tries < k:
            f = form[i]
        if not _span(f, room, lows, highs, lo, hi):
            continue
        nx, ny = int((hi[0] - lo[0]) / h) + 1, int((hi[1] - lo[1]) / h) + 1
        field = scratch[: nx * ny].reshape(nx, ny)
        _fill(i, f, lo, field, pos, form, weights, table, boxes, rasters, raster_at, raster_size, h)
        a, b = _lowest(field, row_lows, state)
        x, y, c = _settle(
            i, f, lo[0] + a * h, lo[1] + b * h, h, h * 0.02, lo, hi, pos, form, weights, table, at, boxes, sides, touch,
            near, state,
        )  # fmt: skip
        if c < best:
            best_x, best_y, best_f, best = x, y, f, c
            if c <= 0.0:
                break
    _span(best_f, room, lows, highs, lo, hi)
    x, y, _ = _settle(
        i, best_f, best_x, best_y, h * 0.05, fine, lo, hi, pos, form, weights, table, at, boxes, sides, touch, near, state
    )  # fmt: skip
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
def _measure_one(
    i: int, pos: Floats, form: Ints, sizes: Floats, depths: Floats, table: Ints, at: Ints, boxes: Floats, sides: Floats, touch: float
) -> None:  # fmt: skip
    """Fill row and column i of the matrix of pair depths [mm], each times the pair's size [-]."""
    for j in range(len(pos)):
        if j != i:
            d = _pair(
                table, at, boxes, sides, touch, form[j], form[i], pos[i, 0] - pos[j, 0], pos[i, 1] - pos[j, 1]
            )
            depths[i, j] = depths[j, i] = d * sizes[i, j]


@njit(cache=True, nogil=True)
def press(
    passes: int, patience: int, close: float, room: Floats, lows: Floats, highs: Floats, choices: Ints, counts: Ints, most: int, movable: Flags,
    pos: Floats, form: Ints, weights: Floats, sizes: Floats, depths: Floats, table: Ints, at: Ints, boxes: Floats,
    sides: Floats, touch: float, rasters: Singles, raster_at: Ints, raster_size: Ints, h: float, fine: float, local: float, scratch: Singles, state: Words,
    best_pos: Floats, best_form: Ints, book: Floats,
) -> int:  # fmt: skip
    """Separate overlapping pieces by guided passes; returns 1 when free of overlap, 0 to be continued, -1 given up.

    `sizes` are what a depth between two pieces counts for [-], and the least weights; `weights` grow from there.
    `book` holds the least sum of sized depths so far [mm], passes since it fell [-], and moves made [-].
    """
    n = len(pos)
    order = np.empty(n, dtype=np.int64)
    total = measure(pos, form, sizes, depths, table, at, boxes, sides, touch)
    for _ in range(passes):
        if total < book[0]:
            if total < 0.98 * book[0]:
                book[1] = 0
            book[0] = total
            best_pos[:] = pos
            best_form[:] = form
        if total <= 0.0:
            return 1
        if total <= close:
            return 2
        book[1] += 1
        if book[1] > patience:
            return -1
        _reweigh(weights, sizes, depths)
        count = _shuffled(movable, order, state)
        for k in range(count):
            i = order[k]
            if depths[i].max() > 0.0:
                _move(
                    i, room, lows, highs, choices, counts, most, pos, form, weights, table, at, boxes, sides, touch, rasters,
                    raster_at, raster_size, h, fine, local, scratch, state,
                )  # fmt: skip
                _measure_one(i, pos, form, sizes, depths, table, at, boxes, sides, touch)
                book[2] += 1
        total = 0.0
        for i in range(n):
            for j in range(i):
                total += depths[i, j]
    return 0
