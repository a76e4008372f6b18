"""Base plate for a tube or post, round or square, with weld room round the tube."""

from __future__ import annotations

import math

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.plates.plate import outline
from platewright.part.families.shapes import circles, grid_points, square_hole
from platewright.part.model import Mark

__all__ = ["FAMILY"]


def _tube(size: float, kind: str) -> Contour:
    """Return the tube's outside on the plate [mm]."""
    if kind == "round":
        return Contour.circle(0, 0, size / 2)
    return square_hole(0, 0, side=size)


def _build(v: Values) -> Shape:
    w, h, tube, leg, d = (
        v.mm("width"),
        v.mm("height"),
        v.mm("tube"),
        v.mm("weld_leg"),
        v.hole("hole").diameter,
    )
    sx, sy, bore = v.mm("spacing_x"), v.mm("spacing_y"), v.mm("drain")
    need = tube + 2 * leg
    if need > min(w, h):
        raise refuse(
            f"A tube of {tube:g} mm with a weld of leg {leg:g} mm all round needs {need:g} mm; the plate is {w:g} by {h:g} mm.",
            allowed=f"a plate of {need:g} mm or more",
        )
    if bore >= tube:
        raise refuse(
            f"A drain hole of {bore:g} mm is bigger than the tube of {tube:g} mm.",
            allowed=f"below {tube:g} mm",
        )
    holes = circles([(0.0, 0.0)], bore)
    if d:
        _check_holes(v, need)
        holes += circles(grid_points(2, 2, pitch_x=sx, pitch_y=sy, x=0, y=0), d)
    plate = outline(w, h, corner="round", size=v.mm("corner_radius"))
    outer = Contour(plate.rows - (w / 2, h / 2, 0))
    marks = (Mark("etch", _tube(tube, v.word("tube_shape")), text=f"tube {tube:g} mm here"),)
    return Shape(
        Profile(outer, holes), marks, (f"Weld all round, leg {leg:g} mm; the tube's place is marked.",)
    )


def _check_holes(v: Values, need: float) -> None:
    w, h, d, sx, sy = (
        v.mm("width"),
        v.mm("height"),
        v.hole("hole").diameter,
        v.mm("spacing_x"),
        v.mm("spacing_y"),
    )
    if sx + d >= w or sy + d >= h:
        raise refuse(
            f"Holes of {d:g} mm spaced {sx:g} by {sy:g} mm break through the edge of {w:g} by {h:g} mm.",
            allowed=f"spacing below {w - d:g} by {h - d:g} mm",
        )
    if v.word("tube_shape") == "round":
        clear = math.hypot(sx, sy) / 2 - d / 2 - need / 2
    else:
        clear = max(sx, sy) / 2 - d / 2 - need / 2
    if clear < 0:
        raise refuse(
            f"The holes come {-clear:.4g} mm into the weld of the tube.",
            do="Space the holes wider, or use a smaller weld or bolt.",
        )


def _dims(v: Values) -> list[Dim]:
    w, h = v.mm("width") / 2, v.mm("height") / 2
    x, y, t, leg = v.mm("spacing_x") / 2, v.mm("spacing_y") / 2, v.mm("tube") / 2, v.mm("weld_leg")
    return [
        between((-w, -h), (w, -h), "width", off=-4.5),
        between((-w, -h), (-w, h), "height", off=4.5),
        between((-x, -y), (x, -y), "spacing x", off=-4),
        between((x, y), (x, -y), "spacing y", off=5),
        between((-t, 0), (t, 0), "tube", off=1),
        between((-t - leg, t * 0.5), (-t, t * 0.5), "weld leg", off=4),
        diameter((-x, y), v.hole("hole").diameter, "hole", turn=math.radians(110)),
        diameter((0, 0), v.mm("drain"), "drain", turn=math.radians(-60)),
    ]


FAMILY = Family(
    name="base-plate",
    title="Base plate for a round or square tube",
    parameters=(
        Option(name="tube", label="Tube outside", kind="length", default="60 mm", low=1, high=2000, help="Diameter or side."),
        Option(name="tube_shape", label="Tube", kind="choice", default="square", choices=("square", "round")),
        Option(name="weld_leg", label="Weld leg", kind="length", default="5 mm", low=0, high=50, help="See the fillet table; it sets the weld room."),
        Option(name="width", label="Width", kind="length", default="150 mm", low=2, high=5000),
        Option(name="height", label="Height", kind="length", default="150 mm", low=2, high=5000),
        Option(name="spacing_x", label="Hole spacing x", kind="length", default="110 mm", low=0, high=5000),
        Option(name="spacing_y", label="Hole spacing y", kind="length", default="110 mm", low=0, high=5000),
        Option(name="hole", label="Hole", kind="hole", default="M12", low=0, high=500),
        Option(name="drain", label="Middle hole", kind="length", default="20 mm", low=0, high=2000, help="Drain, vent or cable hole inside the tube."),
        Option(name="corner_radius", label="Corner radius", kind="length", default="10 mm", low=0, high=1000),
    ),
    build=_build,
    dims=_dims,
    help="Posts, stands, jack feet.",
)  # fmt: skip
