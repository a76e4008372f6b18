"""Stretches of plain lines give the same moves, events, findings and state by the short way as line by line, bit for bit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.program import moves
from platewright.program.dialects import dialect_names
from platewright.program.interpreter import ReadOptions, interpret
from platewright.program.moves import Stretches
from platewright.program.run import Run
from platewright.program.writer import write
from tests.program.helpers import washer_plan
from tests.program.test_spoiled import NO_Z


@pytest.fixture(autouse=True)
def _every_stretch(monkeypatch: pytest.MonkeyPatch) -> None:
    """The shortest stretch takes the short way too, and blocks end in the middle of programs."""
    monkeypatch.setattr(moves, "FEWEST", 1)
    monkeypatch.setattr(moves, "BLOCK", 512)


def same(text: str, dialect: str) -> Run:
    line_by_line = interpret(text, dialect, options=ReadOptions(short=False))
    short = interpret(text, dialect)
    for name in line_by_line.moves.__slots__:
        np.testing.assert_array_equal(getattr(line_by_line.moves, name), getattr(short.moves, name), name)
    for name in ("events", "messages", "findings", "state", "slashed", "unread", "height_from"):
        assert getattr(line_by_line, name) == getattr(short, name), name
    return line_by_line


def taken(text: str, dialect: str, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many lines the short way runs."""
    counts: list[int] = []
    run = Stretches.run

    def counted(self: Stretches) -> int:
        first = self.first
        counts.append(run(self) - first)
        return first + counts[-1]

    monkeypatch.setattr(Stretches, "run", counted)
    interpret(text, dialect)
    return sum(counts)


def test_both_ways_agree_on_what_we_write() -> None:
    for name in dialect_names():
        assert same(write(washer_plan(), name, name="w").text, name).findings == ()


CUTS = "".join(
    f"G0 X{9 * k} Y0\nM3\nG4 P0.5\nG3 X{9 * k + 2} I1 F900\n\nX{9 * k} I-1\nM7\nM5\n" for k in range(90)
)
HEAD = "G21\nG17 G90 G94\nF600\nG0 X0 Y0\n"
NO_G1 = (
    'name = "no-g1"\ntitle = "t"\nabout = "a list of codes without G1"\nextends = "plain-mm"\n'
    '[read]\ncodes = ["G0", "G17", "G21", "G90", "G94", "M2", "M3", "M5"]\n'
)
STRAIGHT = "".join(f"G1 X{k}.5 Y-{k} F{600 + k}\n" for k in range(700))
MIXED = "".join(f"G{k % 2} x{k} z.{k}\n" for k in range(9))
ARCS = "".join(f"n{k} G0{2 + k % 2} X{5 * k + 5} Y0 I2.5 J0\n" for k in range(9))


@pytest.mark.parametrize(("body", "dialect", "lines"), [
    (CUTS, "plain-mm", 720), (CUTS, "probe-inch", 720), (CUTS, "small-mm", 3), (CUTS.replace("M7", "M0"), "plain-mm", 630),
    ("5X\nX6\n", "plain-mm", 0), ("X5\n5X\n", "plain-mm", 1), ("X5 5\n.5\n", "plain-mm", 1), ("X+5\nX+-5\n", "plain-mm", 1),
    ("X5-\n", "plain-mm", 0), ("X-.\n", "plain-mm", 0), ("X5X6\n", "plain-mm", 0), ("M3 M5\n", "plain-mm", 0), ("M6\n", "plain-mm", 0),
    ("N1\nN2X1\nX1N3\n", "plain-mm", 1), ("G4\n", "plain-mm", 0), ("G4 P-1\n", "plain-mm", 0), ("G4 P1\nG4 P1 X1\n", "plain-mm", 1),
    (STRAIGHT, "plain-mm", 700), (STRAIGHT, "plain-inch", 700), (STRAIGHT.replace("G1 ", ""), "chords-mm", 700),
    (MIXED, "plain-mm", 9), (MIXED, "flat-mm", 0), (ARCS, "plain-mm", 9), (ARCS, "chords-mm", 0),
    ("G92 X1\n" + ARCS.replace("X", "X1"), "plain-mm", 0), ("G92 X3 Z1\nX3 Y0\n" + STRAIGHT, "plain-mm", 701),
    ("G91\n" + STRAIGHT, "plain-mm", 0), ("G18\n" + STRAIGHT, "plain-mm", 0), ("G93\n" + STRAIGHT, "plain-mm", 0),
    (STRAIGHT.replace("X5.5", "X5.5 5"), "plain-mm", 700), (STRAIGHT.replace("X5.5", "X"), "plain-mm", 5),
    (STRAIGHT.replace("X555.5", "X5.5.5"), "plain-mm", 555), (STRAIGHT.replace("F655", "F-655"), "plain-mm", 55),
    (STRAIGHT.replace("G1 X9.5", "G5 X9.5"), "plain-mm", 9), (STRAIGHT.replace("F", "E"), "plain-mm", 0),
    (STRAIGHT.replace("F6", "F0*6"), "plain-mm", 0), (STRAIGHT.replace("\n", "\r\n"), "plain-mm", 700),
    (STRAIGHT + "(\xfc)\n", "anywhere", 0), (STRAIGHT + "(" + "x" * 300 + ")\n", "plain-mm", 0),
    ("M2\n" + STRAIGHT, "plain-mm", 0), (ARCS.replace("I2.5", "I2.4"), "plain-mm", 0),
    (ARCS.replace("n", "n-"), "plain-mm", 0), (ARCS.replace("n", "n11111"), "plain-mm", 0),
    ("F0\nG1 X1\nG1 X2\nG1 X3\n", "plain-mm", 0), (ARCS.replace("I2.5", "I2.51"), "plain-mm", 0), (MIXED, NO_Z, 0),
    ("G10 L2 P1 X0.1\nG54\nG92 X0.3\n" + STRAIGHT, "plain-mm", 0),
    (STRAIGHT + STRAIGHT.replace(" F", " Z") + "X1 Y1\n" * 20, "plain-mm", 1420),
    ("G1 X1 F-5\n" * 9, "plain-mm", 0), ("G1 X1 F0\n" * 9, "plain-mm", 0), ("G0 X1 F5\n" * 9, "plain-mm", 9),
    ("G0 X1 F0\n" * 9, "plain-mm", 9), ("G2 X1 Y1\n" * 9, "plain-mm", 0), ("G3 X0 Y0 I0 J0\n" * 3, "plain-mm", 0),
    ("G1 X1 Y1\n" * 9, NO_G1, 0), ("G1 X1 Y1\n" * 3, NO_G1, 0),
    ("X-0 Y-0\nX-0 Y-0\nX-0 Y-0\n", "plain-mm", 3), ("G0 X1 F0\nG0 X2 F0\nG0 X3 F0\nG1 X4\n", "plain-mm", 3),
])  # fmt: skip
def test_what_the_short_way_takes_and_what_it_leaves(
    body: str, dialect: str, lines: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (HEAD.replace("G21", "G20") if dialect == "plain-inch" else HEAD) + body + "M2\n"
    same(text, dialect)
    assert taken(text, dialect, monkeypatch) == lines


WORD = st.one_of(
    st.sampled_from("XYZIJRFPN").flatmap(
        lambda c: st.sampled_from(
            ["0", "1", "-1", "2.5", ".5", "-.25", "10", "1000", "+3.", "12.3456789", ".", "1e2", ""]
        ).map(lambda v: c + v)
    ),
    st.sampled_from(
        [
            "G0",
            "G1",
            "G2",
            "G3",
            "G4",
            "G20",
            "G21",
            "G90",
            "G91",
            "G92",
            "G18",
            "G17",
            "M3",
            "M5",
            "M101",
            "M102",
            "M0",
        ]
    ),
    st.sampled_from(["(note)", "(MSG, x)", "(bad", "/", " ", "\t", "#1=2", "X#1", "G53", "G93", "G94", "%"]),
)
LINE = st.lists(WORD, max_size=5).map(" ".join)
NUMBER = st.sampled_from(
    ["0", "1", "-1", "2.5", ".5", "-.25", "10", "+3.", "12.3456789", "-0", "01", "1 2"] * 4
    + [".", "1e2", "", "--1"]
)
SHAPES = st.sampled_from(
    ["GX", "XY", "GXYF", "GXYZ", "XYIJ", "GXYIJ", "GXYIJF", "Z", "NGXY", "XYF", "GXYR", "GF", "ZIJ", "XXY"]
)


@st.composite
def stretch(draw: st.DrawFn) -> list[str]:
    """Lines of one shape; G mostly a motion."""
    shape, blank = draw(SHAPES), draw(st.sampled_from(["", " "]))
    code = st.sampled_from(["0", "1", "1", "2", "3", "01", "03", "4", "90"])
    count = draw(st.integers(1, 12))
    return [blank.join(c + draw(code if c == "G" else NUMBER) for c in shape) for _ in range(count)]


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    st.lists(st.one_of(LINE.map(lambda line: [line]), stretch(), stretch()), min_size=1, max_size=15),
    st.sampled_from(["plain-mm", "probe-mm", "flat-mm", "plain-inch", "small-mm", "anywhere"]),
)
def test_both_ways_agree_on_nonsense(stretches: list[list[str]], dialect: str) -> None:
    head = ["G21", "G17 G90 G94", "G1 X1 Y1 F600"]
    same("\n".join([*head, *(line for lines in stretches for line in lines), "M2", ""]), dialect)
