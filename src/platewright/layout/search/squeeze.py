"""Guided local search that presses a legal layout into less length, or fits pieces that found no room.

Method
------
Shorten the room by a little, let pieces overlap, and separate them again: each pass moves every overlapping piece to
the least weighted overlap over the *whole* room (raster field of exact depths, then exact descent), and raises the
weights of pairs that stay in one another's way (guided local search, Voudouris and Tsang 1999; overlap minimisation
for packing, Umetani et al. 2009 and Imamichi et al. 2009; the field over the room is ours). Success: the shorter room
is the new best. Failure: start again from the best with two pieces swapped, and shorten by less.

Overlap is measured by the shortest push that frees two pieces, read from exact forbidden regions, so "no overlap" is
exact up to their grid. Steps are counted in moves; with a step budget and one worker the result depends on the seed
alone. Limits: turns come from each shape's list; memory grows with the square of the number of forms.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.problem import Packed, Problem, Spot
from platewright.layout.search import kernels
from platewright.layout.search.tables import Tables, make_tables

__all__ = ["SqueezeOptions", "squeeze"]


@dataclass(frozen=True, slots=True)
class SqueezeOptions:
    """How hard to press.

    Attributes
    ----------
    patience : passes without a better sum before giving up [-]
    rate, least_rate : share of the length taken off at a try, at first and at least [-]
    turns : most turns looked at in one move [-]
    chunk : passes between looks at the clock [-]
    """

    patience: int = 120
    rate: float = 0.02
    least_rate: float = 0.0004
    turns: int = 4
    chunk: int = 4


@dataclass(slots=True)
class _State:
    pos: Floats
    form: Any

    def copy(self) -> _State:
        return _State(self.pos.copy(), self.form.copy())


class _Press:
    """One worker: its arrays, random state, and the calls into the kernels."""

    def __init__(self, problem: Problem, tables: Tables, state: _State, *, seed: int, options: SqueezeOptions) -> None:
        self.problem, self.tables, self.options = problem, tables, options
        n = len(problem.pieces)
        total = n if tables.rectangular else n + 1
        self.n, self.total = n, total
        self.choices, self.counts = _choices(problem, tables, total)
        self.movable = np.zeros(total, dtype=np.int64)
        self.movable[:n] = 1
        for spot in problem.fixed:
            self.movable[spot.piece] = 0
        self.weights = np.ones((total, total))
        self.depths = np.zeros((total, total))
        self.scratch = np.zeros(tables.scratch(), dtype=np.float32)
        self.random = np.array([(seed * 0x9E3779B97F4A7C15 + 0x1234567) % 2**64 or 1], dtype=np.uint64)
        self.rng = np.random.default_rng(seed)
        self.state = state
        self.moves = 0
        self.areas = np.array([abs(problem.shapes[p.shape].area()) for p in problem.pieces])

    def length(self, state: _State) -> float:
        """Return the right end of the state's pieces [mm]."""
        return float((state.pos[: self.n, 0] + self.tables.highs[state.form[: self.n], 0]).max())

    def separated(self, state: _State, right: float, stop: Callable[[], bool]) -> tuple[bool, _State]:
        """Try to separate a state within a room that ends at `right` [mm]; return success and the best state."""
        t, o = self.tables, self.options
        room = np.array([t.room[0], t.room[1], right, t.room[3]])
        pos, form = state.pos.copy(), state.form.copy()
        lo = room[:2] - t.lows[form]
        hi = room[2:] - t.highs[form]
        free = self.movable == 1
        pos[free] = np.minimum(np.maximum(pos, lo), hi)[free]
        if (hi[free] < lo[free] - 1e-9).any():
            return False, state
        self.weights[:] = 1.0
        best_pos, best_form = pos.copy(), form.copy()
        book = np.array([np.inf, 0.0, 0.0])
        result = 0
        while result == 0 and not stop():
            result = kernels.press(
                o.chunk, o.patience, room, t.lows, t.highs, self.choices, self.counts, o.turns, self.movable, pos, form,
                self.weights, self.depths, t.table, t.at, t.boxes, t.edges, t.rasters, t.raster_at, t.raster_size, t.h,
                t.h * 2e-4, self.scratch, self.random, best_pos, best_form, book,
            )  # fmt: skip
        self.moves += int(book[2])
        return result == 1, _State(best_pos, best_form)

    def disturbed(self, state: _State) -> _State:
        """Return the state with two large pieces of different shapes swapped."""
        out = state.copy()
        free = np.flatnonzero(self.movable[: self.n])
        if len(free) < 2:
            return out
        weights = self.areas[free] / self.areas[free].sum()
        i, j = self.rng.choice(free, 2, replace=False, p=weights)
        t = self.tables
        mid = [(t.lows[out.form[k]] + t.highs[out.form[k]]) / 2 for k in (i, j)]
        ci, cj = out.pos[i] + mid[0], out.pos[j] + mid[1]
        out.pos[i], out.pos[j] = cj - mid[0], ci - mid[1]
        return out


def _choices(problem: Problem, tables: Tables, total: int) -> tuple[Any, Any]:
    most = max(len(s.angles) for s in problem.shapes)
    choices = np.zeros((total, most), dtype=np.int64)
    counts = np.zeros(total, dtype=np.int64)
    for i, piece in enumerate(problem.pieces):
        k = len(problem.shapes[piece.shape].angles)
        choices[i, :k] = tables.first[piece.shape] + np.arange(k)
        counts[i] = k
    return choices, counts


def _state(problem: Problem, tables: Tables, spots: tuple[Spot, ...]) -> _State:
    total = len(problem.pieces) + (0 if tables.rectangular else 1)
    pos, form = np.zeros((total, 2)), np.zeros(total, dtype=np.int64)
    form[-1] = len(tables.angles)
    for s in spots:
        shape = problem.pieces[s.piece].shape
        angles = np.array(problem.shapes[shape].angles)
        away = np.abs(np.remainder(angles - s.angle + np.pi, 2 * np.pi) - np.pi)
        form[s.piece] = tables.first[shape] + int(np.argmin(away))
        pos[s.piece] = s.x, s.y
    return _State(pos, form)


@dataclass(slots=True)
class _Shared:
    """The best answer of all workers."""

    best: _State
    right: float
    lock: threading.Lock
    generation: int = 0


def squeeze(
    problem: Problem,
    start: Packed,
    *,
    stop: Callable[[], bool],
    steps: int | None = None,
    seed: int = 1,
    workers: int = 1,
    options: SqueezeOptions = SqueezeOptions(),
    tell: Callable[[Packed], None] = lambda packed: None,
) -> Packed:
    """Return a packing of all the problem's pieces in less length.

    Parameters
    ----------
    problem : every piece of it must stand in `start`
    start : a legal packing [mm, rad]
    stop : asked often; True ends the search
    steps : most moves of one worker [-], None for no limit
    seed : of the random numbers [-]
    workers : threads; more than one is not repeatable [-]
    options : how hard to press
    tell : called with each better packing
    """
    tables = make_tables(problem, stop=stop)
    if tables is None or len(start.spots) < len(problem.pieces):
        return start
    state = _state(problem, tables, start.spots)
    presses = [_Press(problem, tables, state, seed=seed + 7919 * k, options=options) for k in range(workers)]
    shared = _Shared(state, presses[0].length(state), threading.Lock())

    def run(press: _Press) -> None:
        _worker(press, shared, stop=lambda: stop() or (steps is not None and press.moves >= steps), tell=lambda s: tell(_packed(problem, tables, s)))

    if workers == 1:
        run(presses[0])
    else:
        threads = [threading.Thread(target=run, args=(p,)) for p in presses]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    if shared.generation == 0:
        return start
    return _packed(problem, tables, shared.best, sum(p.moves for p in presses))


def _packed(problem: Problem, tables: Tables, state: _State, steps: int = 0) -> Packed:
    return Packed(
        tuple(Spot(i, float(state.pos[i, 0]), float(state.pos[i, 1]), float(tables.angles[state.form[i]])) for i in range(len(problem.pieces))),
        steps,
    )


def _worker(press: _Press, shared: _Shared, *, stop: Callable[[], bool], tell: Callable[[_State], None]) -> None:
    rate, fails, left = press.options.rate, 0, press.tables.room[0]
    while not stop():
        with shared.lock:
            source, right, generation = shared.best, shared.right, shared.generation
        target = left + (right - left) * (1 - rate)
        begun = source if fails == 0 else press.disturbed(source)
        done, state = press.separated(begun, target, stop)
        if not done:
            fails += 1
            rate = max(rate * 0.6, press.options.least_rate)
            continue
        fails = 0
        rate = min(rate * 1.2, press.options.rate)
        now = press.length(state)
        with shared.lock:
            if now < shared.right:
                shared.best, shared.right, shared.generation = state, now, generation + 1
                tell(state)
