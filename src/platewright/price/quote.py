"""Quantity breaks from real layouts and shared set-up, and the lines of a quote."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from platewright.errors import InputError
from platewright.price.cost import Cost
from platewright.price.ledger import Line
from platewright.price.money import CENT, coin

__all__ = ["Break", "breaks", "lines"]


@dataclass(frozen=True, slots=True)
class Break:
    """The price for a quantity: in all and each [currency], what it costs [currency]."""

    quantity: int
    price: Decimal
    each: Decimal
    cost: Decimal


def breaks(quantities: Sequence[int], costed: Callable[[int], Cost]) -> tuple[Break, ...]:
    """Return the price at each quantity [currency].

    Parameters
    ----------
    quantities : how many sets to price
    costed : lays out, plans and costs that many sets; no factor stands in for a layout

    Raises
    ------
    InputError
        If a quantity is below 1.
    """
    found = []
    for quantity in sorted(set(quantities)):
        if quantity < 1:
            raise InputError(f"A quantity of {quantity} cannot be priced.", allowed="1 or more")
        made = costed(quantity)
        each = coin(made.price / quantity)
        found.append(Break(quantity, each * quantity, each, made.total))
    return tuple(found)


def lines(made: Cost) -> tuple[Line, ...]:
    """Return a quote's lines: each part with how many and its price, summing to the price exactly [currency].

    Where the copies of a part cannot share its amount evenly, the odd cents stand on a line of their own.
    """
    names = [copy.name for copy in made.job.copies]
    count = Counter(names)
    shares: Counter[str] = Counter()
    for name, price in zip(names, made.price_by_copy(), strict=True):
        shares[name] += price  # type: ignore[assignment]
    written, odd = [], Decimal(0)
    for name, quantity in count.items():
        each = (Decimal(shares[name]) / quantity).quantize(CENT, "ROUND_FLOOR")
        written.append(Line(name, quantity, each))
        odd += shares[name] - each * quantity
    return (*written, Line("rounding", 1, odd)) if odd else tuple(written)
