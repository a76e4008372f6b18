"""Star."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles, rounded

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    n, big, small, d = v.count("points"), v.mm("outside") / 2, v.mm("inside") / 2, v.hole("hole").diameter
    most = big * math.cos(math.pi / n)
    if small >= most:
        raise refuse(
            f"An inside of {2 * small:g} mm makes no points on a star {2 * big:g} mm outside.",
            allowed=f"below {2 * most:.4g} mm",
        )
    spots = [
        (
            (small if i % 2 else big) * math.cos(math.pi / 2 + math.pi * i / n),
            (small if i % 2 else big) * math.sin(math.pi / 2 + math.pi * i / n),
        )
        for i in range(2 * n)
    ]
    outer = rounded(spots, [0.0 if i % 2 else v.mm("tip_radius") for i in range(2 * n)])
    if d >= 2 * small:
        raise refuse(f"A hole of {d:g} mm breaks out between the points.", allowed=f"below {2 * small:g} mm")
    return Shape(Profile(outer, circles([(0.0, 0.0)], d)))


def _dims(v: Values) -> list[Dim]:
    return [
        diameter((0, 0), v.mm("outside"), "outside", turn=math.pi / 2),
        diameter((0, 0), v.mm("inside"), "inside", turn=math.pi / 2 + math.pi / v.count("points")),
        diameter((0, 0), v.hole("hole").diameter, "hole", turn=math.radians(-20)),
    ]


FAMILY = Family(
    name="star",
    title="Star",
    parameters=(
        Option(name="points", label="Points", kind="count", default="5", low=3, high=60),
        Option(name="outside", label="Outside diameter", kind="length", default="200 mm", low=2, high=10000),
        Option(name="inside", label="Inside diameter", kind="length", default="80 mm", low=1, high=10000, help="Circle through the inner corners."),
        Option(name="tip_radius", label="Tip radius", kind="length", default="2 mm", low=0, high=500, help="A sharp tip burns away and cuts hands."),
        Option(name="hole", label="Hole", kind="hole", default="none", low=0, high=5000),
    ),
    build=_build,
    dims=_dims,
    help="Signs and gate ornaments.",
)  # fmt: skip
