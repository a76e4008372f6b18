"""The form of the rates: what each is called, what it is per, what is taken while nothing is said."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal

from platewright.price.cost import OTHER_UNITS, Rates
from platewright.shop.forms.fields import FieldData

__all__ = ["rates_in"]

CENT = Decimal("0.01")


def rates_in(unit: str) -> list[FieldData]:
    """Return every rate as a shop of millimetres or of inches and pounds says it: what it is per, what is assumed, how to find one's own (no unit [-])."""
    plain = Rates()
    made: list[FieldData] = []
    for f in fields(Rates):
        value = getattr(plain, f.name)
        if value is None:
            continue
        per, assumed = str(f.metadata.get("unit", "")), str(value)
        if unit == "in" and per in OTHER_UNITS:
            per, share = OTHER_UNITS[per]
            assumed = f"{(value * share).quantize(CENT).normalize():f}"
        elif per == "%":
            assumed = f"{(value * 100).normalize():f}"
        text = f"{assumed} {per}".strip()
        label, how = (str(f.metadata.get(key, "")) for key in ("label", "note"))
        made.append(
            FieldData(
                name=f.name,
                label=(label or f.name).capitalize(),
                kind="rate",
                unit=per,
                default=text,
                help=how,
            )
        )
    return made
