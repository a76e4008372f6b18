"""How useful the rest of a plate is: the largest upright rectangle that is still free.

Method: the room less what is laid, on a raster of free cells; the largest rectangle in a histogram, row by row with
a stack (linear in cells; a classic). Cells touched by anything count as taken, so the rectangle really is free.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from platewright.layout import kernels
from platewright.layout.first import raster_of
from platewright.layout.problem import Problem, Spot

__all__ = ["FreeRectangle", "free_rectangle"]


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


def free_rectangle(problem: Problem, spots: Sequence[Spot]) -> FreeRectangle:
    """Return the largest rectangle of room [mm] that no spot (grown by the clearance) touches."""
    raster = raster_of(problem, spots)
    i, j, nx, ny = kernels.largest_free(raster.taken)
    h = raster.cell
    return FreeRectangle(raster.x0 + i * h, raster.y0 + j * h, nx * h, ny * h)
