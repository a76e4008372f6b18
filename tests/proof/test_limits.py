"""Where a check begins to speak: each limit from both sides, its number reckoned here and not taken from the source.

Kerf 1.6 mm, a hole's least diameter 9 mm (tests/program/helpers.ROW); limits are common practice, named where they are set.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from platewright.findings import Finding
from platewright.geometry import Contour, Profile
from platewright.layout.model import KeepOut
from platewright.proof.model import Proof
from tests.proof.helpers import HOLE, OUTER, WASHER, R, circle, layout_of, program, proved

CLEAN = program(HOLE, OUTER)


def of(proof: Proof, code: str) -> list[Finding]:
    return [f for f in proof.findings if f.code == code]


def test_a_part_hangs_off_where_the_plate_may_lie_off_by_more_than_its_margin() -> None:
    """The washer ends at x = 190; the plate may lie 1 mm off, and turned by 0.002 about its middle."""
    wide = 191.26
    room = 1.0 + 0.002 * math.hypot(wide, 200) / 2
    assert 1.26 < room < 1.29
    (told,) = of(proved(CLEAN, layout_of(WASHER, width=wide)), "P025")
    assert told.values["gap_mm"] == pytest.approx(1.26, abs=2e-3)
    assert told.values["room_mm"] == pytest.approx(room)
    assert told.place == pytest.approx((190, 100), abs=1.0)
    assert of(proved(CLEAN, layout_of(WASHER, width=191.29)), "P025") == []
    (off,) = of(proved(CLEAN, layout_of(WASHER, width=189.9)), "P073")
    assert off.place is not None


@pytest.mark.parametrize(("gap", "told"), [(1.23, True), (1.26, False)])
def test_the_margin_grows_with_the_plate_not_with_where_it_lies(gap: float, told: bool) -> None:
    """A plate from x = 50 to just beyond the washer: 1 + 0.002 · 245/2 = 1.245 mm."""
    layout = layout_of(WASHER)
    beside = replace(layout.plate, profile=Profile(Contour.rectangle(140 + gap, 200, x=50)))
    assert bool(of(proved(CLEAN, replace(layout, plate=beside)), "P025")) == told


def test_a_start_beside_the_plate_is_told_with_its_cut_and_place() -> None:
    """The second cut is lit at x = 150 + 40 + half a kerf + a lead of 6; half a kerf off the plate still bites its edge."""
    lit = 150 + 40 + R + 6
    (told,) = of(proved(CLEAN, layout_of(WASHER, width=lit - R - 0.05)), "P071")
    assert told.values["cut"] == 2
    assert told.place == pytest.approx((lit, 100))
    assert of(proved(CLEAN, layout_of(WASHER, width=lit - R + 0.05)), "P071") == []


def test_a_cut_through_a_keep_out_names_the_cut() -> None:
    magnet = KeepOut("magnet", Contour.circle(150, 145, 8))
    (told,) = of(proved(CLEAN, layout_of(WASHER, keepouts=(magnet,))), "P005")
    assert told.values["cut"] == 2
    assert told.place is not None
    assert math.dist(told.place, (150, 145)) < 8


def test_travel_passes_two_millimetres_above_a_keep_out() -> None:
    """It travels at 20 mm: over 18 mm it may, over 18.05 it may not."""
    under = [
        bool(of(proved(CLEAN, layout_of(WASHER, keepouts=(KeepOut("clamp", Contour.circle(180, 100, 3), high),))), "P006"))
        for high in (0.0, 18.0, 18.05)
    ]  # fmt: skip
    assert under == [False, False, True]


@pytest.mark.parametrize(("across", "told"), [(8.8, True), (8.87, True), (8.93, False), (9.0, False)])
def test_a_hole_a_tenth_under_the_charts_smallest_is_told(across: float, told: bool) -> None:
    radius = across / 2
    requested = Profile(Contour.circle(150, 100, 40), (Contour.circle(150, 100, radius),))
    cut = circle(150, 100, radius - R, lead=-(radius - R), ccw=True)
    found = of(proved(program(cut, OUTER), layout_of(requested)), "P042")
    assert bool(found) == told
    assert all(f.values["across_mm"] == pytest.approx(across, abs=0.02) for f in found)
    assert all(f.values["least_mm"] == 9.0 for f in found)


@pytest.mark.parametrize(("across", "told"), [(17.9, True), (18.1, False)])
def test_height_control_over_a_hole_up_to_three_thicknesses_is_told(across: float, told: bool) -> None:
    radius = across / 2
    requested = Profile(Contour.circle(150, 100, 40), (Contour.circle(150, 100, radius),))
    cut = circle(150, 100, radius - R, lead=-6.0, ccw=True)
    text = program(cut, OUTER).replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101")
    assert bool(of(proved(text, layout_of(requested), dialect="probe-mm"), "P017")) == told


def test_a_start_in_an_earlier_kerf_names_its_cut() -> None:
    told = of(proved(program(HOLE, HOLE, OUTER), layout_of(WASHER)), "P072")
    assert [f.values["cut"] for f in told] == [2]
    assert told[0].place == pytest.approx((150 + 15 - R - 6, 100))


def test_a_start_over_an_old_hole_names_its_cut() -> None:
    """An old hole of the plate round the second cut's start, clear of the part."""
    lit = 150 + 40 + R + 6
    old = Contour.circle(lit + 1, 100, 3, clockwise=True)
    layout = layout_of(WASHER)
    holed = replace(layout.plate, profile=Profile(layout.plate.profile.outer, (old,)))
    (told,) = of(proved(CLEAN, replace(layout, plate=holed)), "P052")
    assert told.values["cut"] == 2
    assert told.place == pytest.approx((lit, 100))
