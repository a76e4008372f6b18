"""Which plates to try, in which order: what plates cost, and when a dearer choice need not be tried.

Method: each single plate from the cheapest up, then all plates by cost for their size, one after another. A choice
can cost no less than its plates by cost for their size until the parts' area is covered, the last one in part (the
bound of the fractional knapsack problem); a choice whose bound is not below what is found already is passed over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from platewright.stock.model import Plate

__all__ = ["Choice", "choices", "plate_costs"]


@dataclass(frozen=True, slots=True)
class Choice:
    """Plates to fill in this order, and the least their use can cost [currency, or m² where costs are unknown]."""

    plates: tuple[Plate, ...]
    bound: float


def plate_costs(plates: Sequence[Plate]) -> list[float]:
    """Return what each plate costs to use: its own cost if all have one [currency], else its area [m²], a drop's at half."""
    if all(p.cost is not None for p in plates):
        return [float(p.cost or 0) for p in plates]
    return [p.profile.area() * 1e-6 * (0.5 if p.kind == "drop" else 1.0) for p in plates]


def choices(plates: Sequence[Plate], need: float) -> list[Choice]:
    """Return the choices worth trying, for parts of an area `need` [mm²] in all."""
    cost = dict(zip(map(id, plates), plate_costs(plates), strict=True))
    area = {id(p): p.profile.area() for p in plates}
    singles = [
        Choice((p,), cost[id(p)]) for p in sorted(plates, key=lambda p: cost[id(p)]) if area[id(p)] >= need
    ]
    if len(plates) == 1:
        return singles or [Choice(tuple(plates), cost[id(plates[0])])]
    by_size = sorted(plates, key=lambda p: cost[id(p)] / area[id(p)])
    bound, left = 0.0, need
    for p in by_size:
        bound += cost[id(p)] * min(1.0, left / area[id(p)])
        left = max(left - area[id(p)], 0.0)
    return [*singles, Choice(tuple(by_size), bound)]
