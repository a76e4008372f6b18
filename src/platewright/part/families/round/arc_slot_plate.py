"""Adjustment plate: a pivot hole and a curved slot about it."""

from __future__ import annotations

import math

import numpy as np

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, angle, diameter, radius
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.shapes import arc_slot, circles

__all__ = ["FAMILY"]


def _outline(big: float, ear: float, half: float) -> Contour:
    """Return a fan about the pivot: arc of radius `big` over plus or minus `half`, ends rounded by `ear`, sides to the pivot boss."""
    r = big - ear
    a = (r * math.cos(half), r * math.sin(half))
    lean = half + math.pi / 2  # outward normal of the upper side
    n = (math.cos(lean), math.sin(lean))
    rows = [
        (big * math.cos(half), -big * math.sin(half), math.tan(2 * half / 4)),
        (big * math.cos(half), big * math.sin(half), math.tan(math.pi / 8)),
        (a[0] + ear * n[0], a[1] + ear * n[1], 0.0),
        (ear * n[0], ear * n[1], math.tan((math.pi - 2 * half) / 4)),
        (ear * n[0], -ear * n[1], 0.0),
        (a[0] + ear * n[0], -a[1] - ear * n[1], math.tan(math.pi / 8)),
    ]
    return Contour(np.array(rows))


def _build(v: Values) -> Shape:
    r, sweep, wide, pivot, edge = (
        v.mm("slot_radius"),
        v.angle("angle"),
        v.hole("slot_width").diameter,
        v.hole("pivot").diameter,
        v.mm("margin"),
    )
    ear = edge + wide / 2
    if pivot / 2 + 0.5 >= ear:
        raise refuse(
            f"A pivot hole of {pivot:g} mm leaves nothing of the boss of radius {ear:g} mm.",
            do="Make the margin bigger or the pivot smaller.",
        )
    if r - wide / 2 - edge / 2 <= pivot / 2:
        raise refuse(
            f"The slot at radius {r:g} mm runs into the pivot hole.",
            allowed=f"more than {pivot / 2 + wide / 2 + edge / 2:g} mm",
        )
    slot = arc_slot(r, width=wide, start=-sweep / 2, sweep=sweep)
    outer = _outline(r + ear, ear, sweep / 2)
    return Shape(Profile(outer, (*circles([(0.0, 0.0)], pivot), slot)))


def _dims(v: Values) -> list[Dim]:
    r, sweep, wide = v.mm("slot_radius"), v.angle("angle"), v.hole("slot_width").diameter
    end = (r * math.cos(sweep / 2), r * math.sin(sweep / 2))
    return [
        radius((0, 0), r, "slot radius", turn=-0.12),
        angle((0, 0), r * 0.55, "angle", turn=-sweep / 2, sweep=sweep),
        diameter(end, wide, "slot width", turn=math.radians(80)),
        diameter((0, 0), v.hole("pivot").diameter, "pivot", turn=math.radians(160)),
        radius(end, v.mm("margin") + wide / 2, "margin + slot width / 2", turn=math.radians(20)),
    ]


FAMILY = Family(
    name="arc-slot",
    title="Adjustment plate with a curved slot",
    parameters=(
        Option(name="slot_radius", label="Slot radius", kind="length", default="120 mm", low=1, high=5000, help="From the pivot to the slot's middle line."),
        Option(name="angle", label="Travel", kind="angle", default="50 deg", low=math.radians(2), high=math.radians(170), help="Between the slot's end centres."),
        Option(name="slot_width", label="Slot width", kind="hole", default="M12", low=0.5, high=500),
        Option(name="pivot", label="Pivot hole", kind="hole", default="M12", low=0.5, high=500),
        Option(name="margin", label="Margin", kind="length", default="12 mm", low=0.5, high=500, help="Metal outside the slot all round."),
    ),
    build=_build,
    dims=_dims,
    help="Belt tensioners, tilting seats, alternator mounts.",
)  # fmt: skip
