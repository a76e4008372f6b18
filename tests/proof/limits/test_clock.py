"""How long a program takes, move by move, against d/v + v/a for each (derived; from rest to rest with one acceleration).

The table travels at 150 mm/s, lifts at 60, goes down at 40, all with 600 mm/s² (its lifter 300); a touch-off of its own takes 2 s.
"""

from __future__ import annotations

import math

import pytest

from tests.proof.helpers import HOLE, OUTER, WASHER, R, layout_of, program, proved


def way(distance: float, speed: float, acceleration: float = 600.0) -> float:
    """The time from rest to rest [s]; too short for the speed, it is up and down again."""
    if distance < speed**2 / acceleration:
        return 2 * math.sqrt(distance / acceleration)
    return distance / speed + speed / acceleration


DOWN = way(3.8 - 1.5, 40, 300)
"""From pierce to cut height."""
THERE = way(20, 60, 300) + way(50, 150) + way(20 - 3.8, 40, 300)
"""Up from zero, to (30, 40), down to the pierce."""
UP = way(20 - 1.5, 60, 300)


def job(*lines: str) -> str:
    return program(["X30 Y40", *lines])


@pytest.mark.parametrize(("lines", "seconds"), [
    (("G1 X130 F2400",), way(100, 40)),
    (("G1 X80 F2400", "G1 X130"), way(100, 40)),                       # two moves in line are one
    (("G1 X80 F2400", "M101", "G1 X130"), way(100, 40)),               # height control stops nothing
    (("G1 X80 F2400", "(MSG, half way)", "G1 X130"), way(100, 40)),    # nor does a message
    (("G1 X80 F2400", "G4 P1", "G1 X130"), 2 * way(50, 40) + 1),       # a dwell does
    (("G1 X80 F2400", "G1 Z2", "G1 Z1.5", "G1 X130"), 2 * way(50, 40) + 2 * way(0.5, 40, 300)),
    (("G1 X130 F1200",), way(100, 20)),
    (("G3 X30 Y40 I-20 J0 F2400",), way(40 * math.pi, 40)),            # once round in one block
    (("G3 X-10 Y40 I-20 J0 F2400", "G3 X30 Y40 I20 J0"), way(40 * math.pi, 40)),
    (("G3 X30 Y40 I-20 J0 F2400", "G4 P0.1", "G1 X80"), way(40 * math.pi, 40) + 0.1 + way(50, 40)),
])  # fmt: skip
def test_a_cut_takes_what_its_ways_take(lines: tuple[str, ...], seconds: float) -> None:
    proof = proved(job(*lines), None, dialect="probe-mm")
    assert proof.arc_time == pytest.approx(0.5 + DOWN + seconds, abs=1e-6)
    assert proof.time == pytest.approx(THERE + 0.5 + DOWN + seconds + UP + 2.0, abs=1e-6)


def test_touch_offs_in_the_text_are_counted_as_such() -> None:
    """Each takes 2 s; none is added for the lighting then."""
    touched = job("G1 X130 F2400").replace("G0 Z3.8", "G38.2 Z-25 F600\nG92 Z0\nG0 Z3.8")
    proof = proved(touched, None, dialect="probe-mm")
    there = way(20, 60, 300) + way(50, 150) + 2.0 + way(3.8, 60, 300)
    assert proof.time == pytest.approx(there + 0.5 + DOWN + way(100, 40) + UP, abs=1e-6)


@pytest.mark.parametrize(
    "turn", [["G3 X164.2 Y100 I-14.2 J0"], ["G3 X150 Y114.2 I-14.2 J0", "G3 X164.2 Y100 I0 J-14.2"]]
)
def test_a_hole_run_round_in_one_block_or_in_unlike_arcs_is_the_same_hole(turn: list[str]) -> None:
    hole = [*HOLE[:2], *turn]
    proof = proved(program(hole, OUTER), layout_of(WASHER))
    assert proof.findings == ()
    (part,) = proof.parts()
    assert part.area == pytest.approx(math.pi * (40**2 - 15**2), rel=2e-4)
    assert part.worst is not None
    assert part.worst < 1e-3
    rings = 6 + 2 * math.pi * (15 - R) + 6 + 2 * math.pi * (40 + R)
    assert proof.cut_length == pytest.approx(rings, abs=1e-3)
    (x0, y0), (x1, y1) = proof.paths[0].min(axis=0), proof.paths[0].max(axis=0)
    assert (x0, y0, x1, y1) == pytest.approx((135.8, 85.8, 164.2, 114.2), abs=0.01)
