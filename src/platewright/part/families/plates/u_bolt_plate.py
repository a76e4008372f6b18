"""U-bolt plate: two or four holes that take one or two U-bolts round a tube or axle."""

from __future__ import annotations

import math

from platewright.geometry import Profile
from platewright.part.dimension import Dim, between, diameter
from platewright.part.families.model import Family, Option, Shape, Values, refuse
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
    name="u-bolt-plate",
    title="U-bolt plate",
    parameters=(
        Option(name="tube", label="Tube or axle outside", kind="length", default="60 mm", low=1, high=2000),
        Option(name="bolt", label="U-bolt", kind="hole", default="M12", low=0.5, high=200, help="The U-bolt's thread, or the hole."),
        Option(name="bolts", label="U-bolts", kind="count", default="2", low=1, high=10),
        Option(name="pitch", label="U-bolt pitch", kind="length", default="70 mm", low=0, high=2000),
        Option(name="margin", label="Margin", kind="length", default="22 mm", low=1, high=500, help="Hole centre to the edge."),
        Option(name="centre_hole", label="Centre hole", kind="length", default="16 mm", low=0, high=500, help="For the spring pin; 0 for none."),
        Option(name="corner_radius", label="Corner radius", kind="length", default="10 mm", low=0, high=500),
    ),
    build=_build,
    dims=_dims,
    help="Axle and mast clamps.",
)  # fmt: skip
