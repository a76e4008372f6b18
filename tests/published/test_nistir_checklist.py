"""The RS274/NGC behaviour checklist, one test a line, each naming its clause of NISTIR 6556 (read in; own wording).

Values marked "derived" are arithmetic done here. The numbers of the tests are the lines of the checklist.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from platewright.program.interpreter import ReadOptions, interpret
from platewright.program.run import Kind, Run

HEAD = "G21\nG17 G90 G94\n"


def run(
    body: str, *, head: str = HEAD, end: str = "\nM2\n", dialect: str = "plain-mm", **options: Any
) -> Run:
    return interpret(head + body + end, dialect, options=ReadOptions(**options))


def ends(made: Run) -> list[tuple[float, float]]:
    return [(round(float(x), 6), round(float(y), 6)) for x, y, _ in made.moves.end]


def codes(made: Run) -> list[str]:
    return [f.code for f in made.findings]


def refused(body: str, code: str, **more: Any) -> Run:
    made = run(body, **more)
    found = [f for f in made.findings if f.code == code]
    assert found, [f"{f.code} {f.text}" for f in made.findings]
    assert found[0].severity == "stop"
    assert "line" in found[0].values
    return made


def last_point(body: str, **more: Any) -> tuple[float, float, float]:
    made = run(body, **more)
    assert codes(made) == []
    x, y, z = made.state.position
    return round(x, 6), round(y, 6), round(z, 6)


# -- text ------------------------------------------------------------------------------------------


def test_01_percent_opens_and_must_close_and_ends_the_program_3_1() -> None:
    made = interpret("\n  % \nG21\nG17 G90 G94\nG0 X1\n%\nG0 X99\nrubbish\n")
    assert codes(made) == ["W041"]  # not run, and told: a controller that is fed line by line may run it
    assert ends(made) == [(1, 0)]
    assert codes(interpret("%\nG21\nG17 G90 G94\nG0 X1\n%\n\n(the end)\n")) == []
    assert "W001" in codes(interpret("%\nG0 X1\n"))
    assert "W002" in codes(interpret(HEAD + "G0 X1\n"))


def test_02_lines_after_m2_are_not_run_nor_read_3_6_1() -> None:
    for word in ("M2", "M30"):
        made = interpret(HEAD + f"G0 X1\n{word}\nG0 X5\nthis is no code\n")
        assert ends(made) == [(1, 0)]
        assert codes(made) == ["W041"]


def test_03_line_order_of_words_settings_comments_3_3() -> None:
    assert last_point("#2=0\nN10 (a) #1=5 G0 (b) X#2 Y3 #2=7") == (0, 3, 0)
    assert ends(run("#2=0\n/N10 (a) #1=5 G0 (b) X#2 Y3 #2=7")) == [(0, 3)]
    refused("G0 /X1", "W004")


def test_04_more_than_256_characters_is_an_error_3_3() -> None:
    assert last_point("G0 X1" + " " * 251) == (1, 0, 0)
    refused("G0 X1" + " " * 252, "W003")


@pytest.mark.parametrize(
    "body", ["G0 X1 E2", "O100", "G0 U1", "G0 V1", "G0 W1", "; words", "G0 X1 ; words", "G0 X1 !"]
)
def test_05_what_is_not_allowed_is_an_error_not_skipped_3_3(body: str) -> None:
    assert run(body).findings[0].severity == "stop"


def test_06_blanks_mean_nothing_even_inside_numbers_3_3() -> None:
    assert last_point("g 0 x +0. 12 34\ty 7") == (0.1234, 7, 0)


def test_07_blank_lines_3_3() -> None:
    assert last_point("\n   \n\t\nG0 X1\n\n") == (1, 0, 0)


def test_08_case_3_3() -> None:
    assert last_point("g0x1Y2z3") == (1, 2, 3)


def test_09_block_delete_2_2_2() -> None:
    for skip, x in ((False, 2), (True, 1)):
        made = run("G0 X1\n/G0 X2", block_delete=skip)
        assert ends(made)[-1] == (x, 0)
        assert codes(made) == ["W056"]


def test_10_line_numbers_3_3_1() -> None:
    assert last_point("N99999 G0 X1\nN5 G0 X2\nN5 G0 X3\nN00007 G0 X4") == (4, 0, 0)
    for bad in ("N100000 G0 X1", "N-5 G0 X1", "N1.5 G0 X1", "G0 N5 X1", "N G0 X1", "N000010 G0 X1"):
        refused(bad, "W008")


def test_11_numbers_3_3_2_1() -> None:
    assert last_point("G0 X.5 Y5. Z-.25") == (0.5, 5, -0.25)
    assert last_point("G0 X+2 Y-0.0") == (2, 0, 0)
    for bad in ("G0 X", "G0 X.", "G0 X--1", "G0 X1.2.3", "G0 Xa"):
        refused(bad, "W005")
    refused("G0 X1e3", "W004")


def test_12_close_to_an_integer_3_3_2_1() -> None:
    assert codes(run("M3.00005\nM5\nG0 X1")) == []
    refused("M3.001", "W014")
    assert codes(run("G0.00004 X1")) == []
    refused("G0.04 X1", "W012")


def test_13_leading_and_trailing_zeros_3_3_2_1() -> None:
    assert ends(run("G00 X01.500\nG01 X2 F0060.0\nG02 X4 I1 J0")) == [(1.5, 0), (2, 0), (4, 0)]


def test_14_parameters_3_3_2_2() -> None:
    assert last_point("#1=5\nG0 X[#1+2]") == (7, 0, 0)
    assert last_point("#2=3\n#3=8\nG0 X##2") == (8, 0, 0)
    assert last_point("#5399=4\nG0 X#5399") == (4, 0, 0)
    for bad in ("#5400=1", "#0=1", "#1.5=1", "G0 X#-1"):
        refused(bad, "W015")
    refused("G0 X#1", "W058")  # 3.2.1: a controller keeps its parameters from one program to the next


def test_15_operators_3_3_2_3() -> None:
    assert last_point("G0 X[2.0/3*1.5-5.5/11.0]")[0] == pytest.approx(0.5)  # 6.12, confirmed
    assert last_point("G0 X[2+3*4] Y[2**3*2] Z[10 MOD 4 + 1]") == (14, 16, 3)
    assert last_point("G0 X[8-2-1] Y[8/4/2] Z[2*3**2]") == (5, 1, 18)
    assert last_point("G0 X[1 AND 0] Y[1 OR 0] Z[1 XOR 1]") == (0, 1, 0)
    assert last_point("G0 X[-7 MOD 3]") == (2, 0, 0)
    refused("G0 X1+2", "W005")


def test_16_functions_in_degrees_3_3_2_4() -> None:
    assert last_point("G0 X SIN[30] Y COS[60] Z TAN[45]") == (0.5, 0.5, 1)
    assert last_point("G0 X ATAN[1]/[-1] Y ASIN[1] Z ACOS[0]") == (135, 90, 90)
    # 6.11, confirmed: FIX[-2.8] = -3, FUP[-2.8] = -2, ROUND[-0.499] = 0, ROUND[-0.5001] = -1
    assert last_point("G0 X FIX[-2.8] Y FUP[-2.8]") == (-3, -2, 0)
    assert last_point("G0 X ROUND[-0.499] Y ROUND[-0.5001]") == (0, -1, 0)
    assert last_point("G0 X ABS[-2] Y SQRT[9] Z LN[EXP[2]]") == (2, 3, 2)
    for bad in ("SQRT[-1]", "LN[0]", "ACOS[2]", "[1/0]", "[0**[0-1]]", "ATAN[1]", "[1", "EXP[9999]"):
        refused(f"G0 X{bad}", "W016")
    for bad in ("[1 + ]", "[]", "SIN 30"):
        refused(f"G0 X{bad}", "W005")


def test_17_settings_act_after_the_line_and_the_last_wins_3_3_3() -> None:
    assert last_point("#3=15\n#3=6 G0 X#3") == (15, 0, 0)  # 6.13, confirmed
    assert last_point("#3=1 #3=2\nG0 X#3") == (2, 0, 0)


def test_18_comments_close_on_their_line_and_do_not_nest_3_3_4() -> None:
    refused("G0 X1 (never closed", "W006")
    refused("G0 X1 (a (b) c)", "W007")
    refused("G0 X1 )", "W004")


def test_19_messages_3_3_4() -> None:
    made = run("(MSG, hello) G0 X1\n( m s G , second )\n(message, no)\n(MSG no)")
    assert made.messages == ("hello", "second")


def test_20_only_the_last_comment_counts_3_3_5() -> None:
    assert run("(MSG, one) G0 X1 (two)").messages == ()
    assert run("(one) G0 X1 (MSG, two)").messages == ("two",)
    refused("(MSG, one) G0 X1 (two", "W006")


def test_21_two_g_words_of_one_group_3_4() -> None:
    for bad in (
        "G0 G1 X1 F10",
        "G17 G18",
        "G90 G91",
        "G20 G21",
        "G54 G55",
        "G61 G64",
        "G98 G99",
        "G93 G94",
        "G4 G53 P1 X1",
    ):
        refused(bad, "W010")


def test_22_m_words_3_3_5() -> None:
    refused("M3 M4", "W011")
    refused("M7 M8", "W011")
    refused("M0 M2", "W011")
    refused("M3 M7 M48 M6 M0", "W011")
    assert codes(run("M3 M7 M48 M1\nM5\nG0 X1")) == []


def test_23_any_other_letter_twice_3_3_5() -> None:
    for bad in ("G0 X1 X1", "G1 X1 F10 F10", "G2 X1 I1 I1 F1", "G4 P1 P1"):
        refused(bad, "W009")


def test_24_word_order_does_not_matter_3_3_6() -> None:
    assert ends(run("F60 Y2 X1 G1\nJ0 I1 X3 G2")) == ends(run("G1 X1 Y2 F60\nG2 X3 I1 J0"))


def test_25_motion_mode_persists_3_3_7() -> None:
    made = run("G1 X1 F60\nY2\nG0 X0\nY0\nG2 X2 I1 J0\nX0 I-1 J0")
    assert made.moves.kind.tolist() == [Kind.FEED, Kind.FEED, Kind.RAPID, Kind.RAPID, Kind.ARC, Kind.ARC]


def test_26_non_modal_codes_act_on_their_line_only_3_3_7() -> None:
    made = run("G92 X10\nG0 X20\nG53 X1\nX21")
    assert [round(x, 6) for x, _ in ends(made)] == [10, 1, 11]


def test_27_two_codes_wanting_the_axis_words_3_4() -> None:
    for bad in ("G0 G92 X1", "G1 G28 X1 F10", "G0 G30 X1", "G0 G10 L2 P1 X1"):
        refused(bad, "W018")
    assert ends(run("G0 G4 P1 X1")) == [(0, 0), (1, 0)]


def test_28_an_axis_code_of_group_0_suspends_the_motion_mode_3_4() -> None:
    made = run("G1 X1 F60\nG92 X0\nX1")
    assert ends(made) == [(1, 0), (2, 0)]


def test_29_modes_that_were_not_said_are_noted_3_4() -> None:
    made = run("G0 X1", head="G21\nG90\n")
    assert codes(made) == ["W039"]
    assert made.findings[0].severity == "note"
    assert "its plane (G17) nor its feed mode (G94)" in made.findings[0].text
    bare = run("G0 X1", head="")
    assert [(f.code, f.severity) for f in bare.findings] == [("W057", "stop"), ("W039", "note")]


def test_30_31_g0_and_g1_need_an_axis_3_5_1() -> None:
    refused("G0", "W017")
    refused("G1 F10", "W017")


def test_32_clockwise_and_counterclockwise_3_5_3() -> None:
    made = run("G0 X1\nF60 G3 X-1 I-1 J0\nG2 X1 I1 J0")
    assert made.moves.sweep[1] == pytest.approx(math.pi)
    assert made.moves.sweep[2] == pytest.approx(-math.pi)
    published = run(
        "G0 X7 Y7\nG2 X10 Y16 I3 J4 F60"
    )  # 6.8, confirmed: centre (10, 11), radius 5, 143.130 degrees
    assert published.moves.centre[1].tolist() == [10, 11]
    assert math.degrees(published.moves.sweep[1]) == pytest.approx(-143.130, abs=5e-4)


def test_33_planes_and_helices_3_5_6() -> None:
    made = run("G18\nG2 X0 Z2 I0 K1 F60\nG19\nG3 Y2 Z2 J1 K0\nG17\nG3 X0 Y0 Z5 J-1 I0")
    assert codes(made) == []
    assert made.moves.plane.tolist() == [1, 2, 0]
    # derived: half circles of radius 1; the last also climbs 3 mm
    assert made.moves.lengths().tolist() == pytest.approx([math.pi, math.pi, math.hypot(math.pi, 3)])


def test_34_35_r_arcs_need_an_end_of_their_own_3_5_3_1() -> None:
    refused("G2 R5 F60", "W017")
    refused("G2 Z1 R5 F60", "W023")
    refused("G2 X0 Y0 R5 F60", "W021")


def test_36_r_positive_short_way_negative_long_way_3_5_3_1() -> None:
    made = run("G0 X3 Y1\nG2 X0 R7.01 F60")  # Table 10, confirmed: centre (1.5, 7.8476), 24.711 degrees
    assert made.moves.centre[1].tolist() == pytest.approx([1.5, 7.8476], abs=5e-5)
    assert math.degrees(made.moves.sweep[1]) == pytest.approx(-24.711, abs=5e-4)
    around = run("G0 X3 Y1\nG2 X0 R-7.01 F60")
    assert math.degrees(around.moves.sweep[1]) == pytest.approx(-(360 - 24.711), abs=5e-4)
    assert around.moves.centre[1, 1] == pytest.approx(1 - 6.8476, abs=5e-5)


def test_37_r_too_small_and_the_exact_half_circle_source_kernel() -> None:
    refused("G2 X10 R4.99 F60", "W022")
    made = run("G2 X10 R5 F60")
    assert abs(made.moves.sweep[0]) == pytest.approx(math.pi)


def test_38_touchy_r_arcs_are_named_3_5_3_1() -> None:
    assert codes(run("G2 X10 R5.02 F60")) == ["W025"]
    assert codes(run("G2 X10 R-5.02 F60")) == ["W025"]
    assert codes(run("G2 X0.5 R-5 F60")) == ["W025"]
    assert codes(run("G2 X5 R5 F60")) == []


def test_39_centre_words_count_from_the_start_in_g90_and_g91_3_5_17() -> None:
    for mode, x in (("G90", 12), ("G91", 2)):
        made = run(f"G0 X10 Y0\n{mode}\nG3 X{x} Y0 I1 J0 F60")
        assert made.moves.centre[1].tolist() == [11, 0]


def test_40_missing_centre_words_count_as_zero_3_5_3_2() -> None:
    made = run("G0 X1\nG3 X-1 I-1 F60\nG3 Y0 X1 I1")
    assert made.moves.centre[1].tolist() == [0, 0]
    refused("G2 X1 F60", "W023")
    refused("G2 I1 J0 F60", "W017")


@pytest.mark.parametrize(("head", "miss", "good"), [
    (HEAD, 0.0019, True), (HEAD, 0.0021, False),
    ("G20\nG17 G90 G94\n", 0.00019, True), ("G20\nG17 G90 G94\n", 0.00021, False),
])  # fmt: skip
def test_41_radius_mismatch_of_two_microns_3_5_3_2(head: str, miss: float, good: bool) -> None:
    made = run(f"G0 X5\nG3 X{-5 - miss:.5f} Y0 I-5 J0 F60", head=head)
    assert ("W020" in codes(made)) is not good
    assert good or made.findings[0].values["mismatch_mm"] == pytest.approx(
        miss * (1 if "G21" in head else 25.4), rel=1e-3
    )


def test_42_a_full_circle_still_says_x_or_y_3_5_3_2() -> None:
    made = run("G0 X5\nG2 X5 I-5 J0 F60")
    assert made.moves.lengths()[1] == pytest.approx(2 * math.pi * 5)
    refused("G2 I5 F60", "W017")


def test_43_offset_letters_of_another_plane_3_5_3_2() -> None:
    refused("G2 X1 I1 K1 F60", "W023")
    refused("G18 G2 X1 I1 J1 F60", "W023")


def test_44_dwell_is_in_seconds_3_5_4() -> None:
    made = run("G4 P1.5\nG4 P0.25")
    assert made.moves.seconds.sum() == 1.75
    refused("G4 P-1", "W026")
    refused("G4", "W026")
    assert interpret(
        "G21\nG17 G90 G94\nG0 X1\nG4 P500\nM2\n", "small-mm"
    ).moves.seconds.sum() == pytest.approx(0.5)


def test_45_units_re_express_the_position_3_5_7() -> None:
    assert last_point("G20\nG0 X1\nG21\nG91\nG0 X1") == (26.4, 0, 0)
    made = run("G20\nG1 X1 F60")
    assert made.moves.feed[0] == pytest.approx(25.4)


def test_46_compensation_3_5_10() -> None:
    assert codes(run("G40\nG40\nG0 X1")) == []
    refused("G41 D1", "W029")
    refused("G42 D1", "W029")


def test_47_machine_coordinates_3_5_12() -> None:
    made = run("G92 X5\nG53 G0 X3\nG0 X5")
    assert [round(x, 6) for x, _ in ends(made)] == [3, 0]
    refused("G53 G2 X1 I1 F60", "W031")
    assert "W053" in codes(made)


def test_48_coordinate_systems_3_5_13() -> None:
    body = "G10 L2 P2 X10 Y20\nG55\nG0 X1 Y1\nG54\nG0 X1 Y1"
    assert ends(run(body)) == [(11, 21), (1, 1)]
    for number, word in enumerate(("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"), 1):
        assert last_point(f"G10 L2 P{number} X{number}\n{word}\nG0 X100") == (100 + number, 0, 0)


def test_49_axis_words_after_g80_3_5_15() -> None:
    refused("G80\nX1", "W019")
    refused("G80 X1", "W019")
    assert codes(run("G80 G92 X1")) == ["W040"]


def test_50_distance_mode_changes_axis_words_only_3_5_17() -> None:
    assert ends(run("G91 G0 X1 Y1\nX1 Y1\nG90 X1 Y1")) == [(1, 1), (2, 2), (1, 1)]


def test_51_g92_3_5_18() -> None:
    refused("G92", "W017")
    made = run("G0 X4\nG92 X7\nG92 X9")  # 6.10, confirmed: offset -3, then -5
    assert made.state.parameters[5211] == -5
    assert last_point("G0 X4\nG91\nG92 X7\nG90\nG0 X8") == (5, 0, 0)
    assert last_point("G92 X10\nG55\nG0 X11") == (1, 0, 0)


def test_52_g92_1_2_3_3_5_18() -> None:
    start = "G0 X4\nG92 X0\n"
    assert last_point(start + "G92.1\nG0 X1") == (1, 0, 0)
    assert last_point(start + "G92.2\nG0 X1\nG92.3\nG0 X1") == (5, 0, 0)
    assert last_point(start + "G92.1\nG92.3\nG0 X1") == (1, 0, 0)


def test_53_inverse_time_3_5_19() -> None:
    refused("G93\nG1 X1", "W027")
    refused("G93\nG1 X1 F2\nX2", "W027")
    made = run("G93\nG1 X30 F2\nG0 X0")  # 1/2 minute for 30 mm is 1 mm/s
    assert made.moves.feed.tolist() == pytest.approx([1.0, 0.0])
    assert float(made.moves.lengths()[0] / made.moves.feed[0]) == pytest.approx(30)


def test_54_feed_counts_along_the_helix_2_1_2_5() -> None:
    made = run("G0 X1\nG3 X-1 I-1 J0 Z3 F60")
    assert float(made.moves.lengths()[1] / made.moves.feed[1]) == pytest.approx(math.hypot(math.pi, 3))


def test_55_stops_3_6_1() -> None:
    made = run("G0 X1\nM0\nG0 X2\nM1\nG0 X3")
    assert (made.moves.kind == Kind.STOP).sum() == 1
    assert ends(made)[-1] == (3, 0)
    assert (run("M1", optional_stop=True).moves.kind == Kind.STOP).sum() == 1


def test_56_57_m2_resets_nine_states_and_not_the_units_3_6_1() -> None:
    for word in ("M2", "M30"):
        state = run("G0 X4\nG20\nG92 X0\nG55 G18 G91\nM49\nG93\nM3 M8\nG1 X1 F1", end=f"\n{word}\n").state
        assert state.offset == (0, 0, 0)
        assert state.coordinate_system == 1
        assert state.plane == 17
        assert state.absolute
        assert not state.inverse_time
        assert state.override
        assert not state.torch
        assert state.motion == 10
        assert not state.follow
        assert state.unit == 25.4


def test_58_torch_words_may_repeat_3_6_2() -> None:
    """Said again they are no error, nor with a speed of 0; that the arc may then stay out is told all the same."""
    assert codes(run("S1 M3\nM3\nM4\nM5\nM5\nG0 X1")) == []
    assert codes(run("S0 M3\nM3\nM4\nM5\nM5\nG0 X1")) == ["W063"]


def test_59_negative_s_and_t_3_7() -> None:
    refused("S-1 M3", "W033")
    refused("T-1", "W033")
    refused("G1 X1 F-5", "W033")
    assert codes(run("T2 M6\nG0 X1")) == ["W042"]


def test_60_61_order_on_one_line_is_table_8_3_8() -> None:
    off = run("M3\nM5 G1 X1 F60")
    assert off.moves.torch.tolist() == [False]
    on = run("M3 G4 P1 G1 X1 F60\nM5")
    assert on.moves.kind.tolist() == [Kind.DWELL, Kind.FEED]
    assert on.moves.torch.tolist() == [True, True]


@pytest.mark.parametrize(("line", "last"), [
    ("G1 X2 F60 M5", "torch-off"),  # torch (7) before the move (20)
    ("G1 X2 F60 M0", "stop"),  # the move (20) before the stop (21)
])  # fmt: skip
def test_60_61_words_of_the_torch_act_before_the_move_and_stops_after_3_8(line: str, last: str) -> None:
    made = run(f"G0 X1\nM3\n{line}\nM5")
    event = next(e for e in made.events if e.what == last)
    assert event.move == (1 if last == "torch-off" else 3)
    assert made.moves.torch.tolist() == ([False, False] if last == "torch-off" else [False, True, True])


@pytest.mark.parametrize(("body", "end"), [
    ("X5 G91 G0\nX1 G90", (1, 0, 0)),  # distance mode (17) before the move (20), wherever it stands
    ("G0 X5\nX1 G91", (6, 0, 0)),
    ("G0 X1\nX1 G20", (25.4, 0, 0)),  # units (12) before the move
    ("G10 L2 P2 X10\nG0 X1 G55", (11, 0, 0)),  # coordinate system (15) before the move
    ("G0 X4\nG92 X1\nG20 G92 X1", (4, 0, 0)),  # units (12) before the offset (19)
    ("G0 X4\nG20 G92 X1\nG0 X1", (4, 0, 0)),
    ("#1=0\n#1=3 G0 X#1\nX#1", (3, 0, 0)),  # parameters are set after the whole line is read
    ("G1 X1 F60\nG4 P1 X2", (2, 0, 0)),  # the dwell (10) before the move
])  # fmt: skip
def test_60_61_order_of_modes_and_the_move_3_8(body: str, end: tuple[float, float, float]) -> None:
    assert last_point(body) == end


def test_60_61_plane_before_the_arc_and_feed_before_the_move_3_8() -> None:
    made = run("G1 X1 F60\nX2 F120\nG2 X4 Z0 I1 K0 G18")
    assert made.moves.feed.tolist() == [1.0, 2.0, 2.0]
    assert made.moves.plane.tolist() == [0, 0, 1]


def test_62_feed_on_the_line_that_changes_units_is_taken_in_the_old_unit_3_8() -> None:
    made = run("G20 F60\nG1 X1")
    assert made.moves.feed[0] == pytest.approx(1.0)
    assert codes(made) == ["W038"]


def test_63_the_language_checks_no_limits_so_the_proof_does_appendix_a() -> None:
    from tests.proof.helpers import proved

    far = HEAD + "G0 X99999\nM2\n"
    assert codes(interpret(far)) == []
    assert "P001" in {f.code for f in proved(far).findings}


def test_64_a_bad_line_is_not_run_and_stops_the_run_1_3_1() -> None:
    made = run("G0 X1\nG0 X2 Y\nG0 X3\nG0 Q")
    assert ends(made) == [(1, 0)]
    assert [f.values["line"] for f in made.findings] == [4, 6]
    assert made.findings[0].values["column"] == 8


def test_65_66_tool_comp_is_refused_with_a_sentence_b_5() -> None:
    """We leave kerf offset to the planner: what a controller would make of G41 is not in the text."""
    made = refused("G41 D1", "W029")
    assert "cannot be proven" in made.findings[0].text


# -- published contours (Appendix B) ----------------------------------------------------------------

TABLE_12 = "G0 X2 Y3\nF60\nG2 X3 Y2 J-1\nG1 Y-1\nG2 X2 Y-2 I-1\nG1 X-2\nG2 X-2.6 Y-0.2 J1\nG1 X1.4 Y2.8\nG2 X2 Y3 I0.6 J-0.8"
TABLE_13 = "G0 X2 Y3.5\nF60\nG2 X3.5 Y2 J-1.5\nG1 Y-1\nG2 X2 Y-2.5 I-1.5\nG1 X-2\nG2 X-2.9 Y0.2 J1.5\nG1 X1.1 Y3.2\nG2 X2 Y3.5 I0.9 J-1.2"


@pytest.mark.parametrize(("body", "perimeter", "area"), [
    (TABLE_12, 12 + 2 * math.pi, 18 + math.pi),  # 6.18, measured
    (TABLE_13, 12 + 3 * math.pi, 24 + 9 * math.pi / 4),  # 6.19, measured
])  # fmt: skip
def test_published_contours_have_their_length_and_area(body: str, perimeter: float, area: float) -> None:
    from platewright.geometry import Contour, signed_area

    made = run(body)
    assert codes(made) == []
    cut = made.moves.kind != Kind.RAPID
    assert made.moves.lengths()[cut].sum() == pytest.approx(perimeter, abs=1e-9)
    rows = np.column_stack([made.moves.start[cut, :2], made.moves.bulge[cut]])
    assert -signed_area(Contour(rows)) == pytest.approx(area, abs=1e-9)
