"""Money: decimal, rounded to the currency's smallest coin, margin and markup never mixed.

Definitions (cost accounting, confirmed): margin = (P - C) / P, markup = (P - C) / C. P 300 and C 205 are a
margin of 31.667 % and a markup of 46.341 %. A margin of 100 % has no price.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from platewright.errors import InputError
from platewright.units import LONGEST_TEXT, quoted

__all__ = ["apportion", "coin", "money", "price_by_margin", "price_by_markup"]

CENT = Decimal("0.01")
MOST = 10**12
"""No amount reaches this [currency]."""
_AMOUNT = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:E[+-]?[0-9]{1,2})?")


def money(text: str | int | Decimal, *, where: str = "") -> Decimal:
    """Read an amount of money [currency]; a float is refused because it is not exact.

    Raises
    ------
    InputError
        If it is not a finite decimal number.
    """
    if isinstance(text, float):
        raise InputError(
            f"{text!r} is a binary fraction, not money.",
            where=where,
            do='Write amounts as text, for example "12.50".',
        )
    amount = str(text).strip() if isinstance(text, str | Decimal) or type(text) is int else ""
    if len(amount) > LONGEST_TEXT or not _AMOUNT.fullmatch(amount) or abs(Decimal(amount)) >= MOST:
        raise InputError(
            f"'{quoted(text)}' is not an amount of money.", where=where, allowed=f"up to {MOST:,}",
            do="Write it like 12.50, thousands without a separator.",
        )  # fmt: skip
    return Decimal(amount)


def coin(amount: Decimal, *, smallest: Decimal = CENT) -> Decimal:
    """Round to the smallest coin [currency], halves away from zero."""
    return (amount / smallest).quantize(Decimal(1), ROUND_HALF_UP) * smallest


def apportion(total: Decimal, weights: Sequence[Decimal]) -> tuple[Decimal, ...]:
    """Share a rounded total by weights [-] so that the shares sum to it exactly [currency] (largest remainder).

    Equal weights differ by at most one coin; the earlier ones get the larger. All weights 0 share equally.
    """
    if not weights or any(w < 0 for w in weights):
        raise InputError("Shares need at least one weight, none below 0.")
    whole = sum(weights)
    fair = [total * (w / whole if whole else Decimal(1) / len(weights)) for w in weights]
    low = [(f / CENT).to_integral_value("ROUND_FLOOR") * CENT for f in fair]
    left = int(((total - sum(low)) / CENT).to_integral_value())
    order = sorted(range(len(fair)), key=lambda i: (low[i] - fair[i], i))
    for i in order[:left]:
        low[i] += CENT
    return tuple(low)


def price_by_margin(cost: Decimal, share: Decimal) -> Decimal:
    """Return cost / (1 - margin) [currency] for a margin [-] below 1."""
    if not 0 <= share < 1:
        raise InputError(
            f"A margin of {share * 100:f} % cannot be had.",
            allowed="0 % up to, not including, 100 %",
            do="If you mean a share of cost, that is a markup.",
        )
    return cost / (1 - share)


def price_by_markup(cost: Decimal, share: Decimal) -> Decimal:
    """Return cost × (1 + markup) [currency] for a markup [-] not below 0."""
    if share < 0:
        raise InputError(f"A markup of {share * 100:f} % is below 0.", allowed="0 % or more")
    return cost * (1 + share)
