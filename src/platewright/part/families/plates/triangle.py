"""Triangle by sides or by two sides and the angle between them."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, angle, between
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import rounded

__all__ = ["FAMILY", "corners"]


def corners(v: Values) -> list[tuple[float, float]]:
    """Return the three corners [mm] of the triangle the values describe."""
    a, b, c = v.mm("bottom"), v.mm("left"), v.mm("right")
    if c == 0:
        at = v.angle("angle")
        return [(0.0, 0.0), (a, 0.0), (b * math.cos(at), b * math.sin(at))]
    for longest, rest, side in ((a, b + c, "bottom"), (b, a + c, "left"), (c, a + b, "right")):
        if longest >= rest - 1e-9:
            raise refuse(
                f"Sides of {a:g}, {b:g} and {c:g} mm do not make a triangle: {side} is as long as the other two together.",
                allowed=f"{side} below {rest:g} mm",
            )
    x = (a * a + b * b - c * c) / (2 * a)
    return [(0.0, 0.0), (a, 0.0), (x, math.sqrt(max(b * b - x * x, 0.0)))]


def _build(v: Values) -> Shape:
    return Shape(Profile(rounded(corners(v), v.mm("corner_radius"))))


def _dims(v: Values) -> list[Dim]:
    p, q, r = corners(v)
    at = math.atan2(r[1], r[0])
    return [
        between(p, q, "bottom", off=-2.5),
        between(p, r, "left", off=2.5),
        between(r, q, "right", off=2.5),
        angle(p, v.mm("bottom") * 0.25, "angle", turn=0.0, sweep=at),
    ]


FAMILY = Family(
    name="triangle",
    title="Triangle by its sides, or two sides and the angle",
    parameters=(
        Option(name="bottom", label="Bottom side", kind="length", default="120 mm", low=1, high=10000),
        Option(name="left", label="Left side", kind="length", default="90 mm", low=1, high=10000),
        Option(name="right", label="Right side", kind="length", default="0 mm", low=0, high=10000, help="0: the angle decides."),
        Option(name="angle", label="Angle at lower left", kind="angle", default="60 deg", low=math.radians(1), high=math.radians(179)),
        Option(name="corner_radius", label="Corner radius", kind="length", default="0 mm", low=0, high=1000),
    ),
    build=_build,
    dims=_dims,
    help="Three measured sides off a gate or a frame.",
)  # fmt: skip
