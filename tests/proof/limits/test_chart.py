"""Where the checks against chart and machine begin to speak, each limit from both sides and with its severity.

The row says (tests/program/helpers.ROW): pierce 0.5 s at 3.8 mm, cut at 1.5 mm and 2400 mm/min. What is so far off it that
it is told, and what so far that it stops, is reckoned from those here; the shares are common practice, named where they are set.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from platewright.proof.model import Proof
from platewright.table.model import AirSupply, Consumables, PowerSource
from tests.program.helpers import ROW, TABLE
from tests.proof.helpers import HOLE, OUTER, WASHER, layout_of, program, proved

CLEAN = program(HOLE, OUTER)
LAYOUT = layout_of(WASHER)
DOWN = (3.8 - 1.5) / 40
"""The way down from pierce to cut height at 2400 mm/min, torch lit [s]."""


def severities(proof: Proof, code: str) -> list[tuple[str, int]]:
    """The severity and the count of each finding of a code."""
    return [(f.severity, f.values.get("count", 1)) for f in proof.findings if f.code == code]


def changed(old: str, new: str) -> str:
    assert old in CLEAN
    return CLEAN.replace(old, new)


@pytest.mark.parametrize(("seconds", "code", "expected"), [
    (0.049, "P057", [("stop", 2)]), (0.051, "P057", []), (0.051, "P028", [("stop", 2)]),
    (0.249, "P028", [("stop", 2)]), (0.251, "P028", [("look", 2)]), (0.399, "P028", [("look", 2)]), (0.401, "P028", []),
    (1.499 - DOWN, "P030", []), (1.501 - DOWN, "P030", [("look", 2)]),
    (4.499 - DOWN, "P030", [("look", 2)]), (4.501 - DOWN, "P030", [("stop", 2)]),
])  # fmt: skip
def test_pierce_delays(seconds: float, code: str, expected: list[tuple[str, int]]) -> None:
    """Missing under 0.05 s, not through under half, unsure under 0.8 of the chart's; over twice and 0.5 s wasted, over five times and 2 s burned."""
    assert severities(proved(changed("G4 P0.5", f"G4 P{seconds:.4f}"), LAYOUT), code) == expected


@pytest.mark.parametrize(("seconds", "expected"), [(0.401, []), (0.399, [("stop", 2)])])
def test_a_delay_that_comes_only_below_is_late(seconds: float, expected: list[tuple[str, int]]) -> None:
    split = changed("G4 P0.5\nG1 Z1.5 F2400", f"G4 P{seconds}\nG1 Z1.5 F2400\nG4 P{0.5 - seconds:.4f}")
    assert severities(proved(split, LAYOUT), "P078") == expected


def test_a_row_of_hardly_any_delay_asks_for_none() -> None:
    none = changed("G4 P0.5\n", "")
    assert severities(proved(none, LAYOUT, row=replace(ROW, pierce_delay=0.1)), "P057") == []
    assert severities(proved(none, LAYOUT, row=replace(ROW, pierce_delay=0.11)), "P057") == [("stop", 2)]


@pytest.mark.parametrize(("height", "expected"), [
    (1.51, "stop"), (1.53, "look"), (2.65, "look"), (2.67, None), (4.93, None), (4.95, "look"), (8.09, "look"), (8.11, "stop"),
])  # fmt: skip
def test_pierce_heights(height: float, expected: str | None) -> None:
    """Off by 0.3 of 3.8 mm is told; under 0.4 of it, or over twice it and half a millimetre, stops."""
    found = severities(proved(changed("Z3.8", f"Z{height}"), LAYOUT), "P031")
    assert found == ([] if expected is None else [(expected, 2)])


@pytest.mark.parametrize(("height", "expected"), [
    (0.59, "stop"), (0.61, "look"), (0.99, "look"), (1.01, None), (1.99, None), (2.01, "look"), (3.49, "look"), (3.51, "stop"),
])  # fmt: skip
def test_cut_heights(height: float, expected: str | None) -> None:
    """0.3 of 1.5 mm is less than the half millimetre that is never told; the far ends as for a pierce. Three moves a cut, the full circle in two."""
    found = severities(proved(changed("Z1.5", f"Z{height}"), LAYOUT), "P036")
    assert found == ([] if expected is None else [(expected, 6)])


@pytest.mark.parametrize(("feed", "code", "expected"), [
    (2639, "P020", None), (2641, "P020", "look"), (4799, "P020", "look"), (4801, "P020", "stop"),
    (2183, "P037", None), (2181, "P037", "look"), (1201, "P037", "look"), (1199, "P037", "stop"),
    (6005, "P019", None), (6007, "P019", "look"),
])  # fmt: skip
def test_feeds(feed: int, code: str, expected: str | None) -> None:
    """The outside alone: a tenth off is told, twice or half stops; the table's 6000 mm/min may be passed by a thousandth."""
    text = changed("F2400\nG2", f"F{feed}\nG2")
    (severity,) = [s for s, _ in severities(proved(text, LAYOUT), code)] or [None]
    assert severity == expected


@pytest.mark.parametrize(("chart", "plate", "named"), [
    (6.0, 6.29, False), (6.0, 6.31, True), (10.0, 10.49, False), (10.0, 9.49, True), (10.0, 10.51, True),
])  # fmt: skip
def test_a_plate_off_the_charts_thickness(chart: float, plate: float, named: bool) -> None:
    """By 0.3 mm, or a twentieth where that is more."""
    layout = replace(LAYOUT, plate=replace(LAYOUT.plate, thickness=plate))
    assert bool(severities(proved(CLEAN, layout, row=replace(ROW, thickness=chart)), "P026")) == named


@pytest.mark.parametrize(("part", "grade", "named"), [
    (6.29, "mild steel", False), (5.69, "mild steel", True), (6.31, "mild steel", True), (6.0, "stainless", True),
])  # fmt: skip
def test_a_part_off_the_plates_thickness_or_grade(part: float, grade: str, named: bool) -> None:
    layout = replace(LAYOUT, parts=(replace(LAYOUT.parts[0], thickness=part, grade=grade),))
    assert bool(severities(proved(CLEAN, layout), "P027")) == named


@pytest.mark.parametrize(("most", "named"), [(65.0, False), (64.9, True)])
def test_a_row_of_more_amperes_than_the_source_gives(most: float, named: bool) -> None:
    table = replace(TABLE, source=PowerSource(65.0, 1.0, most))
    assert bool(severities(proved(CLEAN, LAYOUT, table=table), "P043")) == named


def test_the_duty_of_a_weaker_source_falls_with_the_square_of_the_current() -> None:
    """Lit for some 9 s of 600: allowed are 0.02 (45/65)² = 0.96 %, or at its own 65 A 2 %."""
    for rated, named in ((65.0, False), (45.0, True)):
        proof = proved(CLEAN, LAYOUT, table=replace(TABLE, source=PowerSource(rated, 0.02, 65.0)))
        used = proof.arc_time / 600
        assert 0.02 * (45 / 65) ** 2 < used < 0.02
        found = [f for f in proof.findings if f.code == "P045"]
        assert bool(found) == named
        for f in found:
            assert f.values["used_percent"] == pytest.approx(100 * used)
            assert f.values["allowed_percent"] == pytest.approx(2 * (45 / 65) ** 2)


@pytest.mark.parametrize(("pierces", "seconds", "sets"), [
    (2.0, 1e3, None), (1.9, 1e3, 2 / 1.9), (1e3, 2.0, "time"),
])  # fmt: skip
def test_the_consumables_of_a_job(pierces: float, seconds: float, sets: float | str | None) -> None:
    """Two pierces; the arc burns so many seconds: whichever wears a set out sooner."""
    proof = proved(CLEAN, LAYOUT, table=replace(TABLE, consumables=Consumables(pierces, seconds)))
    found = [f.values["sets"] for f in proof.findings if f.code == "P061"]
    expected = proof.arc_time / seconds if sets == "time" else sets
    assert found == ([] if expected is None else [pytest.approx(expected)])


def test_air_that_is_just_enough() -> None:
    """The row needs 180 l/min."""
    for free, named in ((180.0, False), (179.9, True)):
        table = replace(TABLE, air=AirSupply(free, 50.0, 600.0, 800.0))
        assert bool(severities(proved(CLEAN, LAYOUT, table=table), "P018")) == named
