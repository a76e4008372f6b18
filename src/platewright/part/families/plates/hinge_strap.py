"""Hinge strap: tapers to a round end, holes along its middle."""

from __future__ import annotations

import math

import numpy as np

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, diameter, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import circles

__all__ = ["FAMILY"]


def _outline(long: float, wide: float, r: float) -> Contour:
    """Return the strap: a flat butt of width `wide` at x 0 and a tip of radius r ending at x `long`; sides tangent to the tip."""
    cx, h = long - r, wide / 2
    reach = math.hypot(cx, h)
    # Tangent from the butt corner (0, -h) to the tip circle: angle at the corner between centre and tangent line.
    lean = math.atan2(h, cx) - math.asin(r / reach)
    tip = (cx + r * math.sin(lean), -r * math.cos(lean))
    round_tip = math.tan((math.pi - 2 * lean) / 4)
    return Contour(np.array([(0.0, -h, 0.0), (*tip, round_tip), (tip[0], -tip[1], 0.0), (0.0, h, 0.0)]))


def _build(v: Values) -> Shape:
    long, wide, tip, n, d = (
        v.mm("length"),
        v.mm("width"),
        v.mm("tip_width"),
        v.count("count"),
        v.hole("hole").diameter,
    )
    if tip > wide:
        raise refuse(
            f"The tip, {tip:g} mm, is wider than the strap, {wide:g} mm.", allowed=f"up to {wide:g} mm"
        )
    if long <= tip:
        raise refuse(
            f"A strap {long:g} mm long has no room for a tip {tip:g} mm wide.",
            allowed=f"longer than {tip:g} mm",
        )
    first, pitch = v.mm("first"), v.mm("pitch")
    last = first + (n - 1) * pitch
    if n and d:
        if d >= tip and last > long - tip:
            raise refuse(
                f"A hole of {d:g} mm breaks out of the tip, {tip:g} mm wide.", allowed=f"below {tip:g} mm"
            )
        if n > 1 and pitch <= d:
            raise refuse(
                f"Holes {pitch:g} mm apart run into each other: each takes {d:g} mm.",
                allowed=f"more than {d:g} mm",
            )
        if first <= d / 2 or last + d / 2 >= long:
            raise refuse(
                f"The holes run from {first - d / 2:.4g} to {last + d / 2:.4g} mm; the strap is {long:g} mm long.",
                do="Move the first hole, or use a smaller pitch.",
            )
    holes = circles([(first + i * pitch, 0.0) for i in range(n)], d)
    return Shape(Profile(_outline(long, wide, tip / 2), holes))


def _dims(v: Values) -> list[Dim]:
    long, h, r, first = v.mm("length"), v.mm("width") / 2, v.mm("tip_width") / 2, v.mm("first")
    return [
        between((0, -h), (long, -h), "length", off=-4.5),
        between((0, -h), (0, h), "width", off=2),
        between((0, h), (first, h), "first", off=2),
        between((first + v.mm("pitch"), h), (first + 2 * v.mm("pitch"), h), "pitch", off=2),
        radius((long - r, 0), r, "tip width / 2", turn=math.radians(40)),
        diameter((first, 0), v.hole("hole").diameter, "hole × count", turn=math.radians(-70)),
    ]


FAMILY = Family(
    name="hinge-strap",
    title="Hinge strap, tapered to a round tip",
    parameters=(
        Option(name="length", label="Length", kind="length", default="300 mm", low=5, high=10000),
        Option(name="width", label="Width at the butt", kind="length", default="50 mm", low=2, high=1000),
        Option(name="tip_width", label="Width at the tip", kind="length", default="30 mm", low=1, high=1000),
        Option(name="count", label="Holes", kind="count", default="4", low=0, high=100),
        Option(name="hole", label="Hole", kind="hole", default="M10", low=0, high=500),
        Option(
            name="first", label="First hole from the butt", kind="length", default="50 mm", low=0, high=5000
        ),
        Option(name="pitch", label="Pitch", kind="length", default="75 mm", low=0, high=5000),
    ),
    build=_build,
    dims=_dims,
    help="Gate and door straps.",
)
