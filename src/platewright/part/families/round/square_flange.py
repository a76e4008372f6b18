"""Square or oblong flange: bore and four holes."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.plates.plate import outline
from platewright.part.families.shapes import circles, grid_points

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    w, h, bore = v.mm("width"), v.mm("height"), v.mm("bore")
    sx, sy, d = v.mm("spacing_x"), v.mm("spacing_y"), v.hole("hole").diameter
    if bore >= min(w, h):
        raise refuse(
            f"A bore of {bore:g} mm cuts a flange {w:g} by {h:g} mm apart.", allowed=f"below {min(w, h):g} mm"
        )
    holes = circles([(0.0, 0.0)], bore)
    if d:
        if sx + d >= w or sy + d >= h:
            raise refuse(
                f"Holes of {d:g} mm spaced {sx:g} by {sy:g} mm break through the edge of {w:g} by {h:g} mm.",
                allowed=f"spacing below {w - d:g} by {h - d:g} mm",
            )
        if math.hypot(sx, sy) / 2 <= (bore + d) / 2:
            raise refuse(
                f"The holes of {d:g} mm run into the bore of {bore:g} mm.",
                do="Space them wider or make the bore smaller.",
            )
        if min(sx, sy) <= d:
            raise refuse(
                f"Holes of {d:g} mm spaced {min(sx, sy):g} mm run into each other.",
                allowed=f"more than {d:g} mm",
            )
        holes += circles(grid_points(2, 2, pitch_x=sx, pitch_y=sy, x=0, y=0), d)
    plate = outline(w, h, corner="round", size=v.mm("corner_radius"))
    rows = plate.rows - (w / 2, h / 2, 0)
    return Shape(Profile(type(plate)(rows), holes), notes=(f"Holes: {v.hole('hole').says}.",) if d else ())


def _dims(v: Values) -> list[Dim]:
    w, h, r = v.mm("width") / 2, v.mm("height") / 2, v.mm("corner_radius")
    x, y = v.mm("spacing_x") / 2, v.mm("spacing_y") / 2
    return [
        between((-w, -h), (w, -h), "width", off=-2.5),
        between((-w, -h), (-w, h), "height", off=2.5),
        between((-x, y), (x, y), "spacing x", off=4.5),
        between((x, y), (x, -y), "spacing y", off=5),
        diameter((0, 0), v.mm("bore"), "bore", turn=math.radians(-60)),
        diameter((-x, y), v.hole("hole").diameter, "hole", turn=math.radians(175)),
        radius((w - r, h - r), r, "corner radius", turn=math.radians(30)),
    ]


FAMILY = Family(
    name="square-flange",
    title="Square or oblong flange with bore and four holes",
    parameters=(
        Option(name="width", label="Width", kind="length", default="120 mm", low=2, high=10000),
        Option(name="height", label="Height", kind="length", default="120 mm", low=2, high=10000),
        Option(name="bore", label="Bore", kind="length", default="50 mm", low=0, high=10000, help="0 for none."),
        Option(name="spacing_x", label="Hole spacing x", kind="length", default="90 mm", low=0, high=10000),
        Option(name="spacing_y", label="Hole spacing y", kind="length", default="90 mm", low=0, high=10000),
        Option(name="hole", label="Hole", kind="hole", default="M10", low=0, high=1000),
        Option(name="corner_radius", label="Corner radius", kind="length", default="15 mm", low=0, high=5000),
    ),
    build=_build,
    dims=_dims,
    help="Bearing and pump flanges.",
)  # fmt: skip
