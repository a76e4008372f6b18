"""Programs read back as shapes: leads and overburn drop off, circles stay circles."""

from __future__ import annotations

import math

import pytest

from platewright.pattern.drawing.read import profiles_from_edges
from platewright.program.dialects import load_dialect
from platewright.program.geometry import burning_edges
from platewright.program.interpreter import interpret

SQUARE = """G21 G90 G17
G0 X-5 Y20
M3
G1 X0 Y20 F2000
G1 X0 Y0
G1 X40 Y0
G1 X40 Y40
G1 X0 Y40
G1 X0 Y20
G1 X0 Y17
M5
G0 X20 Y20
M3
G1 X26 Y20
G3 X26 Y20 I-6 J0
G1 X24 Y21
M5
M2
"""


def test_a_square_with_leads_and_a_full_circle() -> None:
    run = interpret(SQUARE, load_dialect("plain-mm"))
    drawn = profiles_from_edges(burning_edges(run))
    (profile,) = drawn.profiles
    assert profile.area() == pytest.approx(1600 - math.pi * 36, rel=1e-9)
    assert len(profile.holes[0]) == 2


def test_an_open_burn_stays_whole() -> None:
    run = interpret("G21 G90 G17\nG0 X0 Y0\nM3\nG1 X10 F1000\nG1 Y10\nM5\nM2\n", load_dialect("plain-mm"))
    assert [e.length() for e in burning_edges(run)] == [10.0, 10.0]


def test_nothing_burns_nothing_comes() -> None:
    assert burning_edges(interpret("G21 G90\nG0 X10\nM2\n", load_dialect("plain-mm"))) == []
