"""The layout question in the search's own terms: polygons, allowed turns, and one room to put them in.

Glossary
--------
shape : a part (or its other hand) as loops, with the turns it may lie at
piece : one copy to be placed; refers to a shape
room : where material may lie: the plate shrunk by the edge clearance, less old holes, keep-outs and whatever
    is out of reach
spot : a piece placed: turned by an angle, then moved

Everything is in the frame of the room: for a plate taller than wide it is turned a quarter so that the used
length always grows along +x (``Problem.frame`` leads back to plate coordinates).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from platewright.geometry import Floats, Pose
from platewright.layout.shape.loops import Loops, grown, loops_area

__all__ = ["FILLER", "Budget", "Packed", "Piece", "Problem", "Shape", "Spot", "pack_loops"]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shape:
    """A part's outline for the search.

    Attributes
    ----------
    raw : loops that hold the part [mm]
    big : the same grown by the part clearance [mm]
    angles : turns it may lie at [rad]
    straight : how many of those, from the first, are tried before the others [-]; 0 for all
    more : how much farther than usual it keeps from other parts [mm]
    few : whether it may lie at those turns only, though others may lie anyhow
    """

    raw: Loops
    big: Loops
    angles: tuple[float, ...]
    straight: int = 0
    more: float = 0.0
    few: bool = False

    def padded(self) -> Loops:
        """Return loops that keep the shape's own distance from whatever keeps the usual one [mm]."""
        return grown(self.raw, self.more) if self.more > 0 else self.raw

    def cleared(self, clearance: float, *, least: float) -> Shape:
        """Return the shape grown by a clearance [mm]; holes whose room is then below `least` [mm²] are closed."""
        big = grown(self.raw, clearance)
        useful = [p for p in big if loops_area((p,)) > 0 or -loops_area((p,)) >= least]
        if all(loops_area((p,)) > 0 for p in useful):
            return replace(self, raw=self.raw[:1], big=grown(self.raw[:1], clearance))
        return replace(self, big=tuple(sorted(useful, key=lambda p: -loops_area((p,)))))

    @staticmethod
    def made(raw: Loops, clearance: float, angles: tuple[float, ...], *, least: float) -> Shape:
        """Make a shape; holes whose room after the clearance [mm] is below `least` [mm²] are closed, as nothing fits in."""
        return Shape(raw=raw, big=raw, angles=angles).cleared(clearance, least=least)

    def straightened(self) -> Shape:
        """Return the shape with only the turns that are tried first [rad]."""
        return replace(self, angles=self.angles[: self.straight or None], straight=0)

    def half_turns(self) -> bool:
        """Tell whether every turn it may lie at comes with the one half round from it."""
        return not self.few or all(
            any(abs(math.remainder(a + math.pi - b, math.tau)) < 1e-9 for b in self.angles)
            for a in self.angles
        )

    def also(self, angle: float) -> Shape:
        """Return the shape with one more turn at which a copy lies already [rad]; as it is if it may not lie anyhow."""
        known = any(abs(math.remainder(angle - a, math.tau)) < 1e-9 for a in self.angles)
        if self.few or known or len(self.angles) >= MOST_TURNS:
            return self
        return replace(self, angles=(*self.angles, angle))

    def area(self) -> float:
        """Return the area of metal [mm²]."""
        return loops_area(self.raw)

    def reach(self) -> float:
        """Return the longest side of its upright box [mm]."""
        return float(np.ptp(self.raw[0], axis=0).max())


@dataclass(frozen=True, slots=True)
class Piece:
    """One copy to place.

    Attributes
    ----------
    shape : index into ``Problem.shapes``
    rank : lower is placed first; fillers come last [-]
    value : what it is worth to have it placed, beside others of its rank [-]; 0 for its area
    """

    shape: int
    rank: int = 0
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A piece placed: turned by `angle` [rad] about its origin, then moved by x, y [mm]."""

    piece: int
    x: float
    y: float
    angle: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Problem:
    """Shapes, pieces and the room.

    Attributes
    ----------
    shapes, pieces : what is to be placed
    room : loops of free plate [mm]
    fixed : spots that stay, by piece
    frame : pose that takes room coordinates to plate coordinates [mm, rad]
    any_turn : whether pieces may lie at any turn, not only their shape's
    """

    shapes: tuple[Shape, ...]
    pieces: tuple[Piece, ...]
    room: Loops
    fixed: tuple[Spot, ...] = ()
    frame: Pose = field(default_factory=Pose)
    any_turn: bool = False

    def value(self, piece: int) -> float:
        """Return what it is worth to have a piece placed [-]."""
        p = self.pieces[piece]
        return p.value or self.shapes[p.shape].area()

    def straightened(self) -> Problem:
        """Return the problem with only the turns that are tried first [rad]; itself if those are all."""
        if all(s.straight in (0, len(s.angles)) for s in self.shapes):
            return self
        return replace(self, shapes=tuple(s.straightened() for s in self.shapes))

    def box(self) -> tuple[float, float, float, float]:
        """Return the room's box as x0, y0, x1, y1 [mm]; all 0 if there is no room."""
        if not self.room:
            return 0.0, 0.0, 0.0, 0.0
        every = np.vstack(self.room)
        (x0, y0), (x1, y1) = every.min(axis=0), every.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    def placed(self, spot: Spot, *, grown: bool = False, padded: bool = False) -> Loops:
        """Return a spot's loops in the room [mm], grown by the clearance or by what it keeps of its own if asked."""
        shape = self.shapes[self.pieces[spot.piece].shape]
        c, s = math.cos(spot.angle), math.sin(spot.angle)
        turn = np.array([[c, s], [-s, c]])
        loops = shape.big if grown else shape.padded() if padded else shape.raw
        return tuple(p @ turn + (spot.x, spot.y) for p in loops)

    def used(self, spots: Sequence[Spot]) -> float:
        """Return the length of room used from its left end [mm]."""
        if not spots:
            return 0.0
        return max(float(self.placed(s)[0][:, 0].max()) for s in spots) - self.box()[0]


MOST_TURNS = 30
"""Most turns of one shape, those counted at which copies lie already [-]."""

FILLER = 1_000_000
"""Ranks from here up are fillers: placed only in room the others leave [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What an engine may use.

    Attributes
    ----------
    seconds : [s]
    steps : search steps instead of seconds [-], None to go by the clock
    seed : of its random numbers [-]
    workers : threads it may use [-]
    cancelled : asked often; True ends the search
    tell : called with each better answer
    refined : gives a packing closed up on its true lines and arcs, as it was if that is not legal
    """

    seconds: float
    steps: int | None = None
    seed: int = 1
    workers: int = 1
    cancelled: Callable[[], bool] = lambda: False
    tell: Callable[[Packed], None] = lambda packed: None
    refined: Callable[[Packed], Packed] = lambda packed: packed

    def used(self) -> Callable[[], float]:
        """Return a question for the share of the time used [-]; from 1 up the search must end (its clock [s] starts now).

        With a step budget no clock is read: the answer is 0 until cancelled.
        """
        if self.steps is not None:
            return lambda: float(self.cancelled())
        began, seconds = time.monotonic(), max(self.seconds, 1e-9)
        return lambda: 1.0 if self.cancelled() else (time.monotonic() - began) / seconds


@dataclass(frozen=True, slots=True)
class Packed:
    """An engine's answer: the spots, and how many steps it took [-]."""

    spots: tuple[Spot, ...]
    steps: int = 0


def pack_loops(loops: Sequence[Floats]) -> tuple[Floats, np.ndarray[tuple[int], np.dtype[np.int64]]]:
    """Return loops as one array of points [mm] and the start of each loop, with the end [-]."""
    starts = np.zeros(len(loops) + 1, dtype=np.int64)
    starts[1:] = np.cumsum([len(p) for p in loops])
    points = np.ascontiguousarray(np.vstack(loops)) if loops else np.zeros((0, 2))
    return points, starts
