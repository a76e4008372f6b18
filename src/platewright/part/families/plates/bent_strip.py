"""Bent strip: the flat of an angle, channel or hat, with its bend lines marked."""

from __future__ import annotations

import math

from platewright.geometry import Contour, Profile
from platewright.part.dimension import Dim, between, note
from platewright.part.families.model import Family, Option, Shape, Values, refuse
from platewright.part.model import Mark
from platewright.part.rules.bends import Bend, flat_pattern, flats_from_outside

__all__ = ["FAMILY"]


def _build(v: Values) -> Shape:
    legs, width, thick = v.many("legs"), v.mm("width"), v.mm("sheet")
    if len(legs) < 2:
        raise refuse("A bent strip needs at least two legs.", do="Write them like 50, 100, 50.")
    bends = [Bend(v.mm("inside_radius"), v.angle("angle"))] * (len(legs) - 1)
    flats = flats_from_outside(legs, bends, thickness=thick)
    k = float(v.checked["k"]) or None
    flat = flat_pattern(flats, bends, thickness=thick, metal=v.word("metal"), k=k)
    marks = tuple(
        Mark(
            "etch",
            Contour.from_points([(x, 0.0), (x, width)], closed=False),
            text=f"bend {math.degrees(b.angle):g} deg, R {b.radius:g} mm",
        )
        for x, b in zip(flat.lines, bends, strict=True)
    )
    notes = (
        f"Flat length {flat.length:.2f} mm with K {flat.k:.3f} ({flat.source}).",
        f"The part's plate must be {thick:g} mm. Try one bend on a scrap first and set K from what it measures.",
    )
    return Shape(Profile(Contour.rectangle(flat.length, width)), marks, notes)


def _dims(v: Values) -> list[Dim]:
    legs, width = v.many("legs"), v.mm("width")
    bends = [Bend(v.mm("inside_radius"), v.angle("angle"))] * (len(legs) - 1)
    flats = flats_from_outside(legs, bends, thickness=v.mm("sheet"))
    flat = flat_pattern(flats, bends, thickness=v.mm("sheet"))
    return [
        between((0, 0), (flat.length, 0), "flat length (computed)", off=-2.5),
        between((0, 0), (0, width), "width", off=2.5),
        note((flat.lines[0], width * 1.06), "bend line: inside radius, bent by"),
        note((flat.length / 2, width / 2), "legs outside, of this sheet"),
    ]


FAMILY = Family(
    name="bent-strip",
    title="Bent strip, flat with bend lines",
    parameters=(
        Option(name="legs", label="Legs outside", kind="lengths", default="40 mm, 80 mm, 40 mm", low=0.5, high=10000, help="Outside lengths in order, with commas."),
        Option(name="width", label="Width", kind="length", default="60 mm", low=1, high=10000),
        Option(name="sheet", label="Thickness", kind="length", default="3 mm", low=0.1, high=50, help="Give the plate the same thickness."),
        Option(name="inside_radius", label="Inside radius", kind="length", default="3 mm", low=0, high=500),
        Option(name="angle", label="Bent by", kind="angle", default="90 deg", low=math.radians(1), high=math.radians(179), help="180 less the included angle."),
        Option(name="metal", label="Metal", kind="choice", default="mild steel", choices=("mild steel", "cold rolled steel", "galvanized steel", "stainless", "aluminium")),
        Option(name="k", label="K", kind="ratio", default="0", low=0, high=0.6, help="0: from the handbook by metal."),
    ),
    build=_build,
    dims=_dims,
    help="Angles, channels and hats for the brake.",
)  # fmt: skip
