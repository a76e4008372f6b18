"""Two-bolt flange: a belt round the bore boss and two bolt bosses."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import belt, circles

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    s, boss, ear, bore, d = (
        v.mm("spacing"),
        v.mm("boss"),
        v.mm("ear_radius"),
        v.mm("bore"),
        v.hole("hole").diameter,
    )
    if bore >= boss:
        raise refuse(
            f"A bore of {bore:g} mm leaves nothing of a boss {boss:g} mm across.",
            allowed=f"below {boss:g} mm",
        )
    if d >= 2 * ear:
        raise refuse(
            f"A hole of {d:g} mm leaves nothing of an ear of radius {ear:g} mm.",
            allowed=f"below {2 * ear:g} mm",
        )
    if s / 2 <= (bore + d) / 2:
        raise refuse(
            f"Holes {s:g} mm apart run into the bore of {bore:g} mm.", allowed=f"more than {bore + d:g} mm"
        )
    if boss / 2 <= ear:
        outer = belt([(-s / 2, 0, ear), (s / 2, 0, ear)])
    else:
        outer = belt([(-s / 2, 0, ear), (0, 0, boss / 2), (s / 2, 0, ear), (0, 0, boss / 2)])
    return Shape(Profile(outer, circles([(0.0, 0.0)], bore) + circles([(-s / 2, 0.0), (s / 2, 0.0)], d)))


def _dims(v: Values) -> list[Dim]:
    s, b = v.mm("spacing") / 2, v.mm("boss") / 2
    return [
        between((-s, -b), (s, -b), "spacing", off=-2.5),
        diameter((0, 0), 2 * b, "boss", turn=math.radians(75)),
        diameter((0, 0), v.mm("bore"), "bore", turn=math.radians(130)),
        radius((s, 0), v.mm("ear_radius"), "ear radius", turn=math.radians(25)),
        diameter((-s, 0), v.hole("hole").diameter, "hole", turn=math.radians(150)),
    ]


FAMILY = Family(
    name="oval-flange",
    title="Two-bolt oval flange",
    parameters=(
        Option(name="spacing", label="Bolt spacing", kind="length", default="90 mm", low=1, high=10000),
        Option(name="boss", label="Boss diameter", kind="length", default="70 mm", low=1, high=10000),
        Option(name="bore", label="Bore", kind="length", default="45 mm", low=0, high=10000),
        Option(name="ear_radius", label="Ear radius", kind="length", default="16 mm", low=0.5, high=5000),
        Option(name="hole", label="Hole", kind="hole", default="M10", low=0.1, high=1000),
    ),
    build=_build,
    dims=_dims,
    help="Exhaust and bearing flanges.",
)  # fmt: skip
