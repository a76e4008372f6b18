"""Placing shapes: mirror, then turn, then move. Lengths never change; scaling is a separate call."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from platewright.errors import InputError
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.profile import Profile

__all__ = ["Pose", "scaled"]

Shape = TypeVar("Shape", Contour, Profile)


@dataclass(frozen=True, slots=True)
class Pose:
    """A rigid placing of a shape.

    Attributes
    ----------
    x, y : where the shape's own origin lands [mm]
    angle : turn about the shape's own origin, counterclockwise [rad]
    mirrored : whether the shape is first flipped left to right (x becomes -x)
    """

    x: float = 0.0
    y: float = 0.0
    angle: float = 0.0
    mirrored: bool = False

    def matrix(self) -> Floats:
        """Return the 2 by 3 matrix [-, mm] that maps (x, y, 1)."""
        c, s = math.cos(self.angle), math.sin(self.angle)
        flip = -1.0 if self.mirrored else 1.0
        return np.array([[c * flip, -s, self.x], [s * flip, c, self.y]])

    def points(self, points: ArrayLike) -> Floats:
        """Return (N, 2) points placed [mm]."""
        m = self.matrix()
        return np.asarray(points, dtype=np.float64) @ m[:, :2].T + m[:, 2]

    def apply(self, shape: Shape) -> Shape:
        """Return the contour or profile placed [mm]; a mirrored arc turns the other way."""
        if isinstance(shape, Profile):
            return Profile(self.apply(shape.outer), tuple(self.apply(h) for h in shape.holes))
        flip = -1.0 if self.mirrored else 1.0
        return Contour(np.column_stack([self.points(shape.points), shape.rows[:, 2] * flip]), shape.closed)

    def after(self, first: Pose) -> Pose:
        """Return the pose that does `first`, then this one [mm, rad]."""
        x, y = self.points([(first.x, first.y)])[0]
        turn = -first.angle if self.mirrored else first.angle
        return Pose(
            float(x), float(y), math.remainder(self.angle + turn, math.tau), self.mirrored != first.mirrored
        )

    def inverse(self) -> Pose:
        """Return the pose that undoes this one [mm, rad]."""
        turn = self.angle if self.mirrored else -self.angle
        x, y = Pose(0.0, 0.0, turn, self.mirrored).points([(self.x, self.y)])[0]
        return Pose(-float(x), -float(y), turn, self.mirrored)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values in [mm] and [rad]."""
        return {"x_mm": self.x, "y_mm": self.y, "angle_rad": self.angle, "mirrored": self.mirrored}

    @staticmethod
    def from_dict(document: dict[str, Any]) -> Pose:
        """Read what `as_dict` wrote [mm, rad]."""
        return Pose(
            float(document["x_mm"]),
            float(document["y_mm"]),
            float(document["angle_rad"]),
            bool(document["mirrored"]),
        )


def scaled(shape: Shape, factor: float) -> Shape:
    """Return the shape scaled about the origin by a factor [-] above 0."""
    if not (math.isfinite(factor) and factor > 0):
        raise InputError(f"A scale factor must be above 0, got {factor}.")
    if isinstance(shape, Profile):
        return Profile(scaled(shape.outer, factor), tuple(scaled(h, factor) for h in shape.holes))
    return Contour(shape.rows * [factor, factor, 1.0], shape.closed)
