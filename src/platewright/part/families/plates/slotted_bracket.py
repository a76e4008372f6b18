"""Slotted bracket: a plate with equal slots, for adjusting."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.families.plates.plate import outline
from platewright.part.families.shapes import slot, spread

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    w, h, d, n = v.mm("width"), v.mm("height"), v.hole("slot_width").diameter, v.count("count")
    long, pitch = v.mm("slot_length"), v.mm("pitch")
    upright = v.word("direction") == "up"
    if long < d:
        raise refuse(
            f"A slot {long:g} mm long overall cannot be {d:g} mm wide.", allowed=f"{d:g} mm or longer"
        )
    across = d if upright else long
    if n > 1 and pitch <= across:
        raise refuse(
            f"Slots {pitch:g} mm apart run into each other: each takes {across:g} mm.",
            allowed=f"more than {across:g} mm",
        )
    if (n - 1) * pitch + across >= w or (long if upright else d) >= h:
        raise refuse(
            f"The slots do not fit on a plate {w:g} by {h:g} mm.",
            do="Make the plate bigger, or the slots fewer or shorter.",
        )
    turn = math.pi / 2 if upright else 0.0
    holes = tuple(slot(w / 2 + dx, h / 2, between=long - d, width=d, angle=turn) for dx in spread(n, pitch))
    return Shape(Profile(outline(w, h, corner="round", size=v.mm("corner_radius")), holes))


def _dims(v: Values) -> list[Dim]:
    w, h, d, long = v.mm("width"), v.mm("height"), v.hole("slot_width").diameter, v.mm("slot_length")
    first, second = (w / 2 + dx for dx in spread(2, v.mm("pitch")))
    return [
        between((0, 0), (w, 0), "width", off=-3.5),
        between((0, 0), (0, h), "height", off=3),
        between((first, h / 2), (second, h / 2), "pitch", off=6),
        between((second + d / 2, h / 2 + long / 2), (second + d / 2, h / 2 - long / 2), "slot length", off=2),
        diameter((first, h / 2 - long / 2 + d / 2), d, "slot width", turn=math.radians(200)),
    ]


FAMILY = Family(
    name="slotted-bracket",
    title="Slotted bracket",
    parameters=(
        Option(name="width", label="Width", kind="length", default="140 mm", low=2, high=10000),
        Option(name="height", label="Height", kind="length", default="70 mm", low=2, high=10000),
        Option(name="slot_width", label="Slot width", kind="hole", default="M10", low=0.5, high=500, help="A width or the bolt that slides in it."),
        Option(name="slot_length", label="Slot length overall", kind="length", default="36 mm", low=0.5, high=5000),
        Option(name="count", label="Slots", kind="count", default="2", low=1, high=100),
        Option(name="pitch", label="Pitch", kind="length", default="70 mm", low=0, high=5000),
        Option(name="direction", label="Slots run", kind="choice", default="up", choices=("up", "across")),
        Option(name="corner_radius", label="Corner radius", kind="length", default="6 mm", low=0, high=1000),
    ),
    build=_build,
    dims=_dims,
    help="Adjustable mounts.",
)  # fmt: skip
