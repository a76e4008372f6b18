"""An arc that burns on after its word: how far it gets, by feed times time, on a table that says how long it takes to die.

A cut from (20, 20) to (60, 20), its arc put out there; what follows is written by hand, torch still at cut height.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from platewright.proof.model import Proof
from tests.program.helpers import TABLE
from tests.proof.helpers import WASHER, layout_of, program, proved

PLATE = layout_of(WASHER).plate


def burned(*after: str, seconds: float = 0.25) -> Proof:
    text = program(["X20 Y20", "G1 X60 F2400"])
    text = text.replace("M5\nG0 Z20\nM2", "\n".join(["M5", *after, "G0 Z20", "M2"]))
    return proved(text, None, plate=PLATE, table=replace(TABLE, off_delay=seconds))


@pytest.mark.parametrize(("seconds", "after", "further", "end"), [
    (0.0, ("G1 X100 F2400",), 0, (60, 20)),
    (0.25, ("G1 X100 F2400",), 10, (70, 20)),                            # 40 mm/s · 0.25 s
    (0.25, ("G1 X100 F1200",), 5, (65, 20)),
    (0.25, ("G1 X64 F2400", "G1 Y24", "G1 X100"), 10, (66, 24)),         # 4 + 4 + 2 mm
    (0.25, ("G1 X64 F2400", "G1 Y24 F1200", "G1 X100"), 7, (64, 23)),    # 0.1 s, then 0.15 s at half the feed
    (0.25, ("G1 X70 F2400", "G1 X100"), 10, (70, 20)),                   # out just at a move's end
    (0.25, ("G1 X64 F2400",), 4, (64, 20)),                              # the lift puts it out
    (0.25, ("G1 X64 F2400", "G1 X100 Z4"), 4, (64, 20)),                 # a move that rises, too
    (0.25, ("G0 X100",), 0, (60, 20)),                                   # a rapid is not counted (low: P054 stops it)
    (0.25, ("G4 P1", "G1 X100 F2400"), 0, (60, 20)),                     # it stands, so it is out
    (0.0015, ("G1 X100 F2400",), 0, (60, 20)),                           # 2 ms are nothing
])  # fmt: skip
def test_how_far_a_dying_arc_burns(
    seconds: float, after: tuple[str, ...], further: float, end: tuple[float, float]
) -> None:
    proof = burned(*after, seconds=seconds)
    assert proof.burns == 1
    assert proof.cut_length == pytest.approx(40 + further, abs=1e-6)
    assert proof.paths[-1][-1] == pytest.approx(end, abs=1e-6)


def test_a_dying_arc_follows_an_arc_of_its_path() -> None:
    """Half a turn of 20 mm radius: 10 mm are half a radian of it."""
    proof = burned("G3 X60 Y60 J20 I0")
    assert proof.cut_length == pytest.approx(50, abs=1e-6)
    assert proof.paths[-1][-1] == pytest.approx((60 + 20 * math.sin(0.5), 40 - 20 * math.cos(0.5)), abs=1e-6)


@pytest.mark.parametrize(("end", "travels"), [(80, False), (80.7, False), (82, True)])
def test_a_stretch_the_dying_arc_burns_is_no_travel(end: float, travels: bool) -> None:
    """Half a second is 20 mm, more than the 12 mm that a torch may run on in its kerf; the kerf's end is 0.8 mm further."""
    found = {f.code for f in burned(f"G1 X{end} F2400", seconds=0.5).findings}
    assert ("P054" in found) == travels


def test_a_torch_lit_again_ends_the_dying_of_the_last_arc() -> None:
    text = program(["X20 Y20", "G1 X60 F2400"]).replace(
        "M5\nG0 Z20\nM2", "M5\nG1 X64\nM3\nG1 X80\nM5\nG0 Z20\nM2"
    )
    proof = proved(text, None, plate=PLATE, table=replace(TABLE, off_delay=0.25))
    assert proof.burns == 2
    assert proof.cut_length == pytest.approx(60)


def test_lines_and_lit_moves_of_later_cuts_keep_their_places() -> None:
    """Two cuts, both dying: a move is parted in each, and what follows is counted on."""
    cuts = (["X20 Y20", "G1 X60 F2400"], ["X20 Y40", "G1 X60 F2400"])
    text = program(*cuts).replace("M5\n", "M5\nG1 X80\n")
    proof = proved(text, None, plate=PLATE, table=replace(TABLE, off_delay=0.25))
    assert proof.cut_length == pytest.approx(100)
    assert [path[-1].tolist() for path in proof.paths] == [pytest.approx([70, 20]), pytest.approx([70, 40])]
    assert proof.arc_time > 2 * (0.5 + 50 / 40)
