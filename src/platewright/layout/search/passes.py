"""Compiled: guided passes that separate overlapping pieces."""

from __future__ import annotations

import numpy as np

from platewright.compiled import njit
from platewright.layout.search.kernels import (
    Flags,
    Floats,
    Ints,
    Look,
    Pieces,
    Room,
    Way,
    Words,
    Work,
    _fill,
    _lowest,
    _random,
    _span,
    measure,
    measure_one,
)
from platewright.layout.search.settle import settle

__all__ = ["press"]


@njit(cache=True, nogil=True)
def _move(look: Look, room: Room, pieces: Pieces, way: Way, work: Work, i: int) -> None:
    """Move piece i to the best place found: now and then downhill from where it is, else over the whole room."""
    h, touch, state = look.h, way.touch, work.state
    span = np.empty(4)
    pos, form = pieces.pos, pieces.form
    depths, weights, sizes = pieces.depths, pieces.weights, pieces.sizes
    now = 0.0  # the weighted depth where it lies
    for j in range(len(pos)):
        if depths[i, j] > 0.0:
            now += depths[i, j] * weights[i, j] / sizes[i, j]
    if _random(state) < way.local and _span(room, form[i], span):
        x, y, c = settle(
            look, pieces, work, span, i, form[i], (pos[i, 0], pos[i, 1]), (2.0 * h, way.fine), touch
        )
        if c < now:
            pos[i, 0], pos[i, 1] = x, y
            return
    x, y, f = pos[i, 0], pos[i, 1], form[i]
    k = pieces.counts[i]
    tries = min(k, way.turns)
    offset = int(_random(state) * k)
    least = np.inf
    for n in range(tries):
        g = pieces.choices[i, (offset + n) % k]
        if n == 0 and tries < k:
            g = form[i]
        if not _span(room, g, span):
            continue
        nx, ny = int((span[2] - span[0]) / h) + 1, int((span[3] - span[1]) / h) + 1
        _fill(look, pieces, i, g, span, work.field, nx, ny)
        a, b, value = _lowest(work, nx, ny)
        if value < least:
            least = value
            x, y, f = span[0] + a * h, span[1] + b * h, g
            if least <= 0.0:
                break
    if least < np.inf and _span(room, f, span):
        x, y, c = settle(look, pieces, work, span, i, f, (x, y), (h, way.fine), touch)
        if c < now:
            pos[i, 0], pos[i, 1], form[i] = x, y, f


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
                measure_one(look, pieces, i, 0, way.touch)
                book[2] += 1
        total = 0.0
        for i in range(n):
            for j in range(i):
                total += depths[i, j]
    return 0
