"""Washer for a bolt."""

from __future__ import annotations

import math

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse

__all__ = ["FAMILY"]


def _outer(v: Values) -> Contour:
    size = v.mm("outside")
    if v.word("shape") == "square":
        return Contour.rectangle(size, size, x=-size / 2, y=-size / 2)
    return Contour.circle(0, 0, size / 2)


def _build(v: Values) -> Shape:
    hole = v.hole("bolt")
    if hole.diameter >= v.mm("outside"):
        raise refuse(
            f"A hole of {hole.diameter:g} mm leaves nothing of a washer {v.mm('outside'):g} mm across.",
            allowed=f"more than {hole.diameter:g} mm outside",
        )
    bore = Contour.circle(0, 0, hole.diameter / 2)
    return Shape(Profile(_outer(v), (bore,)), notes=(f"Hole: {hole.says}.",))


def _dims(v: Values) -> list[Dim]:
    return [
        diameter((0, 0), v.mm("outside"), "outside", turn=math.radians(35)),
        diameter((0, 0), v.hole("bolt").diameter, "bolt", turn=math.radians(145)),
    ]


FAMILY = Family(
    name="washer",
    title="Washer, round or square",
    parameters=(
        Option(name="bolt", label="Bolt or hole", kind="hole", default="M12", low=0.5, high=1000),
        Option(name="outside", label="Outside", kind="length", default="36 mm", low=1, high=2000),
        Option(name="shape", label="Shape", kind="choice", default="round", choices=("round", "square")),
    ),
    build=_build,
    dims=_dims,
    help="Big washers and backing plates.",
)
