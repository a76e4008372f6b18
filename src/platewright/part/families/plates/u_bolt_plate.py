"""U-bolt plate: two or four holes that take one or two U-bolts round a tube or axle."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Parameter, Shape, Values, refuse
from platewright.part.families.plates.plate import outline
from platewright.part.families.shapes import circles, grid_points
from platewright.part.rules.bolts import bolt_for_hole

__all__ = ["FAMILY"]


def _spacing(v: Values) -> float:
    """Return the distance of a U-bolt's legs, centre to centre [mm]: tube plus bolt."""
    hole = v.hole("bolt")
    bolt = hole.bolt or bolt_for_hole(hole.diameter) or hole.diameter
    return v.mm("tube") + bolt


def _build(v: Values) -> Shape:
    d, s, n, margin, pitch = (
        v.hole("bolt").diameter,
        _spacing(v),
        v.count("bolts"),
        v.mm("margin"),
        v.mm("pitch"),
    )
    if margin <= d / 2:
        raise refuse(
            f"A margin of {margin:g} mm puts holes of {d:g} mm through the edge.",
            allowed=f"more than {d / 2:g} mm",
        )
    if n > 1 and pitch <= d:
        raise refuse(
            f"U-bolts {pitch:g} mm apart run their holes of {d:g} mm into each other.",
            allowed=f"more than {d:g} mm",
        )
    w, h = s + 2 * margin, (n - 1) * pitch + 2 * margin
    centres = grid_points(2, n, pitch_x=s, pitch_y=pitch, x=w / 2, y=h / 2)
    holes = circles(centres, d)
    centre = v.mm("centre_hole")
    if centre >= s - d:
        raise refuse(
            f"A middle hole of {centre:g} mm runs into the bolt holes.", allowed=f"below {s - d:g} mm"
        )
    holes += circles([(w / 2, h / 2)], centre)
    outer = outline(w, h, corner="round", size=min(v.mm("corner_radius"), w / 2, h / 2))
    return Shape(
        Profile(outer, holes), notes=(f"U-bolt legs {s:.4g} mm centre to centre: {v.hole('bolt').says}.",)
    )


def _dims(v: Values) -> list[Dim]:
    s, m, pitch = _spacing(v), v.mm("margin"), v.mm("pitch")
    return [
        between((m, m), (m + s, m), "tube + bolt", off=-6),
        between((m, m), (m, m + pitch), "pitch", off=6),
        between((m + s, m), (2 * m + s, m), "margin", off=-3.5),
        diameter((m + s, m + pitch), v.hole("bolt").diameter, "bolt", turn=math.radians(60)),
        diameter((m + s / 2, m + pitch / 2), v.mm("centre_hole"), "centre hole", turn=math.radians(100)),
    ]


FAMILY = Family(
    "u-bolt-plate",
    "U-bolt plate",
    (
        Parameter("tube", "Tube or axle outside", "length", "60 mm", 1, 2000),
        Parameter("bolt", "U-bolt", "hole", "M12", 0.5, 200, help="The U-bolt's thread, or the hole."),
        Parameter("bolts", "U-bolts", "count", "2", 1, 10),
        Parameter("pitch", "U-bolt pitch", "length", "70 mm", 0, 2000),
        Parameter("margin", "Margin", "length", "22 mm", 1, 500, help="Hole centre to the edge."),
        Parameter("centre_hole", "Centre hole", "length", "16 mm", 0, 500, help="For the spring pin; 0 for none."),
        Parameter("corner_radius", "Corner radius", "length", "10 mm", 0, 500),
    ),
    _build,
    _dims,
    "Axle and mast clamps.",
)  # fmt: skip
