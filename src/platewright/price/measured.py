"""The shop's own rates, measured from what it paid: bills over what they bought.

A bill is a rate's name, what was paid [currency], and how much of that rate's unit it bought: kilograms of steel for
``steel_per_kg``, pierces for ``consumables_per_pierce``, kilowatt hours for ``power_per_kwh``, hours for a rate an hour.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, fields
from decimal import Decimal

from platewright.errors import InputError
from platewright.price.cost import Rates
from platewright.price.money import money

__all__ = ["Bill", "bills_from_csv", "measured"]

MEASURABLE = tuple(f.name for f in fields(Rates) if "_per_" in f.name)


@dataclass(frozen=True, slots=True)
class Bill:
    """What was paid for a rate [currency], and how much of its unit it bought [-]."""

    rate: str
    amount: Decimal
    quantity: Decimal

    def __post_init__(self) -> None:
        if self.rate not in MEASURABLE:
            raise InputError(
                f"'{self.rate}' is not a rate a bill can measure.", allowed=", ".join(MEASURABLE)
            )
        if self.amount < 0 or self.quantity <= 0:
            raise InputError(
                f"A bill of {self.amount} for {self.quantity} measures nothing.",
                allowed="an amount not below 0 and a quantity above 0",
            )


def measured(bills: Iterable[Bill]) -> dict[str, Decimal]:
    """Return each rate that has bills: all that was paid over all it bought [currency], to four places."""
    paid: dict[str, Decimal] = {}
    bought: dict[str, Decimal] = {}
    for bill in bills:
        paid[bill.rate] = paid.get(bill.rate, Decimal(0)) + bill.amount
        bought[bill.rate] = bought.get(bill.rate, Decimal(0)) + bill.quantity
    return {rate: (paid[rate] / bought[rate]).quantize(Decimal("0.0001")) for rate in paid}


def bills_from_csv(text: str, *, where: str = "bills") -> tuple[Bill, ...]:
    """Read bills from CSV with the columns rate, amount, quantity [currency, -].

    Raises
    ------
    InputError
        Naming the line that cannot be read.
    """
    rows = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    if rows.fieldnames is None or not {"rate", "amount", "quantity"} <= set(rows.fieldnames):
        raise InputError("The bills lack a heading.", where=where, allowed="rate,amount,quantity")
    found = []
    for row in rows:
        line = f"{where} line {rows.line_num}"
        try:
            found.append(
                Bill(
                    (row["rate"] or "").strip(),
                    money(row["amount"] or "", where=line),
                    money(row["quantity"] or "", where=line),
                )
            )
        except InputError as bad:
            raise bad.at(line) from bad
    return tuple(found)
