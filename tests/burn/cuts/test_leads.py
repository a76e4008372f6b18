"""Leads and paths on generated layouts, judged by code that shares nothing with the planner (see ``helpers``)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions, CutChoice
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.model import Gantry
from platewright.table.profile import load_table
from tests.burn.helpers import metal, out_of_order, random_layout, sampled, troubles, uncut

TABLE = load_table("small gantry")
CHART = starter_chart()


@pytest.mark.parametrize("seed", range(60))
def test_no_lead_crosses_anything_and_nothing_is_left_out_silently(seed: int) -> None:
    layout = random_layout(seed, thickness=(3.0, 6.0, 10.0)[seed % 3])
    made = plan(layout, CHART, TABLE, BurnOptions(amperage=45.0, effort=0.05))
    assert troubles(made) == []
    assert uncut(made) == []
    assert out_of_order(made) == []


def test_the_checker_sees_a_lead_that_crosses_its_part() -> None:
    made = plan(random_layout(3), CHART, TABLE, BurnOptions(amperage=45.0, effort=0.05))
    cut = next(c for c in made.cuts if c.kind == "outer")
    rows = cut.path.rows.copy()
    x0, y0 = made.layout.placements[cut.placement].pose.points(
        [made.layout.parts[made.layout.placements[cut.placement].part].profile.outer.points.mean(axis=0)]
    )[0]
    rows[0] = (x0, y0, 0.0)
    spoiled = replace(
        made, cuts=tuple(replace(c, path=Contour(rows, closed=False)) if c is cut else c for c in made.cuts)
    )
    assert any("eats into" in t.what for t in troubles(spoiled))


def test_the_checker_sees_a_missing_cut_and_a_wrong_order() -> None:
    made = plan(random_layout(4), CHART, TABLE, BurnOptions(amperage=45.0, effort=0.05))
    assert uncut(replace(made, cuts=made.cuts[1:])) != []
    holes = [c for c in made.cuts if c.kind == "hole"]
    assert holes
    assert out_of_order(replace(made, cuts=made.cuts[::-1])) != []


def test_a_part_with_no_room_for_a_lead_is_reported_not_cut() -> None:
    part = Part(name="tile", profile=Profile(Contour.rectangle(40, 40)), thickness=6.0)
    placements = tuple(
        Placement(0, Pose(2.1 + 41.95 * i, 2.1 + 41.95 * j), 3 * j + i + 1)
        for i in range(3)
        for j in range(3)
    )
    layout = Layout(plate=Plate.sheet("s", 130, 130, 6.0), parts=(part,), placements=placements)
    made = plan(layout, CHART, TABLE, BurnOptions(amperage=45.0, effort=0.05))
    assert troubles(made) == []
    assert uncut(made) == []
    assert any(f.code == "B002" for f in made.findings)
    assert np.isfinite(made.total_time)


def _alone(*points: tuple[float, float], choice: CutChoice) -> BurnPlan:
    part = Part(name="part", profile=Profile(Contour.from_points(points)), thickness=6.0)
    layout = Layout(
        plate=Plate.sheet("s", 300, 200, 6.0), parts=(part,), placements=(Placement(0, Pose(40, 40), 1),)
    )
    return plan(layout, CHART, TABLE, BurnOptions(amperage=45.0, effort=0.02, cuts=(choice,)))


@pytest.mark.parametrize(
    ("overburn", "leaves"), [(None, True), (12.0, True), (12.5, False), (13.0, False), (13.5, False)]
)
def test_the_lead_out_keeps_clear_where_the_overburn_really_ends(
    overburn: float | None, leaves: bool
) -> None:
    """Started 14.67 mm above an inside corner whose metal lies at y = 80, the torch runs down along x = 100.8 to y = 94.67 - overburn.

    A lead-out of 2 mm radius goes 2 sin 60° = 1.73 mm on: to 80.94 after 12 mm (0.94 mm off the metal, half a kerf is 0.80), to
    80.44 after 12.5 mm, where it would bite. It was looked at one kerf past the start, whatever the overburn.
    """
    choice = CutChoice(placement=0, contour=0, overburn=overburn, start=(100, 94.67))
    made = _alone((0, 0), (120, 0), (120, 40), (60, 40), (60, 100), (0, 100), choice=choice)
    (cut,) = made.cuts
    assert cut.path.rows[1, :2] == pytest.approx((100.8, 94.67), abs=0.02)
    assert troubles(made) == []
    assert (cut.path.bulges[-1] != 0) == leaves


def test_the_lead_out_goes_on_the_way_the_torch_came() -> None:
    """At an inside corner of 150°, ended there, the lead-out begins along the edge it came by, 30° into the metal of the next.

    2 mm of radius then bite 2 (sin 30° sin 30° - (1 - cos 30°) cos 30°) = 0.27 mm deep; it was looked at along the next edge.
    """
    rise = 60 * math.tan(math.pi / 6)
    choice = CutChoice(placement=0, contour=0, overburn=0.0, start=(100, 80), lead="straight")
    made = _alone((0, 0), (120, 0), (120, 40), (60, 40), (0, 40 + rise), choice=choice)
    (cut,) = made.cuts
    assert cut.path.rows[1, :2] == pytest.approx((100.213, 80.795), abs=1e-3)  # it does start at the corner
    assert troubles(made) == []


def _edge_started(
    keepouts: Sequence[KeepOut] = (), holes: Sequence[Contour] = (), outline: Contour | None = None
) -> BurnPlan:
    """A tile of 60 by 40 mm, 12 mm from the long lower edge of its plate, asked to start from the edge."""
    part = Part(name="tile", profile=Profile(Contour.rectangle(60, 40)), thickness=6.0)
    plate = replace(
        Plate.sheet("s", 300, 200, 6.0),
        profile=Profile(outline or Contour.rectangle(300, 200), tuple(holes)),
    )
    layout = Layout(
        plate=plate, parts=(part,), placements=(Placement(0, Pose(40, 12), 1),), keepouts=tuple(keepouts),
        seat=Pose(50, 50),
    )  # fmt: skip
    return plan(layout, CHART, TABLE, BurnOptions(amperage=45.0, effort=0.02, edge_start=True))


@pytest.mark.parametrize("below", [0.0, -30.0])
def test_a_start_from_the_edge_keeps_off_clamps(below: float) -> None:
    """A clamp along the edge before the tile, wholly on the plate or hanging over: the lead goes past it, and clear by half a kerf."""
    clamp = KeepOut("clamp", Contour.rectangle(50, 8 - below, x=45, y=below))
    (cut,) = _edge_started([clamp]).cuts
    assert not cut.pierced
    line = shapely.LineString(sampled(cut.path.rows))
    assert line.distance(shapely.box(45, below, 95, 8)) > cut.kerf / 2


def test_a_tile_behind_clamps_is_pierced_and_that_is_told() -> None:
    made = _edge_started([KeepOut("bar", Contour.rectangle(320, 6, x=-10, y=-3)),
                          KeepOut("stop", Contour.rectangle(6, 210, x=-3, y=-5))])  # fmt: skip
    assert all(c.pierced for c in made.cuts)
    assert "B021" in {f.code for f in made.findings}
    assert troubles(made) == []


def test_a_start_from_the_edge_runs_over_metal_all_the_way() -> None:
    """Over an old slot, or from a cut in the edge narrower than the run-up (a kerf and 2 mm), the arc would find no metal or other metal."""
    slot = Contour.rectangle(50, 3, x=45, y=4)
    slit = Contour.from_points([(0, 0), (20, 0), (20, 9), (22, 9), (22, 0), (300, 0), (300, 200), (0, 200)])
    for made in (_edge_started(holes=[slot]), _edge_started(outline=slit)):
        (cut,) = made.cuts
        assert not cut.pierced
        lead = shapely.LineString(sampled(cut.path.rows[:2]))
        inside = lead.intersection(metal(made.layout.plate.profile))
        assert inside.geom_type == "LineString"
        assert inside.distance(shapely.Point(cut.path.rows[1, :2])) < 1e-6
        assert not metal(made.layout.plate.profile).contains(shapely.Point(cut.path.rows[0, :2]))


@pytest.mark.parametrize(("room", "leaves"), [(1.05, True), (0.95, False)])
def test_the_lead_out_stays_within_the_torchs_reach(room: float, leaves: bool) -> None:
    """Started at a corner in line with its upper edge, the cut ends with a lead-out 2 (1 - cos 60°) = 1 mm above that edge's path."""
    corner = CutChoice(placement=0, contour=0, start=(40, 90), lead="straight")
    made = _alone((0, 0), (120, 0), (120, 40), (0, 40), choice=corner)
    reach = TABLE.reach
    assert isinstance(reach, Gantry)
    seat = Pose(50, reach.y1 - 80 - made.row.kerf / 2 - room)
    made = plan(replace(made.layout, seat=seat), CHART, TABLE, made.options)
    (cut,) = made.cuts
    assert (cut.exit_edges == 2) is leaves
    assert made.reaches(sampled(cut.path.rows)).all()


def test_a_part_that_lies_wholly_within_a_keep_out_is_not_cut() -> None:
    """It comes near no boundary; the plan burned it, and the proof stopped it."""
    made = _edge_started([KeepOut("bed", Contour.rectangle(200, 100, x=5, y=5))])
    assert made.cuts == ()
    (told,) = (f for f in made.findings if f.code == "B005")
    assert "a keep-out" in told.text
