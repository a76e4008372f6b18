"""Ring segment: part of a ring, with holes on its middle line."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, angle, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles, sector

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    outer, inner, sweep, n, d = (
        v.mm("outer_radius"),
        v.mm("inner_radius"),
        v.angle("angle"),
        v.count("count"),
        v.hole("hole").diameter,
    )
    if inner >= outer:
        raise refuse(
            f"Inner radius {inner:g} mm is not smaller than outer radius {outer:g} mm.",
            allowed=f"below {outer:g} mm",
        )
    middle = (inner + outer) / 2
    places = [(i + 0.5) * sweep / n for i in range(n)] if n and d else []
    if places:
        if d >= outer - inner:
            raise refuse(
                f"A hole of {d:g} mm is wider than the ring's {outer - inner:g} mm.",
                allowed=f"below {outer - inner:g} mm",
            )
        if middle * 2 * math.sin(sweep / n / 2) <= d:
            raise refuse(
                f"{n} holes of {d:g} mm do not fit on the segment.", do="Use fewer or smaller holes."
            )
    centres = [(middle * math.cos(a), middle * math.sin(a)) for a in places]
    return Shape(Profile(sector(inner, outer, start=0.0, sweep=sweep), circles(centres, d)))


def _dims(v: Values) -> list[Dim]:
    sweep = v.angle("angle")
    return [
        radius((0, 0), v.mm("outer_radius"), "outer radius", turn=sweep * 0.3),
        radius((0, 0), v.mm("inner_radius"), "inner radius", turn=sweep * 0.72),
        angle((0, 0), v.mm("inner_radius") * 0.35, "angle", turn=0.0, sweep=sweep),
    ]


FAMILY = Family(
    name="ring-segment",
    title="Ring segment",
    parameters=(
        Option(name="outer_radius", label="Outer radius", kind="length", default="150 mm", low=1, high=20000),
        Option(
            name="inner_radius", label="Inner radius", kind="length", default="110 mm", low=0.5, high=20000
        ),
        Option(
            name="angle",
            label="Angle",
            kind="angle",
            default="90 deg",
            low=math.radians(1),
            high=math.radians(355),
        ),
        Option(name="count", label="Holes", kind="count", default="3", low=0, high=360),
        Option(name="hole", label="Hole", kind="hole", default="M10", low=0, high=1000),
    ),
    build=_build,
    dims=_dims,
    help="Several make a big ring from small drops.",
)
