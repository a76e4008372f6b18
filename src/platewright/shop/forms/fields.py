"""Forms as the page draws them: every declared choice with its default, range and help said in the shop's unit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from platewright.declared import Option, OptionGroup
from platewright.shop.forms.spoken import begin_in, spoken

__all__ = ["FieldData", "Form", "field_of", "form_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldData:
    """One field: its key (in a file with its section), what it is called, what is done if it is empty, its range in words, what it begins with.

    ``low`` and ``high`` are its range in the house unit, and ``only`` is the sort of thing it belongs to.
    """

    name: str
    label: str
    kind: str
    unit: str = ""
    default: str = ""
    begin: str = ""
    choices: tuple[str, ...] = ()
    help: str = ""
    allowed: str = ""
    low: float | None = None
    high: float | None = None
    only: str = ""


@dataclass(frozen=True, slots=True)
class Form:
    """A form: its key, what the page calls it, a sentence, its fields."""

    name: str
    title: str
    help: str
    fields: tuple[FieldData, ...]


def field_of(option: Option, unit: str, *, name: str = "") -> FieldData:
    """Return a declared choice as a field in the shop's unit, under another name if one is given (no unit [-])."""
    default = option.default_text()
    return FieldData(
        name=name or option.name, label=option.label, kind=option.kind, unit=option.unit, choices=option.choices, only=option.only,
        default=spoken(default, unit), begin=spoken(begin_in(option.kind, default, unit), unit), help=spoken(option.help, unit),
        allowed="" if option.choices or option.kind == "flag" else spoken(option.span(), unit),
        low=None if math.isinf(option.low) else option.low, high=None if math.isinf(option.high) else option.high,
    )  # fmt: skip


def form_of(group: OptionGroup, unit: str, *, sections: bool = False) -> Form:
    """Return a group of declared choices as a form in the shop's unit; with `sections` each is named with its section (no unit [-])."""
    fields = (field_of(o, unit, name=group.path(o) if sections else "") for o in group.options)
    return Form(group.name, group.title, spoken(group.help, unit), tuple(fields))
