"""Slotted bracket: a plate with equal slots, for adjusting."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Parameter, Shape, Values, refuse
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
    "slotted-bracket",
    "Slotted bracket",
    (
        Parameter("width", "Width", "length", "140 mm", 2, 10000),
        Parameter("height", "Height", "length", "70 mm", 2, 10000),
        Parameter("slot_width", "Slot width", "hole", "M10", 0.5, 500, help="A width or the bolt that slides in it."),
        Parameter("slot_length", "Slot length overall", "length", "36 mm", 0.5, 5000),
        Parameter("count", "Slots", "count", "2", 1, 100),
        Parameter("pitch", "Pitch", "length", "70 mm", 0, 5000),
        Parameter("direction", "Slots run", "choice", "up", choices=("up", "across")),
        Parameter("corner_radius", "Corner radius", "length", "6 mm", 0, 1000),
    ),
    _build,
    _dims,
    "Adjustable mounts.",
)  # fmt: skip
