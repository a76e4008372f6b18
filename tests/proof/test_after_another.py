"""A program that goes on where another left the plate: what that one cut loose lies about, and its kerfs are open.

All of these were GO but the last; the shapes and what lies where are written by hand.
"""

from __future__ import annotations

import math

import pytest

from platewright.errors import InputError
from platewright.geometry import Contour, Profile
from platewright.proof.model import Proof
from tests.proof.helpers import HOLE, OUTER, WASHER, R, circle, codes, layout_of, program, proved

LEFT, RIGHT = (circle(x, 100, 30 + R, lead=6, ccw=False) for x in (80, 200))
TWO = layout_of(*(Profile(Contour.circle(x, 100, 30)) for x in (80, 200)))
BEFORE = program(LEFT, RIGHT)
GOES_ON = program(RIGHT)
TOUCH = "G38.2 Z-25 F600\nG92 Z0\n"


def after(text: str, burns: int = 1, **more: object) -> Proof:
    """The proof of a program where so many burns of the two discs were made before it."""
    return proved(text, TWO, burned=(BEFORE, burns), **more)


def test_the_second_disc_alone_is_sound() -> None:
    assert after(GOES_ON).findings == ()


def test_a_hole_of_a_part_that_is_loose_already_is_stopped() -> None:
    proof = proved(program(HOLE), layout_of(WASHER), burned=(program(OUTER), 1))
    (found,) = proof.findings
    assert (found.code, found.severity) == ("P013", "stop")
    assert found.text == "Cut 1 (line 6) works inside part 1 #1 after the program before has freed it."
    assert proved(program(OUTER), layout_of(WASHER), burned=(program(HOLE), 1)).verdict == "go"


def test_a_cut_in_a_loose_piece_nobody_asks_for_any_more_is_stopped() -> None:
    slit = ["X70 Y100", "G1 X90 Y100 F2400"]
    (found,) = [f for f in after(program(slit, RIGHT), only={1}).findings if f.code == "P015"]
    assert found.severity == "stop"
    assert found.place == pytest.approx((70, 100))
    assert "P015" not in codes(after(program(slit, RIGHT), burns=0, only={1}))


@pytest.mark.parametrize(("height", "code"), [(4.9, "P014"), (12, "P032"), (29.9, "P032"), (30.1, None)])
def test_low_travel_over_a_disc_that_is_loose_already(height: float, code: str | None) -> None:
    """60 mm across, it may stand up to 30 mm over the plate: told from the first move on."""
    over = f"G0 Z40\nG0 X40 Y100\nG0 Z{height}\nG0 X120 Y100\nG0 Z40\n"
    text = GOES_ON.replace("G0 Z20\n", over, 1).replace("M5\nG0 Z20\n", "M5\nG0 Z40\n")
    assert codes(after(text)) & {"P014", "P032"} == ({code} if code else set())
    assert codes(after(text, burns=0)) & {"P014", "P032"} == set()


@pytest.mark.parametrize(("x", "missed"), [(80, True), (110 + R, True), (120, False)])
def test_a_touch_off_over_a_loose_disc_or_an_open_kerf_is_stopped(x: float, missed: bool) -> None:
    """In the middle of the disc; in its kerf; on the skeleton beside it."""
    text = GOES_ON.replace("G0 Z20\n", f"G0 Z20\nG0 X{x} Y100\n{TOUCH}G0 Z20\n", 1)
    assert ("P082" in codes(after(text, dialect="probe-mm"))) == missed
    assert "P082" not in codes(after(text, burns=0, dialect="probe-mm"))


@pytest.mark.parametrize(("burns", "lead", "again"), [(1, 12, True), (1, 6, True), (0, 12, False)])
def test_a_cut_the_program_before_has_made_is_stopped(burns: int, lead: float, again: bool) -> None:
    """Lit in sound metal further out it was GO: no start in a kerf, and still all the way round in the open."""
    text = program(circle(80, 100, 30 + R, lead=lead, ccw=False), RIGHT)
    found = [f for f in after(text, burns=burns).findings if f.code == "P012"]
    assert [(f.severity, f.values["cut"], f.values["first"]) for f in found] == (
        [("stop", 1, "the program before")] if again else []
    )
    for f in found:
        assert f.values["length_mm"] == pytest.approx(2 * math.pi * (30 + R) + 6, abs=0.5)


def test_a_cut_whose_arc_was_lost_is_run_again_as_a_whole() -> None:
    """The second disc's arc went out at its left, after half its way: the same cut once more is none made already."""
    lost = (BEFORE, 1, (200 - 30 - R, 100.0))
    assert "P012" not in codes(proved(GOES_ON, TWO, burned=lost))
    assert "P012" in codes(proved(GOES_ON, TWO, burned=(BEFORE, 2)))


@pytest.mark.parametrize(("share", "again"), [(0.74, False), (0.76, True)])
def test_three_quarters_in_an_older_kerf_are_that_cut_again(share: float, again: bool) -> None:
    """Along an old cut from (20, 20) to (220, 20), then off it: 100 mm in all, the kerf's half ones beyond its bend included."""
    old = program(["X20 Y20", "G1 X220 F2400"])
    more = ["X50 Y20", f"G1 X{50 + 100 * share:.1f} F2400", f"G1 Y{20 + 100 * (1 - share):.1f}"]
    proof = proved(program(more), None, plate=TWO.plate, burned=(old, 1))
    assert ("P012" in codes(proof)) == again


def test_a_part_larger_than_what_is_left_of_the_plate_is_still_found() -> None:
    """It was taken for the skeleton, and the plate round it for the part: a sound program was stopped."""
    big = layout_of(Profile(Contour.rectangle(240, 180, x=5, y=5)), Profile(Contour.circle(275, 100, 15)))
    x0, y0, x1, y1 = 5 - R, 5 - R, 245 + R, 185 + R
    frame = ["X250 Y190", f"G1 X{x1} Y{y1} F2400", *(f"G1 X{x} Y{y}" for x, y in ((x1, y0), (x0, y0), (x0, y1), (x1, y1)))]  # fmt: skip
    small = circle(275, 100, 15 + R, lead=6, ccw=False)
    proof = proved(program(small), big, burned=(program(frame, small), 1))
    assert proof.findings == ()
    assert [p.name for p in proof.parts()] == ["part 1 #1", "part 2 #2"]


# -- what this program itself has cut loose ----------------------------------------------------------------


@pytest.mark.parametrize(("cut", "code"), [
    (["X150 Y100", "G1 X120 F2400", "G1 Y120"], "P015"),                     # lit in the slug, run on into the part
    (["X150 Y100", "G1 X155 F2400"], "P015"),                                # a slit of the slug
    (["X150 Y100", "G1 X164.2 F2400"], "P015"),                              # from the slug into its kerf
])  # fmt: skip
def test_a_cut_that_starts_in_a_slug_already_freed_is_stopped(cut: list[str], code: str) -> None:
    """The first was not seen where its middle lay elsewhere: the slug has dropped, the arc finds no metal to strike on."""
    for layout, plate in ((layout_of(WASHER), None), (None, layout_of(WASHER).plate)):
        found = [f for f in proved(program(HOLE, cut, OUTER), layout, plate=plate).findings if f.code == code]
        assert [(f.values["cut"], f.values["first"], f.severity) for f in found] == [(2, "cut 1", "stop")]


def test_a_loose_disc_cut_in_two_is_stopped() -> None:
    """From its middle out into its kerf, on a bare plate: nothing of it lies on one side only, so it was taken for sound."""
    proof = proved(
        program(OUTER, ["X150 Y100", "G1 X191 F2400", "G1 X109"]), None, plate=layout_of(WASHER).plate
    )
    assert ("P015", "stop") in {(f.code, f.severity) for f in proof.findings}


def test_a_start_in_the_kerf_about_a_loose_part_is_none_in_it() -> None:
    """The next part begins in the open kerf of the first, 0.8 mm from it."""
    square = ["X190.8 Y100", "G1 X240 F2400", "G1 Y60", "G1 X150", "G1 Y59"]
    proof = proved(program(OUTER, square), None, plate=layout_of(WASHER).plate)
    assert not codes(proof) & {"P013", "P015"}


@pytest.mark.parametrize(("burns", "known"), [(1, True), (2, False)])
def test_a_program_before_that_cannot_be_read_so_far_is_refused(burns: int, known: bool) -> None:
    """Its second cut stands behind a line nobody can read: the plate was taken for whole there, and a cut on it was GO."""
    spoiled = program(LEFT, ["X250 Y100", "?", *RIGHT[1:]])
    if known:
        assert proved(GOES_ON, TWO, burned=(spoiled, burns)).verdict == "go"
    else:
        with pytest.raises(InputError, match="cannot be read past line 19"):
            proved(GOES_ON, TWO, burned=(spoiled, burns))
