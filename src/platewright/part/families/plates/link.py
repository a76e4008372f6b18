"""Link: two eyes of their own radius, sides tangent to both."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter, radius
from platewright.part.families.model import Family, Parameter, Shape, Values, refuse
from platewright.part.families.shapes import belt, circles

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    c, r1, r2 = v.mm("centres"), v.mm("radius_left"), v.mm("radius_right")
    d1, d2 = v.hole("hole_left").diameter, v.hole("hole_right").diameter
    for d, r, side in ((d1, r1, "left"), (d2, r2, "right")):
        if d >= 2 * r:
            raise refuse(
                f"The {side} hole of {d:g} mm leaves nothing of an eye of radius {r:g} mm.",
                allowed=f"below {2 * r:g} mm",
            )
    if c <= (d1 + d2) / 2:
        raise refuse(f"Holes {c:g} mm apart run into each other.", allowed=f"more than {(d1 + d2) / 2:g} mm")
    holes = circles([(0.0, 0.0)], d1) + circles([(c, 0.0)], d2)
    return Shape(Profile(belt([(0.0, 0.0, r1), (c, 0.0, r2)]), holes))


def _dims(v: Values) -> list[Dim]:
    c, r1, r2 = v.mm("centres"), v.mm("radius_left"), v.mm("radius_right")
    return [
        between((0, -r1), (c, -r1), "centres", off=-2.5),
        radius((0, 0), r1, "radius left", turn=math.radians(125)),
        radius((c, 0), r2, "radius right", turn=math.radians(50)),
        diameter((0, 0), v.hole("hole_left").diameter, "hole left", turn=math.radians(200)),
        diameter((c, 0), v.hole("hole_right").diameter, "hole right", turn=math.radians(-20)),
    ]


FAMILY = Family(
    "link",
    "Link with two eyes",
    (
        Parameter("centres", "Centre distance", "length", "140 mm", 1, 10000),
        Parameter("radius_left", "Left eye radius", "length", "34 mm", 1, 2000),
        Parameter("radius_right", "Right eye radius", "length", "24 mm", 1, 2000),
        Parameter("hole_left", "Left hole", "hole", "30.5 mm", 0.5, 2000),
        Parameter("hole_right", "Right hole", "hole", "M16", 0.5, 2000),
    ),
    _build,
    _dims,
    "Drop links, toggle links, top-link plates.",
)  # fmt: skip
