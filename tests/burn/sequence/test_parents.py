"""What must burn before what: a part in a hole before that hole, and the nearest of nested holes counts."""

from __future__ import annotations

import pytest

from platewright.burn.cuts.loops import Loop
from platewright.burn.options import BurnOptions, CutChoice
from platewright.burn.sequence.order import heat_distance, parents, ranks_of
from platewright.geometry import Contour


def _loop(kind: str, placement: int, radius: float, x: float = 200.0) -> Loop:
    contour = 0 if kind == "outer" else 1
    return Loop(
        kind=kind,
        placement=placement,
        contour=contour,
        path=Contour.circle(x, 200, radius),
        scrap_left=True,
        kerf=1.6,
        feed=40.0,
        small=False,
        circle=None,
        why=(),
    )


def test_a_part_in_a_hole_in_a_hole_waits_for_the_inner_one() -> None:
    loops = [
        _loop("hole", 0, 100),  # 0: a ring's hole
        _loop("outer", 0, 150),  # 1: the ring
        _loop("hole", 1, 40),  # 2: the hole of a washer that lies in the ring
        _loop("outer", 1, 70),  # 3: the washer
        _loop("outer", 2, 20),  # 4: a disc in the washer's hole
        _loop("outer", 3, 30, x=450.0),  # 5: a disc beside them all
    ]
    assert parents(loops) == [1, -1, 3, 0, 2, -1]


def test_a_part_in_a_hole_that_is_not_cut_waits_for_the_part_round_it() -> None:
    """By choice or for want of room a hole stays; what lies in it was then burned after its plate had come loose."""
    loops = [
        _loop("outer", 0, 150),  # 0: a ring whose hole stays
        _loop("outer", 1, 70),  # 1: a washer in it
        _loop("hole", 1, 40),  # 2
        _loop("outer", 2, 20),  # 3: a disc in the washer's hole
    ]
    assert parents(loops) == [-1, 0, 1, 2]
    assert parents([loops[0], loops[3], loops[1]]) == [-1, 2, 0]


def test_a_rank_by_hand_never_puts_a_cut_after_what_waits_for_it() -> None:
    """The disc asks to be the last, the ring's outside to be second: disc, washer and the ring's hole are second at the latest."""
    loops = [_loop("hole", 0, 100), _loop("outer", 0, 150), _loop("hole", 1, 40), _loop("outer", 1, 70), _loop("outer", 2, 20), _loop("outer", 3, 30, x=450.0)]  # fmt: skip
    choices = (
        CutChoice(placement=2, contour=0, rank=9), CutChoice(placement=0, contour=0, rank=1), CutChoice(placement=3, contour=0, rank=7)
    )  # fmt: skip
    assert ranks_of(loops, parents(loops), BurnOptions(cuts=choices)) == [0, 1, 0, 0, 0, 7]
    early = (*choices, CutChoice(placement=0, contour=1, rank=5), CutChoice(placement=1, contour=0, rank=5), CutChoice(placement=1, contour=1, rank=4))  # fmt: skip
    assert ranks_of(loops, parents(loops), BurnOptions(cuts=early)) == [1, 1, 1, 1, 1, 7]


@pytest.mark.parametrize(
    ("thickness", "chosen", "apart"),
    [(1.6, None, 30.0), (1.61, None, 0.0), (1.0, 0.0, 0.0), (6.0, 50.0, 50.0)],
)
def test_thin_plate_is_cut_here_and_there(thickness: float, chosen: float | None, apart: float) -> None:
    """Up to 1.6 mm, 16 gauge, by itself; what is chosen wins."""
    assert heat_distance(BurnOptions(spread_heat=chosen), thickness) == apart
