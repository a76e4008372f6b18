"""What a written program says, line by line, against lines written by hand from the plan's numbers.

A washer of 80 over 30 mm about (80, 100), kerf 1.6 mm: the hole's path has a radius of 14.2 mm and is led in over 6 mm from within,
counterclockwise at 24 mm/s; the outside's has 40.8 mm, clockwise at 40 mm/s, led in from the right.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from platewright.burn.model import BurnPlan, Pause
from platewright.program.dialects import load_dialect
from platewright.program.writer import outline, rehearsal, resume, write
from tests.program.helpers import washer_plan

HOLE = [
    "G0 X88.2 Y100",
    "G0 Z3.8",
    "M3",
    "G4 P0.5",
    "G1 Z1.5 F2400",
    "G1 X94.2 F1440",
    "G3 X65.8 Y100 I-14.2 J0",
    "X94.2 Y100 I14.2 J0",
    "M5",
    "G0 Z20",
]
OUTER = [
    "G0 X126.8 Y100",
    "G0 Z3.8",
    "M3",
    "G4 P0.5",
    "G1 Z1.5 F2400",
    "G1 X120.8 F2400",
    "G2 X39.2 Y100 I-40.8 J0",
    "X120.8 Y100 I40.8 J0",
    "M5",
    "G0 Z20",
]
OPEN = ["G17 G40 G49 G80 G90 G94", "G54"]


def one() -> BurnPlan:
    """The first washer alone."""
    plan = washer_plan()
    return replace(
        plan, layout=replace(plan.layout, placements=plan.layout.placements[:1]), cuts=plan.cuts[:2]
    )


def meaningful(text: str) -> list[str]:
    """The lines that mean something."""
    return [line for line in text.splitlines() if line and line[0] not in "(%;"]


def test_a_washer_in_millimetres() -> None:
    program = write(one(), "plain-mm", name="w")
    assert meaningful(program.text) == ["G21", *OPEN, "G0 Z20", *HOLE, *OUTER, "M5", "M2"]
    lines = program.text.split("\n")
    assert [lines[n - 1] for n in program.cut_lines] == ["M3", "M3"]
    assert program.cut_lines[0] == lines.index("M3") + 1


def test_a_washer_in_inches() -> None:
    """Rounded to 0.0001 in, F to a tenth; 24 and 40 mm/s are 56.7 and 94.5 in/min; the arc's centre is made for the rounded ends."""
    lines = meaningful(write(one(), "plain-inch", name="w").text)
    inches = {mm: f"{mm / 25.4:.4f}".rstrip("0") for mm in (88.2, 94.2, 65.8, 126.8, 120.8, 39.2, 100)}
    assert lines[:4] == ["G20", *OPEN, "G0 Z0.7874"]
    assert lines[4:10] == [
        f"G0 X{inches[88.2]} Y{inches[100]}",
        "G0 Z0.1496",
        "M3",
        "G4 P0.5",
        "G1 Z0.0591 F94.5",
        f"G1 X{inches[94.2]} F56.7",
    ]
    assert lines[10].startswith(f"G3 X{inches[65.8]} Y{inches[100]} I-0.559 J")
    assert lines[14:16] == [f"G0 X{inches[126.8]} Y{inches[100]}", "G0 Z0.1496"]
    assert lines[20].startswith(f"G2 X{inches[39.2]} Y{inches[100]} I-1.6063 J")


def test_touch_off_and_height_control() -> None:
    """The touch-off runs at a quarter of the lifter's 2400 mm/min; height control follows the outside and is held in the hole."""
    lines = meaningful(write(one(), "probe-mm", name="w").text)
    first, second = (
        [cut[0], "G38.2 Z-25 F600", "G92 Z0", *cut[1:5], word, *cut[5:8], "M102", *cut[8:]]
        for cut, word in ((HOLE, "M102"), (OUTER, "M101"))
    )
    assert lines == ["G21", *OPEN, "G0 Z20", *first, *second, "M5", "M2"]


def test_the_rehearsal_runs_at_half_feed_and_never_comes_down() -> None:
    lines = meaningful(rehearsal(one(), "probe-mm", name="w").text)
    way = [HOLE[0], "G1 X94.2 F720", *HOLE[6:8], OUTER[0], "G1 X120.8 F1200", *OUTER[6:8]]
    assert [line for line in lines[len(OPEN) + 2 :] if line[0] in "GXY"] == way
    last = meaningful(rehearsal(one(), "plain-mm", name="w", first_cut=2).text)
    assert last == ["G21", *OPEN, "G0 Z20", *way[4:], "M5", "M2"]


def test_the_run_round_the_layout_is_half_as_fast_as_travel() -> None:
    """Two washers about (80, 100) and (200, 100); travel runs at 150 mm/s."""
    lines = meaningful(outline(washer_plan(), "plain-mm").text)
    assert lines == ["G21", *OPEN, "G0 Z20", "G0 X40 Y60", "G1 X240 F4500", "Y140", "X40", "Y60", "M5", "M2"]


def test_going_on_from_a_cut_says_which_and_leaves_out_what_is_done() -> None:
    program = resume(one(), "plain-mm", first_cut=2)
    assert meaningful(program.text) == ["G21", *OPEN, "G0 Z20", *OUTER, "M5", "M2"]
    assert "(resume: cut, cuts 2 to 2)" in program.text
    assert len(program.cut_lines) == 1


def test_a_pause_stands_before_its_cut_with_its_words() -> None:
    plan = one()
    for pause, lines in (
        (Pause("tip"), ["(MSG, tip and electrode are used up - change them and go on)", "M0"]),
        (Pause("tip+current", amperage=45.0), ["(MSG, tip and electrode are used up - change them and go on)", "(MSG, set 45 A and go on)", "M0"]),
        (Pause("duty", seconds=90.0), ["(wait 90 s - duty cycle or air)", "G4 P90"]),
    ):  # fmt: skip
        text = write(
            replace(plan, cuts=(plan.cuts[0], replace(plan.cuts[1], pause=pause))), "plain-mm", name="w"
        ).text
        assert "\n".join(["M5", "G0 Z20", *lines, OUTER[0]]) in text


@pytest.mark.parametrize(
    ("touch", "count"), [(("here", "here"), 2), (("here", "none"), 1), (("none", "none"), 1)]
)
def test_the_first_burn_of_a_program_always_touches_off(touch: tuple[str, str], count: int) -> None:
    plan = replace(one(), controller=load_dialect("probe-mm").controller)
    cuts = tuple(replace(c, touch=t) for c, t in zip(plan.cuts, touch, strict=True))
    text = write(replace(plan, cuts=cuts), "probe-mm", name="w").text
    assert text.count("G38.2") == count
    assert text.index("G38.2") < text.index("M3")
