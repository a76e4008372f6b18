"""Forms of what a shop may choose about the burn, for the whole plan and for one cut; read into the planner's options.

A field left empty is the planner's own choice; its ``default`` says in words what that is. What was said stays in the
job as said, and is read here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from platewright.burn.declared import CUT, plan_options
from platewright.declared import Option
from platewright.errors import InputError
from platewright.shop.forms.operations import read_value
from platewright.units import parse

if TYPE_CHECKING:
    from platewright.burn.options import BurnOptions, CutChoice
    from platewright.layout.model import Layout
    from platewright.shop.document import JobDocument

__all__ = ["amperage_of", "options_of", "read_choice", "read_options"]

RANKS = {"early": -1, "late": 1}
"""Ranks of cuts burnt before and after the others, where what must come first allows [-]."""


def read_options(values: Mapping[str, Any], *, where: str) -> BurnOptions:
    """Return the planner's options [mm, s, -] from what was said; what is no text is taken as it is.

    Raises
    ------
    InputError
        Naming the field that does not fit, and what it may be.
    """
    from platewright.burn.options import BurnOptions

    read = _read(values, plan_options(), where)
    for key, value in read.items():  # each alone first, so that what is wrong is told beside its own field
        BurnOptions.from_dict(_with_tabs({key: value}), where=f"{where}.{key}")
    return BurnOptions.from_dict(_with_tabs(read), where=where)


def read_choice(values: Mapping[str, Any], cut: CutChoice, *, where: str) -> CutChoice:
    """Return what was said of one cut, laid over what is decided about it already [mm, -].

    Raises
    ------
    InputError
        Naming the field that does not fit, and what it may be.
    """
    from platewright.burn.options import BurnOptions, TabChoice

    read = _with_tabs(_read(values, CUT.options, where))
    if tabs := read.pop("tabs", None):
        read["tabs"] = TabChoice(**tabs)
    made = replace(cut, **read)
    try:
        BurnOptions(cuts=(made,))
    except InputError as bad:
        field = next((k for k in values if f"{k} " in bad.what), "")
        raise InputError(bad.what, where=f"{where}.{field}".rstrip("."), allowed=bad.allowed) from None
    return made


def amperage_of(job: JobDocument) -> float | None:
    """Return the amperage [A] said for a job, None for the chart's best."""
    text = job.burn.amperage.strip()
    return parse(text, "current", unit="A", where="burn.amperage") if text else None


def options_of(job: JobDocument, layout: Layout | None) -> BurnOptions:
    """Return the choices a job's layout is planned with [A, mm]; without a layout none of single cuts."""
    from platewright.burn.options import CutChoice

    entry, amps = job.burn, amperage_of(job)
    options = read_options(entry.options, where="burn.options")
    ids = [p.id for p in job.parts]
    places = {
        (ids[p.part], p.copy, p.pose.mirrored): n
        for n, p in enumerate(layout.placements if layout is not None and entry.leads else ())
    }
    cuts = []
    for n, lead in enumerate(entry.leads):
        place = places.get((lead.part, lead.copy_number, lead.mirrored))
        if place is not None:
            plain = CutChoice(placement=place, contour=lead.contour, start=lead.at_mm)
            cuts.append(read_choice(lead.options, plain, where=f"burn.leads.{n}"))
    return replace(
        options, amperage=amps if amps is not None else options.amperage, cuts=(*options.cuts, *cuts)
    )


def _read(values: Mapping[str, Any], fields: Iterable[Option], where: str) -> dict[str, Any]:
    known = {f.name: f for f in fields}
    read = {}
    for key, value in values.items():
        if not isinstance(value, str) or key not in known:
            read[key] = value
        elif value.strip():
            read[key] = _value(known[key], value.strip(), f"{where}.{key}")
    return read


def _value(field: Option, text: str, where: str) -> Any:
    if field.kind == "flag":
        if text not in ("yes", "no"):
            raise InputError(f"'{text}' is not a choice.", where=where, allowed=field.span())
        return text == "yes"
    if field.kind == "share":
        return parse(text, "ratio", where=where)
    if field.kind == "current":
        return parse(text, "current", unit="A", where=where)
    if field.kind == "time":
        return parse(text, "time", unit="s", where=where)
    if field.kind == "rank":
        return RANKS[read_value(replace(field, kind="choice"), text, where)]
    value = read_value(field, text, where)
    return int(value) if field.name == "quality" else value


def _with_tabs(read: dict[str, Any]) -> dict[str, Any]:
    """Return what was read with the two fields of tabs as the one option they make [-, mm]."""
    tabs = {k.removeprefix("tabs_"): read[k] for k in ("tabs_count", "tabs_width") if k in read}
    rest = {k: v for k, v in read.items() if not k.startswith("tabs_")}
    return rest | ({"tabs": {"count": 2, **tabs}} if tabs else {})
