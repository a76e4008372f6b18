"""Plates from words; weights against published values (sources beside each)."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry import Contour
from platewright.stock.model import Plate
from platewright.stock.plates import (
    cautions,
    checked,
    drop,
    mass,
    released,
    reserved,
    sheet,
)


def test_holes_are_not_weighed() -> None:
    solid = drop("d", Contour.rectangle(600, 400), "6 mm")
    holed = drop("d", Contour.rectangle(600, 400), "6 mm", holes=[Contour.circle(300, 200, 100)])
    assert mass(solid) - mass(holed) == pytest.approx(np.pi * 100**2 * 6 * 7850e-9)


@pytest.mark.parametrize(
    ("outline", "holes", "text"),
    [
        (Contour.from_points([(0, 0), (100, 100), (100, 0), (0, 100)]), (), "not sound"),
        (Contour.from_points([(0, 0), (100, 0), (200, 0)]), (), "not sound|encloses nothing"),
        (Contour.rectangle(100, 100), (Contour.circle(200, 50, 10),), "old hole"),
        (Contour.rectangle(100, 100), (Contour.circle(95, 50, 10),), "old hole"),
        (Contour.rectangle(99_000, 100), (), "99000 x 100"),
    ],
)
def test_a_bad_outline_is_a_sentence(outline: Contour, holes: tuple[Contour, ...], text: str) -> None:
    with pytest.raises(InputError, match=text):
        drop("bad", outline, "6 mm", holes=holes)


def test_an_open_outline_is_a_sentence() -> None:
    with pytest.raises(InputError, match="open"):
        drop("open", Contour.from_points([(0, 0), (100, 0), (100, 100)], closed=False), "6 mm")


def test_a_plate_is_reserved_and_released() -> None:
    held = reserved(sheet("s", "4x8", 6), " job 7 ")
    assert held.held_for == "job 7"
    assert reserved(held, "job 7") == held
    assert [f.code for f in cautions(held)] == ["S004"]
    with pytest.raises(InputError, match="reserved for job 7"):
        reserved(held, "job 8")
    with pytest.raises(InputError, match="somebody or some job"):
        reserved(released(held), " ")
    assert reserved(released(held), "job 8").held_for == "job 8"


def test_grades_that_call_for_a_caution_say_so() -> None:
    (zinc,) = cautions(sheet("s", "4x8", "16 ga", grade="galvanized steel"))
    assert zinc.code == "S003"
    assert "29 CFR 1910.252(c)" in zinc.text
    (water,) = cautions(sheet("s", "4x8", 6, grade="aluminium"))
    assert "NFPA 484" in water.text
    assert "not leave to cut" in water.do
    assert cautions(sheet("s", "4x8", 6)) == ()


def test_a_plate_document_reads_back() -> None:
    plate = replace(sheet("s", "4x8", "10 ga", rack="A1"), cost=Decimal("88.10"), grain=0.5)
    plate = replace(plate, photo="ab" * 32, held_for="job 7", history=("bought in March",))
    assert Plate.from_dict(json.loads(json.dumps(plate.as_dict()))) == plate
    assert checked(plate) is plate
