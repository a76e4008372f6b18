"""What a pattern is once it has been read: outlines with their measurement error, and how they were measured."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError
from platewright.findings import Finding, Verdict, verdict
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.flatten import ring_area
from platewright.pattern.capture.camera.lens import View
from platewright.pattern.loops import runs

__all__ = ["Captured", "Outline", "Straightened", "Uncertainty"]

DOUBTED = 0.8
"""A place that may be off by more is looked at, 95 % [mm]: the most that one place of a good capture is off."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A closed loop of measured points, outer loops counterclockwise, holes clockwise.

    Attributes
    ----------
    points : (N, 2), y up [mm]
    sd : (N,) standard deviation of each point across the outline [mm]
    typed : whether the points are a person's clicks (few, at corners) and not a dense trace
    doubt : standard deviation of all points together, outwards or inwards, beside that of each [mm]
    """

    points: Floats
    sd: Floats
    typed: bool = False
    doubt: float = 0.0

    def __post_init__(self) -> None:
        points, sd = np.array(self.points, dtype=np.float64), np.array(self.sd, dtype=np.float64)
        if points.ndim != 2 or points.shape[1:] != (2,) or len(points) < 3 or sd.shape != (len(points),):
            raise InputError(f"An outline needs three or more points with an error each, got {points.shape}.")
        if not (np.isfinite(points).all() and np.isfinite(sd).all()):
            raise InputError("An outline's points must be finite.")
        points.setflags(write=False)
        sd.setflags(write=False)
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "sd", sd)

    def contour(self) -> Contour:
        """Return the loop as straight edges through every point [mm]."""
        return Contour.from_points(self.points)

    def area(self) -> float:
        """Return the signed area [mm²], positive counterclockwise."""
        return ring_area(self.points)

    def turned(self, *, left: bool) -> Outline:
        """Return the loop running left (counterclockwise) or right, on the same points [mm]."""
        if (self.area() > 0) == left:
            return self
        return replace(self, points=self.points[::-1], sd=self.sd[::-1])

    def bound_95(self) -> Floats:
        """Return how far each point may be off across the outline, 95 % (N,) [mm]."""
        return np.asarray(1.96 * self.sd)

    def doubtful(self) -> list[NDArray[np.int64]]:
        """Return the indices of the points [-] of every stretch that may be off by more than `DOUBTED`."""
        doubted = self.bound_95() > DOUBTED
        if doubted.all():
            return [np.arange(len(doubted))]
        return [(at + np.arange(length)) % len(doubted) for at, length in runs(doubted)]


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """How true the outlines are, at 95 % confidence.

    Attributes
    ----------
    scale : of any length, as a share of it [-]
    outline : of a place on the outline, the shape laid best on the truth [mm]
    hole : of a hole's place [mm]
    shared : of all places together, outwards or inwards [mm]; None: as that of one place
    """

    scale: float
    outline: float
    hole: float
    shared: float | None = None

    def of_length(self, length: float) -> float:
        """Return the 95 % uncertainty of a measured length [mm] between edges fitted to many places; both its ends err outwards or inwards together."""
        return float(
            np.hypot(self.scale * length, 2 * (self.outline if self.shared is None else self.shared))
        )


@dataclass(frozen=True, slots=True)
class Straightened:
    """The picture seen from straight above, to draw on.

    Attributes
    ----------
    data, media : the file's bytes and its type
    size : width and height [px]
    pitch : size of a pixel [mm]
    origin : where the middle of the lower left pixel is, in the outlines' coordinates [mm]
    """

    data: bytes
    media: str
    size: tuple[int, int]
    pitch: float
    origin: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Captured:
    """What one reading gave. With a ``stop`` among the findings the outlines must not be used.

    Attributes
    ----------
    outer, holes : the loops [mm]; outer is None if nothing was found
    findings : what is wrong or worth knowing
    uncertainty : how true it is, None where nothing was found
    view : the camera of the (first) photo, z up from the paper of the cards; None for points and drawings
    straightened : the picture from above, None for points
    source : photo, scan, points, by hand
    marks : centres to drill that are not cut [mm]
    """

    outer: Outline | None
    holes: tuple[Outline, ...] = ()
    findings: tuple[Finding, ...] = ()
    uncertainty: Uncertainty | None = None
    view: View | None = None
    straightened: Straightened | None = None
    source: str = "photo"
    marks: tuple[tuple[float, float], ...] = ()

    @property
    def verdict(self) -> Verdict:
        """Whether the outlines may be used: go, look or stop."""
        return verdict(self.findings)

    def loops(self) -> tuple[Outline, ...]:
        """Return the outer loop, then the holes; empty if nothing was found [mm]."""
        return () if self.outer is None else (self.outer, *self.holes)
