"""Rates measured from bills, by hand reckoning."""

from __future__ import annotations

from decimal import Decimal as D

import pytest

from platewright.errors import InputError
from platewright.price.cost import Rates
from platewright.price.measured import bills_from_csv, measured

BILLS = "rate, amount, quantity\nsteel_per_kg, 412.50, 187.5\nsteel_per_kg, 96.00, 40\nconsumables_per_pierce, 48, 950\n"


def test_bills_over_what_they_bought() -> None:
    """(412.50 + 96.00) / (187.5 + 40) = 2.2352 a kg; 48 / 950 = 0.0505 a pierce."""
    found = measured(bills_from_csv(BILLS))
    assert found == {"steel_per_kg": D("2.2352"), "consumables_per_pierce": D("0.0505")}
    assert Rates.from_dict({k: str(v) for k, v in found.items()}).steel_per_kg == D("2.2352")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "lack a heading"),
        ("rate,amount,quantity\nrent,5,1\n", "line 2: 'rent' is not a rate"),
        ("rate,amount,quantity\nsteel_per_kg,5,0\n", "measures nothing"),
        ("rate,amount,quantity\nsteel_per_kg,five,1\n", "not an amount"),
    ],
)
def test_bad_bills_name_their_line(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        bills_from_csv(text)
