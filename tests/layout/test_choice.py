"""Which plates to try: what they cost, in which order, and the bound below which no choice can cost."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from benchmarks.packing.shapes import strap

from platewright.layout.choice import choices, plate_costs
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Wanted
from platewright.stock.model import Plate


def _plate(name: str, width: float, cost: str | None) -> Plate:
    return replace(Plate.sheet(name, width, 100, 6), cost=None if cost is None else Decimal(cost))


def test_a_plate_without_a_cost_makes_all_count_by_area() -> None:
    """Money and square metres are not added: 0.1 m² of sheet, 0.2 m² of drop at half."""
    drop = replace(_plate("d", 2000, None), kind="drop")
    assert plate_costs([_plate("a", 1000, "40"), drop]) == pytest.approx([0.1, 0.1])
    assert plate_costs([_plate("a", 1000, "40"), _plate("b", 1000, "2.5")]) == [40.0, 2.5]


def test_singles_come_cheapest_first_and_only_if_large_enough() -> None:
    plates = [_plate("dear", 1000, "90"), _plate("cheap", 900, "30"), _plate("small", 100, "1")]
    made = choices(plates, 50_000.0)
    assert [[p.name for p in c.plates] for c in made] == [["cheap"], ["dear"], ["small", "cheap", "dear"]]
    # the small one whole (10,000 mm² for 1), then 40,000 of the cheap one's 90,000 mm²
    assert made[-1].bound == pytest.approx(1 + 30 * 40 / 90)


def test_two_cheap_drops_are_taken_before_a_dear_sheet_that_would_hold_all() -> None:
    sheet = replace(Plate.sheet("sheet", 1200, 600, 6), cost=Decimal(90))
    drops = [replace(Plate.sheet(f"drop{k}", 230, 120, 6), cost=Decimal(2)) for k in range(2)]
    out = lay([Wanted(strap(100, 100), 4)], [sheet, *drops], options=LayOptions(seconds=0))
    assert out.left_over == ()
    assert sorted(layout.plate.name for layout in out.layouts) == ["drop0", "drop1"]


def test_a_sheet_is_taken_when_drops_and_the_sheet_would_cost_more() -> None:
    sheet = replace(Plate.sheet("sheet", 1200, 600, 6), cost=Decimal(90))
    drop = replace(Plate.sheet("drop", 230, 120, 6), cost=Decimal(2))
    out = lay([Wanted(strap(100, 100), 4)], [sheet, drop], options=LayOptions(seconds=0))
    assert [layout.plate.name for layout in out.layouts] == ["sheet"]
