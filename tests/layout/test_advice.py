"""Clearances proposed for leads: the burn planner, which is asked afterwards, finds room for whole ones."""

from __future__ import annotations

import pytest

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.advice import proposed, tight
from platewright.layout.model import Clearance, Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table


def _planned(outline: Contour, thickness: float, clear: Clearance) -> BurnPlan:
    """Plan nine parts 120 mm wide, three by three, as close as the clearance allows."""
    step, edge = 120.0 + clear.part, clear.edge
    side = 2 * step + 120.0 + 2 * edge
    places = tuple(
        Placement(0, Pose(edge + 60 + step * (k % 3), edge + 60 + step * (k // 3)), k + 1) for k in range(9)
    )
    part = Part(name="part", profile=Profile(outline), thickness=thickness)
    layout = Layout(
        plate=Plate.sheet("s", side, side, thickness),
        parts=(part,),
        placements=places,
        keepouts=(),
        clearance=clear,
    )
    return plan(layout, starter_chart(), load_table("small gantry"), BurnOptions())


DISC = Contour.circle(0, 0, 60)
BLOCK = Contour.rectangle(120, 120, x=-60, y=-60)


@pytest.mark.parametrize("thickness", [3.0, 6.0, 10.0, 12.0])
def test_at_the_proposed_distance_the_planner_finds_leads(thickness: float) -> None:
    """Round parts get whole leads; square ones get one each, if only shortened beyond a corner."""
    row = starter_chart().row("mild steel", thickness).row
    clear = proposed(row)
    discs = _planned(DISC, thickness, clear)
    assert len(discs.cuts) == 9
    assert not [w for cut in discs.cuts for w in cut.why if "shortened" in w]
    assert len(_planned(BLOCK, thickness, clear).cuts) == 9
    assert tight(clear, row) == ()


def test_six_millimetres_between_thick_blocks_leave_no_room_for_a_lead_and_are_reported() -> None:
    row = starter_chart().row("mild steel", 12.0).row
    made = _planned(BLOCK, 12.0, Clearance(6.0, 6.0))
    assert len(made.cuts) == 0
    assert [f.code for f in tight(Clearance(6.0, 6.0), row)] == ["L018", "L018"]
