"""Forms of what a shop may choose about a layout, for all parts and for one part alone, and how what was said is read.

They are made from the declarations, less what a job cannot ask: a goal it has no field for, a search longer than a job may take.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, get_args

from platewright.declared import Option, OptionGroup
from platewright.errors import InputError
from platewright.layout.declared import CLEARANCES, LAYOUT, LYING, OWN
from platewright.shop.document import MOST_SECONDS, LayoutEntry, OwnEntry
from platewright.units import parse

if TYPE_CHECKING:
    from platewright.layout.model import Clearance

__all__ = ["OFFERED", "clearance_text", "lying_wishes", "own_clearance", "seconds_text"]

MOST_SEED = 999_999_999
"""Largest number of another layout on the page [-]; nine digits are as many as anybody types."""


def _offered(group: OptionGroup) -> Iterator[Option]:
    for option in group.options:
        if option.name == "seconds":
            yield replace(option, high=MOST_SECONDS)
        elif option.choices:
            taken = get_args(LayoutEntry.model_fields[option.name].annotation)
            kept = tuple(c for c in option.choices if c in taken)
            yield replace(option, choices=kept, help=option.help if kept == option.choices else "")
        elif option.name == "seed":
            yield replace(option, low=0, high=MOST_SEED)
        else:
            yield option


OFFERED = tuple(replace(group, options=tuple(_offered(group))) for group in LAYOUT)
"""What a job may ask of all parts, in groups."""


def _held(option: Option, value: float, where: str) -> float:
    if not option.low <= value <= option.high:
        raise InputError(f"'{option.label}' cannot be that much.", where=where, allowed=option.span())
    return value


def clearance_text(entry: LayoutEntry, usual: Clearance) -> Clearance:
    """Return the free distances a job asks for [mm]; what is not said is as usual.

    Raises
    ------
    InputError
        Naming the field and its range.
    """
    from platewright.layout.model import Clearance

    given = ((entry.between, usual.part), (entry.edge, usual.edge), (entry.keepout, usual.keepout))
    part, edge, keepout = (
        _held(o, parse(text, unit="mm", where=f"layout.{o.name}"), f"layout.{o.name}")
        if text.strip()
        else plain
        for o, (text, plain) in zip(CLEARANCES, given, strict=True)
    )
    return Clearance(part, edge, keepout)


def lying_wishes(entry: LayoutEntry) -> tuple[float | None, float | None, float]:
    """Return the slats' pitch and the place of the first that a job says, None for what it does not, and its leeway [mm, mm, -].

    Raises
    ------
    InputError
        Naming the field and its range.
    """
    values: dict[str, float] = {}
    for option in LYING:
        text, where = str(getattr(entry, option.name)), f"layout.{option.name}"
        if option.kind in ("length", "share") and text.strip():
            kind: Literal["ratio", "length"] = "ratio" if option.kind == "share" else "length"
            value = parse(text, kind, unit="mm" if kind == "length" else None, where=where)
            values[option.name] = _held(option, value, where)
    return values.get("slats"), values.get("first_slat"), values.get("leeway", 0.0)


def own_clearance(entry: OwnEntry, where: str) -> float:
    """Return how far one part keeps from others [mm]; 0 is as the rest."""
    option = next(o for o in OWN.options if o.name == "clear")
    return _held(option, parse(entry.clear, unit="mm", where=where), where) if entry.clear.strip() else 0.0


def seconds_text(given: float | str) -> float:
    """Return how long a job wants its layout searched for [s].

    Raises
    ------
    InputError
        If it says no time, or more than a job may take.
    """
    if not isinstance(given, str):
        return given
    option = next(o for o in OFFERED[1].options if o.name == "seconds")
    return _held(option, parse(given, "time", unit="s", where="layout.seconds"), "layout.seconds")
