"""Contour: a closed or open chain of lines and circular arcs, as an array of (x, y, bulge).

Conventions: y up; an edge runs from its row to the next (a closed contour's last edge returns to row
0); bulge = tan(sweep/4), positive when the edge turns counterclockwise, 0 for a line, 1 for a half
circle. A full circle is two half circles. An open contour's last bulge is 0 and unused.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from platewright.errors import InputError
from platewright.geometry.primitives import Arc, Line, Point

__all__ = ["Contour", "Floats", "less_sine", "signed_area"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Contour:
    """A chain of lines and arcs.

    Parameters
    ----------
    rows : (N, 3) array of x [mm], y [mm], bulge [-]; copied and made read-only
    closed : whether the last row's edge returns to the first

    Raises
    ------
    InputError
        If the rows are not an (N, 3) array of finite numbers with N >= 2.
    """

    rows: Floats
    closed: bool = True

    def __post_init__(self) -> None:
        rows = np.array(self.rows, dtype=np.float64)
        if rows.ndim != 2 or rows.shape[1] != 3 or len(rows) < 2:
            raise InputError(
                f"A contour needs at least two rows of x, y, bulge, got an array of shape {rows.shape}."
            )
        if not np.isfinite(rows).all():
            bad = int(np.flatnonzero(~np.isfinite(rows).all(axis=1))[0])
            raise InputError(f"Row {bad} of the contour is not finite: {rows[bad].tolist()}.")
        if not self.closed:
            rows[-1, 2] = 0.0
        rows.setflags(write=False)
        object.__setattr__(self, "rows", rows)

    # -- named constructors ------------------------------------------------------------------

    @staticmethod
    def from_rows(rows: ArrayLike, *, closed: bool = True) -> Contour:
        """Make a contour from anything like an (N, 3) array of x [mm], y [mm], bulge [-]."""
        try:
            return Contour(np.asarray(rows, dtype=np.float64), closed)
        except (TypeError, ValueError) as bad:
            if isinstance(bad, InputError):
                raise
            raise InputError("Rows must be x, y, bulge: three numbers each.") from bad

    @staticmethod
    def from_points(points: ArrayLike, *, closed: bool = True) -> Contour:
        """Make a contour of straight edges through (N, 2) points [mm]."""
        xy = np.asarray(points, dtype=np.float64)
        if xy.ndim != 2 or xy.shape[1] != 2:
            raise InputError(f"Points must be an (N, 2) array, got shape {xy.shape}.")
        return Contour(np.column_stack([xy, np.zeros(len(xy))]), closed)

    @staticmethod
    def circle(x: float, y: float, radius: float, *, clockwise: bool = False) -> Contour:
        """Make a full circle of a radius [mm] about (x, y) [mm], starting at its rightmost point."""
        if not (math.isfinite(radius) and radius > 0):
            raise InputError(f"A circle needs a radius above 0 mm, got {radius}.")
        bulge = -1.0 if clockwise else 1.0
        return Contour(np.array([[x + radius, y, bulge], [x - radius, y, bulge]]))

    @staticmethod
    def rectangle(
        width: float, height: float, *, x: float = 0.0, y: float = 0.0, radius: float = 0.0
    ) -> Contour:
        """Make a counterclockwise rectangle [mm] with its lower left at (x, y) and rounded corners of a radius [mm]."""
        if not (width > 0 and height > 0 and 0 <= 2 * radius <= min(width, height)):
            raise InputError(f"A rectangle {width} by {height} mm cannot have corner radius {radius} mm.")
        if radius == 0:
            return Contour.from_points([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
        r, w, h, b = radius, width, height, math.tan(math.pi / 8)
        spots = [
            (r, 0, 0),
            (w - r, 0, b),
            (w, r, 0),
            (w, h - r, b),
            (w - r, h, 0),
            (r, h, b),
            (0, h - r, 0),
            (0, r, b),
        ]
        rows = np.array(spots, dtype=np.float64) + (x, y, 0.0)
        keep = np.hypot(*(np.roll(rows, -1, axis=0) - rows)[:, :2].T) > 0
        return Contour(rows[keep])

    @staticmethod
    def from_edges(edges: Iterable[Line | Arc], *, closed: bool = True) -> Contour:
        """Make a contour from edges that already meet end to start [mm]; ends are taken from the next start."""
        chain = list(edges)
        rows = [(e.start.x, e.start.y, e.bulge) for e in chain]
        if not closed and chain:
            rows.append((chain[-1].end.x, chain[-1].end.y, 0.0))
        return Contour(np.array(rows, dtype=np.float64).reshape(-1, 3), closed)

    # -- reading -----------------------------------------------------------------------------

    def __len__(self) -> int:
        """Return the number of edges."""
        return len(self.rows) if self.closed else len(self.rows) - 1

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Contour):
            return NotImplemented
        return self.closed == other.closed and np.array_equal(self.rows, other.rows)

    def __hash__(self) -> int:
        return hash((self.closed, self.rows.tobytes()))

    def __repr__(self) -> str:
        kind = "closed" if self.closed else "open"
        return f"Contour({kind}, {len(self)} edges, from ({self.rows[0, 0]:.3f}, {self.rows[0, 1]:.3f}))"

    @property
    def points(self) -> Floats:
        """Vertices as an (N, 2) read-only view [mm]."""
        return self.rows[:, :2]

    @property
    def starts(self) -> Floats:
        """Edge start points, (E, 2) [mm]."""
        return self.rows[: len(self), :2]

    @property
    def ends(self) -> Floats:
        """Edge end points, (E, 2) [mm]."""
        xy = self.rows[:, :2]
        return np.concatenate((xy[1:], xy[:1])) if self.closed else xy[1:]

    @property
    def bulges(self) -> Floats:
        """Edge bulges, (E,) [-]."""
        return self.rows[: len(self), 2]

    def edge(self, index: int) -> Line | Arc:
        """Return edge `index` (negative counts from the end) as a value [mm, rad]."""
        count = len(self)
        if not -count <= index < count:
            raise InputError(
                f"Edge {index} is not on a contour of {count} edges.", allowed=f"{-count} to {count - 1}"
            )
        index %= count
        x, y, bulge = map(float, self.rows[index])
        end_x, end_y, _ = map(float, self.rows[(index + 1) % len(self.rows)])
        start, end = Point(x, y), Point(end_x, end_y)
        if bulge == 0.0 or start == end:
            return Line(start, end)
        return Arc.from_bulge(start, end, bulge)

    def edges(self) -> Iterator[Line | Arc]:
        """Yield every edge in order [mm, rad]."""
        return (self.edge(i) for i in range(len(self)))

    # -- the same contour, told otherwise --------------------------------------------------------

    def reversed(self) -> Contour:
        """Return the contour run the other way round, on the same points [mm]."""
        rows = self.rows[::-1].copy()
        rows[:, 2] = -np.concatenate((rows[1:, 2], rows[:1, 2]))
        return Contour(rows, self.closed)

    def started_at(self, vertex: int) -> Contour:
        """Return a closed contour starting at vertex `vertex` (taken modulo the count) [-]."""
        if not self.closed:
            raise InputError("An open contour has one start only.", do="Close it first, or reverse it.")
        return Contour(np.roll(self.rows, -(vertex % len(self.rows)), axis=0))

    def counterclockwise(self) -> Contour:
        """Return the contour turning counterclockwise (signed area not negative [mm²])."""
        return self if signed_area(self) >= 0 else self.reversed()

    # -- documents ---------------------------------------------------------------------------

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values: rows of [x_mm, y_mm, bulge] and closed."""
        return {"closed": self.closed, "rows_mm_mm_bulge": self.rows.tolist()}

    @staticmethod
    def from_dict(document: dict[str, Any]) -> Contour:
        """Read what `as_dict` wrote, coordinates in [mm]."""
        try:
            return Contour(
                np.asarray(document["rows_mm_mm_bulge"], dtype=np.float64), bool(document.get("closed", True))
            )
        except (KeyError, TypeError, ValueError) as bad:
            if isinstance(bad, InputError):
                raise
            raise InputError("A contour document needs 'rows_mm_mm_bulge': a list of [x, y, bulge].") from bad


def signed_area(contour: Contour) -> float:
    """Return the enclosed area [mm²], positive counterclockwise; an open contour is closed by its chord."""
    xy = contour.points - contour.points[0]
    x, y = xy[:, 0], xy[:, 1]
    # the first point is the origin, so the chord back to it sweeps nothing
    polygon = 0.5 * float(np.dot(x[:-1], y[1:]) - np.dot(y[:-1], x[1:]))
    bulge = contour.bulges
    bent = np.flatnonzero(bulge)
    if len(bent) == 0:
        return polygon
    b = bulge[bent]
    chord = contour.ends[bent] - contour.starts[bent]
    square = (chord[:, 0] ** 2 + chord[:, 1] ** 2) * ((1 + b * b) / (4 * b)) ** 2
    return polygon + 0.5 * float(np.dot(square, less_sine(4 * np.arctan(b))))


def less_sine(angle: Floats) -> Floats:
    """Return angle minus its sine [rad], to full precision for small angles too."""
    square = angle * angle
    series = angle * square / 6 * (1 - square / 20 * (1 - square / 42 * (1 - square / 72)))
    return np.where(np.abs(angle) < 0.2, series, angle - np.sin(angle))
