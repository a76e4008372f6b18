"""What a layout is worth: how much it places, how useful the rest of the plate stays, how far the torch travels.

Glossary
--------
rest : the room less what is laid, on a raster of free cells; cells touched by anything count as taken
rectangle : the largest upright rectangle of the rest (in a histogram, row by row with a stack; linear in cells, a
    classic), so what is told free really is
edge : length of the rest's edge; of two rests of one size the more compact one has the shorter edge
travel : length of the shortest tree that joins the pieces' middles (Prim). No path through all of them is shorter,
    and the best is at most twice as long; the real order is found later, by the burn plan.

Layouts are judged in that order, rectangles and edges that differ by less than ``SAME`` counting as equal.

Cost: some tens of milliseconds a layout of 600,000 cells; the tree is quadratic in pieces.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.layout.engines.first import raster_of, slid
from platewright.layout.engines.ours import grouped
from platewright.layout.problem import Packed, Problem, Spot
from platewright.layout.search.crowd import worth_of
from platewright.layout.shape import kernels
from platewright.layout.shape.loops import loops_area

__all__ = ["SAME", "FreeRectangle", "Worth", "as_good", "free_rectangle", "neat", "travel", "worth"]

SAME = 0.005
"""Rectangles (as a share of the room) and edges (as a share of their length) closer than this are one [-]."""


@dataclass(frozen=True, slots=True)
class FreeRectangle:
    """The largest free upright rectangle of a room: corner, width and height [mm]."""

    x: float
    y: float
    width: float
    height: float

    def area(self) -> float:
        """Return its area [mm²]."""
        return self.width * self.height


@dataclass(frozen=True, slots=True, order=True)
class Worth:
    """What a layout is worth, the smaller the better: left out [-], rectangle and edge in steps of ``SAME`` [-], travel [mm]."""

    left_out: int
    rectangle: int
    edge: int
    travel: float


def free_rectangle(problem: Problem, spots: Sequence[Spot]) -> FreeRectangle:
    """Return the largest rectangle of room [mm] that no spot (grown by the clearance) touches."""
    raster = raster_of(problem, spots)
    i, j, nx, ny = kernels.largest_free(raster.taken)
    h = raster.cell
    return FreeRectangle(raster.x0 + i * h, raster.y0 + j * h, nx * h, ny * h)


def worth(problem: Problem, spots: Sequence[Spot]) -> Worth:
    """Return what a layout of a problem is worth [mm, mm²]."""
    raster = raster_of(problem, spots)
    _, _, nx, ny = kernels.largest_free(raster.taken)
    taken = np.pad(raster.taken, 1, constant_values=1).astype(np.int8)
    edge = sum(int(np.count_nonzero(np.diff(taken, axis=axis))) for axis in (0, 1))
    whole = max(loops_area(problem.room), 1.0)
    return Worth(
        len(problem.pieces) - len(spots),
        -round(nx * ny * raster.cell**2 / whole / SAME),
        round(math.log(max(edge, 1)) / SAME),
        travel(problem, spots),
    )


def travel(problem: Problem, spots: Sequence[Spot]) -> float:
    """Return the length of the shortest tree that joins the middles of the spots' boxes [mm]."""
    if len(spots) < 2:
        return 0.0
    boxes = [problem.placed(s)[0] for s in spots]
    middles = np.array([(p.min(axis=0) + p.max(axis=0)) / 2 for p in boxes])
    away = np.hypot(*(middles - middles[0]).T)
    away[0], total = math.inf, 0.0
    outside = np.ones(len(middles), dtype=bool)
    outside[0] = False
    while outside.any():
        at = int(np.argmin(np.where(outside, away, math.inf)))
        total += float(away[at])
        outside[at] = False
        away = np.minimum(away, np.hypot(*(middles - middles[at]).T))
    return total


LONGER = 0.1
"""How much longer one layout may be than another to be as good [mm]."""


def as_good(problem: Problem, one: Packed, other: Packed, leeway: float = 0.0) -> bool:
    """Tell whether `one` is as good as `other`: it places as much, is no longer, and leaves as large a rectangle free.

    ``leeway`` is what it may be longer and leave less, as a share [-].
    """
    placed = [worth_of(problem, [s.piece for s in packed.spots]) for packed in (one, other)]
    if placed[0] < placed[1] or len(one.spots) < len(other.spots):
        return False
    if problem.used(one.spots) > (1 + leeway) * problem.used(other.spots) + LONGER:
        return False
    left = [free_rectangle(problem, packed.spots).area() for packed in (one, other)]
    return left[0] >= (1 - leeway - SAME) * left[1]


def neat(problem: Problem, packed: Packed) -> Packed:
    """Return the packing with its pieces slid together toward the room's lower left, if it is worth more so [mm].

    Pieces in holes ride along with their hosts. The length used never grows.
    """
    group = grouped(problem, packed.spots)
    held = {s.piece for s in group.problem.fixed}
    free = [s for s in group.spots if s.piece not in held]
    if not free:
        return packed
    cell = raster_of(problem, ()).cell
    together = group.whole((*group.problem.fixed, *slid(group.problem, free, cell)))
    better = worth(problem, together) < worth(problem, packed.spots)
    return Packed(together, packed.steps) if better else packed
