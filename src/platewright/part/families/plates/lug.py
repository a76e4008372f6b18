"""Lug or pin eye: a round head tangent to a wider foot."""

from __future__ import annotations

import math

import numpy as np

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, diameter, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles

__all__ = ["FAMILY"]

CAUTION = "A lug that lifts or holds a load over people is designed and tested by the rules in force there; this is only a shape."


def _outline(base: float, foot: float, high: float, r: float) -> Contour:
    """Return a foot `base` wide with upright sides `foot` high, then straight sides tangent to the head."""
    half, up = base / 2, high - foot
    reach = math.hypot(half, up)
    # Tangent from (half, foot) to the head, seen from the corner: the direction to the centre, turned outwards.
    lean = math.atan2(up, -half) - math.asin(r / reach)
    tip = (r * math.sin(lean), high - r * math.cos(lean))
    swing = 2 * math.atan2(math.hypot(tip[0], 0.0), tip[1] - high)
    rows = [(-half, 0.0, 0.0), (half, 0.0, 0.0)]
    rows += [(half, foot, 0.0)] if foot > 0 else []
    rows += [(*tip, math.tan(swing / 4)), (-tip[0], tip[1], 0.0)]
    rows += [(-half, foot, 0.0)] if foot > 0 else []
    return Contour(np.array(rows))


def _build(v: Values) -> Shape:
    base, foot, high, r, d = (
        v.mm("base"),
        v.mm("foot"),
        v.mm("height"),
        v.mm("head_radius"),
        v.hole("pin").diameter,
    )
    if d >= 2 * r:
        raise refuse(
            f"A pin hole of {d:g} mm leaves nothing of a head of radius {r:g} mm.",
            allowed=f"below {2 * r:g} mm",
        )
    if high - foot <= r or foot >= high:
        raise refuse(
            f"The head of radius {r:g} mm, {high:g} mm up, sinks into the foot of {foot:g} mm.",
            allowed=f"more than {foot + r:g} mm up",
        )
    if base / 2 < r:
        raise refuse(
            f"The base, {base:g} mm, is narrower than the head, {2 * r:g} mm.",
            allowed=f"{2 * r:g} mm or more",
        )
    return Shape(Profile(_outline(base, foot, high, r), circles([(0.0, high)], d)), notes=(CAUTION,))


def _dims(v: Values) -> list[Dim]:
    half, foot, high = v.mm("base") / 2, v.mm("foot"), v.mm("height")
    return [
        between((-half, 0), (half, 0), "base", off=-2.5),
        between((-half, 0), (-half, foot), "foot", off=2.5),
        between((half, high), (half, 0), "height", off=3),
        radius((0, high), v.mm("head_radius"), "head radius", turn=math.radians(40)),
        diameter((0, high), v.hole("pin").diameter, "pin", turn=math.radians(150)),
    ]


FAMILY = Family(
    name="lug",
    title="Lug (pin eye)",
    parameters=(
        Option(name="base", label="Base", kind="length", default="100 mm", low=2, high=5000),
        Option(name="foot", label="Straight foot", kind="length", default="10 mm", low=0, high=5000, help="Upright part at the bottom, room for the weld."),
        Option(name="height", label="Pin height", kind="length", default="70 mm", low=1, high=5000, help="From the bottom to the pin's centre."),
        Option(name="head_radius", label="Head radius", kind="length", default="30 mm", low=1, high=2000),
        Option(name="pin", label="Pin hole", kind="hole", default="26 mm", low=0.5, high=2000),
    ),
    build=_build,
    dims=_dims,
    help="Pin eyes, tabs and clevis ears.",
)  # fmt: skip
