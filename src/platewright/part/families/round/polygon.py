"""Regular polygon by its distance across flats or corners."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles, rounded

__all__ = ["FAMILY"]


def _circumradius(v: Values) -> float:
    size, n = v.mm("size"), v.count("sides")
    if v.word("measured") == "across corners":
        return size / 2
    return size / 2 / math.cos(math.pi / n)


def _points(v: Values) -> list[tuple[float, float]]:
    n, r = v.count("sides"), _circumradius(v)
    turn = -math.pi / 2 + math.pi / n  # a flat at the bottom
    return [(r * math.cos(turn + math.tau * i / n), r * math.sin(turn + math.tau * i / n)) for i in range(n)]


def _build(v: Values) -> Shape:
    d = v.hole("hole").diameter
    inscribed = 2 * _circumradius(v) * math.cos(math.pi / v.count("sides"))
    if d >= inscribed:
        raise refuse(
            f"A hole of {d:g} mm breaks out of a polygon {inscribed:.4g} mm across its flats.",
            allowed=f"below {inscribed:.4g} mm",
        )
    return Shape(Profile(rounded(_points(v), v.mm("corner_radius")), circles([(0.0, 0.0)], d)))


def _dims(v: Values) -> list[Dim]:
    r = _circumradius(v)
    flat = r * math.cos(math.pi / v.count("sides"))
    return [
        between((r, -flat), (r, flat), "size", off=-2.5),
        diameter((0, 0), v.hole("hole").diameter, "hole", turn=math.radians(45)),
    ]


FAMILY = Family(
    name="polygon",
    title="Regular polygon",
    parameters=(
        Option(name="sides", label="Sides", kind="count", default="6", low=3, high=180),
        Option(name="size", label="Size", kind="length", default="100 mm", low=1, high=10000),
        Option(name="measured", label="Measured", kind="choice", default="across flats", choices=("across flats", "across corners"), help="Across flats is twice the distance from the middle to a side."),
        Option(name="hole", label="Hole", kind="hole", default="20 mm", low=0, high=5000),
        Option(name="corner_radius", label="Corner radius", kind="length", default="0 mm", low=0, high=1000),
    ),
    build=_build,
    dims=_dims,
    help="Hexagon plates, fire-pit sides, signs.",
)  # fmt: skip
