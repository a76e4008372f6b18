"""The hour rate and payback by hand reckoning."""

from __future__ import annotations

from datetime import date
from decimal import Decimal as D

import pytest

from platewright.errors import InputError
from platewright.price.payback import Contribution, Machine, hour_rate, payback, weeks_to_go


def test_an_hour_by_hand() -> None:
    """9000 over 10 years, 5 % on the mean 4500, space 300, upkeep 400: 1825 a year over 1000 h half used."""
    machine = Machine(
        investment=D(9000),
        life_years=D(10),
        hours_per_year=D(1000),
        interest_share=D("0.05"),
        space_per_year=D(300),
        upkeep_per_year=D(400),
    )
    assert hour_rate(machine) == D("3.65")
    # worth 2000 at the end: 2000 a year worn, 6 % on the mean 7000 is 420; with 300, 500 and 400 it is 3620 over 400 h
    sold = Machine(
        investment=D(12000), resale=D(2000), life_years=D(5), hours_per_year=D(500), utilisation=D("0.8"),
        interest_share=D("0.06"), space_per_year=D(300), upkeep_per_year=D(500), energy_per_year=D(400),
    )  # fmt: skip
    assert hour_rate(sold) == D("9.05")


def test_a_machine_that_never_runs_has_no_rate() -> None:
    with pytest.raises(InputError, match="utilisation above 0"):
        Machine(investment=D(9000), life_years=D(10), hours_per_year=D(1000), utilisation=D(0))


def test_on_the_way() -> None:
    paid = [Contribution(date(2026, 1, 1), D(300)), Contribution(date(2026, 2, 26), D(500))]
    stand = payback(D(2000), paid, today=date(2026, 2, 26))
    assert (stand.earned, stand.left, stand.per_week) == (D(800), D(1200), D("100.00"))
    assert stand.on == date(2026, 5, 22)  # 84 days, then the day after


def test_paid_for_on_the_day_it_was() -> None:
    paid = [
        Contribution(date(2026, 3, 1), D(900)),
        Contribution(date(2026, 1, 1), D(300)),
        Contribution(date(2026, 4, 1), D(50)),
    ]
    assert payback(D(1200), paid, today=date(2026, 5, 1)).on == date(2026, 3, 1)


def test_too_early_to_tell() -> None:
    assert payback(D(2000), [], today=date(2026, 1, 1)).on is None
    paid = [Contribution(date(2026, 1, 1), D(10))]
    assert payback(D(2000), paid, today=date(2026, 1, 3)).per_week is None
    assert payback(D(2000), paid, today=date(2026, 1, 7)).per_week is None
    assert payback(D(2000), paid, today=date(2026, 1, 8)).per_week == D("10.00")  # a week is enough


def test_what_if() -> None:
    assert weeks_to_go(D(1200), per_job=D(60), jobs_per_week=D(2)) == D(10)
    assert weeks_to_go(D(1200), per_job=D(0), jobs_per_week=D(2)) is None
