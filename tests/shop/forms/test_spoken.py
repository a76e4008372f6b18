"""Sentences said in inches: every number reads back as the one that stood there, by the units library."""

from __future__ import annotations

import re

import pytest

from platewright.findings import catalogue
from platewright.shop.forms.spoken import begin_in, in_units, spoken
from platewright.units import parse


@pytest.mark.parametrize(
    ("mm", "inch"),
    [
        ("152.4 by 101.6 mm", "6 by 4 in"),
        ("drop: 1219 × 610 mm, 6 mm mild steel", "drop: 48 × 24 in, 0.24 in mild steel"),
        ("-0.12 mm at 2500 mm/min", "-0.0047 in at 98.43 in/min"),
        ("at 25.4, 50.8 mm", "at 1, 2 in"),
        ("3 parts, 25.4 mm apart", "3 parts, 1 in apart"),
        ("+0.25 mm; 4.2 kg; 500 kPa", "+0.01 in; 9.3 lb; 72.5 psi"),
        ("'25.4 mm' is not a speed", "'25.4 mm' is not a speed"),
        ("the plate's edge, 25.4 mm from the part's hole", "the plate's edge, 1 in from the part's hole"),
        ("12 min 05 s, 45 A, M12", "12 min 05 s, 45 A, M12"),
        ("thickness 4.76 mm, kerf 1.37 mm", "thickness 0.1875 in, kerf 0.054 in"),
    ],
)
def test_a_sentence(mm: str, inch: str) -> None:
    assert spoken(mm, "in") == inch
    assert spoken(mm, "mm") == mm


@pytest.mark.parametrize(
    "text", ["0.1 mm", "0.05 mm", "7 mm", "1234.5 mm", "9999 mm", "0 mm", "0.003 mm", "3.18 mm"]
)
def test_an_inch_reads_back_as_the_millimetres(text: str) -> None:
    digits = len(text.split()[0].partition(".")[2])
    assert round(parse(spoken(text, "in")), digits) == parse(text)


def test_no_finding_of_the_catalogue_keeps_a_millimetre() -> None:
    """Every sentence of the catalogue, with a number in each gap, is free of metric units once spoken."""
    left = []
    for entry in catalogue().values():
        for text in (entry.text, entry.do):
            said = spoken(re.sub(r"\{[^}]*\}", "12.5", text), "in")
            if re.search(r"\d ?(mm|cm)\b", said):
                left.append((entry.code, said))
    assert left == []


def test_every_length_of_the_catalogue_carries_its_unit_and_so_turns() -> None:
    """A gap whose name says mm, mm/min or L/min and that is followed by no unit would stay metric without a word."""
    left = []
    for entry in catalogue().values():
        for text in (entry.text, entry.do):
            for name in re.findall(r"\{(\w+_(?:mm|mm_min|l_min|kpa|kg))\}", text):
                said = re.sub(r"\{\w+\}", "7.25", text.replace(f"{{{name}}}", "12.5"))
                if "12.5" in spoken(said, "in"):
                    left.append((entry.code, name))
    assert left == []


def test_only_sentences_of_a_result_change() -> None:
    kept = {
        "summary": "25.4 mm", "data": {"head": ["(25.4 mm)"], "cuts": [{"why": ["25.4 mm"], "speed_mm_min": 3}]},
        "findings": [{"text": "25.4 mm", "code": "P001", "place_mm": [1, 2]}],
    }  # fmt: skip
    shown = in_units(kept, "in")
    assert shown["summary"] == "1 in"
    assert shown["data"] == {"head": ["(25.4 mm)"], "cuts": [{"why": ["1 in"], "speed_mm_min": 3}]}
    assert shown["findings"] == [{"text": "1 in", "code": "P001", "place_mm": [1, 2]}]
    assert in_units(kept, "mm") is kept


@pytest.mark.parametrize(
    ("kind", "example", "inch"),
    [
        ("length", "140 mm", "5 1/2 in"),
        ("length", "6 mm", "1/4 in"),
        ("length", "0 mm", "0 in"),
        ("lengths", "40 mm, 80 mm, 40 mm", "1 5/8 in, 3 1/8 in, 1 5/8 in"),
        ("hole", "M12", "1/2 in bolt"),
        ("hole", "7 mm", "1/4 in"),
        ("hole", "none", "none"),
        ("choice", "up", "up"),
        ("angle", "45 deg", "45 deg"),
    ],
)
def test_a_field_begins_with_a_size_on_the_rule(kind: str, example: str, inch: str) -> None:
    assert begin_in(kind, example, "in") == inch
    assert begin_in(kind, example, "mm") == example


def test_every_shape_can_be_made_as_it_begins_in_inches() -> None:
    from platewright.part.families import families, make

    for family in families().values():
        typed = {p.name: begin_in(p.kind, p.default, "in") for p in family.parameters}
        made, plain = (make(family.name, values).profile.bounds() for values in (typed, {}))
        # a size on the inch's rule is not the metric one, and near it
        assert made.width == pytest.approx(plain.width, rel=0.25, abs=3.0), family.name
        assert made.height == pytest.approx(plain.height, rel=0.25, abs=3.0), family.name
