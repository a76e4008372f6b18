"""Where the checks of the torch's moves, heights and words begin to speak: each limit from both sides, reckoned by hand.

The table's lifter goes down at 40 mm/s (2400 mm/min), it travels at 20 mm, reaches from 0 to 1250 mm; the row pierces at 3.8 mm
and cuts at 1.5 (tests/program/helpers). What drags, grazes, idles or is a stub is common practice.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from platewright.findings import Finding
from platewright.geometry import Contour
from platewright.layout.model import KeepOut
from platewright.proof.model import Proof
from platewright.table.model import Arm, Gantry
from tests.program.helpers import TABLE
from tests.proof.helpers import HOLE, OUTER, WASHER, layout_of, program, proved

CLEAN = program(HOLE, OUTER)
LAYOUT = layout_of(WASHER)
TOUCH = "G38.2 Z-25 F600\nG92 Z0\n"
TOUCHED = (
    CLEAN.replace("M5\n", "M102\nM5\n")
    .replace("G0 Z3.8\nM3", f"{TOUCH}G0 Z3.8\nM3")
    .replace("G1 Z1.5 F2400", "G1 Z1.5 F2400\nM101")
)
MIDDLE = "G3 X164.2000 Y100.0000 I14.2000 J0\n"
"""The second half of the hole."""


def of(proof: Proof, code: str) -> list[Finding]:
    return [f for f in proof.findings if f.code == code]


def severities(proof: Proof, code: str) -> list[str]:
    return [f.severity for f in of(proof, code)]


def within(line: str) -> str:
    """The clean job with a line in the middle of the hole."""
    assert MIDDLE in CLEAN
    return CLEAN.replace(MIDDLE, f"{line}\n{MIDDLE}")


# -- the torch ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seconds", "expected"), [(0.19, []), (0.21, ["look"]), (0.99, ["look"]), (1.01, ["stop"])]
)
def test_a_dwell_in_the_cut(seconds: float, expected: list[str]) -> None:
    found = of(proved(within(f"G4 P{seconds}"), LAYOUT), "P046")
    assert [f.severity for f in found] == expected
    assert all(f.values["seconds"] == pytest.approx(seconds) for f in found)


@pytest.mark.parametrize(("length", "named"), [(2.9, True), (3.1, False)])
def test_a_stub_of_less_than_three_millimetres(length: float, named: bool) -> None:
    found = of(proved(program(HOLE, OUTER, ["X20 Y20", f"G1 X{20 + length} F2400"]), LAYOUT), "P048")
    assert bool(found) == named
    assert all((f.values["cut"], f.values["length_mm"]) == (3, pytest.approx(length)) for f in found)


def test_a_start_that_never_moves_is_a_stub_of_no_length() -> None:
    (found,) = of(proved(program(HOLE, ["X20 Y20"], OUTER), LAYOUT), "P048")
    assert (found.values["cut"], found.values["length_mm"]) == (2, 0.0)


def test_each_cut_with_a_lit_rapid_is_named_once() -> None:
    text = program(HOLE, *([f"X{x} Y50", "G1 Y55 F2400", f"G0 X{x} Y60", f"G0 X{x} Y65"] for x in (20, 30)))
    found = of(proved(text, LAYOUT), "P003")
    assert [(f.values["cut"], f.place) for f in found] == [(2, (20, 55)), (3, (30, 55))]


@pytest.mark.parametrize(
    ("steps", "size", "named"), [(19, 0.02, False), (20, 0.02, True), (25, 0.049, True), (25, 0.051, False)]
)
def test_twenty_moves_of_less_than_a_twentieth_in_a_row(steps: int, size: float, named: bool) -> None:
    tiny = [f"G1 X{40 + size * (k + 1):.3f} Y20 F2400" for k in range(steps)]
    found = of(
        proved(program(["X20 Y20", "G1 X40 F2400", *tiny, "G1 X80"]), None, plate=LAYOUT.plate), "P024"
    )
    assert bool(found) == named
    for f in found:
        assert f.values["count"] == steps
        assert f.place == pytest.approx((40, 20))


@pytest.mark.parametrize(
    ("word", "named"), [("G55", "G55"), ("G59", "G59"), ("G59.1", "G59.1"), ("G59.3", "G59.3")]
)
def test_another_zero_is_called_by_its_word(word: str, named: str) -> None:
    (found,) = of(proved(CLEAN.replace("G0 X196.8", f"{word}\nG0 X196.8"), LAYOUT), "P085")
    assert (found.severity, found.values["word"]) == ("stop", named)


# -- heights -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("height", "named"), [(3.49, False), (3.51, True)])
def test_a_lit_torch_raised_by_two_millimetres(height: float, named: bool) -> None:
    """In both cuts; the first is shown."""
    up = f"G1 Z{height} F2400\nG1 Z1.5\n"
    text = CLEAN.replace(MIDDLE, up + MIDDLE).replace("G2 X190.8", f"{up}G2 X190.8")
    found = of(proved(text, LAYOUT), "P084")
    assert [f.values["count"] for f in found] == ([2] if named else [])
    assert all(f.place == pytest.approx((135.8, 100)) for f in found)


@pytest.mark.parametrize(("height", "named"), [(0.19, True), (0.21, False)])
def test_a_tip_that_drags(height: float, named: bool) -> None:
    found = of(proved(within(f"G1 Z{height} F2400"), LAYOUT), "P069")
    assert bool(found) == named
    assert all(f.values["height_mm"] == pytest.approx(height) for f in found)


@pytest.mark.parametrize(
    ("height", "expected"), [(3.41, ["stop"]), (3.43, ["look"]), (9.9, ["look"]), (10.1, [])]
)
def test_travel_below_half_the_tables_height(height: float, expected: list[str]) -> None:
    """0.9 of the pierce height is 3.42 mm: lower it grazes."""
    text = CLEAN.replace("M5\nG0 Z20\nG0 X196.8", f"M5\nG0 Z{height}\nG0 X196.8")
    found = of(proved(text, LAYOUT), "P054")
    assert [f.severity for f in found] == expected
    assert all((f.values["height_mm"], f.values["count"]) == (pytest.approx(height), 1) for f in found)


@pytest.mark.parametrize(
    ("height", "expected"), [(2.99, ["stop"]), (3.01, ["look"]), (4.99, ["look"]), (5.01, [])]
)
def test_travel_where_only_a_kerf_is_known(height: float, expected: list[str]) -> None:
    """No table, no pierce height: all of it runs this low, so only 5 mm of air and the 3 mm that graze count."""
    text = CLEAN.replace("G0 Z20", f"G0 Z{height}")
    assert severities(proved(text, LAYOUT, table=None, row=1.6), "P054") == expected


@pytest.mark.parametrize(("low", "named"), [(14.9, True), (15.1, False)])
def test_travel_without_a_table_is_held_against_what_most_of_the_way_runs_at(low: float, named: bool) -> None:
    """Some 250 mm at 30 mm, then 38.6 mm lower: half of 30 is 15."""
    text = CLEAN.replace("G0 Z20", "G0 Z30").replace("M5\nG0 Z30\nG0 X196.8", f"M5\nG0 Z{low}\nG0 X196.8")
    text = text.replace("G0 Z30\n", "G0 Z30\nG0 X10 Y10\n", 1)
    assert bool(of(proved(text, LAYOUT, table=None), "P054")) == named


@pytest.mark.parametrize(("coast", "wish", "table", "travels"), [
    (11.9, 0.0, True, False), (12.1, 0.0, True, True),      # 12 mm, twice what the planner makes
    (20.9, 20.0, True, False), (21.1, 20.0, True, True),    # a millimetre more than was asked for
    (36.9, 0.0, False, False), (37.1, 0.0, False, True),    # 25 mm more where nothing says how long the arc takes to die
])  # fmt: skip
def test_how_far_a_torch_may_run_on_in_its_kerf(
    coast: float, wish: float, table: bool, travels: bool
) -> None:
    """Once round the outside, its arc put out, and so far on at cut height."""
    turn = coast / 40.8
    on = f"G2 X{150 + 40.8 * math.cos(turn):.4f} Y{100 - 40.8 * math.sin(turn):.4f} I-40.8 J0"
    text = program(HOLE, [*OUTER, "M5", on]).replace(f"{on}\nM5\n", f"{on}\n")
    proof = proved(
        text, LAYOUT, table=TABLE if table else None, wishes={"hole_coast": wish}, dialect="anywhere"
    )
    assert ("P054" in {f.code for f in proof.findings}) == travels


@pytest.mark.parametrize(("inside", "named"), [(0.75, False), (0.85, True)])
def test_a_start_within_half_a_kerf_of_the_edge_needs_no_delay(inside: float, named: bool) -> None:
    text = program([f"X150 Y{inside}", "G1 Y10 F2400"]).replace("G4 P0.5\n", "")
    assert bool(of(proved(text, None, plate=LAYOUT.plate), "P057")) == named


# -- reach -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("x", "y", "over"), [(1250, 0, 0), (1251, 0, 1), (-2, 5, 2), (5, -3, 3), (5, 1254, 4), (1251, 1256, 6)]
)
def test_a_move_off_the_gantry(x: float, y: float, over: float) -> None:
    found = of(proved(CLEAN.replace("M2", f"G0 X{x} Y{y}\nM2"), LAYOUT), "P001")
    assert [f.values["over_mm"] for f in found] == ([pytest.approx(over)] if over else [])
    assert all(f.place == pytest.approx((x, y)) for f in found)


@pytest.mark.parametrize(("angle", "away", "over"), [
    (45, 99.9, 0.1), (45, 100.1, None), (45, 449.9, None), (45, 450.1, 0.1),
    (-10.1, 300, 0.0), (-9.9, 300, None), (99.9, 300, None), (100.1, 300, 0.0),
])  # fmt: skip
def test_a_move_off_the_arm(angle: float, away: float, over: float | None) -> None:
    """A ring sector from 100 to 450 mm, from -10 to 100 degrees about (10, -50)."""
    arm = Arm(
        x=10, y=-50, first=300, second=200, inner=100, outer=450, start_angle=math.radians(-10),
        end_angle=math.radians(100), first_speed=1.0, second_speed=1.0,
    )  # fmt: skip
    x, y = 10 + away * math.cos(math.radians(angle)), -50 + away * math.sin(math.radians(angle))
    text = CLEAN.replace("M2", f"G0 X{x:.4f} Y{y:.4f}\nM2")
    found = of(proved(text, LAYOUT, table=replace(TABLE, reach=arm)), "P001")
    assert [f.values["over_mm"] for f in found] == ([] if over is None else [pytest.approx(over, abs=1e-3)])
    assert all(f.place == pytest.approx((x, y), abs=1e-3) for f in found)


@pytest.mark.parametrize(("y", "over"), [(55, 0.0), (49, 1.0), (-50, 100.0)])
def test_a_travel_of_an_arm_across_its_base(y: float, over: float) -> None:
    """From 150 mm left of the base to 150 mm right of it, passing it at y: it reaches both ends and comes no nearer than 100 mm."""
    arm = Arm(
        x=10, y=-50, first=300, second=200, inner=100, outer=450, start_angle=0.0,
        end_angle=2 * math.pi, first_speed=1.0, second_speed=1.0,
    )  # fmt: skip
    text = CLEAN.replace("M2", f"G0 X-140 Y{y}\nG0 X160\nM2")
    found = of(proved(text, LAYOUT, table=replace(TABLE, reach=arm)), "P001")
    assert [f.values["over_mm"] for f in found] == ([pytest.approx(over, abs=0.03)] if over else [])
    assert of(proved(text, LAYOUT, table=replace(TABLE, reach=Gantry(-200, -200, 999, 999))), "P001") == []


def test_where_the_torch_stands_before_its_first_way_is_not_held_against_its_reach() -> None:
    """The program lifts at a place it does not say; read as zero it lay outside."""
    assert of(proved(CLEAN, LAYOUT, table=replace(TABLE, reach=Gantry(100, 50, 400, 400))), "P001") == []
    assert len(of(proved(CLEAN, LAYOUT, table=replace(TABLE, reach=Gantry(110, 50, 400, 400))), "P001")) == 1


# -- words -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("feed", "expected"), [(2423, []), (2425, ["look"]), (4799, ["look"]), (4801, ["stop"])]
)
def test_a_touch_off_faster_than_the_lifter(feed: int, expected: list[str]) -> None:
    """A hundredth over its 2400 mm/min is told, twice as fast breaks the tip."""
    found = of(proved(TOUCHED.replace("F600", f"F{feed}"), LAYOUT, dialect="probe-mm"), "P095")
    assert [f.severity for f in found] == expected
    for f in found:
        assert f.values["count"] == 2
        assert (f.values["feed_mm_min"], f.values["allowed_mm_min"]) == pytest.approx((feed, 2400))


@pytest.mark.parametrize(("height", "named"), [(0.09, True), (0.11, False)])
def test_a_touch_off_that_hardly_comes_down(height: float, named: bool) -> None:
    text = TOUCHED.replace(TOUCH, f"G0 Z{height}\n{TOUCH}", 1)
    assert bool(of(proved(text, LAYOUT, dialect="probe-mm"), "P086")) == named


@pytest.mark.parametrize(("every", "named"), [(0.0, True), (38.5, True), (38.7, False)])
def test_a_touch_off_may_serve_for_so_far_as_was_asked(every: float, named: bool) -> None:
    """The second start lies 196.8 - 158.2 = 38.6 mm from the only touch-off."""
    last = TOUCHED.rindex(TOUCH)
    text = TOUCHED[:last] + TOUCHED[last + len(TOUCH) :]
    found = of(proved(text, LAYOUT, dialect="probe-mm", wishes={"touch_every": every}), "P080")
    assert [(f.severity, f.values["count"]) for f in found] == ([("look", 1)] if named else [])


def test_a_first_start_before_any_touch_off_is_stopped() -> None:
    found = of(proved(TOUCHED.replace(TOUCH, "", 1), LAYOUT, dialect="probe-mm"), "P080")
    assert [(f.severity, f.values["count"]) for f in found] == [("stop", 1)]
    found = of(proved(TOUCHED.replace(TOUCH, ""), LAYOUT, dialect="probe-mm"), "P080")
    assert [(f.severity, f.values["count"]) for f in found] == [("stop", 2)]


@pytest.mark.parametrize(("height", "named"), [(0.0, False), (5.0, True)])
def test_a_touch_off_on_a_clamp_finds_the_clamp(height: float, named: bool) -> None:
    clamp = KeepOut("clamp", Contour.circle(20, 20, 5), height)
    text = TOUCHED.replace("M2", f"G0 X20 Y20\n{TOUCH}G0 Z20\nM2")
    found = of(proved(text, replace(LAYOUT, keepouts=(clamp,)), dialect="probe-mm"), "P082")
    assert [(f.values["count"], f.place) for f in found] == ([(1, (20, 20))] if named else [])


@pytest.mark.parametrize(
    ("long", "share", "named"),
    [(149.9, 0.0, False), (150.1, 0.0, True), (200, 0.24, True), (200, 0.26, False)],
)
def test_height_control_over_less_than_a_quarter_of_a_long_cut(
    long: float, share: float, named: bool
) -> None:
    part = [f"G1 X{20 + long * share:.3f} F2400"] if share else []
    text = program(
        [f"X20 Y20\n{TOUCH.strip()}", *(["M101"] if part else []), *part, "M102", f"G1 X{20 + long} F2400"]
    )
    found = of(proved(text, None, plate=LAYOUT.plate, dialect="probe-mm"), "P079")
    assert [f.values["count"] for f in found] == ([1] if named else [])
