"""Ring."""

from __future__ import annotations

import math

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    od, bore = v.mm("outside"), v.mm("inside")
    if bore >= od:
        raise refuse(f"Inside {bore:g} mm is not smaller than outside {od:g} mm.", allowed=f"below {od:g} mm")
    return Shape(Profile(Contour.circle(0, 0, od / 2), (Contour.circle(0, 0, bore / 2),)))


def _dims(v: Values) -> list[Dim]:
    return [
        diameter((0, 0), v.mm("outside"), "outside", turn=math.radians(35)),
        diameter((0, 0), v.mm("inside"), "inside", turn=math.radians(145)),
    ]


FAMILY = Family(
    name="ring",
    title="Ring",
    parameters=(
        Option(name="outside", label="Outside diameter", kind="length", default="120 mm", low=2, high=10000),
        Option(name="inside", label="Inside diameter", kind="length", default="80 mm", low=1, high=10000),
    ),
    build=_build,
    dims=_dims,
    help="Spacers and reinforcing rings.",
)
