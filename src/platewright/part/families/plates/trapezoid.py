"""Trapezoid by bottom, top, height and the angle at the lower left."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, angle, between
from platewright.part.families.model import Family, Parameter, Shape, Values
from platewright.part.families.shapes import rounded

__all__ = ["FAMILY"]


def _points(v: Values) -> list[tuple[float, float]]:
    a, t, h, at = v.mm("bottom"), v.mm("top"), v.mm("height"), v.angle("angle")
    x = h / math.tan(at)
    return [(0.0, 0.0), (a, 0.0), (x + t, h), (x, h)]


def _build(v: Values) -> Shape:
    return Shape(Profile(rounded(_points(v), v.mm("corner_radius"))))


def _dims(v: Values) -> list[Dim]:
    p, q, r, s = _points(v)
    return [
        between(p, q, "bottom", off=-2.5),
        between(s, r, "top", off=2.5),
        between((q[0], r[1]), q, "height", off=3),
        angle(p, v.mm("bottom") * 0.2, "angle", turn=0.0, sweep=v.angle("angle")),
    ]


FAMILY = Family(
    "trapezoid",
    "Trapezoid by bottom, top, height and angle",
    (
        Parameter("bottom", "Bottom", "length", "140 mm", 1, 10000),
        Parameter("top", "Top", "length", "80 mm", 1, 10000),
        Parameter("height", "Height", "length", "80 mm", 1, 10000),
        Parameter("angle", "Angle at lower left", "angle", "70 deg", math.radians(5), math.radians(175), help="90 deg for a square side."),
        Parameter("corner_radius", "Corner radius", "length", "0 mm", 0, 1000),
    ),
    _build,
    _dims,
    "Transition and hopper plates.",
)  # fmt: skip
