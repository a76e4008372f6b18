"""What the reader makes of a text as a whole, of parameters and of homing: values by hand, clauses of NISTIR 6556."""

from __future__ import annotations

import pytest

from platewright.errors import InputError
from platewright.program.interpreter import ReadOptions, interpret

HEAD = "G21\nG17 G90 G94\nG0 X0 Y0 Z20\n"
BARE = 'name = "bare"\ntitle = "t"\nabout = "needs no modes said"\nextends = "plain-mm"\n[read]\nmodes = []\n'


@pytest.mark.parametrize("end", ["", "\n", "\r\n"])
def test_the_last_line_counts_with_and_without_its_end(end: str) -> None:
    made = interpret(HEAD + "G0 X1\nM2" + end)
    assert (made.lines, made.state.ended, made.findings) == (5, True, ())
    cut_short = interpret(HEAD + "G0 X1\nG0 X9" + end)
    assert cut_short.moves.end[-1, 0] == 9
    assert [f.code for f in cut_short.findings] == ["W002"]


def test_a_program_may_have_as_many_lines_as_are_allowed() -> None:
    text = HEAD + "M2\n"
    assert interpret(text, options=ReadOptions(most_lines=4)).state.ended
    with pytest.raises(InputError, match="4 lines"):
        interpret(text, options=ReadOptions(most_lines=3))


def test_a_program_begins_with_nothing_lit_lowered_or_followed() -> None:
    moves = interpret("G0 X1\nX2\nM2\n", BARE).moves
    assert not (moves.torch | moves.follow | moves.marking).any()
    assert moves.plane.tolist() == [0, 0]


def test_homing_goes_by_its_point_to_its_parameters_and_never_down() -> None:
    """3.5.8: G28 goes to #5161 to #5163, G30 to #5181 to #5183, by the point its axis words give."""
    text = HEAD + "#5161=30\n#5162=40\n#5163=50\n#5181=7\n#5182=8\nG28 X5 Y6\nG30\nM2\n"
    made = interpret(text)
    assert made.moves.end[1:].tolist() == [[5, 6, 20], [30, 40, 50], [7, 8, 50]]
    assert [f.code for f in made.findings] == ["W053"]


@pytest.mark.parametrize(("line", "told"), [
    ("/M48", False), ("/M49 T1", False), ("/M7", False), ("/M1", False), ("/N5 (note)", False), ("/M3", True), ("/M5", True), ("/G90", True),
    ("/#1=2", True), ("/F100", True), ("/X1", True), ("/S5", False),
])  # fmt: skip
def test_a_slashed_line_that_moves_lights_or_sets_nothing_is_let_be(line: str, told: bool) -> None:
    assert [f.code for f in interpret(HEAD + line + "\nM2\n").findings if f.code == "W056"] == ["W056"] * told


@pytest.mark.parametrize(("index", "told"), [
    (5220, False), (5221, True), (5226, True), (5227, False), (5241, False), (10, False), (5161, False)
])  # fmt: skip
def test_only_the_parameters_of_g54_move_the_plate_zero_by_themselves(index: int, told: bool) -> None:
    """3.2.1, Table 2: #5221 to #5226 are where the first coordinate system lies."""
    events = interpret(f"{HEAD}#{index}=1\nM2\n").events
    assert (f"#{index}" in [e.text for e in events if e.what == "system"]) == told


def test_further_systems_and_shifts_add_up_in_the_units_in_force() -> None:
    """3.5.13 and 3.5.18: a place is its number, the system's origin and the shift together; 1 inch is 25.4 mm."""
    text = "G20\nG17 G90 G94\nG10 L2 P2 X1 Y2\nG55\nG0 X1 Y1\nG92 X0 Y3\nG0 X2 Y4\nG92.1\nG0 X0 Y0\nM2\n"
    assert interpret(text).moves.end[:, :2].round(9).tolist() == [[50.8, 76.2], [101.6, 101.6], [25.4, 50.8]]


def test_a_line_that_comes_again_is_worked_out_again_from_its_parameters() -> None:
    """3.3.2.2: a parameter reads as what it was last set to; the same text may then go to another place."""
    again = "#1=[#1+1]\nG0 X#1 Y[#1*10]\n"
    made = interpret(HEAD + "#1=0\n" + again * 3 + "M2\n")
    assert made.moves.end[1:, :2].tolist() == [[1, 10], [2, 20], [3, 30]]


def test_a_refusal_says_where_the_machine_stood() -> None:
    (told,) = (f for f in interpret(HEAD + "G0 X3 Y4\nG0 X9 G77\nM2\n").findings if f.severity == "stop")
    assert told.place == (3.0, 4.0)
    assert (told.values["line"], told.values["column"]) == (5, 7)
