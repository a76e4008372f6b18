"""Quantities as the shop says them. Gauge values: Manufacturers' Standard Gage, Galvanized Sheet Gage, US Standard
Gage and the American wire gauge formula (all confirmed); 1 in = 25.4 mm exactly."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.errors import InputError
from platewright.units import parse, parse_pair, show


@pytest.mark.parametrize(
    ("said", "mm"),
    [
        ("3/16 in", 4.7625), ("1-1/2 in", 38.1), ('1 1/2"', 38.1), ("2 ft 3 in", 685.8), ("2' 3-1/2\"", 698.5), ("4.76 mm", 4.76),
        (".5 in", 12.7), ("-3 mm", -3.0), ("1,5 mm", 1.5), ("10 cm", 100.0), ("1e3 mm", 1000.0), ("0", 0.0),
    ],
)  # fmt: skip
def test_lengths(said: str, mm: float) -> None:
    assert parse(said) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    ("metal", "inch"),
    [("steel", 0.0598), ("galvanized", 0.0635), ("stainless", 0.0625), ("aluminium", 0.0508)],
)
def test_one_gauge_number_four_thicknesses(metal: str, inch: float) -> None:
    assert parse(f"16 ga {metal}") / 25.4 == pytest.approx(inch, abs=5e-5)
    assert parse("16 ga", metal=metal) == parse(f"16 gauge {metal}")


def test_a_bare_gauge_asks_which_metal() -> None:
    with pytest.raises(InputError, match=r"different thickness in each metal.*16 ga steel"):
        parse("16 ga")


@pytest.mark.parametrize(
    ("said", "kind", "value"),
    [
        ("120 in/min", "speed", 50.8), ("120 ipm", "speed", 50.8), ("3000 mm/min", "speed", 50.0), ("35 psi", "pressure", 241.3165),
        ("5 bar", "pressure", 500.0), ("60 %", "ratio", 0.6), ("0.6", "ratio", 0.6), ("45 deg", "angle", math.pi / 4),
        ("500 mm/s2", "acceleration", 500.0), ("5 cfm", "flow", 141.5842), ("45 A", "current", 45.0), ("2 min", "time", 120.0),
    ],
)  # fmt: skip
def test_other_kinds(said: str, kind: str, value: float) -> None:
    assert parse(said, kind) == pytest.approx(value, rel=1e-6)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "said",
    [
        "abc",
        "5 kg",
        "",
        "1/0 in",
        "5 mm mm",
        "3 4",
        "nan mm",
        "inf mm",
        "5",
        "1e999 mm",
        "--5 mm",
        "5 mm;",
        "99 ga steel",
    ],
)
def test_what_is_not_a_length_gets_a_sentence(said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(said, where="--width")
    assert len(caught.value.sentence()) > 20


def test_the_sentence_names_the_place_and_an_example() -> None:
    with pytest.raises(
        InputError, match=r"--width: '5' is not a length: the unit is missing\. Write it like 6 mm"
    ):
        parse("5", where="--width")


def test_pairs() -> None:
    assert parse_pair("48 x 96 in") == pytest.approx((1219.2, 2438.4))
    assert parse_pair("1220x2440 mm") == (1220.0, 2440.0)
    with pytest.raises(InputError, match="not two lengths"):
        parse_pair("48 in")


@settings(derandomize=True, deadline=None, max_examples=200)
@given(whole=st.integers(0, 99), over=st.integers(1, 63), under=st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_fractions_of_an_inch(whole: int, over: int, under: int) -> None:
    assert parse(f"{whole}-{over}/{under} in") == pytest.approx((whole + over / under) * 25.4, rel=1e-12)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(value=st.floats(-1e5, 1e5), unit=st.sampled_from(["mm", "in", "ft", "cm"]))
def test_showing_and_reading_is_a_round_trip(value: float, unit: str) -> None:
    assert parse(show(value, unit, digits=9)) == pytest.approx(value, abs=1e-6)


@settings(derandomize=True, deadline=None, max_examples=300)
@given(text=st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    with contextlib.suppress(InputError):
        assert math.isfinite(parse(text))
