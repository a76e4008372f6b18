"""Common lines, chains, corner loops and rounded inside corners: what is swept, what comes loose, how fast it runs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.burn.cuts.corners import rounded_inside
from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile, length, signed_area
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.motion import timed
from platewright.table.profile import load_table
from tests.burn.helpers import metal, random_layout, sampled, troubles

TABLE = load_table("small gantry")
CHART = starter_chart()
QUICK = BurnOptions(amperage=45.0, effort=0.02)
KERF = CHART.row("mild steel", 6.0, 45.0).row.kerf


def _row_of(gap: float, count: int = 2) -> Layout:
    part = Part(
        name="tile", profile=Profile(Contour.rectangle(60, 40), (Contour.circle(30, 20, 6),)), thickness=6.0
    )
    placements = tuple(Placement(0, Pose(40 + i * (60 + gap), 50), i + 1) for i in range(count))
    return Layout(plate=Plate.sheet("s", 400, 200, 6.0), parts=(part,), placements=placements)


def _loose(made: BurnPlan) -> list[shapely.Polygon]:
    """Return what the kerfs leave of the plate, largest first."""
    swept = shapely.union_all(
        [shapely.LineString(sampled(c.path.rows)).buffer(c.kerf / 2) for c in made.cuts]
    )
    rest = shapely.box(0, 0, 400, 200).difference(swept)
    return sorted(getattr(rest, "geoms", [rest]), key=lambda g: -g.area)


def _eats(made: BurnPlan) -> bool:
    parts = [metal(p) for _, _, p in made.layout.placed()]
    return any(
        shapely.LineString(sampled(c.path.rows)).distance(p) < c.kerf / 2 - 0.05
        for c in made.cuts
        for p in parts
    )


@pytest.mark.parametrize("count", [2, 3])
def test_a_common_line_is_cut_once_and_frees_both_parts(count: int) -> None:
    layout = _row_of(KERF, count)
    plain, shared = (
        plan(layout, CHART, TABLE, QUICK),
        plan(layout, CHART, TABLE, replace(QUICK, common_line=True)),
    )
    assert not _eats(shared)
    whole = 60 * 40 - math.pi * 36
    freed = [p for p in _loose(shared) if abs(p.area - whole) < 5]
    assert len(freed) == count
    assert shared.pierces < plain.pierces
    assert plain.cut_length - shared.cut_length > 35 * (count - 1)
    order = [(c.placement, c.contour) for c in shared.cuts]
    assert all(order.index((p, 1)) < order.index((p, 0)) for p in range(count))


def test_common_line_is_off_by_default_and_harmless_on_other_layouts() -> None:
    layout = random_layout(2)
    assert [c.path for c in plan(layout, CHART, TABLE, replace(QUICK, common_line=True)).cuts] == [
        c.path for c in plan(layout, CHART, TABLE, QUICK).cuts
    ]


def test_a_chain_saves_pierces_and_frees_every_part() -> None:
    layout = _row_of(14.0, 4)
    plain, chain = plan(layout, CHART, TABLE, QUICK), plan(layout, CHART, TABLE, replace(QUICK, chain=True))
    assert chain.pierces < plain.pierces
    assert not _eats(chain)
    whole = 60 * 40 - math.pi * 36
    assert len([p for p in _loose(chain) if abs(p.area - whole) < 5]) == 4
    done = {(c.placement, c.contour) for c in chain.cuts} | {pair for c in chain.cuts for pair in c.also}
    assert done == {(p, k) for p in range(4) for k in (0, 1)}
    assert all(len(c.speeds) == len(c.path) == len(c.height_control) for c in chain.cuts)


def test_corner_loops_keep_the_speed_and_the_part() -> None:
    layout = _row_of(40.0)
    plain, loops = (
        plan(layout, CHART, TABLE, QUICK),
        plan(layout, CHART, TABLE, replace(QUICK, corner_loops=True)),
    )
    assert troubles(loops) == []
    cut = next(c for c in loops.cuts if c.kind == "outer")
    assert any("4 corner loops" in w for w in cut.why)
    whole = 60 * 40 - math.pi * 36
    assert len([p for p in _loose(loops) if abs(p.area - whole) < 5]) == 2
    slowest = []
    for made in (plain, loops):
        outer = next(c for c in made.cuts if c.kind == "outer")
        run = timed(outer.path, outer.speeds, TABLE)
        along = np.linspace(12, length(outer.path) - 12, 2000)
        slowest.append(float(run.at(along).min() / max(outer.speeds)))
    assert slowest[1] > slowest[0]


def test_no_corner_loop_where_there_is_no_room() -> None:
    made = plan(_row_of(4.0), CHART, TABLE, replace(QUICK, corner_loops=True))
    assert troubles(made) == []
    assert any("2 corner loops" in w for c in made.cuts for w in c.why)


def test_rounding_a_square_hole_matches_the_closed_form() -> None:
    square = Contour.rectangle(20, 20)
    for path, left in ((square, True), (square.reversed(), False)):
        rounded = rounded_inside(path, 3.0, scrap_left=left)
        assert abs(signed_area(rounded)) == pytest.approx(400 - (4 - math.pi) * 9, rel=1e-12)
        assert length(rounded) == pytest.approx(80 - 24 + 6 * math.pi, rel=1e-12)
        untouched = rounded_inside(path, 3.0, scrap_left=not left)
        assert untouched == path


def test_rounded_inside_corners_run_faster_and_leave_more_metal() -> None:
    part = Part(
        name="frame",
        profile=Profile(Contour.rectangle(100, 80), (Contour.rectangle(60, 40, x=20, y=20),)),
        thickness=6.0,
    )
    layout = Layout(
        plate=Plate.sheet("s", 400, 200, 6.0), parts=(part,), placements=(Placement(0, Pose(40, 50)),)
    )
    plain, rounded = (plan(layout, CHART, TABLE, replace(QUICK, round_inside=r)) for r in (0.0, 4.0))
    assert not _eats(rounded)
    hole = [next(c for c in made.cuts if c.kind == "hole") for made in (plain, rounded)]
    assert hole[1].burn_time < hole[0].burn_time
    # the part's corner, half a kerf outside the path, has the radius asked for
    path = hole[1].path
    radii = [abs(path.edge(i).radius) for i in np.flatnonzero(path.bulges) if i >= hole[1].lead_edges]
    assert radii == pytest.approx([4.0 - hole[1].kerf / 2] * len(radii), abs=1e-6)
    assert len(radii) >= 4


@pytest.mark.parametrize(("gap", "told"), [(KERF, False), (KERF + 0.23, True)])
def test_pairs_laid_for_another_kerf_are_told(gap: float, told: bool) -> None:
    """Laid at one amperage and burned at another, parts no longer share their cut: it was made twice, untold."""
    made = plan(replace(_row_of(gap), common=((0, 1, gap),)), CHART, TABLE, QUICK)
    assert ("B044" in {f.code for f in made.findings}) == told
