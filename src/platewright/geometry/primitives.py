"""Small immutable values: a point is a place, a vector is a difference of places.

Point minus point is a vector, point plus vector is a point; point plus point has no meaning and is
a TypeError. Angles are in radians, counterclockwise from +x, y up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Arc", "Line", "Point", "Vec"]


@dataclass(frozen=True, slots=True)
class Vec:
    """A displacement (dx, dy) [mm]."""

    x: float
    y: float

    def __add__(self, other: Vec) -> Vec:
        return Vec(self.x + other.x, self.y + other.y) if isinstance(other, Vec) else NotImplemented

    def __sub__(self, other: Vec) -> Vec:
        return Vec(self.x - other.x, self.y - other.y) if isinstance(other, Vec) else NotImplemented

    def __mul__(self, factor: float) -> Vec:
        return Vec(self.x * factor, self.y * factor)

    __rmul__ = __mul__

    def __neg__(self) -> Vec:
        return Vec(-self.x, -self.y)

    def dot(self, other: Vec) -> float:
        """Return the scalar product [mm²]."""
        return self.x * other.x + self.y * other.y

    def cross(self, other: Vec) -> float:
        """Return the z part of the cross product [mm²]; positive if `other` lies to the left."""
        return self.x * other.y - self.y * other.x

    def length(self) -> float:
        """Return the length [mm]."""
        return math.hypot(self.x, self.y)

    def angle(self) -> float:
        """Return the direction [rad] in (-pi, pi]; 0 for the zero vector."""
        return math.atan2(self.y, self.x)

    def left(self) -> Vec:
        """Return the vector turned a quarter to the left [mm]."""
        return Vec(-self.y, self.x)

    @staticmethod
    def polar(length: float, angle: float) -> Vec:
        """Make a vector from its length [mm] and direction [rad]."""
        return Vec(length * math.cos(angle), length * math.sin(angle))


@dataclass(frozen=True, slots=True)
class Point:
    """A place (x, y) [mm]."""

    x: float
    y: float

    def __add__(self, other: Vec) -> Point:
        return Point(self.x + other.x, self.y + other.y) if isinstance(other, Vec) else NotImplemented

    def __sub__(self, other: Point) -> Vec:
        return Vec(self.x - other.x, self.y - other.y) if isinstance(other, Point) else NotImplemented

    def distance(self, other: Point) -> float:
        """Return the distance to another point [mm]."""
        return math.hypot(self.x - other.x, self.y - other.y)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight edge from `start` to `end` [mm]."""

    start: Point
    end: Point

    @property
    def bulge(self) -> float:
        """Bulge [-]: always 0 for a line."""
        return 0.0

    def length(self) -> float:
        """Return the length [mm]."""
        return self.start.distance(self.end)

    def at(self, fraction: float) -> Point:
        """Return the point at a fraction [-] of the length, 0 at start and 1 at end [mm]."""
        return self.start + (self.end - self.start) * fraction

    def direction(self, fraction: float = 0.0) -> float:
        """Return the direction of travel [rad]; the same everywhere."""
        return (self.end - self.start).angle()


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular edge: `centre`, `radius` > 0 [mm], `start_angle` [rad], signed `sweep` [rad], counterclockwise positive."""

    centre: Point
    radius: float
    start_angle: float
    sweep: float

    @staticmethod
    def from_bulge(start: Point, end: Point, bulge: float) -> Arc:
        """Make the arc from start to end [mm] with a bulge [-] = tan(sweep/4), not zero.

        Raises
        ------
        ValueError
            If the bulge is 0 (that is a line) or start and end coincide.
        """
        chord = end - start
        length = chord.length()
        if bulge == 0.0 or length == 0.0:
            raise ValueError(
                f"An arc needs a bulge and two different ends, got bulge {bulge} and chord {length} mm."
            )
        half = chord * 0.5
        centre = start + half + half.left() * ((1.0 - bulge * bulge) / (2.0 * bulge))
        radius = length * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
        return Arc(centre, radius, (start - centre).angle(), 4.0 * math.atan(bulge))

    @property
    def bulge(self) -> float:
        """Bulge [-] = tan(sweep/4)."""
        return math.tan(self.sweep / 4.0)

    @property
    def start(self) -> Point:
        """Start point [mm]."""
        return self.at(0.0)

    @property
    def end(self) -> Point:
        """End point [mm]."""
        return self.at(1.0)

    def length(self) -> float:
        """Return the length along the arc [mm]."""
        return self.radius * abs(self.sweep)

    def at(self, fraction: float) -> Point:
        """Return the point at a fraction [-] of the sweep [mm]."""
        return self.centre + Vec.polar(self.radius, self.start_angle + self.sweep * fraction)

    def direction(self, fraction: float = 0.0) -> float:
        """Return the direction of travel [rad] at a fraction [-] of the sweep, in (-pi, pi]."""
        turned = self.start_angle + self.sweep * fraction + math.copysign(math.pi / 2, self.sweep)
        return math.remainder(turned, math.tau)
