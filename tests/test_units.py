"""Quantities as the shop says them. Gauge values: Manufacturers' Standard Gage, Galvanized Sheet Gage, US Standard
Gage and the American wire gauge formula (all confirmed); 1 in = 25.4 mm exactly."""

from __future__ import annotations

import contextlib
import math
import time

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.errors import InputError
from platewright.unit_words import HOUSE, factor_of, spellings
from platewright.units import parse, parse_pair, parse_place, show, understood, whole_number


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("3/16 in", 4.7625), ("1-1/2 in", 38.1), ('1 1/2"', 38.1), ("2 ft 3 in", 685.8), ("2' 3-1/2\"", 698.5), ("4.76 mm", 4.76),
        (".5 in", 12.7), ("-3 mm", -3.0), ("1,5 mm", 1.5), ("10 cm", 100.0), ("1e3 mm", 1000.0), ("0", 0.0),
    ],
)  # fmt: skip
def test_lengths(text: str, mm: float) -> None:
    assert parse(text) == pytest.approx(mm, rel=1e-12)


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
    ("text", "kind", "value"),
    [
        ("120 in/min", "speed", 50.8), ("120 ipm", "speed", 50.8), ("3000 mm/min", "speed", 50.0), ("35 psi", "pressure", 241.3165),
        ("5 bar", "pressure", 500.0), ("60 %", "ratio", 0.6), ("0.6", "ratio", 0.6), ("45 deg", "angle", math.pi / 4),
        ("500 mm/s2", "acceleration", 500.0), ("5 cfm", "flow", 141.5842), ("45 A", "current", 45.0), ("2 min", "time", 120.0),
    ],
)  # fmt: skip
def test_other_kinds(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == pytest.approx(value, rel=1e-6)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
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
def test_what_is_not_a_length_gets_a_sentence(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(text, where="--width")
    assert len(caught.value.sentence()) > 20


@pytest.mark.parametrize(
    "text",
    [
        "-", "+", "- ", "1 000 mm", "1,000 mm", "2,500 mm", "1,250.5 mm", "1.250,5 mm", "1.2.3 mm", "1_000 mm", "1'000 mm", "5'6", "2 ft 3",
        "5-6 in", "5 - 1/2 in", "5 mm + 3 mm", "-5 ft 6 in", "5 mm 3", "5 Mm", "5 M", "3/8", "1 1/2", "5 ft 14 in", "1.5 ft 2 in",
        "2 in 3 ft", "1 in 2 mm", "\u0663 mm", "five mm", "5\x00mm", "\ud800 mm", "9" * 79, "x" * 20_000, "1 " * 10_000, "5-" * 10_000,
    ],
)  # fmt: skip
@pytest.mark.parametrize("unit", ["mm", None])
def test_what_could_mean_two_things_is_refused_with_how_to_write_it(text: str, unit: str | None) -> None:
    parse("1 ft")  # loads the units library
    begun = time.process_time()
    with pytest.raises(InputError) as caught:
        parse(text, unit=unit)
    took = time.process_time() - begun
    assert "Write" in caught.value.do
    assert len(caught.value.sentence()) < 400
    assert caught.value.sentence().isprintable()
    assert took < 0.5


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("5,5 mm", 5.5), ("5' 3-1/2\"", 1612.9), ("5'-3-1/2\"", 1612.9), ("5'-6\"", 1676.4), ("1 3/16\"", 30.1625), ("1\u00a03/16\u00a0in", 30.1625),
        ("10 ga steel", 3.4163), ("5½ in", 139.7), ("⅜″", 9.525), ("6 MM", 6.0), ("3 In", 76.2), ("3 IN.", 76.2), ("0,125 mm", 0.125), ("1000 mm", 1000.0),
        ("1 m 20 cm", 1200.0), ("1 m 5 mm", 1005.0), ("\u22125 mm", -5.0), ("1.000 mm", 1.0), ("12 inches", 304.8), ("40 µm", 0.04), ("-1/2 in", -12.7),
    ],
)  # fmt: skip
def test_what_can_mean_one_thing_only_goes_on_being_read(text: str, mm: float) -> None:
    assert parse(text) == pytest.approx(mm, rel=1e-4)


def test_a_bare_number_and_a_bare_fraction() -> None:
    assert (parse("5", unit="mm"), parse("5", unit="in"), parse("3/8", unit="in")) == pytest.approx(
        (5.0, 127.0, 9.525)
    )
    with pytest.raises(InputError, match=r"fraction of what is not said.*like 3/8 in"):
        parse("3/8", unit="mm")
    assert understood("5", unit="mm", shown="in") == "0.197 in = 5 mm (a number alone is taken in mm)"
    assert understood("5 in", unit="mm", shown="in") == "5 in = 127 mm"
    assert understood("12,5", unit="mm") == "12.5 mm = 0.492 in (a number alone is taken in mm)"


@pytest.mark.parametrize(
    "said",
    [
        "six",
        "0",
        "-2",
        "2.5",
        "",
        " ",
        "1e3",
        "1_0",
        "\u0663",
        "9" * 5000,
        None,
        True,
        2.5,
        [3],
        10**400,
        math.nan,
    ],
)
def test_a_count_is_digits_in_a_range(said: object) -> None:
    with pytest.raises(InputError) as caught:
        whole_number(said, what="quantity", where="parts.0.quantity")
    assert caught.value.allowed.startswith("a whole number, 1 to")
    assert len(caught.value.sentence()) < 300


def test_a_count_that_is_one() -> None:
    assert [whole_number(v) for v in ("6", " 12 ", 3, 4.0)] == [6, 12, 3, 4]


@pytest.mark.parametrize("said", [True, None, [5], {"mm": 5}, 10**400, math.inf, b"5 mm"])
def test_what_is_neither_text_nor_number_gets_a_sentence(said: object) -> None:
    with pytest.raises(InputError):
        parse(said, unit="mm")  # type: ignore[arg-type]


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
    assert parse_pair("4 ft 1 in x 8'") == pytest.approx((1244.6, 2438.4))
    assert parse_place("1.5, 2 in") == pytest.approx((38.1, 50.8))
    for said in ("1,000 x 500 mm", "1 x 2 x 3 mm", "3 x", " x" * 9_000):
        with pytest.raises(InputError):
            parse_pair(said)
    for said in ("1,000, 5 mm", "5 mm", "1,5,2"):
        with pytest.raises(InputError):
            parse_place(said, unit="mm")


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


def test_every_spelling_agrees_with_a_units_library() -> None:
    registry = pint.UnitRegistry()
    for kind, house in HOUSE.items():
        for word, unit in spellings(kind).items():
            theirs = registry.Quantity(1.0, unit).to(house or "dimensionless").magnitude
            assert factor_of(word, kind) == pytest.approx(theirs, rel=1e-14), (kind, word)
