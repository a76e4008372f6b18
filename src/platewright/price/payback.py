"""What an hour of the machine costs, and when the table has paid for itself.

Formulas: machine-hour rate = (depreciation + interest + space + energy + upkeep) / (yearly hours × utilisation)
(cost accounting textbooks, from memory); simple payback = investment / yearly net saving (finance textbooks,
from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from platewright.errors import InputError
from platewright.price.money import coin

__all__ = ["Contribution", "Machine", "Payback", "hour_rate", "payback", "weeks_to_go"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """What the table with cutter and compressor costs to own.

    Attributes
    ----------
    investment, resale : bought for, worth at the end [currency]
    life_years : how long it will serve
    interest_share : yearly interest on the mean capital tied up [-]
    space_per_year, upkeep_per_year, energy_per_year : [currency]
    hours_per_year : hours it could run
    utilisation : share of those it does run [-], above 0 up to 1
    """

    investment: Decimal
    life_years: Decimal
    hours_per_year: Decimal
    utilisation: Decimal = Decimal("0.5")
    resale: Decimal = Decimal(0)
    interest_share: Decimal = Decimal(0)
    space_per_year: Decimal = Decimal(0)
    upkeep_per_year: Decimal = Decimal(0)
    energy_per_year: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        if self.life_years <= 0 or self.hours_per_year <= 0 or not 0 < self.utilisation <= 1:
            raise InputError(
                f"A machine with a life of {self.life_years} years, {self.hours_per_year} hours a year and utilisation {self.utilisation} has no rate.",
                allowed="life and hours above 0, utilisation above 0 up to 1",
            )


def hour_rate(machine: Machine) -> Decimal:
    """Return what an hour of running must bring [currency/h]."""
    wear = (machine.investment - machine.resale) / machine.life_years
    interest = (machine.investment + machine.resale) / 2 * machine.interest_share
    yearly = wear + interest + machine.space_per_year + machine.upkeep_per_year + machine.energy_per_year
    return yearly / (machine.hours_per_year * machine.utilisation)


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one paid job put towards the table: price less what it cost besides the machine [currency]."""

    day: date
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Payback:
    """Where the table stands.

    Attributes
    ----------
    earned, left : contributions so far, and still to earn [currency]
    per_week : mean contribution a week since the first [currency], None before a week of records
    on : day it is paid for at that rate, None if it is not coming nearer
    """

    earned: Decimal
    left: Decimal
    per_week: Decimal | None
    on: date | None


def payback(investment: Decimal, contributions: Sequence[Contribution], *, today: date) -> Payback:
    """Return what is earned, what is left [currency], and when at the present rate it is paid for."""
    earned = sum((c.amount for c in contributions), Decimal(0))
    left = max(Decimal(0), investment - earned)
    if left == 0:
        return Payback(earned, left, None, _day_paid(investment, contributions))
    first = min((c.day for c in contributions), default=today)
    days = (today - first).days
    if days < 7 or earned <= 0:
        return Payback(earned, left, None, None)
    per_week = earned * 7 / days
    return Payback(earned, left, coin(per_week), today + timedelta(days=int(left / per_week * 7) + 1))


def _day_paid(investment: Decimal, contributions: Sequence[Contribution]) -> date | None:
    total = Decimal(0)
    for c in sorted(contributions, key=lambda c: c.day):
        total += c.amount
        if total >= investment:
            return c.day
    return None


def weeks_to_go(left: Decimal, *, per_job: Decimal, jobs_per_week: Decimal) -> Decimal | None:
    """Return the weeks until `left` [currency] is earned at a contribution per job, None if never [-]."""
    a_week = per_job * jobs_per_week
    return left / a_week if a_week > 0 else None
