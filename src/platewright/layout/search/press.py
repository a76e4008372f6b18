"""One worker of the search: a set of pieces as arrays, how they are separated, shrunk together and stirred up.

Glossary
--------
state : where every piece lies and at which turn; the room's outside, if it is no rectangle, is one more piece
size : what a depth between two pieces counts for, so that a small piece does not push a large one about
strike : a run of passes that brought nothing; the separation then goes on from its best state with the weights kept
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.problem import Problem, Spot
from platewright.layout.search import kernels
from platewright.layout.search.corners import ROWS
from platewright.layout.search.glance import least_overlap
from platewright.layout.search.kernels import AWAY, row_length
from platewright.layout.search.passes import press
from platewright.layout.search.settle import LINES
from platewright.layout.search.slide import Slide
from platewright.layout.search.tables import Tables

__all__ = ["Press", "SqueezeOptions", "State"]

TOUCH = 2e-5
"""Depth up to which two pieces touch and do not overlap [mm]."""

SHORTER = 1e-4
"""Least gain in length that counts [mm]."""

FINE = 2e-4
"""Finest step of a descent as a share of the raster's step [-]: about a micrometre on a hand-sized part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SqueezeOptions:
    """How hard to press.

    Attributes
    ----------
    bold, least : shares of the length taken off at a bold and at a bare try [-]
    barely : share of tries that are bare [-]
    patience, brief, strikes : passes without a better sum that make a strike, at a bold and a bare try, and strikes
        before giving up [-]
    large : share of all metal that counts as large pieces, largest first [-]
    spread : how deep into the pool of failures a new try reaches [-]
    turns : most turns looked at in one move [-]
    chunk : passes between looks at the clock [-]
    local : share of moves that go downhill from where the piece lies [-]
    ease : depth that is let stand until all pieces are moved at once, over the raster's step [-]
    close : sum of overlap from which that is tried before the end, over the raster's step [-]
    reach, slides : most that all pieces move at once, over the raster's step, and how many times [-]
    hopeless : sum of overlap from which a failed try is not set right by moving all at once, over the raster's step [-]
    """

    bold: float = 0.01
    least: float = 0.0005
    barely: float = 0.4
    patience: int = 120
    brief: int = 40
    strikes: int = 1
    large: float = 0.75
    spread: float = 0.25
    turns: int = 4
    chunk: int = 8
    local: float = 0.4
    ease: float = 0.004
    close: float = 0.2
    reach: float = 3.0
    slides: int = 8
    hopeless: float = 2.0


@dataclass(slots=True)
class State:
    """Places [mm] and forms of the pieces."""

    pos: Floats
    form: Any

    def copy(self) -> State:
        """Return a state of its own [mm]."""
        return State(self.pos.copy(), self.form.copy())


class Press:
    """One worker on a chosen set of pieces: its arrays, random state, and the calls into the kernels."""

    def __init__(
        self, problem: Problem, tables: Tables, pieces: Sequence[int], *, seed: int, options: SqueezeOptions
    ) -> None:
        self.tables, self.options, self.pieces = tables, options, tuple(pieces)
        self.n = len(self.pieces)
        total = self.n if tables.rectangular else self.n + 1
        self.choices, self.many = _choices(problem, tables, self.pieces, total)
        straight = [problem.shapes[problem.pieces[i].shape].straight for i in self.pieces]
        self.few = self.many.copy()
        self.few[: self.n] = [k or n for k, n in zip(straight, self.many[: self.n], strict=True)]
        self.counts = self.many
        self.held = {s.piece for s in problem.fixed}
        self.index = {piece: i for i, piece in enumerate(self.pieces)}
        self.here = np.ones(self.n, dtype=np.bool_)
        self.movable = np.array(
            [i not in self.held for i in self.pieces] + [False] * (total - self.n), dtype=np.bool_
        )
        self.areas = np.array([abs(problem.shapes[problem.pieces[i].shape].area()) for i in self.pieces])
        self.shapes = np.array([problem.pieces[i].shape for i in self.pieces])
        self.sizes = _sizes(self.areas, total)
        self.weights = self.sizes.copy()
        self.depths = np.zeros((total, total))
        across = row_length(int((tables.room[3] - tables.room[1]) / tables.h) + 2)
        self.work = kernels.Work(
            np.zeros(tables.scratch(), dtype=np.float32), np.zeros(across, dtype=np.float32),
            np.zeros((total, 2), dtype=np.int64), np.zeros(total, dtype=np.int64),
            np.array([(seed * 0x9E3779B97F4A7C15 + 0x1234567) % 2**64 or 1], dtype=np.uint64),
            np.zeros((LINES, 4)), np.empty((ROWS, 7)),
        )  # fmt: skip
        self.way = kernels.Way(options.ease * tables.h, tables.h * FINE, options.local, options.turns)
        self.rng = np.random.default_rng(seed)
        self.moves = 0
        self.slide = Slide(tables, self.movable)

    def keep(self, pieces: Iterable[int]) -> None:
        """Work with some of the pieces from now on; the others lie far away, where nothing meets them."""
        here = set(pieces)
        self.here[:] = [p in here for p in self.pieces]
        self.movable[: self.n] = [p in here and p not in self.held for p in self.pieces]
        self.slide = Slide(self.tables, self.movable)

    def state_of(self, spots: Sequence[Spot]) -> State:
        """Return spots as arrays [mm], each at its shape's nearest turn, the room last; pieces without a spot lie far away."""
        t, total = self.tables, len(self.movable)
        pos, form = np.zeros((total, 2)), np.full(total, len(t.angles), dtype=np.int64)
        pos[: self.n] = AWAY * np.arange(1, self.n + 1)[:, None]
        form[: self.n] = self.choices[: self.n, 0]
        for s in spots:
            i = self.index[s.piece]
            first, count = self.choices[i, 0], self.many[i]
            away = np.remainder(t.angles[first : first + count] - s.angle + np.pi, 2 * np.pi) - np.pi
            form[i] = first + int(np.argmin(np.abs(away)))
            pos[i] = s.x, s.y
        return State(pos, form)

    def spots_of(self, state: State) -> tuple[Spot, ...]:
        """Return a state as spots [mm, rad]."""
        angles = self.tables.angles[state.form[: self.n]]
        rows = zip(
            self.pieces, self.here.tolist(), state.pos[: self.n].tolist(), angles.tolist(), strict=True
        )
        return tuple(Spot(piece, x, y, angle) for piece, here, (x, y), angle in rows if here)

    def glance(self, state: State, piece: int) -> float:
        """Return the least overlap [mm] a piece would have anywhere in the room, over its narrowest side [-]."""
        t, i = self.tables, self.index[piece]
        self.weights[:] = self.sizes
        pieces = self.pieces_of(state.pos, state.form)
        least = least_overlap(t.look(), kernels.Room(np.array(t.room), t.lows, t.highs), pieces, self.work, i)
        forms = self.choices[i, : self.counts[i]]
        return least / float((t.highs[forms] - t.lows[forms]).min())

    def length(self, state: State) -> float:
        """Return the right end of the state's pieces [mm]."""
        return float((state.pos[: self.n, 0] + self.tables.highs[state.form[: self.n], 0]).max())

    def least_length(self) -> float:
        """Return a length no packing can beat [mm]: the narrowest form of the widest piece, or area over height."""
        t = self.tables
        wide = t.highs[:, 0] - t.lows[:, 0]
        narrow = [wide[self.choices[i, : self.many[i]]].min() for i in range(self.n)]
        return max(float(max(narrow)), float(self.areas.sum()) / (t.room[3] - t.room[1]))

    def separated(
        self, state: State, right: float, stop: Callable[[], bool], patience: int | None = None
    ) -> tuple[float, State]:
        """Separate a state within a room that ends at `right` [mm]; return overlap left (0 if none) and the best state."""
        t, o = self.tables, self.options
        room = np.array([t.room[0], t.room[1], right, t.room[3]])
        pos, form = state.pos.copy(), state.form.copy()
        lo, hi = room[:2] - t.lows[form], room[2:] - t.highs[form]
        pos[self.movable] = np.minimum(np.maximum(pos, lo), hi)[self.movable]
        if (hi[self.movable] < lo[self.movable] - 1e-9).any():
            return np.inf, state
        self.weights[:] = self.sizes
        best = State(pos.copy(), form.copy())
        book = np.array([np.inf, 0.0, 0.0])
        before, strikes, mark = self.moves, 0, np.inf
        close = o.close * t.h
        pieces = self.pieces_of(pos, form)
        while strikes < o.strikes and not stop():
            result = press(
                t.look(), kernels.Room(room, t.lows, t.highs), pieces, self.way, self.work, best.pos, best.form, book,
                o.chunk, patience or o.patience, close,
            )  # fmt: skip
            self.moves = before + int(book[2])
            if result == 1:
                return self.slid(best, right, self.overlap(best.pos, best.form))
            if result == 2:
                left, slid = self.slid(best, right, float(book[0]))
                if left == 0.0:
                    return left, slid
                close, before = 0.3 * left, self.moves - int(book[2])
            if result == -1:
                strikes = 1 if book[0] < 0.98 * mark else strikes + 1
                mark, book[1] = book[0], 0.0
                pos[:], form[:] = best.pos, best.form
        return float(book[0]), best

    def overlap(self, pos: Floats, form: Any) -> float:
        """Return the sum of sized depths of a state's places and forms [mm]."""
        return kernels.measure(self.tables.look(), self.pieces_of(pos, form), TOUCH)

    def pieces_of(self, pos: Floats, form: Any, counts: Any = None) -> kernels.Pieces:
        """Return places [mm] and forms as the kernels take them, with as many turns as asked or the press's own."""
        turns = self.counts if counts is None else counts
        return kernels.Pieces(
            pos, form, self.choices, turns, self.movable, self.weights, self.sizes, self.depths
        )

    def slid(self, state: State, right: float, overlap: float) -> tuple[float, State]:
        """Separate a state of little `overlap` [mm] further by moving all at once; return what is left and the state."""
        step = self.options.reach * self.tables.h
        for _ in range(self.options.slides):
            if overlap == 0.0:
                break
            pos = self.slide.separated(state.pos, state.form, right, step)
            self.moves += self.n
            now = self.overlap(pos, state.form)
            if now > 0.98 * overlap:
                break
            overlap, state = now, State(pos, state.form)
        return overlap, state

    def legal(self, overlap: float, state: State, right: float) -> State | None:
        """Return a state of little `overlap` [mm] without any, shorter than `right` [mm] and as short as it goes, or None."""
        if overlap > self.options.hopeless * self.tables.h:
            return None  # of 250 such tries none came right; infinite if a piece is longer than the room
        left, state = self.slid(state, right - SHORTER, overlap)
        return self.compacted(state) if left == 0.0 else None

    def compacted(self, state: State) -> State:
        """Return a legal state made as short as it goes without a piece passing another."""
        step = self.options.reach * self.tables.h
        length = self.length(state)
        for _ in range(self.options.slides):
            pull = self.rng.uniform(-1.0, 1.0, 2 * int(self.movable.sum()))
            pos = self.slide.compacted(state.pos, state.form, step, pull)
            self.moves += self.n
            new = State(pos, state.form)
            if self.overlap(pos, state.form) > 0.0:
                step *= 0.5
                continue
            now = self.length(new)
            if now <= length:
                state = new
            if now > length - SHORTER:
                break
            length = now
        return state

    def shrunk(self, state: State, by: float) -> State:
        """Return the state with all that lies right of a random cut moved left [mm]."""
        out, t = state.copy(), self.tables
        mids = out.pos[:, 0] + (t.lows[out.form, 0] + t.highs[out.form, 0]) / 2
        cut = self.rng.uniform(t.room[0], self.length(state))
        out.pos[(mids > cut) & self.movable, 0] -= by
        return out

    def choose(self, *, straight: bool) -> None:
        """Let pieces turn only straight from now on, or to every turn there is [-]."""
        self.counts = self.few if straight else self.many

    def shaken(self, state: State, share: float) -> State:
        """Return the state with the pieces of a stretch of the length (a share of it) in one another's places, turned anyhow [mm]."""
        out, t = state.copy(), self.tables
        mids = out.pos + (t.lows[out.form] + t.highs[out.form]) / 2
        left, right = t.room[0], self.length(state)
        low = self.rng.uniform(left, left + (1 - share) * (right - left))
        within = self.movable & (mids[:, 0] >= low) & (mids[:, 0] <= low + share * (right - left))
        who = np.flatnonzero(within)
        for i in who.tolist():
            out.form[i] = self.choices[i, int(self.rng.integers(self.counts[i]))]
        to = mids[self.rng.permutation(who)]
        out.pos[who] = to - (t.lows[out.form[who]] + t.highs[out.form[who]]) / 2
        return out

    def stirred(self, state: State) -> State:
        """Return the state with two large pieces of different shapes swapped, small ones within their boxes along [mm]."""
        out, t, n = state.copy(), self.tables, self.n
        pair = self._large_pair()
        if pair is None:
            return out
        lows, highs = out.pos + t.lows[out.form], out.pos + t.highs[out.form]
        mids = (lows + highs) / 2
        gap = mids[pair[1]] - mids[pair[0]]
        for a, way in zip(pair, (gap, -gap), strict=True):
            along = ((mids[:n] > lows[a]) & (mids[:n] < highs[a])).all(axis=1) & self.movable[:n]
            along &= self.areas < 0.5 * self.areas[a]
            along[list(pair)] = False
            out.pos[:n][along] += way
            out.pos[a] += way
        return out

    def _large_pair(self) -> tuple[int, int] | None:
        """Return two movable pieces, of different shapes if there are any, the first one large."""
        free = np.flatnonzero(self.movable[: self.n])
        if len(free) < 2:
            return None
        order = free[np.argsort(-self.areas[free], kind="stable")]
        top = np.cumsum(self.areas[order]) <= self.options.large * self.areas[free].sum()
        top[:2] = True
        large = order[top]
        i = int(self.rng.choice(large))
        for others in (
            large[self.shapes[large] != self.shapes[i]],
            free[self.shapes[free] != self.shapes[i]],
        ):
            if len(others):
                return i, int(self.rng.choice(others))
        return i, int(self.rng.choice(free[free != i]))


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


def _sizes(areas: Floats, total: int) -> Floats:
    """Return the geometric mean of two pieces' linear sizes, about 1 [-]; the room's outside is as large as the largest."""
    root = np.full(total, areas.max())
    root[: len(areas)] = areas
    root = (root / areas.mean()) ** 0.25
    return np.outer(root, root)
