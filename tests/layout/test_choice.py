"""Which plates to try: what they cost, in which order, and the bound below which no choice can cost."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from benchmarks.packing.shapes import strap

from platewright.layout.choice import kinds_of, plate_costs, sets_of
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, Wanted
from platewright.stock.model import Plate


def _plate(name: str, width: float, cost: str | None) -> Plate:
    return replace(Plate.sheet(name, width, 100, 6), cost=None if cost is None else Decimal(cost))


def test_a_plate_without_a_cost_makes_all_count_by_area() -> None:
    """Money and square metres are not added: 0.1 m² of sheet, 0.2 m² of drop at half."""
    drop = replace(_plate("d", 2000, None), kind="drop")
    assert plate_costs([_plate("a", 1000, "40"), drop]) == pytest.approx([0.1, 0.1])
    assert plate_costs([_plate("a", 1000, "40"), _plate("b", 1000, "2.5")]) == [40.0, 2.5]


def test_sets_come_by_the_least_they_can_cost() -> None:
    """50,000 mm² on rooms of the plates' own area; half of what is left is credited at each plate's own price."""
    plates = [_plate("dear", 1000, "90"), _plate("cheap", 900, "30"), _plate("small", 100, "1")]
    kinds = kinds_of(plates, [p.profile.area() for p in plates])
    assert [k.plates[0].name for k in kinds] == ["small", "cheap", "dear"]
    made = sets_of(kinds, 50_000.0, 0.5)
    assert [counts for _, counts in made] == [
        (1, 1, 0),
        (0, 1, 0),
        (1, 0, 1),
        (0, 0, 1),
        (1, 1, 1),
        (0, 1, 1),
    ]
    # the small one whole (10,000 mm² for 1), 40,000 of the cheap one's 90,000 mm², and half the price of its rest
    assert made[0][0] == pytest.approx(1 + 30 * 40 / 90 + 0.5 * 30 * 50 / 90)
    assert sets_of(kinds, 50_000.0, 0.0)[0][1] == (0, 1, 0)


def _brute(need: int, holds: list[int], costs: list[float]) -> float:
    """Return the least cost of plates that hold `need` squares, by trying every set of them."""
    sets = itertools.product((0, 1), repeat=len(holds))
    return min(
        sum(c for c, on in zip(costs, s, strict=True) if on)
        for s in sets
        if sum(h for h, on in zip(holds, s, strict=True) if on) >= need
    )


@pytest.mark.parametrize("seed", range(8))
def test_no_set_of_plates_is_cheaper(seed: int) -> None:
    """Squares of 100 mm on plates a whole number of squares wide and high: what each holds is plain to count."""
    rng = np.random.default_rng(seed)
    sides = rng.integers(1, 5, (6, 2)).tolist()
    costs = [round(float(c), 2) for c in rng.uniform(0.5, 2.0, 6) * [a * b for a, b in sides]]
    plates = [
        replace(Plate.sheet(f"p{k}", 104 * a + 20, 104 * b + 20, 6), cost=Decimal(str(c)))
        for k, ((a, b), c) in enumerate(zip(sides, costs, strict=True))
    ]
    holds = [a * b for a, b in sides]
    need = max(1, int(sum(holds) * rng.uniform(0.3, 0.8)))
    out = lay(
        [Wanted(part=strap(100, 100), quantity=need)], plates, clearance=Clearance(4.0, 4.0, 4.0),
        options=LayOptions(seconds=0, credit=0.0),
    )  # fmt: skip
    spent = float(sum(layout.plate.cost or 0 for layout in out.layouts))
    assert out.left_over == ()
    assert spent == pytest.approx(_brute(need, holds, costs))


def test_two_drops_of_like_cost_are_taken_before_a_dear_sheet() -> None:
    drops = [replace(Plate.sheet(f"d{k}", 335, 230, 6), kind="drop", cost=Decimal("3.79")) for k in range(3)]
    sheet = replace(Plate.sheet("sheet", 2440, 1220, 6), cost=Decimal("157.77"))
    out = lay([Wanted(part=strap(100, 100), quantity=12)], [sheet, *drops], options=LayOptions(seconds=0))
    assert [len(layout.placements) for layout in out.layouts] == [6, 6]
    assert sum(layout.plate.cost or 0 for layout in out.layouts) == Decimal("7.58")


def test_a_part_too_long_for_one_plate_goes_to_the_next_one() -> None:
    """With the time usual for a search: a plate that takes nothing is no fault of the program."""
    wanted = [Wanted(part=strap(900, 40, name="long"), quantity=2)]
    small, large = Plate.sheet("small", 300, 300, 6), Plate.sheet("large", 1000, 300, 6)
    out = lay(wanted, small, options=LayOptions(steps=20))
    assert [x.finding.code for x in out.left_over] == ["L001"]
    out = lay(wanted, [small, large], options=LayOptions(steps=20))
    assert out.left_over == ()
    assert [layout.plate.name for layout in out.layouts] == ["large"]


def test_a_sheet_is_taken_as_many_times_as_needed() -> None:
    sheet = replace(Plate.sheet("sheet", 335, 230, 6), cost=Decimal(10))
    drop = replace(Plate.sheet("drop", 230, 130, 6), kind="drop", cost=Decimal(1))
    once = lay([Wanted(part=strap(100, 100), quantity=13)], [sheet, drop], options=LayOptions(seconds=0))
    assert sum(len(layout.placements) for layout in once.layouts) == 8
    out = lay(
        [Wanted(part=strap(100, 100), quantity=13)],
        [sheet, drop],
        options=LayOptions(seconds=0, repeat_sheets=True),
    )
    assert out.left_over == ()
    assert sorted(layout.plate.name for layout in out.layouts) == ["drop", "sheet", "sheet 2"]


def test_the_plate_that_leaves_a_usable_rest_is_taken() -> None:
    """Two plates of one price: the rest of the longer is 400 mm long and goes back to the rack, a sliver counts nothing."""
    plates = [
        replace(Plate.sheet(name, 230 + more, 130, 6), cost=Decimal(10))
        for name, more in (("sliver", 60), ("long", 500))
    ]
    out = lay([Wanted(part=strap(100, 100), quantity=2)], plates, options=LayOptions(seconds=0))
    assert [layout.plate.name for layout in out.layouts] == ["long"]


def test_two_cheap_drops_are_taken_before_a_dear_sheet_that_would_hold_all() -> None:
    sheet = replace(Plate.sheet("sheet", 1200, 600, 6), cost=Decimal(90))
    drops = [replace(Plate.sheet(f"drop{k}", 230, 120, 6), cost=Decimal(2)) for k in range(2)]
    out = lay([Wanted(part=strap(100, 100), quantity=4)], [sheet, *drops], options=LayOptions(seconds=0))
    assert out.left_over == ()
    assert sorted(layout.plate.name for layout in out.layouts) == ["drop0", "drop1"]


def test_a_sheet_is_taken_when_drops_and_the_sheet_would_cost_more() -> None:
    sheet = replace(Plate.sheet("sheet", 1200, 600, 6), cost=Decimal(90))
    drop = replace(Plate.sheet("drop", 230, 120, 6), cost=Decimal(2))
    out = lay([Wanted(part=strap(100, 100), quantity=4)], [sheet, drop], options=LayOptions(seconds=0))
    assert [layout.plate.name for layout in out.layouts] == ["sheet"]
