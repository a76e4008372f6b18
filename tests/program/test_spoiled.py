"""Each finding of the interpreter has a text that trips it, with line and column where it speaks of a line."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from platewright.program.interpreter import ReadOptions, interpret

HEAD = "G21\nG17 G90 G94\nG0 X0 Y0\n"
END = "\nM2\n"

SPOILED: dict[str, tuple[str, str]] = {
    "W001": ("%\nG21\nG17 G90 G94\nG0 X1\nM5\n", "plain-mm"),
    "W002": (HEAD + "G0 X1\n", "plain-mm"),
    "W003": (HEAD + "G0 X1 (" + "x" * 300 + ")" + END, "plain-mm"),
    "W004": (HEAD + "G0 X1 $" + END, "plain-mm"),
    "W005": (HEAD + "G0 X.." + END, "plain-mm"),
    "W006": (HEAD + "(open" + END, "plain-mm"),
    "W007": (HEAD + "(a (b))" + END, "plain-mm"),
    "W008": (HEAD + "N1234567 G0 X1" + END, "plain-mm"),
    "W009": (HEAD + "G0 X1 X2" + END, "plain-mm"),
    "W010": (HEAD + "G0 G1 X1" + END, "plain-mm"),
    "W011": (HEAD + "M3 M5" + END, "plain-mm"),
    "W012": (HEAD + "G64.5" + END, "plain-mm"),
    "W013": (HEAD + "M77" + END, "plain-mm"),
    "W014": (HEAD + "M3.4" + END, "plain-mm"),
    "W015": (HEAD + "#6000=1" + END, "plain-mm"),
    "W016": (HEAD + "G0 X[1/0]" + END, "plain-mm"),
    "W017": (HEAD + "G1 F100" + END, "plain-mm"),
    "W018": (HEAD + "G0 G92 X1" + END, "plain-mm"),
    "W019": (HEAD + "G80\nX1" + END, "plain-mm"),
    "W020": (HEAD + "G2 X10 Y0 I4 J0 F100" + END, "plain-mm"),
    "W021": (HEAD + "G2 X0 Y0 R4 F100" + END, "plain-mm"),
    "W022": (HEAD + "G2 X10 Y0 R4 F100" + END, "plain-mm"),
    "W023": (HEAD + "G2 X10 Y0 F100" + END, "plain-mm"),
    "W025": (HEAD + "G2 X10 Y0 R5.01 F100" + END, "plain-mm"),
    "W026": (HEAD + "G4" + END, "plain-mm"),
    "W027": (HEAD + "G93 G1 X1" + END, "plain-mm"),
    "W028": (HEAD + "G1 X1" + END, "plain-mm"),
    "W029": (HEAD + "G41 D1" + END, "plain-mm"),
    "W030": (HEAD + "G81 X1 Y1 Z-1 R2 F10" + END, "plain-mm"),
    "W031": (HEAD + "G53 G2 X1 R1 F10" + END, "plain-mm"),
    "W032": (HEAD + "G0 X1 I4" + END, "plain-mm"),
    "W033": (HEAD + "S-3" + END, "plain-mm"),
    "W034": (HEAD + "(Schlitz für M8)" + END, "plain-mm"),
    "W036": (HEAD + "G0 X1\n" * 20_001 + END, "small-mm"),
    "W037": (HEAD + ("G0 X1" + " " * 30 + "\n") * 8000 + END, "small-mm"),
    "W038": (HEAD + "G20 F100" + END, "plain-mm"),
    "W039": ("G21 G90\nG0 X1" + END, "plain-mm"),
    "W040": ("G21\nM3\nM5" + END, "plain-mm"),
    "W041": (HEAD + END + "G0 X1\n", "plain-mm"),
    "W042": (HEAD + "T1 M6" + END, "plain-mm"),
    "W046": (HEAD + "G0 X#1" + END, "chords-mm"),
    "W047": ("G21\nG17 G90 G94\nG0 X0 Y0\nG59" + END, "chords-mm"),
    "W048": (HEAD + "M200" + END, "anywhere"),
    "W049": (HEAD + "G0 A90" + END, "plain-mm"),
    "W050": ("G21\nG17 G90 G94\nG0 X0 Z5" + END, "no-z"),
    "W051": (HEAD + "G43 H1" + END, "plain-mm"),
    "W052": (HEAD + "G10 L3 P1 X1" + END, "plain-mm"),
    "W053": (HEAD + "G28" + END, "plain-mm"),
    "W054": (HEAD + "M98 P100" + END, "plain-mm"),
    "W055": (HEAD + "G90.1" + END, "plain-mm"),
    "W056": (HEAD + "/G0 X1" + END, "plain-mm"),
    "W057": ("G0 X1" + END, "plain-mm"),
    "W058": (HEAD + "G0 X#1" + END, "plain-mm"),
    "W059": (HEAD + "G2 X-0.001 I10 F100" + END, "plain-mm"),
    "W060": (HEAD + "F100\nG20\nG1 X1" + END, "plain-mm"),
    "W063": (HEAD + "M3 S0\nG1 X9\nM5" + END, "plain-mm"),
    "W061": (HEAD + "M3\nG0 X1 M5" + END, "plain-mm"),
    "W062": (HEAD + "G38.2 X1 Z-5 F100" + END, "plain-mm"),
}
NO_Z = 'name = "no-z"\ntitle = "t"\nabout = "Z is read so that it can be refused by name"\nextends = "plain-mm"\n[height]\nz = false\n'


def test_each_kind_has_a_spoiled_text() -> None:
    text = (files("platewright.catalogue") / "program.md").read_text(encoding="utf-8")
    assert sorted(SPOILED) == re.findall(r"(?m)^## (W\d{3})", text)


@pytest.mark.parametrize("code", sorted(SPOILED))
def test_a_spoiled_text_trips_its_finding(code: str) -> None:
    text, dialect = SPOILED[code]
    made = interpret(text, NO_Z if dialect == "no-z" else dialect)
    found = [f for f in made.findings if f.code == code]
    assert found, [f"{f.code} {f.text}" for f in made.findings]
    assert "{" not in found[0].text + found[0].do
    if found[0].severity == "stop" and "column" in found[0].values:
        line, column = found[0].values["line"], found[0].values["column"]
        lines = text.split("\n")
        assert 1 <= line <= len(lines)
        assert 1 <= column <= len(lines[line - 1]) + 1


@pytest.mark.parametrize(("bad", "column"), [
    ("G0 X1 Y..2", 8), ("  G0 X1 ( a ( b", 13), ("(note) G0 Q1", 11), ("G0 X1 M3 M5", 10), ("N5 G0 X1 X2", 10),
    ("N5 G1 M98 P2 L3", 7), ("N5  o100 call", 5),
])  # fmt: skip
def test_the_column_is_where_the_fault_stands(bad: str, column: int) -> None:
    made = interpret(HEAD + bad + END)
    assert (made.findings[0].values["line"], made.findings[0].values["column"]) == (4, column)


@pytest.mark.parametrize(("body", "lines"), [
    ("F100\nG20\nG1 X1\nX2", [6]), ("F100\nG20\nG2 X1 R1", [6]), ("F100\nG20\nF100\nG1 X1", []), ("F100\nG20\nG0 X1", []),
    ("G20\nG93 G1 X1 F2", []), ("F100\nG20\nG21\nG1 X1", []), ("F100\nG21\nG1 X1", []), ("F100\nG20\n" + "G1 X1\nX2\n" * 20, [6]),
])  # fmt: skip
def test_a_feed_said_before_the_units_were_changed_is_told_where_it_is_first_used(
    body: str, lines: list[int]
) -> None:
    """NISTIR 6556, 3.5.7: numbers need not be right for other units by themselves; it was GO at 25.4 times what some cut at."""
    assert [f.values["line"] for f in interpret(HEAD + body + END).findings if f.code == "W060"] == lines


@pytest.mark.parametrize(("body", "told"), [
    ("M3\nG0 X1 M5", "M5"), ("G1 X1 F100 M3\nM5", "M3"), ("M3\nM5\nG0 X1", ""), ("M3 G4 P1\nM5", ""), ("M3\nM5 G0 Z20", ""), ("G0 X1 M8", ""),
])  # fmt: skip
def test_a_torch_word_on_the_line_of_a_move_across_the_plate_is_told(body: str, told: str) -> None:
    """Table 8 of NISTIR 6556 switches first; a controller that switches last burns through the whole rapid."""
    found = [f for f in interpret(HEAD + body + END).findings if f.code == "W061"]
    assert [(f.severity, told in f.text) for f in found] == ([("look", True)] if told else [])


def test_a_touch_off_straight_down_is_not_told() -> None:
    assert interpret(HEAD + "G0 Z20\nG38.2 X0 Y0 Z-5 F100" + END).findings == ()


@pytest.mark.parametrize(
    "given", [("#5211=0\n#5212=0\n#5213=0\n", ""), ("#5211=0\n", "G92.3"), ("", "G92.3")]
)
def test_shifts_taken_up_again_are_known_only_if_all_three_were_given(given: tuple[str, str]) -> None:
    """G92.3 takes X, Y and Z from #5211 to #5213 (3.5.18); what the program has not given stands in the controller."""
    events = interpret(HEAD + given[0] + "G92.3" + END).events
    assert [e.text for e in events if e.what == "system"] == ([given[1]] if given[1] else [])


def test_further_mistakes_are_named_after_the_first() -> None:
    made = interpret(HEAD + "G0 X..\nG0 Y..\nG0 Z.." + END)
    assert [f.values["line"] for f in made.findings] == [4, 5, 6]


def test_a_clean_text_trips_nothing() -> None:
    assert interpret(HEAD + "G1 X1 F100\nG2 X3 I1 J0" + END).findings == ()


@pytest.mark.parametrize("dialect", ["plain-mm", "anywhere"])
@pytest.mark.parametrize("line", [
    "M97 P20", "M98 P100 L2", "M99", "M198 P1", "G65 P9100 A1", "o100 sub", "o100 call [1] [2]", "N4 O<disc> call",
    "o#3 call", "o[#3 + 1] while [#1 LT 5]", "o7 if [#1 EQ 2]", "o7 endif", "o9 repeat [5]", "IF [#1 EQ 2] GOTO 30",
    "GOTO 30", "WHILE [#1 LT 4] DO1", "END1",
])  # fmt: skip
def test_a_subprogram_loop_or_branch_stops_with_its_own_sentence(line: str, dialect: str) -> None:
    """Common practice among controllers; none of it is in NISTIR 6556. No dialect skips it."""
    made = interpret(HEAD + "M3\nM5\n" + line + END, dialect)
    (found,) = [f for f in made.findings if f.severity == "stop"]
    assert (found.code, found.values["line"]) == ("W054", 6)
    assert "cannot be proven" in found.text
    assert "flat" in found.do
    assert not made.state.ended


def test_a_program_number_stands_first_or_begins_something_else() -> None:
    text = "%\n(part 7)\nO7\n" + HEAD + "G0 X1\n{more}M2\n%\n"
    assert interpret(text.replace("{more}", ""), "anywhere").findings == ()
    again = interpret(text.replace("{more}", "O8\n"), "anywhere")
    assert [(f.code, f.severity) for f in again.findings] == [("W054", "stop")]


ABSOLUTE = 'name = "abs"\ntitle = "t"\nabout = "arc centres are places"\nextends = "plain-mm"\n[arcs]\ncentre = "absolute"\n'
ARC = "G0 X60 Y50\nG3 X50 Y60 I{i} J{j} F600"


@pytest.mark.parametrize(("dialect", "other"), [("plain-mm", ABSOLUTE), (ABSOLUTE, "plain-mm")])
def test_arc_centres_said_the_other_way_get_a_sentence_that_says_so(dialect: str, other: str) -> None:
    """A quarter of radius 10 about (50, 50): I J are -10, 0 from the start, or the place 50, 50."""
    absolute = dialect == ABSOLUTE
    good, bad = (ARC.format(i=50, j=50), ARC.format(i=-10, j=0))[:: 1 if absolute else -1]
    assert interpret(HEAD + good + END, dialect).findings == ()
    (found,) = interpret(HEAD + bad + END, dialect).findings
    assert found.code == "W055"
    assert "arc centres" in found.text
    assert interpret(HEAD + bad + END, other).findings == ()


def test_a_centre_that_fits_neither_way_is_a_mismatch() -> None:
    (found,) = interpret(HEAD + ARC.format(i=-11, j=0) + END).findings
    assert found.code == "W020"


@pytest.mark.parametrize(("word", "dialect", "codes"), [
    ("G91.1", "plain-mm", []), ("G90.1", "plain-mm", ["W055"]), ("G90.1", "anywhere", ["W055"]),
    ("G90.1", ABSOLUTE, []), ("G91.1", ABSOLUTE, ["W055"]), ("G90.1 G91.1", "plain-mm", ["W010"]),
])  # fmt: skip
def test_the_word_for_arc_centres_must_be_the_dialects(word: str, dialect: str, codes: list[str]) -> None:
    made = interpret(HEAD + word + "\nG0 X1" + END, dialect)
    assert [f.code for f in made.findings] == codes


@pytest.mark.parametrize("skip", [False, True])
@pytest.mark.parametrize("line", [
    "G1 X5 F100", "X5", "M3", "M5", "M101", "G91", "G20", "F600", "#1=4", "G92 X0", "G4 P2", "M2", "N40 G55",
])  # fmt: skip
def test_a_slashed_line_that_counts_stops_however_the_switch_stands(line: str, skip: bool) -> None:
    made = interpret(HEAD + "G0 X1\n/" + line + END, "probe-mm", options=ReadOptions(block_delete=skip))
    (found,) = [f for f in made.findings if f.severity == "stop"]
    assert (found.code, found.values["line"], made.slashed) == ("W056", 5, (5,))
    assert made.unread is None


@pytest.mark.parametrize("line", ["", "(note)", "N7 (MSG, look)", "M0", "M1 (look)", "M8", "S100", "T1"])
def test_a_slashed_line_that_changes_nothing_is_let_pass(line: str) -> None:
    made = interpret(HEAD + "G0 X1\n/" + line + END)
    assert made.slashed == ()
    assert not any(f.severity == "stop" for f in made.findings)


def test_slashed_lines_are_one_finding_with_their_lines() -> None:
    made = interpret(HEAD + "/G0 X1\n" * 2 + END)
    assert [f.text.split(".")[0] for f in made.findings] == [
        "Line 4 starts with / and moves or switches something, as does line 5"
    ]
    (many,) = interpret(HEAD + "/G0 X1\n" * 40 + END).findings
    assert "as do lines 5, 6, 7, 8, 9 and 34 more." in many.text
    assert many.values["count"] == 40


FIXED = 'name = "fixed"\ntitle = "t"\nabout = "a"\nextends = "plain-inch"\n[read]\nmodes = ["distance"]\n'


@pytest.mark.parametrize(("head", "dialect", "missing"), [
    ("G17 G90 G94", "plain-mm", "its units (G20 or G21)"), ("G17 G90 G94", "anywhere", "its units (G20 or G21)"),
    ("G21 G17 G94", "plain-mm", "absolute or incremental (G90 or G91)"), ("G17 G90 G94", FIXED, None),
    ("", "plain-inch", "its units (G20 or G21) nor absolute or incremental (G90 or G91)"),
    ("G20 G91 G17 G94", "flat-mm", None),
])  # fmt: skip
@pytest.mark.parametrize("move", ["G0 X1", "F60 G1 X1", "G28 X1"])
def test_units_and_distance_must_be_said_before_the_first_move(
    head: str, dialect: str, missing: str | None, move: str
) -> None:
    """What a dialect needs said is its own data; a table of one unit leaves units out."""
    made = interpret(f"{head}\n{move}\nG21 G90\nG0 X2\nM2\n", dialect)
    told = [f for f in made.findings if f.code == "W057"]
    assert [f.values["shown"] for f in told] == ([missing] if missing else [])
    assert [(f.severity, f.values["line"]) for f in told] == [("stop", 2)][: len(told)]
    if dialect == FIXED:
        assert made.moves.end[0, 0] == 25.4 or move.startswith("G28")


@pytest.mark.parametrize("short", [False, True])
def test_a_line_that_was_good_before_is_refused_at_its_own_place(short: bool) -> None:
    """Lines that come again are read once; where one is refused the second time, line and column are still its own."""
    body = "G0 X1\n N7 G2 X3 (half) I1 J0 F60\nM3\nM5\nG0 X5\n N7 G2 X3 (half) I1 J0 F60"
    made = interpret(HEAD + body + END, options=ReadOptions(short=short))
    assert [(f.code, f.values["line"], f.values["column"]) for f in made.findings] == [("W020", 9, 18)]
