"""Breaks come from real costs; lines sum to the price."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.errors import InputError
from platewright.price.cost import Copy, Cost, Job, cost
from platewright.price.quote import breaks, lines


def costed(quantity: int) -> Cost:
    copies = tuple(Copy("gusset", 4000.0, 20.0, 2) for _ in range(quantity))
    return cost(
        Job(
            copies=copies,
            grade="mild steel",
            thickness=6.0,
            plate_area=6000.0 * quantity,
            drop_area=0.0,
            plate_cost=None,
            machine_time=40.0 * quantity,
            arc_time=20.0 * quantity,
            different_parts=1,
        )
    )


def test_set_up_is_shared_and_never_made_dearer() -> None:
    found = breaks([10, 1, 5], costed)
    assert [b.quantity for b in found] == [1, 5, 10]
    each = [b.each for b in found]
    assert each == sorted(each, reverse=True)
    assert all(b.price == b.each * b.quantity for b in found)
    with pytest.raises(InputError, match="1 or more"):
        breaks([0], costed)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(counts=st.lists(st.integers(1, 9), min_size=1, max_size=5))
def test_lines_sum_to_the_price(counts: list[int]) -> None:
    copies = tuple(
        Copy(f"part {k}", 1000.0 * (k + 1), 10.0 + k, 1) for k, n in enumerate(counts) for _ in range(n)
    )
    made = cost(
        Job(
            copies=copies,
            grade="mild steel",
            thickness=6.0,
            plate_area=1e6,
            drop_area=0.0,
            plate_cost=None,
            machine_time=500.0,
            arc_time=300.0,
            different_parts=len(counts),
        )
    )
    written = lines(made)
    assert sum((line.amount for line in written), D(0)) == made.price
    assert all(line.each >= 0 for line in written)
