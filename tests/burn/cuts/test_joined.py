"""Common lines, chains, corner loops and rounded inside corners: what is swept, what comes loose, how fast it runs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from platewright.burn.cuts.corners import rounded_inside
from platewright.burn.cuts.joined import Shared, chained, shared_edges
from platewright.burn.cuts.leads import clearances
from platewright.burn.cuts.loops import Loop
from platewright.burn.cuts.obstacles import Obstacles
from platewright.burn.model import BurnPlan, Cut, Tab
from platewright.burn.options import BurnOptions, CutChoice, TabChoice
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile, length, signed_area
from platewright.layout.model import KeepOut, Layout, Placement
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


def _outer(placement: int, path: Contour) -> Loop:
    return Loop(
        kind="outer", placement=placement, contour=0, path=path, scrap_left=True, kerf=1.6, feed=40.0, small=False,
        circle=None, why=(),
    )  # fmt: skip


@pytest.mark.parametrize(("low", "span"), [(25.0, (235.0, 250.0)), (-20.0, (190.0, 230.0)), (31.0, None)])
def test_the_stretch_two_parts_share_is_where_both_run(low: float, span: tuple[float, float] | None) -> None:
    """The first's right side is x = 60, y 0 to 40. The second is 50 by 75 mm: its left side is run from its top down, 175 to 250 mm along.

    From y = 25 to 100: shared from 40 down to 25, 60 to 75 mm down that side. From -20 to 55: from 40 to 0, 15 to 55 mm down it. From
    31 on only 9 mm are left, which is not worth it.
    """
    loops = [
        _outer(0, Contour.rectangle(60, 40)),
        _outer(1, Contour.rectangle(50, 75, x=60, y=low)),
    ]
    found = shared_edges(loops)
    assert found == ([] if span is None else [Shared(0, 1, pytest.approx(span[0]), pytest.approx(span[1]))])


@pytest.mark.parametrize(("off", "shared"), [(0.04, True), (0.06, False), (-0.04, True), (-0.06, False)])
def test_cuts_a_twentieth_apart_are_one_and_no_more(off: float, shared: bool) -> None:
    loops = [
        _outer(0, Contour.rectangle(60, 40)),
        _outer(1, Contour.rectangle(50, 40, x=60 + off)),
    ]
    assert bool(shared_edges(loops)) is shared


def test_edges_that_part_at_one_end_are_not_one() -> None:
    """They lie 0.02 mm apart at one end and 0.3 at the other."""
    slant = Contour.from_points([(60.02, 0), (110, 0), (110, 40), (60.3, 40)])
    assert shared_edges([_outer(0, Contour.rectangle(60, 40)), _outer(1, slant)]) == []


def _bare_row(gap: float, count: int = 2) -> Layout:
    """Tiles without holes, whose outsides follow one another."""
    layout = _row_of(gap, count)
    return replace(layout, parts=(replace(layout.parts[0], profile=Profile(Contour.rectangle(60, 40))),))


def _joined(made: BurnPlan) -> list[tuple[tuple[int, int], ...]]:
    return [c.also for c in made.cuts if c.also]


def test_a_chain_goes_over_no_keep_out_and_no_farther_than_40_mm() -> None:
    """A wall stands in the gap of 24 mm for the whole height of the plate; in a gap of 60 mm the way is longer than 40 by any lead."""
    chain = replace(QUICK, chain=True)
    near = _bare_row(24.0)
    assert _joined(plan(near, CHART, TABLE, chain))
    wall = replace(near, keepouts=(KeepOut("bar", Contour.rectangle(4, 190, x=110, y=5)),))
    made = plan(wall, CHART, TABLE, chain)
    assert _joined(made) == []
    bar = shapely.box(110, 5, 114, 195)
    assert all(shapely.LineString(sampled(c.path.rows)).distance(bar) > c.kerf / 2 for c in made.cuts)
    assert _joined(plan(_bare_row(60.0), CHART, TABLE, chain)) == []


@pytest.mark.parametrize("home", [(0.0, 0.0), (400.0, 0.0)])
def test_the_shared_stretch_is_cut_before_the_cut_that_starts_in_it(home: tuple[float, float]) -> None:
    """From the far side the order search would come to the second first: it would be lit on whole metal without a pierce."""
    made = plan(_bare_row(KERF, 3), CHART, TABLE, replace(QUICK, common_line=True, home=home))
    assert [(c.placement, c.pierced) for c in made.cuts] == [(0, True), (1, False), (2, False)]
    burned = shapely.union_all([])
    for cut in made.cuts:
        assert cut.pierced != burned.contains(shapely.Point(cut.start))
        burned = burned.union(shapely.LineString(sampled(cut.path.rows)).buffer(cut.kerf / 2))


@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize("change", [{"tabs": (Tab((0.0, 0.0), 4.0),)}, {"pierced": False}, {"kind": "hole"}])
def test_only_whole_outsides_that_are_pierced_are_joined(which: int, change: dict[str, Any]) -> None:
    """From the end of a stretch the torch would run across its tab; into an open kerf it would run without metal."""
    made = plan(_bare_row(24.0), CHART, TABLE, QUICK)
    clear = clearances(made.row, QUICK, made.cuts[0].kerf)

    def joined(cuts: Sequence[Cut]) -> int:
        return len(chained(cuts, Obstacles.of(made.layout), TABLE, clear))

    assert joined(made.cuts) == 1
    assert joined([replace(c, **change) if i == which else c for i, c in enumerate(made.cuts)]) == 2


@pytest.mark.parametrize(("asked", "expected"), [
    ({}, []), ({"start": (101.0, 70.0)}, ["the place of its start"]), ({"lead": "straight"}, ["its lead-in"]),
    ({"tabs": TabChoice(count=2, width=3.0)}, ["its tabs"]), ({"start": (101.0, 70.0), "lead_length": 5.0}, ["the place of its start, its lead-in"]),
])  # fmt: skip
def test_what_a_common_line_takes_away_is_told(asked: dict[str, Any], expected: list[str]) -> None:
    """One of two tiles starts in the kerf they share; a start, lead-in or tabs chosen for it fell away without a word."""
    cuts = tuple(CutChoice(placement=p, contour=0, **asked) for p in range(2))
    made = plan(_row_of(KERF), CHART, TABLE, replace(QUICK, common_line=True, cuts=cuts))
    assert [f.values["what"] for f in made.findings if f.code == "B045"] == expected
