"""Arcs as read and as written, against the trigonometry of a circle: centre, sweep and sense of each form of word."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from platewright.geometry import Contour
from platewright.program.arcs import by_centre
from platewright.program.dialects import load_dialect
from platewright.program.interpreter import interpret
from platewright.program.run import Kind, Run
from platewright.program.writer import write
from tests.program.helpers import cut, washer_plan

HEAD = "G21\nG17 G90 G94 F1200\n"


def arc(
    start: float, turn: float, *, r: float = 20.0, long_way: bool = False, words: str = "IJ"
) -> tuple[Run, int]:
    """An arc about (30, 40) from a direction over a turn [deg], positive counterclockwise; the run and the arc's move."""
    a, b = math.radians(start), math.radians(start + turn)
    x0, y0, x1, y1 = (30 + r * math.cos(a), 40 + r * math.sin(a), 30 + r * math.cos(b), 40 + r * math.sin(b))
    word = "G3" if turn > 0 else "G2"
    centre = f"I{30 - x0:.5f} J{40 - y0:.5f}" if words == "IJ" else f"R{-r if long_way else r}"
    run = interpret(f"{HEAD}G0 X{x0:.5f} Y{y0:.5f} Z1\n{word} X{x1:.5f} Y{y1:.5f} {centre}\nM2\n", "plain-mm")
    (move,) = [i for i, k in enumerate(run.moves.kind) if k == Kind.ARC]
    return run, move


TURNS = [
    (-30, 60),
    (-30, -300),
    (20, 90),
    (100, 179),
    (200, 181),
    (300, 350),
    (45, -45),
    (45, 5),
    (170, -20),
    (0, 180),
    (90, -180),
]


@pytest.mark.parametrize(("start", "turn"), TURNS)
def test_an_arc_about_a_centre(start: float, turn: float) -> None:
    """Those about an axis too, whose ends mirror one another."""
    run, move = arc(start, turn)
    assert float(run.moves.sweep[move]) == pytest.approx(math.radians(turn), abs=1e-5)
    assert run.moves.centre[move] == pytest.approx((30, 40), abs=1e-4)
    assert float(run.moves.lengths()[move]) == pytest.approx(20 * math.radians(abs(turn)), abs=1e-3)


@pytest.mark.parametrize(("start", "turn"), [t for t in TURNS if abs(t[1]) != 180])
def test_an_arc_of_a_radius(start: float, turn: float) -> None:
    """R below 0 asks for the long way round."""
    run, move = arc(start, turn, long_way=abs(turn) > 180, words="R")
    assert float(run.moves.sweep[move]) == pytest.approx(math.radians(turn), abs=1e-4)
    assert run.moves.centre[move] == pytest.approx((30, 40), abs=5e-3)


def test_a_half_circle_of_a_radius_has_its_middle_between_its_ends() -> None:
    run = interpret(f"{HEAD}G0 X10 Y0 Z1\nG2 X30 Y0 R10\nM2\n", "plain-mm")
    (move,) = [i for i, k in enumerate(run.moves.kind) if k == Kind.ARC]
    assert float(run.moves.sweep[move]) == pytest.approx(-math.pi)
    assert run.moves.centre[move] == pytest.approx((20, 0), abs=1e-6)


@pytest.mark.parametrize("start", [0.0, 10.0, 77.0, 200.0])
def test_once_round_from_any_direction(start: float) -> None:
    a = math.radians(start)
    x, y, i, j = 30 + 20 * math.cos(a), 40 + 20 * math.sin(a), -20 * math.cos(a), -20 * math.sin(a)
    for word, sense in (("G2", -1), ("G3", 1)):
        text = f"{HEAD}G0 X{x:.4f} Y{y:.4f} Z1\n{word} X{x:.4f} Y{y:.4f} I{i:.4f} J{j:.4f}\nM2\n"
        run = interpret(text, "plain-mm")
        (move,) = [n for n, k in enumerate(run.moves.kind) if k == Kind.ARC]
        assert float(run.moves.sweep[move]) == pytest.approx(sense * 2 * math.pi)


@pytest.mark.parametrize("clockwise", [False, True])
@pytest.mark.parametrize("beside", [-2e-6, -5e-7, 5e-7, 2e-6])
@pytest.mark.parametrize("degrees", [0, 37, 90, 143, 180, 211, 270, 322])
def test_ends_beside_one_another_by_less_than_a_millionth_are_a_full_turn(
    degrees: float, beside: float, clockwise: bool
) -> None:
    """About (30, 40), from 20 mm off to 20.001 mm off, the end so far to the left of the start's direction [mm]."""
    a = math.radians(degrees)
    (ux, uy), far = (math.cos(a), math.sin(a)), 20.001
    end = (30 + far * ux - beside * uy, 40 + far * uy + beside * ux)
    sweep, mismatch = by_centre((30 + 20 * ux, 40 + 20 * uy), end, (30, 40), clockwise)
    little = (-beside if clockwise else beside) / far
    turn = 2 * math.pi if abs(beside) < 1e-6 else little % (2 * math.pi)
    assert sweep == pytest.approx(-turn if clockwise else turn, abs=1e-12)
    assert mismatch == pytest.approx(0.001, abs=1e-9)


@pytest.mark.parametrize("clockwise", [False, True])
def test_the_corners_of_a_rounded_plate_are_written_about_their_own_middles(clockwise: bool) -> None:
    """60 by 40 mm, corners of 10: each I and J leads from where the torch stands to the middle of that corner."""
    shape = Contour.rectangle(60, 40, x=20, y=20, radius=10)
    plan = washer_plan()
    made = replace(plan, cuts=(cut(shape.reversed() if clockwise else shape),))
    text = write(made, "plain-mm", name="w").text
    x = y = math.nan
    middles, words = [], set()
    word = ""
    for line in text.splitlines():
        if line.startswith("("):
            continue
        word = (re.match(r"G0?([0123])\b", line) or re.match(r"()", line)).group(1) or word  # type: ignore[union-attr]
        at = {k: float(v) for k, v in re.findall(r"([XYIJ])(-?[\d.]+)", line)}
        if "I" in at or "J" in at:
            middles.append((x + at.get("I", 0.0), y + at.get("J", 0.0)))
            words.add(word)
        x, y = at.get("X", x), at.get("Y", y)
    assert words == ({"2"} if clockwise else {"3"})
    assert sorted(middles) == [pytest.approx(m, abs=2e-3) for m in ((30, 30), (30, 50), (70, 30), (70, 50))]


# -- what a dialect says of its controller -------------------------------------------------------------------


@pytest.mark.parametrize(("name", "lifts", "touches", "zeroes", "follows", "marks"), [
    ("plain-mm", True, False, False, False, False), ("plain-inch", True, False, False, False, False),
    ("flat-mm", False, False, False, False, False), ("probe-mm", True, True, True, True, False),
    ("marker-mm", True, True, True, True, True),
])  # fmt: skip
def test_what_planner_and_proof_know_of_a_dialect(
    name: str, lifts: bool, touches: bool, zeroes: bool, follows: bool, marks: bool
) -> None:
    """As its file says in words (``program/data``)."""
    knows = load_dialect(name).controller
    assert (knows.lifts, knows.touches, knows.zeroes, knows.follows, knows.marks) == (
        lifts,
        touches,
        zeroes,
        follows,
        marks,
    )
    assert knows.marker == ((60, 0) if marks else (0, 0))
    assert knows.mark_wait == pytest.approx(0.4 if marks else 0.0)  # 0.2 s down and up


def test_the_last_digit_of_a_feed_and_a_length() -> None:
    """A tenth of an inch a minute is 2.54/60 mm/s, a ten-thousandth of an inch 0.00254 mm."""
    inch = load_dialect("plain-inch").controller
    assert (inch.feed_grid, inch.grid) == pytest.approx((2.54 / 60, 0.00254))


def test_a_dialect_of_semicolons_reads_its_own_comments() -> None:
    own = 'name = "own"\ntitle = "t"\nabout = "a"\nextends = "plain-mm"\n[comments]\nstyle = "semicolon"\n'
    dialect = load_dialect(own)
    text = write(washer_plan(), dialect, name="w").text
    assert "; w: cut" in text.replace(";w", "; w")
    assert interpret(text, dialect).findings == ()
