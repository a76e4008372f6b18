"""Which parts get tabs, and when hand-placed ones are too near each other: by hand on a tile of 100 by 60 mm."""

from __future__ import annotations

from dataclasses import replace

import pytest

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions, CutChoice, TabChoice
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table

QUICK = BurnOptions(amperage=45.0, effort=0.02)
TILE = Part(name="tile", profile=Profile(Contour.rectangle(100, 60)), thickness=6.0)


def _made(options: BurnOptions) -> BurnPlan:
    layout = Layout(
        plate=Plate.sheet("s", 300, 200, 6.0), parts=(TILE,), placements=(Placement(0, Pose(50, 50), 1),)
    )
    return plan(layout, starter_chart(), load_table("small gantry"), options)


@pytest.mark.parametrize(("below", "count"), [(103.0, 2), (100.5, 0), (70.0, 0)])
def test_the_longest_side_decides_who_gets_tabs(below: float, count: int) -> None:
    """Of its cut, 101.59 by 61.59 mm: a part narrower, but longer than the limit gets none."""
    made = _made(replace(QUICK, tab_below=below, tabs=TabChoice(2)))
    assert sum(len(c.tabs) for c in made.cuts) == count


@pytest.mark.parametrize(
    ("places", "held"),
    [
        (((90.0, 110.0), (103.5, 110.0)), True),
        (((90.0, 110.0), (102.3, 110.0)), False),
        (((48.0, 60.0), (55.0, 48.0)), True),
        (((48.0, 55.0), (53.0, 48.0)), False),
    ],
)
def test_tabs_by_hand_keep_two_gaps_apart_across_the_lines_own_start_too(
    places: tuple[tuple[float, float], ...], held: bool
) -> None:
    """A tab of 4.8 mm asks for 4.8 + 1.59 = 6.39 mm of the cut, so 12.78 mm from one to the next; 13.5 mm will do, 12.3 will not.

    Round the lower left corner, where the outline begins: 10 and 5 mm along its sides with a quarter circle of 1.25 mm between are 16.2 mm;
    5 and 3 mm are 9.2.
    """
    choice = CutChoice(placement=0, contour=0, tabs=TabChoice(at=places))
    made = _made(replace(QUICK, cuts=(choice,)))
    assert sum(len(c.tabs) for c in made.cuts) == (2 if held else 0)
    assert ("B020" in {f.code for f in made.findings}) is not held
