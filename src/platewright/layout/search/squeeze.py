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
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.problem import Problem, Spot
from platewright.layout.search import kernels
from platewright.layout.search.tables import Tables

__all__ = ["Search", "SqueezeOptions"]

FINE = 2e-4
"""Finest step of a descent as a share of the raster's step [-]: about a micrometre on a hand-sized part."""


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
    """One worker on a chosen set of pieces: its arrays, random state, and the calls into the kernels."""

    def __init__(
        self, problem: Problem, tables: Tables, pieces: Sequence[int], *, seed: int, options: SqueezeOptions
    ) -> None:
        self.tables, self.options, self.pieces = tables, options, tuple(pieces)
        self.n = len(self.pieces)
        total = self.n if tables.rectangular else self.n + 1
        self.choices, self.counts = _choices(problem, tables, self.pieces, total)
        held = {s.piece for s in problem.fixed}
        self.movable = np.array(
            [i not in held for i in self.pieces] + [False] * (total - self.n), dtype=np.int64
        )
        self.weights = np.ones((total, total))
        self.depths = np.zeros((total, total))
        self.scratch = np.zeros(tables.scratch(), dtype=np.float32)
        self.random = np.array([(seed * 0x9E3779B97F4A7C15 + 0x1234567) % 2**64 or 1], dtype=np.uint64)
        self.rng = np.random.default_rng(seed)
        self.areas = np.array([abs(problem.shapes[problem.pieces[i].shape].area()) for i in self.pieces])
        self.shapes = np.array([problem.pieces[i].shape for i in self.pieces])
        self.moves = 0

    def length(self, state: _State) -> float:
        """Return the right end of the state's pieces [mm]."""
        return float((state.pos[: self.n, 0] + self.tables.highs[state.form[: self.n], 0]).max())

    def least_length(self) -> float:
        """Return a length no packing can beat [mm]: the narrowest form of the widest piece, or area over height."""
        t = self.tables
        wide = t.highs[:, 0] - t.lows[:, 0]
        narrow = [wide[self.choices[i, : self.counts[i]]].min() for i in range(self.n)]
        return max(float(max(narrow)), float(self.areas.sum()) / (t.room[3] - t.room[1]))

    def separated(self, state: _State, right: float, stop: Callable[[], bool]) -> tuple[bool, _State]:
        """Try to separate a state within a room that ends at `right` [mm]; return success and the best state."""
        t, o = self.tables, self.options
        room = np.array([t.room[0], t.room[1], right, t.room[3]])
        pos, form = state.pos.copy(), state.form.copy()
        lo, hi = room[:2] - t.lows[form], room[2:] - t.highs[form]
        free = self.movable == 1
        pos[free] = np.minimum(np.maximum(pos, lo), hi)[free]
        if (hi[free] < lo[free] - 1e-9).any():
            return False, state
        self.weights[:] = 1.0
        best = _State(pos.copy(), form.copy())
        book = np.array([np.inf, 0.0, 0.0])
        result, before = 0, self.moves
        while result == 0 and not stop():
            result = kernels.press(
                o.chunk, o.patience, room, t.lows, t.highs, self.choices, self.counts, o.turns, self.movable, pos, form,
                self.weights, self.depths, t.table, t.at, t.boxes, t.edges, t.rasters, t.raster_at, t.raster_size, t.h,
                t.h * FINE, self.scratch, self.random, best.pos, best.form, book,
            )  # fmt: skip
            self.moves = before + int(book[2])
        return result == 1, best

    def disturbed(self, state: _State) -> _State:
        """Return the state with two pieces of different shapes swapped, large ones more often."""
        out = state.copy()
        free = np.flatnonzero(self.movable[: self.n])
        i = int(self.rng.choice(free, p=self.areas[free] / self.areas[free].sum())) if len(free) else 0
        others = free[self.shapes[free] != self.shapes[i]] if len(free) else free
        if len(others) == 0:
            others = free[free != i]
        if len(others) == 0:
            return out
        j = int(self.rng.choice(others, p=self.areas[others] / self.areas[others].sum()))
        t = self.tables
        mid = [(t.lows[out.form[k]] + t.highs[out.form[k]]) / 2 for k in (i, j)]
        ci, cj = out.pos[i] + mid[0], out.pos[j] + mid[1]
        out.pos[i], out.pos[j] = cj - mid[0], ci - mid[1]
        return out


def _choices(problem: Problem, tables: Tables, pieces: Sequence[int], total: int) -> tuple[Any, Any]:
    """Return the forms each piece may take, and how many."""
    most = max(len(s.angles) for s in problem.shapes)
    choices = np.zeros((total, most), dtype=np.int64)
    counts = np.zeros(total, dtype=np.int64)
    for i, piece in enumerate(pieces):
        shape = problem.pieces[piece].shape
        k = len(problem.shapes[shape].angles)
        choices[i, :k] = tables.first[shape] + np.arange(k)
        counts[i] = k
    return choices, counts


def _state(problem: Problem, tables: Tables, spots: Sequence[Spot]) -> _State:
    """Return spots as arrays, each at its shape's nearest turn, the room last."""
    total = len(spots) + (0 if tables.rectangular else 1)
    pos, form = np.zeros((total, 2)), np.full(total, len(tables.angles), dtype=np.int64)
    for i, s in enumerate(spots):
        shape = problem.pieces[s.piece].shape
        angles = np.array(problem.shapes[shape].angles)
        away = np.abs(np.remainder(angles - s.angle + np.pi, 2 * np.pi) - np.pi)
        form[i] = tables.first[shape] + int(np.argmin(away))
        pos[i] = s.x, s.y
    return _State(pos, form)


def _spots(press: _Press, state: _State) -> tuple[Spot, ...]:
    angles = press.tables.angles[state.form[: press.n]]
    rows = zip(press.pieces, state.pos[: press.n].tolist(), angles.tolist(), strict=True)
    return tuple(Spot(piece, x, y, angle) for piece, (x, y), angle in rows)


@dataclass(slots=True)
class _Shared:
    """The best answer of all workers."""

    best: _State
    right: float
    found: bool
    lock: threading.Lock


class Search:
    """The search on one problem: tables made once, a seed, a step budget, a question whether to stop.

    Parameters
    ----------
    problem : shapes and pieces; calls name the pieces they work on
    tables : of the problem
    seed : of the random numbers [-]
    steps : most moves of one worker [-], None for no limit
    stop : asked often; True ends the search
    workers : threads; more than one is not repeatable [-]
    options : how hard to press
    """

    def __init__(
        self, problem: Problem, tables: Tables, *, seed: int, stop: Callable[[], bool], steps: int | None = None,
        workers: int = 1, options: SqueezeOptions | None = None,
    ) -> None:  # fmt: skip
        self.problem, self.tables, self.seed, self.steps, self.workers = problem, tables, seed, steps, workers
        self.options = options or SqueezeOptions()
        self.asked = stop
        self.moves = 0

    def over(self) -> bool:
        """Tell whether the time or steps [-] are used up."""
        return self.asked() or (self.steps is not None and self.moves >= self.steps)

    def _press(self, pieces: Sequence[int], worker: int = 0) -> _Press:
        return _Press(self.problem, self.tables, pieces, seed=self.seed + 7919 * worker, options=self.options)

    def shortened(
        self, spots: Sequence[Spot], *, tell: Callable[[tuple[Spot, ...]], None] = lambda spots: None
    ) -> tuple[Spot, ...]:
        """Return the spots pressed into less length [mm], until time or steps are used up."""
        pieces = [s.piece for s in spots]
        presses = [self._press(pieces, k) for k in range(self.workers)]
        state = _state(self.problem, self.tables, spots)
        shared = _Shared(state, presses[0].length(state), False, threading.Lock())
        before = self.moves

        def over() -> bool:
            if self.workers == 1:
                self.moves = before + presses[0].moves
            return self.over() or max(p.moves for p in presses) >= (self.steps or 2**62)

        def run(press: _Press) -> None:
            _worker(press, shared, stop=over, tell=lambda s: tell(_spots(press, s)))

        if self.workers == 1:
            run(presses[0])
        else:
            threads = [threading.Thread(target=run, args=(p,)) for p in presses]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        self.moves = before + sum(p.moves for p in presses)
        return _spots(presses[0], shared.best) if shared.found else tuple(spots)

    def inserted(self, spots: Sequence[Spot], piece: int) -> tuple[Spot, ...] | None:
        """Return spots [mm] with one more piece in the whole room, or None if it cannot be made to fit."""
        self.moves += 1
        press = self._press([*(s.piece for s in spots), piece], worker=self.moves % 97)
        state = _state(self.problem, self.tables, [*spots, Spot(piece, *self._anywhere(press, piece))])
        done, state = press.separated(state, self.tables.room[2], self.over)
        self.moves += press.moves
        return _spots(press, state) if done else None

    def _anywhere(self, press: _Press, piece: int) -> tuple[float, float, float]:
        shape = self.problem.pieces[piece].shape
        form = self.tables.first[shape] + int(press.rng.integers(len(self.problem.shapes[shape].angles)))
        room, t = self.tables.room, self.tables
        x = press.rng.uniform(
            room[0] - t.lows[form, 0], max(room[2] - t.highs[form, 0], room[0] - t.lows[form, 0] + 1e-6)
        )
        y = press.rng.uniform(
            room[1] - t.lows[form, 1], max(room[3] - t.highs[form, 1], room[1] - t.lows[form, 1] + 1e-6)
        )
        return float(x), float(y), float(t.angles[form])


def _worker(
    press: _Press, shared: _Shared, *, stop: Callable[[], bool], tell: Callable[[_State], None]
) -> None:
    """Shorten and separate until stopped; a failure starts again from the best with two pieces swapped."""
    rate, fails, left = press.options.rate, 0, press.tables.room[0]
    while not stop():
        press.moves += 1  # an attempt costs a step even if it fails before any move
        with shared.lock:
            source, right = shared.best, shared.right
        if right - left <= press.least_length() * (1 + press.options.least_rate):
            return
        target = left + (right - left) * (1 - rate)
        begun = source if fails == 0 else press.disturbed(source)
        done, state = press.separated(begun, target, stop)
        if not done:
            fails += 1
            rate = max(rate * 0.6, press.options.least_rate)
            continue
        fails = 0
        rate = min(rate * 1.2, press.options.rate)
        with shared.lock:
            now = press.length(state)
            if now < shared.right:
                shared.best, shared.right, shared.found = state, now, True
                tell(state)
