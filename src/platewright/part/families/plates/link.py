"""Link: two eyes of their own radius, sides tangent to both."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
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
    name="link",
    title="Link with two eyes",
    parameters=(
        Option(name="centres", label="Centre distance", kind="length", default="140 mm", low=1, high=10000),
        Option(name="radius_left", label="Left eye radius", kind="length", default="34 mm", low=1, high=2000),
        Option(name="radius_right", label="Right eye radius", kind="length", default="24 mm", low=1, high=2000),
        Option(name="hole_left", label="Left hole", kind="hole", default="30.5 mm", low=0.5, high=2000),
        Option(name="hole_right", label="Right hole", kind="hole", default="M16", low=0.5, high=2000),
    ),
    build=_build,
    dims=_dims,
    help="Drop links, toggle links, top-link plates.",
)  # fmt: skip
