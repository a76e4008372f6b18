"""Travel is led round loose pieces and tall keep-outs; judged with plain shapely on the plan's own lines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from tests.burn.helpers import random_layout, sampled

TABLE = load_table("small gantry")


def _over(made: BurnPlan) -> list[int]:
    """Return cuts whose travel passes over a piece that an earlier cut freed and that is long enough to stand up."""
    freed, found, here = [], [], made.options.home
    for number, cut in enumerate(made.cuts):
        way = shapely.LineString([here, *cut.via, cut.start])
        if any(way.intersects(f) for f in freed):
            found.append(number)
        here = cut.end
        if cut.kind != "mark":
            rows = cut.path.rows[cut.lead_edges : len(cut.path) - cut.exit_edges + 1]
            shape = shapely.Polygon(sampled(rows))
            x0, y0, x1, y1 = shape.bounds
            if max(x1 - x0, y1 - y0) > TABLE.safe_height and min(x1 - x0, y1 - y0) < 2 * made.options.slats:
                freed.append(shape.buffer(-cut.kerf))
    return found


@pytest.mark.parametrize("seed", range(8))
def test_travel_passes_no_loose_piece_unless_reported(seed: int) -> None:
    layout = random_layout(seed)
    options = BurnOptions(amperage=45.0, effort=0.02)
    made = plan(layout, starter_chart(), TABLE, options)
    said = sum(f.values["count"] for f in made.findings if f.code == "B017")
    assert len(_over(made)) <= said


@pytest.mark.parametrize("seed", [6, 21, 30, 37])
def test_nothing_leaves_the_reach(seed: int) -> None:
    layout = random_layout(seed, thickness=(1.5, 3.0, 6.0, 10.0)[seed % 4])
    made = plan(layout, starter_chart(), TABLE, BurnOptions(amperage=45.0, effort=0.05))
    spots = np.vstack([np.vstack([sampled(c.path.rows), *[np.array([v]) for v in c.via]]) for c in made.cuts])
    assert spots.min() >= -1e-6
    assert spots.max() <= 1300


def test_without_routing_travel_is_straight_and_passes_pieces() -> None:
    over = 0
    for seed in range(8):
        made = plan(
            random_layout(seed), starter_chart(), TABLE, BurnOptions(amperage=45.0, effort=0.02, route=False)
        )
        assert all(not c.via for c in made.cuts)
        over += len(_over(made))
    assert over > 0


def test_an_arm_travels_round_its_own_base() -> None:
    arm = load_table("two-link arm")
    part = Part(name="strap", profile=Profile(Contour.rectangle(60, 40)), thickness=6.0)
    placements = (Placement(0, Pose(150, 20), 1), Placement(0, Pose(1000, 20), 2))
    layout = Layout(plate=Plate.sheet("s", 1200, 600, 6.0), parts=(part,), placements=placements)
    made = plan(layout, starter_chart(), arm, BurnOptions(amperage=45.0, effort=0.02, home=(150.0, 10.0)))
    assert len(made.cuts) == 2
    low = replace(arm, reach=replace(arm.reach, y=-100.0))
    over = plan(layout, starter_chart(), low, BurnOptions(amperage=45.0, effort=0.02, home=(150.0, 10.0)))
    way = shapely.LineString([over.cuts[0].end, *over.cuts[1].via, over.cuts[1].start])
    assert way.distance(shapely.Point(600, -100)) >= 300 - 1e-6


def test_a_tall_clamp_is_gone_round() -> None:
    part = Part(name="strap", profile=Profile(Contour.rectangle(60, 40)), thickness=6.0)
    placements = (Placement(0, Pose(20, 130), 1), Placement(0, Pose(320, 130), 2))
    clamp = KeepOut("clamp", Contour.rectangle(40, 200, x=180, y=50), height=60.0)
    layout = Layout(
        plate=Plate.sheet("s", 400, 300, 6.0), parts=(part,), placements=placements, keepouts=(clamp,)
    )
    made = plan(layout, starter_chart(), TABLE, BurnOptions(amperage=45.0, effort=0.02))
    way = shapely.LineString([made.cuts[0].end, *made.cuts[1].via, made.cuts[1].start])
    assert made.cuts[1].via
    assert way.distance(shapely.box(180, 50, 220, 250)) > 5
    assert np.isfinite(made.rapid_length)
