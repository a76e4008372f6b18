"""The first legal layout: a fast constructive placing on a raster, then a continuous slide.

Method
------
The room is a grid of square cells; a cell is taken if anything forbidden touches it. Pieces, largest first, go
to the leftmost, then lowest, place where all their cells are free, over all their allowed turns; the turn that
reaches least far right wins. Two rasters are kept: one of all free cells, one of the free cells inside holes of
parts already placed; **holes are tried first**, so that small parts cost no plate. Covers are outward-safe, so
every answer is legal by construction; at the end each piece slides left and down by exact loop tests, which wins
back what the cells' coarseness lost. (Bottom-left placing: Baker, Coffman and Rivest, SIAM J. Comput. 9, 1980;
the raster with run lengths is ours.)

Cost: one scan is about (columns x runs of the part); 60 parts of 8 turns on 600,000 cells take some tenths of a
second. Limits: greedy; the search in ``squeeze`` improves on it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.problem import Packed, Problem, Spot, pack_loops
from platewright.layout.shape import kernels
from platewright.layout.shape.loops import HAIR, Loops, turned

__all__ = ["Ground", "first_layout", "order_of", "raster_of", "slid", "tucked"]

CELLS = 600_000
"""About how many cells a room gets [-]: 2 mm on a 4 x 8 ft sheet."""

FINEST = 0.25
"""Smallest cell [mm]: below half a kerf nothing is won."""


@dataclass(slots=True, kw_only=True)
class _Turned:
    """A shape at one turn, in cells."""

    angle: float
    runs: Any
    width: int
    height: int
    low: Floats
    tried: int = 0


@dataclass(slots=True, kw_only=True)
class _Raster:
    """The room in cells: what is taken, and what is not free within a part's hole."""

    x0: float
    y0: float
    cell: float
    taken: Any
    unholed: Any
    taken_runs: Any = field(default=None)
    unholed_runs: Any = field(default=None)
    holes: list[tuple[int, int]] = field(default_factory=list)
    counted: bool = False

    def cells(self, loops: Loops) -> tuple[Any, Any]:
        points, starts = pack_loops(loops)
        return (points - (self.x0, self.y0)) / self.cell, starts

    def copy(self) -> _Raster:
        return replace(
            self, taken=self.taken.copy(), unholed=self.unholed.copy(), taken_runs=self.taken_runs.copy(),
            unholed_runs=self.unholed_runs.copy(), holes=list(self.holes),
        )  # fmt: skip

    def refresh(self, first: int, last: int) -> None:
        kernels.run_lengths(self.taken, self.taken_runs, first, last)
        if self.holes:
            whole = (0, self.unholed.shape[0] - 1)
            kernels.run_lengths(self.unholed, self.unholed_runs, *((first, last) if self.counted else whole))
            self.counted = True


def _raster(problem: Problem) -> _Raster:
    x0, y0, x1, y1 = problem.box()
    cell = max(math.sqrt((x1 - x0) * (y1 - y0) / CELLS), FINEST)
    shape = (math.ceil((x1 - x0) / cell) + 1, math.ceil((y1 - y0) / cell) + 1)
    outside = np.ones(shape, dtype=np.uint8)
    raster = _Raster(x0=x0, y0=y0, cell=cell, taken=outside, unholed=np.ones(shape, dtype=np.uint8))
    frame = np.array(
        [(x0 - 1, y0 - 1), (x1 + 9 * cell, y0 - 1), (x1 + 9 * cell, y1 + 9 * cell), (x0 - 1, y1 + 9 * cell)]
    )
    outside[:] = 0
    kernels.cover_cells(*raster.cells((frame, *problem.room)), outside)
    raster.taken_runs = np.zeros(shape, dtype=np.int32)
    raster.unholed_runs = np.zeros(shape, dtype=np.int32)
    raster.refresh(0, shape[0] - 1)
    return raster


def raster_of(problem: Problem, spots: Sequence[Spot]) -> _Raster:
    """Return the room in cells [mm a cell] with the spots' grown outlines taken."""
    raster = _raster(problem)
    for spot in spots:
        _take(raster, problem, spot)
    return raster


def _turned(loops: Loops, angle: float, cell: float) -> _Turned:
    placed = turned(loops, angle)
    low = placed[0].min(axis=0)
    points, starts = pack_loops(placed)
    points = (points - low) / cell + 1e-6
    size = np.floor(points.max(axis=0) + 1e-5).astype(int) + 1
    grid = np.zeros((int(size[0]), int(size[1])), dtype=np.uint8)
    kernels.cover_cells(points, starts, grid)
    return _Turned(angle=angle, runs=kernels.runs_of(grid), width=int(size[0]), height=int(size[1]), low=low)


def _take(raster: _Raster, problem: Problem, spot: Spot) -> bool:
    """Mark a spot's cells as taken; tell whether it brought new holes."""
    big = problem.placed(spot, grown=True)
    points, starts = raster.cells(big)
    first = max(0, math.floor(points[:, 0].min()))
    last = min(raster.taken.shape[0] - 1, math.floor(points[:, 0].max()))
    if last < first:
        return False
    window = raster.taken[first : last + 1]
    kernels.cover_cells(points - (first, 0.0), starts, window)
    for hole in big[1:]:
        hp, hs = raster.cells((hole,))
        free = np.zeros_like(window)
        kernels.cover_cells(hp - (first, 0.0), hs, free)
        raster.unholed[first : last + 1][free > 0] = 0
        raster.holes.append((int(hp[:, 0].min()), int(hp[:, 0].max())))
    raster.unholed[first : last + 1] |= window
    raster.refresh(first, last)
    return len(big) > 1


def _best(raster: _Raster, turns: Sequence[_Turned], in_holes: bool) -> tuple[_Turned, int, int] | None:
    room = raster.unholed_runs if in_holes else raster.taken_runs
    best: tuple[_Turned, int, int] | None = None
    key = (math.inf, math.inf, math.inf)
    spans = sorted(raster.holes) if in_holes else [(0, room.shape[0])]
    for turn in turns:
        for low, high in spans:
            if turn.width > room.shape[0] or turn.height > room.shape[1]:
                continue
            start = max(low, 0 if in_holes else turn.tried)
            reach = high if in_holes or math.isinf(key[0]) else min(high, int(key[0]) - turn.width)
            ix, iy = kernels.best_spot(room, turn.runs, turn.width, turn.height, start, reach)
            if ix < 0:
                continue
            if not in_holes:
                turn.tried = ix
            if (ix + turn.width, iy + turn.height, ix) < key:
                key, best = (ix + turn.width, iy + turn.height, ix), (turn, ix, iy)
            break
    return best


def order_of(problem: Problem) -> list[int]:
    """Return free pieces by rank, then largest box first [-]."""
    held = {s.piece for s in problem.fixed}

    def size(piece: int) -> tuple[int, float, int]:
        shape = problem.shapes[problem.pieces[piece].shape]
        box = np.ptp(shape.raw[0], axis=0)
        return problem.pieces[piece].rank, -float(box[0] * box[1]), problem.pieces[piece].shape

    return sorted((i for i in range(len(problem.pieces)) if i not in held), key=size)


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A problem in cells: its room with what stays, and its shapes at their turns; made once for several orders of placing."""

    problem: Problem
    raster: _Raster
    turns: tuple[tuple[_Turned, ...], ...]

    @staticmethod
    def of(problem: Problem) -> Ground:
        """Return a problem's ground [mm, rad]."""
        raster = raster_of(problem, problem.fixed)
        turns = tuple(tuple(_turned(s.padded(), a, raster.cell) for a in s.angles) for s in problem.shapes)
        return Ground(problem, raster, turns)

    def laid(self, order: Sequence[int] | None = None, *, stop: Callable[[], bool] = lambda: False) -> Packed:
        """Place pieces one after another, then slide them left and down; what finds no place is left out.

        Parameters
        ----------
        order : pieces in order of placing; by rank and size if None
        stop : asked before each piece; True ends the placing with what there is
        """
        problem, raster = self.problem, self.raster.copy()
        turns = [[replace(t, tried=0) for t in turned] for turned in self.turns]
        hopeless: set[int] = set()
        spots: list[Spot] = []
        for piece in order_of(problem) if order is None else order:
            shape = problem.pieces[piece].shape
            if shape in hopeless or stop():
                continue
            found = _best(raster, turns[shape], True) if raster.holes else None
            found = found or _best(raster, turns[shape], False)
            if found is None:
                hopeless.add(shape)
                continue
            turn, ix, iy = found
            x = raster.x0 + ix * raster.cell - float(turn.low[0]) + 1e-6 * raster.cell
            y = raster.y0 + iy * raster.cell - float(turn.low[1]) + 1e-6 * raster.cell
            spots.append(Spot(piece, x, y, turn.angle))
            if _take(raster, problem, spots[-1]):
                hopeless.clear()
        result = slid(problem, spots, raster.cell) if spots else ()
        return Packed((*problem.fixed, *result), len(spots))


def first_layout(
    problem: Problem, *, order: Sequence[int] | None = None, stop: Callable[[], bool] = lambda: False
) -> Packed:
    """Place pieces one after another on a ground of their own [mm, rad]; what finds no place is left out."""
    return Ground.of(problem).laid(order, stop=stop)


EASE = 1e-3
"""What a piece is taken smaller on each side when it is tried in a corner [mm]: an exact fit must not count as touching."""

CORNERS = 400
"""Most places along each axis tried for a piece in a corner [-]."""


def tucked(problem: Problem, packed: Packed, pieces: Sequence[int]) -> Packed:
    """Return the packing with those of `pieces` that fit where a corner of theirs meets what lies there already [mm].

    The raster gives away a cell or two at every side. Here a piece's box is set against the room's corners and the
    boxes of what lies there (grown), to the micrometre, so that rows which exactly fill a plate do fill it.
    """
    spots, hopeless = list(packed.spots), set[int]()
    room = kernels.Region(*pack_loops(problem.room))
    for piece in pieces:
        shape = problem.pieces[piece].shape
        if shape in hopeless:
            continue
        found = _corner(problem, spots, piece, room)
        if found is None:
            hopeless.add(shape)
        else:
            spots.append(found)
    return replace(packed, spots=tuple(spots))


def _corner(problem: Problem, spots: Sequence[Spot], piece: int, room: kernels.Region) -> Spot | None:
    shape = problem.shapes[problem.pieces[piece].shape]
    bigs = [problem.placed(s, grown=True) for s in spots]
    big = _flat(bigs)
    loops = [p for b in bigs for p in b]
    best: Spot | None = None
    key = (math.inf, math.inf)
    for angle in shape.angles:
        placed = turned(shape.padded(), angle)
        low, high = placed[0].min(axis=0), placed[0].max(axis=0)
        middle = (low + high) / 2
        smaller = [
            middle + (p - middle) * (1 - 2 * EASE / max(float((high - low).max()), 1.0)) for p in placed
        ]
        part = kernels.Region(*pack_loops(smaller))
        lows = [np.min(p, axis=0) for p in (*problem.room, *loops)]
        highs = [np.max(p, axis=0) - HAIR for p in loops]
        sides = []
        for axis in (0, 1):
            at = [float(v[axis]) - low[axis] for v in lows[: len(problem.room)]]
            at += [float(v[axis]) - low[axis] for v in highs]
            at += [float(v) - low[axis] for p in problem.room for v in p[:, axis]]
            sides.append(np.unique(np.round(at, 7))[:CORNERS])
        x, y = kernels.corner_spot(part, sides[0], sides[1], big, room)
        if not math.isnan(x) and (x + high[0], y + high[1]) < key:
            key, best = (x + high[0], y + high[1]), Spot(piece, x, y, angle)
    return best


def slid(problem: Problem, spots: Sequence[Spot], cell: float) -> tuple[Spot, ...]:
    """Return free spots slid left and down in exact steps, starting from a step of one cell [mm]."""
    every = [*spots, *problem.fixed]
    raw = _flat([problem.placed(s, padded=True) for s in every])
    big = _flat([problem.placed(s, grown=True) for s in every])
    room = kernels.Region(*pack_loops(problem.room))
    left = [float(raw.points[raw.starts[a] : raw.starts[b], 0].min()) for a, b in pairwise(raw.at)]
    order = np.argsort(left[: len(spots)], kind="stable").astype(np.int64)
    moves = np.zeros((len(every), 2))
    for _ in range(2):
        moves += kernels.slide(order, raw, big, room, 2 * cell, 0.02)
    return tuple(
        Spot(s.piece, s.x + float(m[0]), s.y + float(m[1]), s.angle)
        for s, m in zip(spots, moves, strict=False)
    )


def _flat(many: Sequence[Loops]) -> kernels.Bodies:
    """Return the loops of many items one after the other."""
    points, starts = pack_loops([loop for loops in many for loop in loops])
    at = np.zeros(len(many) + 1, dtype=np.int64)
    at[1:] = np.cumsum([len(loops) for loops in many])
    return kernels.Bodies(points, starts, at)
