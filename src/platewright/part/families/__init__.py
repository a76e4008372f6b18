"""Parts made from dimensions. One file a family; a new file with a ``FAMILY`` in it is a new family."""

from __future__ import annotations

import difflib
import pkgutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from typing import Any

from platewright.errors import InputError
from platewright.findings import Finding
from platewright.geometry import Profile
from platewright.materials import grade as known_grade
from platewright.part.families.model import Family, Raw, Shape, Values, plain
from platewright.part.inside import refuse_outside
from platewright.part.model import Part, Step
from platewright.units import parse

__all__ = [
    "Family", "Made", "Piece", "Shape", "Values", "families", "family", "fonted", "made", "make",
    "pieces", "template",
]  # fmt: skip

OWN = "file "
"""How a font file of the shop's own is said: this and where it is kept."""


@cache
def families() -> dict[str, Family]:
    """Return every family by name, in alphabetical order; each parameter names its kind and range [mm, rad, -]."""
    found: dict[str, Family] = {}
    for module in pkgutil.walk_packages(__path__, f"{__name__}."):
        if module.ispkg or module.name.count(".") == __name__.count(".") + 1:
            continue  # the families stand in folders; the files beside this one serve them
        one: Family | None = getattr(import_module(module.name), "FAMILY", None)
        if one is None:
            continue
        if one.name in found:
            raise InputError(f"Two files define the family '{one.name}'.")
        found[one.name] = one
    return dict(sorted(found.items()))


def family(name: str) -> Family:
    """Return a family by name; spaces and underscores serve for hyphens (no numbers with units [-]).

    Raises
    ------
    InputError
        If there is no such family; the sentence lists them.
    """
    wanted = name.strip().lower().replace("_", "-").replace(" ", "-")
    known = families()
    if wanted in known:
        return known[wanted]
    close = difflib.get_close_matches(wanted, known, n=1)
    raise InputError(
        f"There is no family of shapes called '{name}'.",
        allowed=", ".join(known),
        do=f"Did you mean '{close[0]}'?" if close else "",
    )


def _sound(shape: Shape) -> Shape:
    """Refuse a shape whose holes leave the metal or meet, whatever a family's own sentences let through."""
    if shape.profile.holes:
        refuse_outside(Profile(shape.profile.outer), list(shape.profile.holes), what="hole")
    return shape


@dataclass(frozen=True, slots=True)
class Made:
    """A part of a family [mm], what the family found, and what can be dragged: (name, x, y) [mm]."""

    part: Part
    findings: tuple[Finding, ...] = ()
    grips: tuple[tuple[str, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Piece:
    """One of the parts that a family's values stand for: its name, and its own values."""

    name: str
    values: dict[str, Raw]


def fonted(name: str, values: Mapping[str, Raw], read: Callable[[str], tuple[bytes, str]]) -> dict[str, Raw]:
    """Return values with a font file put in: only its letters that the texts need, so that the part stays whole.

    Parameters
    ----------
    name : family name
    values : dimensions as said [mm, rad, -]; a font ``file REF`` is one of the shop's own
    read : takes REF and gives the file's bytes and its name
    """
    given = dict(values)
    one = family(name)
    for p in one.parameters:
        font = str(given.get(p.name, ""))
        if p.kind == "font" and font.startswith(OWN):
            from platewright.pattern.letters.font import read_font, subset

            data, called = read(font.removeprefix(OWN).strip())
            texts = [str(given.get(q.name, q.default)) for q in one.parameters if q.kind == "text"]
            given[p.name] = subset(read_font(data, called), "".join(texts) + "0123456789").says()
    return given


def pieces(name: str, values: Mapping[str, Raw], *, unit: str | None = "mm") -> tuple[Piece, ...]:
    """Return the parts that values of a family stand for, such as the letters of a word; mostly one [mm, rad, -]."""
    one = family(name)
    own = {p.name for p in one.parameters}
    if one.pieces is None:
        return (Piece(str(values.get("name", name)), dict(values)),)
    read = one.read({k: v for k, v in values.items() if k.replace("-", "_") in own}, unit=unit)
    return tuple(Piece(called, {**values, **more}) for called, more in one.pieces(read))


def template(name: str, values: Mapping[str, Raw], *, unit: str | None = "mm") -> Part | None:
    """Return the paper template that belongs to a family's values as a part to print [mm], or None if it has none."""
    one = family(name)
    if one.template is None:
        return None
    own = {p.name for p in one.parameters}
    shape = one.template(one.read({k: v for k, v in values.items() if k.replace("-", "_") in own}, unit=unit))
    return Part(
        name=f"{name} template",
        profile=shape.profile,
        thickness=1.0,
        grade="mild steel",
        marks=shape.marks,
        notes=shape.notes,
    )


def make(
    name: str,
    values: Mapping[str, Raw] | None = None,
    *,
    unit: str | None = "mm",
    thickness: str | float | None = None,
    grade: str | None = None,
    called: str | None = None,
) -> Part:
    """Make a part of a family.

    Parameters
    ----------
    name : family name
    values : dimensions as text ("4 in", "M12 coarse") or numbers in the house unit [mm, rad, -]; may hold
        ``thickness``, ``grade`` and ``name`` too
    unit : unit of bare numbers in text; None refuses them
    thickness : plate [mm] or text ("1/4 in", "10 ga"); 6 mm if nothing is said
    grade : grade of metal, mild steel if nothing is said
    called : the part's name, the family's if nothing is said

    Raises
    ------
    InputError
        With a sentence for every dimension or combination that cannot be made.

    Examples
    --------
    >>> part = make("washer", {"bolt": "M12", "outside": "24 mm", "thickness": "3 mm"})
    >>> part.name, part.thickness, round(part.profile.area(), 1)
    ('washer', 3.0, 309.3)
    """
    return made(name, values, unit=unit, thickness=thickness, grade=grade, called=called).part


def made(
    name: str,
    values: Mapping[str, Raw] | None = None,
    *,
    unit: str | None = "mm",
    thickness: str | float | None = None,
    grade: str | None = None,
    called: str | None = None,
) -> Made:
    """Make a part of a family as `make` does, and return what the family found beside it [mm, rad, -]."""
    given = dict(values or {})
    typed_thickness = given.pop("thickness", thickness if thickness is not None else "6 mm")
    metal = known_grade(str(given.pop("grade", grade or "mild steel"))).name
    label = str(given.pop("name", called or "") or name)
    plate = (
        parse(typed_thickness, unit=unit, metal=metal, where="thickness")
        if isinstance(typed_thickness, str)
        else float(typed_thickness)
    )
    one = family(name)
    metal_given = thickness is not None or "thickness" in (values or {})
    if metal_given and "sheet" not in given and any(p.name == "sheet" for p in one.parameters):
        given["sheet"] = plate
    read = one.read(given, unit=unit)
    shape = _sound(one.build(read))
    inputs: dict[str, Any] = {
        "family": one.name, "values": plain(read, one.parameters),
        "name": label, "thickness_mm": plate, "grade": metal,
    }  # fmt: skip
    part = Part(
        name=label,
        profile=shape.profile,
        thickness=plate,
        grade=metal,
        marks=shape.marks,
        notes=shape.notes,
        steps=(Step("family", inputs),),
    )
    return Made(part, shape.findings, shape.grips)
