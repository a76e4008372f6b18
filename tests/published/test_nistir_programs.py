"""The two sample programs printed in NISTIR 6556, Appendix C.1 and C.2 (a work of the US government, public domain).

The texts are typed as printed. What C.2 should give stands in its own comments; the totals of C.1 are counted and
measured from its text by hand-made arithmetic that shares nothing with the reader (status "confirmed" and "measured").
The dialect is plain-mm: all of both programs is computed, nothing of them is refused.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from platewright.program.interpreter import interpret
from platewright.program.run import Kind, Run

C1 = """\
(this program mills "Hello world" between X=0 and X=81 millimeters)
n0010 g21 g0 x0 y0 z50 (top of part should be on XY plane)
n0020 t1 m6 m3 f20 s4000 (use an engraver or small ball-nose endmill)
n0030 g0 x0 y0 z2
n0040 g1 z-0.5 (start H)
n0050 y10
n0060 g0 z2
n0070 y5
n0080 g1 z-0.5
n0090 x 7
n0100 g0 z2
n0110 y0
n0120 g1 z-0.5
n0130 y10
n0140 g0 z2
n0150 x11 y2.5
n0160 g1 z-0.5 (start e)
n0170 x16
n0190 g3 x13.5 y0 i-2.5
n0200 g1 x16
n0210 g0 z2
n0220 x20 y0
n0230 g1 z-0.5 (start l)
n0240 y9
n0250 g0 z2
n0260 x26
n0270 g1 z-0.5 (start l)
n0280 y0
n0290 g0 z2
n0300 x32.5
n0310 g1 z-0.5 (start o)
n0320 g2 x32.5 j2.5
n0330 g0 z2
n0340 x45 y5
n0350 g1 z-0.5 (start w)
n0360 x47 y0
n0370 x48.5 y3
n0380 x50 y0
n0390 x52 y5
n0400 g0 z2
n0410 x57.5 y0
n0420 g1 z-0.5 (start o)
n0430 g2 x57.5 j2.5
n0440 g0 z2
n0450 x64
n0460 g1 z-0.5 (start r)
n0470 y5
n0480 y4
n0490 g2 x69 r4
n0500 g0 z2
n0510 x73 y0
n0520 g1 z-0.5 (start l)
n0530 y9
n0540 g0 z2
n0550 x81
n0560 g1 z-0.5 (start d)
n0570 y0
n0580 x79.5
n0590 g2 j2.5 y5
n0600 g1 x81
n0610 g0 z50
n0620 m2
"""

C2 = """\
n0010 g21 g1 x3 f20 (expression test)
n0020 x [1 + 2] (x should be 3)
n0030 x [1 - 2] (x should be -1)
n0040 x [1 --3] (x should be 4)
n0050 x [2/5] (x should be 0.40)
n0060 x [3.0 * 5] (x should be 15)
n0070 x [0 OR 0] (x should be 0)
n0080 x [0 OR 1] (x should be 1)
n0090 x [2 or 2] (x should be 1)
n0100 x [0 AND 0] (x should be 0)
n0110 x [0 AND 1] (x should be 0)
n0120 x [2 and 2] (x should be 1)
n0130 x [0 XOR 0] (x should be 0)
n0140 x [0 XOR 1] (x should be 1)
n0150 x [2 xor 2] (x should be 0)
n0160 x [15 MOD 4.0] (x should be 3)
n0170 x [1 + 2 * 3 - 4 / 5] (x should be 6.2)
n0180 x sin[30] (x should be 0.5)
n0190 x cos[0.0] (x should be 1.0)
n0200 x tan[60.0] (x should be 1.7321)
n0210 x sqrt[3] (x should be 1.7321)
n0220 x atan[1.7321]/[1.0] (x should be 60.0)
n0230 x asin[1.0] (x should be 90.0)
n0240 x acos[0.707107] (x should be 45.0000)
n0250 x abs[20.0] (x should be 20)
n0260 x abs[-1.23] (x should be 1.23)
n0270 x round[-0.499] (x should be 0)
n0280 x round[-0.5001] (x should be -1.0)
n0290 x round[2.444] (x should be 2)
n0300 x round[9.975] (x should be 10)
n0310 x fix[-0.499] (x should be -1.0)
n0320 x fix[-0.5001] (x should be -1.0)
n0330 x fix[2.444] (x should be 2)
n0340 x fix[9.975] (x should be 9)
n0350 x fup[-0.499] (x should be 0.0)
n0360 x fup[-0.5001] (x should be 0.0)
n0370 x fup[2.444] (x should be 3)
n0380 x fup[9.975] (x should be 10)
n0390 x exp[2.3026] (x should be 10)
n0400 x ln[10.0] (x should be 2.3026)
n0410 x [2 ** 3.0] #1=2.0 (x should be 8.0)
n0420 ##1 = 0.375 (#1 is 2, so parameter 2 is set to 0.375)
n0430 x #2 (x should be 0.375) #3=7.0
n0440 #3=5.0 x #3 (parameters set in parallel, so x should be 7, not 5)
n0450 x #3 #3=1.1 (parameters set in parallel, so x should be 5, not 1.1)
n0460 x [2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]
n0470 x sqrt[3**2 + 4**2] (x should be 5.0)
n0480 m2
"""

EXAMPLES = {
    "[2.0/3*1.5-5.5/11.0]": (0.5, "3.3.2.3"),
    "[2**3*2]": (16.0, "3.3.2.3, order of operations"),
    "[2+3*4]": (14.0, "3.3.2.3, order of operations"),
    "[8-2-1]": (5.0, "3.3.2.3, left to right"),
    "[-7 MOD 3]": (2.0, "3.3.2.3"),
    "[10 MOD 4+1]": (3.0, "3.3.2.3, order of operations"),
    "[2 AND 0]": (0.0, "3.3.2.3, any number but 0 is true"),
    "[-2 OR 0]": (1.0, "3.3.2.3"),
    "[3 XOR 2]": (0.0, "3.3.2.3"),
    "[2 OR 0+5]": (6.0, "3.3.2.3, OR, XOR and AND are as strong as + and -, left to right"),
    "[1 XOR 1+1]": (1.0, "3.3.2.3"),
    "[3-1 AND 0]": (0.0, "3.3.2.3"),
    "FIX[2.8]": (2.0, "3.3.2.4"),
    "FIX[-2.8]": (-3.0, "3.3.2.4"),
    "FUP[2.8]": (3.0, "3.3.2.4"),
    "FUP[-2.8]": (-2.0, "3.3.2.4"),
    "ROUND[-0.499]": (0.0, "C.2"),
    "ROUND[-0.5001]": (-1.0, "C.2"),
    "ROUND[9.975]": (10.0, "C.2"),
    "ATAN[1]/[-1]": (135.0, "3.3.2.4, two arguments, degrees"),
    "ATAN[-1]/[1]": (-45.0, "3.3.2.4"),
    "ATAN[1.7321]/[1.0]": (60.0007, "C.2, before it is printed with one decimal"),
    "SIN[30]": (0.5, "C.2"),
    "COS[60]": (0.5, "3.3.2.4"),
    "TAN[45]": (1.0, "3.3.2.4"),
    "ASIN[1.0]": (90.0, "C.2"),
    "ACOS[0]": (90.0, "3.3.2.4"),
    "SQRT[3**2+4**2]": (5.0, "C.2"),
    "EXP[0]": (1.0, "3.3.2.4"),
    "LN[EXP[2]]": (2.0, "3.3.2.4"),
    "ABS[-1.23]": (1.23, "C.2"),
    "[1 --3]": (4.0, "C.2"),
    "[1/2+-0.25]": (0.25, "C.2, a sign belongs to a number"),
}
"""Values by the clauses of NISTIR 6556 named beside them; the project's reader and the witness are both held to them."""

NO_VALUES = {
    "-#1": "3.3.2: a sign belongs to a number", "-[1]": "3.3.2", "-SIN[30]": "3.3.2", "ATAN[1]": "3.3.2.4: two arguments", "SQRT[-1]": "3.3.2.4",
    "ACOS[2]": "3.3.2.4", "LN[0]": "3.3.2.4", "[1/0]": "3.3.2.3", "[1": "3.3.2.3: brackets close", "[]": "3.3.2.3", "#0": "3.3.2.2", "#5400": "3.3.2.2",
}  # fmt: skip
"""What is no value, and the clause."""

STATED = [(int(n), float(value)) for n, value in re.findall(r"(?m)^n(\d+) .*\(.*?x should be (-?[\d.]+)", C2)]
"""What X should be, by N word of its line."""

ROUGH = {220: math.degrees(0.25) * 5e-5, 390: 10 * 5e-5}
"""Two arguments (the tangent of 60 degrees, ln 10) are printed with four decimals: what half a digit of them moves."""


@pytest.fixture(scope="module")
def hello() -> Run:
    return interpret(C1)


@pytest.fixture(scope="module")
def expressions() -> Run:
    return interpret(C2)


def test_c1_has_59_moves_and_12_plunges(hello: Run) -> None:
    kind, sweep = hello.moves.kind, hello.moves.sweep
    assert len(hello.moves) == 59
    assert int((kind == Kind.RAPID).sum()) == 25
    assert int((kind == Kind.FEED).sum()) == 29
    assert int(((kind == Kind.ARC) & (sweep < 0)).sum()) == 4
    assert int(((kind == Kind.ARC) & (sweep > 0)).sum()) == 1
    down = (kind == Kind.FEED) & (hello.moves.end[:, 2] < hello.moves.start[:, 2])
    assert int(down.sum()) == 12


def test_c1_lengths_and_feed_time(hello: Run) -> None:
    """From the origin: feed 183.4305 mm (153.4305 in XY), rapid 252.0528 mm (76.0528 in XY), 9.1715 min at F20."""
    lengths, rapid = hello.moves.lengths(), hello.moves.kind == Kind.RAPID
    flat = np.hypot(*(hello.moves.end - hello.moves.start)[:, :2].T)
    arcs = hello.moves.kind == Kind.ARC
    assert lengths[~rapid].sum() == pytest.approx(183.4305, abs=5e-5)
    assert lengths[rapid].sum() == pytest.approx(252.0528, abs=5e-5)
    assert np.where(arcs, lengths, flat)[~rapid].sum() == pytest.approx(153.4305, abs=5e-5)
    assert flat[rapid].sum() == pytest.approx(76.0528, abs=5e-5)
    assert (lengths[~rapid] / hello.moves.feed[~rapid]).sum() / 60 == pytest.approx(9.1715, abs=5e-5)


def test_c1_arcs(hello: Run) -> None:
    """270 degrees of radius 2.5; two full circles of 15.70796 mm; R4 of 77.364 degrees about (66.5, 0.877501); a half circle."""
    moves = hello.moves
    arcs = np.flatnonzero(moves.kind == Kind.ARC)
    degrees = np.degrees(moves.sweep[arcs])
    assert degrees.tolist() == pytest.approx([270, -360, -360, -77.364, -180], abs=5e-4)
    assert moves.lengths()[arcs[1:3]].tolist() == pytest.approx([15.70796] * 2, abs=5e-6)
    assert moves.centre[arcs[3]].tolist() == pytest.approx([66.5, 0.877501], abs=5e-7)
    radii = np.hypot(*(moves.start[arcs][:, :2] - moves.centre[arcs]).T)
    assert radii.tolist() == pytest.approx([2.5, 2.5, 2.5, 4, 2.5])


def test_c2_states_44_results() -> None:
    assert len({n for n, _ in STATED}) == len(STATED) == 44


@pytest.mark.parametrize(("number", "value"), sorted(STATED))
def test_c2_gives_what_it_states(expressions: Run, number: int, value: float) -> None:
    (row,) = np.flatnonzero(expressions.moves.line == number // 10)
    assert expressions.moves.end[row, 0] == pytest.approx(value, abs=ROUGH.get(number, 5e-5))


def test_c2_reads_to_its_end_and_its_long_expression(expressions: Run) -> None:
    """N460 states no result: worked out here by the standard library, in degrees."""
    assert expressions.state.ended
    assert expressions.state.parameters[2] == 0.375
    bottom = math.degrees(math.atan2(4 * 2.1 * math.sqrt(16.8), -18))
    expected = 2 + math.degrees(math.asin(1 / 2.1 - 0.345)) / bottom**2
    (row,) = np.flatnonzero(expressions.moves.line == 46)
    assert expressions.moves.end[row, 0] == pytest.approx(expected, abs=1e-12)
    assert len(expressions.moves) == 46


@pytest.mark.parametrize("text", EXAMPLES)
def test_values_of_the_clauses(text: str) -> None:
    value, clause = EXAMPLES[text]
    run = interpret(f"G21 G90 G0 X{text}\nM2\n", "plain-mm")
    assert run.unread is None, clause
    assert run.moves.end[-1, 0] == pytest.approx(value, abs=1e-4), clause


@pytest.mark.parametrize("text", NO_VALUES)
def test_what_is_no_value_by_the_clauses(text: str) -> None:
    assert interpret(f"G21 G90 G0 X{text}\nM2\n", "plain-mm").unread is not None, NO_VALUES[text]
