"""Trapezoid by bottom, top, height and the angle at the lower left."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, angle, between
from platewright.part.families.model import Family, Option, Shape, Values
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
    name="trapezoid",
    title="Trapezoid by bottom, top, height and angle",
    parameters=(
        Option(name="bottom", label="Bottom", kind="length", default="140 mm", low=1, high=10000),
        Option(name="top", label="Top", kind="length", default="80 mm", low=1, high=10000),
        Option(name="height", label="Height", kind="length", default="80 mm", low=1, high=10000),
        Option(name="angle", label="Angle at lower left", kind="angle", default="70 deg", low=math.radians(5), high=math.radians(175), help="90 deg for a square side."),
        Option(name="corner_radius", label="Corner radius", kind="length", default="0 mm", low=0, high=1000),
    ),
    build=_build,
    dims=_dims,
    help="Transition and hopper plates.",
)  # fmt: skip
