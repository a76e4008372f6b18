"""Leads and paths on generated layouts, judged by code that shares nothing with the planner (see ``helpers``)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.geometry import Contour
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from tests.burn.helpers import out_of_order, random_layout, troubles, uncut

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
    from platewright.geometry import Pose, Profile
    from platewright.layout.model import Layout, Placement
    from platewright.part.model import Part
    from platewright.stock.model import Plate

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
