"""The line a plate is cut off along: what counts as that cut, how much of it may be left, and marks struck by the arc.

The line asked for runs from (250, 0) to (250, 200), or slanted; kerf 1.6 mm.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from platewright.part.model import Mark
from platewright.proof.model import Proof
from tests.program.helpers import ROW
from tests.proof.helpers import HOLE, OUTER, WASHER, layout_of, program, proved

LAYOUT = layout_of(WASHER)
LINE = replace(LAYOUT, cut_off=((250.0, 0.0), (250.0, 200.0)), burn={"cut_off": True})
CLEAN = program(HOLE, OUTER)
STRUCK = "G0 X{x} Y80\nG0 Z3.8\nM3\nG4 P{seconds}\nM5\nG0 Z20\nM2"


def codes_of(proof: Proof) -> set[str]:
    return {f.code for f in proof.findings} & {"P065", "P094", "P097", "P098"}


@pytest.mark.parametrize(("x", "low", "high", "codes"), [
    (250.0, -3.0, 203.0, {"P097"}),
    (250.29, -3.0, 203.0, {"P097"}), (250.31, -3.0, 203.0, {"P065", "P098"}), (249.69, -3.0, 203.0, {"P065", "P098"}),
    (250.0, -5.0, 203.0, {"P097"}), (250.0, -5.2, 203.0, {"P065", "P098"}),     # three kerfs and 0.3 mm past its ends
    (250.0, -3.0, 205.0, {"P097"}), (250.0, -3.0, 205.2, {"P065", "P098"}),
])  # fmt: skip
def test_the_cut_off_lies_on_its_line(x: float, low: float, high: float, codes: set[str]) -> None:
    cut = [f"X{x} Y{low}", f"G1 Y{high} F2400"]
    assert codes_of(proved(program(HOLE, OUTER, cut), LINE)) == codes


def test_a_slanted_cut_off_from_side_to_side() -> None:
    """From (0, 160) to (300, 190), above the washer."""
    layout = replace(LINE, cut_off=((0.0, 160.0), (300.0, 190.0)))
    cut = ["X-3 Y159.7", "G1 X303 Y190.3 F2400"]
    assert codes_of(proved(program(HOLE, OUTER, cut), layout)) == {"P097"}


def test_a_slanted_cut_off_may_run_past_both_its_ends() -> None:
    """From (220, 0) to (280, 200): some 3 mm further on at either end."""
    layout = replace(LINE, cut_off=((220.0, 0.0), (280.0, 200.0)))
    cut = ["X219.1 Y-3", "G1 X280.9 Y203 F2400"]
    assert codes_of(proved(program(HOLE, OUTER, cut), layout)) == {"P097"}


@pytest.mark.parametrize(("end", "left"), [(197.7, None), (197.5, 1.7), (100.0, 99.2)])
def test_what_is_left_of_the_line(end: float, left: float | None) -> None:
    """The kerf ends 0.8 mm beyond the path; a kerf's width may be left to break."""
    proof = proved(program(HOLE, OUTER, ["X250 Y-3", f"G1 Y{end} F2400"]), LINE)
    found = [f for f in proof.findings if f.code == "P098"]
    assert [f.values["left_mm"] for f in found] == ([] if left is None else [pytest.approx(left, abs=0.01)])
    if left is not None:
        assert found[0].place == pytest.approx((250, 200 - left / 2), abs=0.01)


def test_a_cut_off_comes_last_and_only_where_it_was_asked_for() -> None:
    cut = ["X250 Y-3", "G1 Y203 F2400"]
    assert codes_of(proved(program(HOLE, cut, OUTER), LINE)) == {"P065"}
    assert codes_of(proved(program(HOLE, OUTER, cut), replace(LINE, burn={}))) == {"P065"}
    assert codes_of(proved(program(HOLE, OUTER, cut), replace(LINE, cut_off=None))) == {"P065"}
    assert codes_of(proved(CLEAN, LINE)) == {"P098"}


@pytest.mark.parametrize(("x", "seconds", "wish", "code"), [
    (150, 0.19, True, "P099"), (150, 0.21, True, "P100"),             # 0.4 of the 0.5 s a pierce takes
    (150.49, 0.15, True, "P099"), (150.51, 0.15, True, "P048"),      # half a millimetre off its place it is a hole
    (150, 0.15, False, "P048"),                                       # as it is where nobody asked for it
])  # fmt: skip
def test_a_centre_struck_by_the_arc(x: float, seconds: float, wish: bool, code: str) -> None:
    marked = replace(LAYOUT.parts[0], marks=(Mark("centre", at=(150.0, 80.0)),))
    layout = replace(LAYOUT, parts=(marked,), burn={"dimple": wish})
    proof = proved(CLEAN.replace("M2", STRUCK.format(x=x, seconds=seconds)), layout)
    assert code in {f.code for f in proof.findings}
    assert {"P048", "P099", "P100"} & {f.code for f in proof.findings} <= {code, "P048"}


@pytest.mark.parametrize(("thickness", "code"), [(2.9, "P100"), (3.0, "P099")])
def test_thin_plate_is_not_struck(thickness: float, code: str) -> None:
    """Under 3 mm even a short arc goes through."""
    marked = replace(LAYOUT.parts[0], thickness=thickness, marks=(Mark("centre", at=(150.0, 80.0)),))
    layout = replace(
        LAYOUT, parts=(marked,), plate=replace(LAYOUT.plate, thickness=thickness), burn={"dimple": True}
    )
    proof = proved(
        CLEAN.replace("M2", STRUCK.format(x=150, seconds=0.15)),
        layout,
        row=replace(ROW, thickness=thickness),
    )
    assert {f.code for f in proof.findings} & {"P099", "P100"} == {code}


# -- the rest cut up --------------------------------------------------------------------------------------

CUT_UP = replace(LAYOUT, burn={"skeleton": 200.0})
LIFT = "M0\nG0 X20 Y20\nG0 Z3.8\nM3\nG4 P0.5\nG1 Z1.5 F2400\n{cut}\nM5\nG0 Z20\nM2"


def rest(cut: str, layout: object = CUT_UP) -> set[str]:
    text = CLEAN.replace("M2", LIFT.format(cut=cut))
    return {f.code for f in proved(text, layout).findings} & {"P048", "P094", "P101", "P102", "P103"}


@pytest.mark.parametrize(("cut", "codes"), [
    ("G1 X60 Y20", {"P103"}),                                  # one straight way is a cut of the rest
    ("G1 X40 Y20\nG1 X60", {"P103"}),                          # in two moves as well
    ("G1 X40 Y20\nG1 X60 Y21", {"P094"}),                      # bent, it is another cut
    ("G3 X60 Y20 I20 J0", {"P094"}),                           # as is a round one
    ("G1 X109.3 Y100", {"P102", "P103"}), ("G1 X109.1 Y100", {"P103"}),  # its kerf reaches 0.8 mm further, to the part's left at 110
    ("", {"P048"}),                                            # a start that never moves is a hole
])  # fmt: skip
def test_cuts_of_the_rest_are_straight_and_touch_no_part(cut: str, codes: set[str]) -> None:
    assert rest(cut) == codes
    assert rest("G1 X60 Y20", LAYOUT) == {"P094"}


def test_a_cut_of_the_rest_before_the_last_part_is_none() -> None:
    text = program(HOLE, ["X20 Y20", "G1 X60 Y20 F2400"], OUTER)
    assert {f.code for f in proved(text, CUT_UP).findings} == {"P094"}
