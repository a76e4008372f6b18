"""Round flange: bore and bolt circle."""

from __future__ import annotations

import math

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import bolt_circle_points, circles

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    od, bore, bc, d, n = (
        v.mm("outside"),
        v.mm("bore"),
        v.mm("bolt_circle"),
        v.hole("hole").diameter,
        v.count("count"),
    )
    if bore >= od:
        raise refuse(
            f"A bore of {bore:g} mm leaves nothing of a flange {od:g} mm outside.", allowed=f"below {od:g} mm"
        )
    if n and d:
        _check(od, bore, bc, d, n)
    holes = circles([(0.0, 0.0)], bore)
    if n and d:
        holes += circles(bolt_circle_points(bc, n, start=v.angle("start")), d)
    notes = (f"{n} holes on a {bc:g} mm circle: {v.hole('hole').says}.",) if n and d else ()
    return Shape(Profile(Contour.circle(0, 0, od / 2), holes), notes=notes)


def _check(od: float, bore: float, bc: float, d: float, n: int) -> None:
    if bc + d >= od:
        raise refuse(
            f"Holes of {d:g} mm on a {bc:g} mm circle break through the outside at {od:g} mm.",
            allowed=f"a bolt circle below {od - d:g} mm",
        )
    if bc - d <= bore:
        raise refuse(
            f"Holes of {d:g} mm on a {bc:g} mm circle break into the bore of {bore:g} mm.",
            allowed=f"a bolt circle above {bore + d:g} mm",
        )
    if n > 1 and (chord := bc * math.sin(math.pi / n)) <= d:
        raise refuse(
            f"{n} holes of {d:g} mm on a {bc:g} mm circle are {chord:.4g} mm apart and run into each other.",
            do="Use fewer or smaller holes, or a bigger bolt circle.",
        )


def _dims(v: Values) -> list[Dim]:
    bc = v.mm("bolt_circle")
    (x, y) = bolt_circle_points(bc, v.count("count"), start=v.angle("start"))[0]
    return [
        diameter((0, 0), v.mm("outside"), "outside", turn=math.radians(20)),
        diameter((0, 0), v.mm("bore"), "bore", turn=math.radians(160)),
        diameter((0, 0), bc, "bolt circle", turn=math.radians(-30)),
        diameter((x, y), v.hole("hole").diameter, "hole × count", turn=math.radians(60)),
    ]


FAMILY = Family(
    name="flange",
    title="Round flange with bore and bolt circle",
    parameters=(
        Option(name="outside", label="Outside diameter", kind="length", default="150 mm", low=2, high=10000),
        Option(name="bore", label="Bore", kind="length", default="60 mm", low=0, high=10000, help="0 for none."),
        Option(name="bolt_circle", label="Bolt circle", kind="length", default="110 mm", low=0, high=10000, help="Diameter through the hole centres."),
        Option(name="count", label="Holes", kind="count", default="6", low=0, high=360),
        Option(name="hole", label="Hole", kind="hole", default="M12", low=0, high=1000),
        Option(name="start", label="First hole at", kind="angle", default="0 deg", low=-2 * math.pi, high=2 * math.pi, help="From the right, counterclockwise."),
    ),
    build=_build,
    dims=_dims,
    help="Pipe and hub flanges.",
)  # fmt: skip
