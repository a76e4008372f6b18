"""The form of the rates: what each is called, what it is per, what is taken while nothing is said."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal

from typing_extensions import TypedDict

from platewright.price.cost import OTHER_UNITS, Rates

__all__ = ["RateData", "rates_in"]

CENT = Decimal("0.01")


class RateData(TypedDict):
    """One rate of the price: what the program assumes, and how to find your own."""

    name: str
    label: str
    unit: str
    """What it is per or in, as the shop counts: per kg or per lb, min, kW, %, or nothing."""
    assumed: str
    how: str


def rates_in(unit: str) -> list[RateData]:
    """Return every rate as a shop of millimetres or of inches and pounds says it (no unit [-])."""
    plain = Rates()
    made: list[RateData] = []
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
        made.append(
            {"name": f.name, "label": str(f.metadata.get("label", f.name)).capitalize(), "unit": per,
             "assumed": text, "how": str(f.metadata.get("note", ""))}
        )  # fmt: skip
    return made
