"""Money identities. Published figures: P 300, C 205 give margin 31.667 %, markup 46.341 % (cost accounting, confirmed);
markup from margin k = m/(1-m): 20 to 25, 25 to 33.333, 30 to 42.857, 35 to 53.846, 40 to 66.667, 50 to 100 % (derived)."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.errors import InputError
from platewright.price.money import apportion, coin, money, price_by_margin, price_by_markup

amounts = st.decimals(min_value=D("0.01"), max_value=D("100000"), places=2)


def test_the_published_example() -> None:
    assert round(price_by_margin(D(205), D("0.31667")), 2) == 300
    assert round(price_by_markup(D(205), D("0.46341")), 2) == 300


@pytest.mark.parametrize(
    ("m", "k"), [(20, "25"), (25, "33.333"), (30, "42.857"), (35, "53.846"), (40, "66.667"), (50, "100")]
)
def test_markup_that_gives_a_margin(m: int, k: str) -> None:
    price = price_by_margin(D(100), D(m) / 100)
    assert round(price - 100, 3) == round(D(k), 3)


def test_a_margin_of_all_is_refused() -> None:
    with pytest.raises(InputError, match=r"cannot be had.*markup"):
        price_by_margin(D(1), D(1))


def test_markup_and_margin_of_the_same_number_differ() -> None:
    assert price_by_markup(D(100), D("0.25")) == D(125)
    assert coin(price_by_margin(D(100), D("0.25"))) == D("133.33")


@settings(derandomize=True, deadline=None, max_examples=200)
@given(cost=amounts, share=st.decimals(min_value=0, max_value=D("0.95"), places=3))
def test_round_trips(cost: D, share: D) -> None:
    price = price_by_margin(cost, share)
    assert abs((price - cost) / price - share) < D("1e-20")
    assert abs(price_by_markup(cost, share) / cost - 1 - share) < D("1e-20")


@settings(derandomize=True, deadline=None, max_examples=300)
@given(
    total=amounts,
    weights=st.lists(st.decimals(min_value=0, max_value=1000, places=3), min_size=1, max_size=40),
)
def test_shares_sum_to_the_cent(total: D, weights: list[D]) -> None:
    shares = apportion(total, weights)
    assert sum(shares) == total
    whole = sum(weights)
    for share, weight in zip(shares, weights, strict=True):
        fair = total * weight / whole if whole else total / len(weights)
        assert abs(share - fair) < D("0.0101")


@pytest.mark.parametrize("text", ["", "abc", "NaN", "Infinity", "1,2,3"])
def test_what_is_not_money_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="not an amount"):
        money(text)


def test_a_binary_fraction_is_refused() -> None:
    with pytest.raises(InputError, match="binary fraction"):
        money(0.1)  # type: ignore[arg-type]


def test_halves_round_away_from_zero() -> None:
    assert coin(D("0.125")) == D("0.13")
    assert coin(D("1.03"), smallest=D("0.05")) == D("1.05")
