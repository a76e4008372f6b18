"""Make plates from what the shop says: dimensions, gauge, outline, old holes; and what they weigh and cost.

Weight is area x thickness x the standard density of the grade (``materials``). The 41.82 lb/ft² an inch by which
steel gauges are defined is not the weight of plate (40.84 lb/ft² an inch at 0.2836 lb/in³) and is not used.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from platewright.cautions import cautions as cautions_of
from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Profile
from platewright.materials import grade as known_grade
from platewright.stock.model import Plate
from platewright.units import parse, parse_pair

__all__ = [
    "SIZES", "area_mass", "cautions", "checked", "drop", "mass", "released", "reserved", "sheet",
    "sheet_size",
]  # fmt: skip

SIZES: Mapping[str, tuple[float, float]] = {
    f"{a}x{b}": (a * 304.8, b * 304.8) for a, b in ((4, 8), (4, 10), (5, 10), (5, 12), (6, 12), (8, 20))
}
"""Stock sheet sizes in feet [mm] (trade sizes, from memory)."""

LARGEST = 30_000.0
"""Largest side of a plate that is accepted [mm]."""


def sheet(
    name: str, size: str, thickness: str | float, *, grade: str = "mild steel", unit: str | None = "mm", rack: str = ""
) -> Plate:  # fmt: skip
    """Make a full rectangular sheet from words [mm].

    Parameters
    ----------
    name : what the shop calls it
    size : a stock size such as ``4x8`` (feet), or two lengths such as ``1220 x 2440 mm`` or ``48 x 96 in``
    thickness : ``1/4 in``, ``6 mm``, ``10 ga`` (by the grade's own gauge table), or a number in `unit`
    grade : a grade of ``materials``
    unit : unit of bare numbers
    rack : where it stands
    """
    row = known_grade(grade)
    width, height = sheet_size(size, unit)
    thick = parse(thickness, unit=unit, metal=row.name, where="thickness")
    return checked(
        Plate(
            name=name,
            profile=Profile(Contour.rectangle(width, height)),
            thickness=thick,
            grade=row.name,
            kind="sheet",
            rack=rack,
        )
    )


def sheet_size(size: str, unit: str | None = "mm") -> tuple[float, float]:
    """Return the sides of a sheet as said, ``4x8`` being feet [mm]."""
    plain = (
        size
        if len(size) > 20
        else re.sub(r"\s", "", size.lower()).replace("×", "x").removesuffix("ft").removesuffix("'")
    )
    if plain in SIZES:
        return SIZES[plain]
    width, height = parse_pair(size, unit=unit, where="size")
    for side in (width, height):
        if not 0 < side <= LARGEST:
            raise InputError(
                f"A plate side of {side:g} mm is not believed.",
                where="size",
                allowed=f"above 0 to {LARGEST:g} mm",
            )
    return width, height


def drop(
    name: str, outline: Contour, thickness: str | float, *, holes: Sequence[Contour] = (), grade: str = "mild steel", rack: str = ""
) -> Plate:  # fmt: skip
    """Make a drop from its true outline and old holes [mm], drawn, traced, photographed or measured."""
    row = known_grade(grade)
    thick = parse(thickness, unit="mm", metal=row.name, where="thickness")
    return checked(
        Plate(
            name=name,
            profile=Profile(outline, tuple(holes)),
            thickness=thick,
            grade=row.name,
            kind="drop",
            rack=rack,
        )
    )


def checked(plate: Plate) -> Plate:
    """Return the plate, or tell what is wrong with its outline: size [mm], crossing, holes outside.

    Raises
    ------
    InputError
        If the outline encloses nothing, crosses itself, is absurdly large, or a hole is not inside it.
    """
    from shapely import Polygon
    from shapely.validation import explain_validity

    from platewright.geometry import flatten

    box = plate.profile.bounds()
    if max(box.width, box.height) > LARGEST:
        raise InputError(
            f"Plate '{plate.name}' is {box.width:g} x {box.height:g} mm.",
            allowed=f"up to {LARGEST:g} mm a side",
        )
    outer = Polygon(flatten(plate.profile.outer, tolerance=0.05))
    if not outer.is_valid:
        raise InputError(
            f"The outline of plate '{plate.name}' is not sound: {explain_validity(outer)}.",
            do="Draw it without crossings.",
        )
    if outer.area < 1.0:
        raise InputError(f"The outline of plate '{plate.name}' encloses nothing.", allowed="at least 1 mm²")
    whole = Polygon(
        flatten(plate.profile.outer, tolerance=0.05),
        [flatten(h, tolerance=0.05) for h in plate.profile.holes],
    )
    if not whole.is_valid:
        raise InputError(
            f"An old hole of plate '{plate.name}' does not lie wholly inside it: {explain_validity(whole)}.",
            do="Move the hole, or make it part of the outline.",
        )
    return plate


def mass(plate: Plate) -> float:
    """Return what the plate weighs [kg]: its own area (holes taken off) x thickness x density of the grade."""
    return plate.profile.area() * plate.thickness * known_grade(plate.grade).density


def area_mass(thickness: float, grade: str = "mild steel") -> float:
    """Return the weight of plate [kg/m²] of a thickness [mm]."""
    return thickness * known_grade(grade).density * 1e6


def reserved(plate: Plate, owner: str) -> Plate:
    """Return the plate held for an owner [-].

    Raises
    ------
    InputError
        If no owner is said, or another holds it.
    """
    if not owner.strip():
        raise InputError("A plate is reserved for somebody or some job.", do="Say which job.")
    if plate.held_for and plate.held_for != owner.strip():
        raise InputError(
            f"Plate '{plate.name}' is reserved for {plate.held_for}.",
            do="Release it first, or take another plate.",
        )
    return replace(plate, held_for=owner.strip())


def released(plate: Plate) -> Plate:
    """Return the plate held for nobody [-]."""
    return replace(plate, held_for="")


def cautions(plate: Plate) -> tuple[Finding, ...]:
    """Return the caution its grade calls for, and that it is held, if so [-]."""
    found: tuple[Finding, ...] = ()
    if known_grade(plate.grade).caution:
        own = cautions_of(plate.grade)[0]
        found = (
            finding("S003", subject=plate.name, grade=plate.grade, caution=own.text, source=f"{own.source}; {own.status}"),
        )  # fmt: skip
    return (
        found if not plate.held_for else (*found, finding("S004", subject=plate.name, owner=plate.held_for))
    )
