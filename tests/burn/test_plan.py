"""What a plan says and does: sides, directions, speeds, choices by hand, documents, refusals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.burn.model import BurnPlan, Cut, SlowStretch
from platewright.burn.options import BurnOptions, CutChoice, TabChoice
from platewright.burn.plan import plan
from platewright.burn.summary import _slow_finding
from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile, edge_lengths, length, signed_area
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Mark, Part
from platewright.stock.model import Plate
from platewright.table.chart import Chart, starter_chart
from platewright.table.motion import timed
from platewright.table.profile import load_table
from tests.burn.helpers import random_layout, sampled, troubles, uncut

TABLE = load_table("small gantry")
CHART = starter_chart()
QUICK = BurnOptions(amperage=45.0, effort=0.02)


def _layout(
    profile: Profile, *, size: float = 300.0, thickness: float = 6.0, marks: tuple[Mark, ...] = ()
) -> Layout:
    part = Part(name="plate", profile=profile, thickness=thickness, marks=marks)
    return Layout(
        plate=Plate.sheet("s", size, size, thickness), parts=(part,), placements=(Placement(0, Pose(80, 90)),)
    )


def _made(profile: Profile, options: BurnOptions = QUICK, **more: object) -> BurnPlan:
    return plan(_layout(profile, **more), CHART, TABLE, options)  # type: ignore[arg-type]


SQUARE = Profile(Contour.rectangle(100, 60), (Contour.circle(30, 30, 6), Contour.circle(70, 30, 20)))


def _proper(cut: Cut) -> Contour:
    rows = cut.path.rows[cut.lead_edges : len(cut.path) - cut.exit_edges + 1]
    return Contour(rows[:-1], closed=True)


def _cut(made: BurnPlan, contour: int) -> Cut:
    return next(c for c in made.cuts if c.kind != "mark" and c.contour == contour)


def test_paths_lie_half_a_kerf_on_the_waste_side() -> None:
    made = _made(SQUARE)
    kerf = made.row.kerf
    outer, small, big = (_proper(_cut(made, k)) for k in range(3))
    # a rectangle grown by r with round corners: area + perimeter r + pi r², perimeter + 2 pi r (closed form)
    r = kerf / 2
    assert abs(signed_area(outer)) == pytest.approx(6000 + 320 * r + math.pi * r * r, rel=1e-9)
    assert length(outer) == pytest.approx(320 + 2 * math.pi * r, rel=1e-9)
    slow = made.row.kerf_hole / 2  # the small hole is cut slower, with a wider kerf
    assert abs(signed_area(small)) == pytest.approx(math.pi * (6 - slow) ** 2, rel=1e-9)
    assert abs(signed_area(big)) == pytest.approx(math.pi * (20 - r) ** 2, rel=1e-9)


def test_the_good_side_of_the_swirl_faces_the_part() -> None:
    for swirl, outside in (("clockwise", -1), ("counterclockwise", 1)):
        made = plan(_layout(SQUARE), CHART, replace(TABLE, swirl=swirl), QUICK)
        turns = [math.copysign(1, signed_area(_proper(_cut(made, k)))) for k in range(3)]
        assert turns == [outside, -outside, -outside]
    other = _made(SQUARE, replace(QUICK, cuts=(CutChoice(placement=0, contour=0, reverse=True),)))
    assert signed_area(_proper(_cut(other, 0))) > 0


def test_small_holes_are_slow_frozen_and_end_where_they_start() -> None:
    made = _made(SQUARE)
    small, big = _cut(made, 1), _cut(made, 2)
    assert small.speeds[0] == pytest.approx(0.6 * made.row.cut_speed)
    assert big.speeds[0] == pytest.approx(made.row.cut_speed)
    assert not any(small.height_control)
    assert any(big.height_control)
    assert small.coast_edges == small.exit_edges > 0
    assert small.lit.rows[-1, :2] == pytest.approx(small.path.rows[small.lead_edges, :2], abs=1e-6)
    # from the middle of the hole
    assert small.start == pytest.approx((110, 120), abs=1e-6)


def test_height_control_is_frozen_exactly_where_the_torch_is_slow() -> None:
    made = _made(SQUARE)
    cut = _cut(made, 0)
    run = timed(cut.path, cut.speeds, TABLE)
    ends = np.cumsum(edge_lengths(cut.path))
    for i, live in enumerate(cut.height_control):
        along = np.linspace(ends[i] - edge_lengths(cut.path)[i] + 1e-3, ends[i] - 1e-3, 9)
        if live:
            assert (run.at(along) >= 0.8 * cut.speeds[i] - 1e-6).all()
    assert 0 < sum(cut.height_control) < len(cut.height_control)
    assert not any(
        _cut(plan(_layout(SQUARE), CHART, replace(TABLE, height_control=False), QUICK), 0).height_control
    )


def test_the_kerf_closes_a_small_hole_and_says_so() -> None:
    made = _made(Profile(Contour.rectangle(60, 60), (Contour.circle(30, 30, 0.7),)))
    assert [f.code for f in made.findings if f.severity == "stop"] == ["B001"]
    assert len(made.cuts) == 1
    assert uncut(made) == []


@pytest.mark.parametrize(("share", "told"), [(0.98, True), (1.02, False)])
def test_a_hole_smaller_than_the_charts_smallest_good_one_is_cut_and_reported(
    share: float, told: bool
) -> None:
    least = _made(SQUARE).row.smallest_hole
    made = _made(Profile(Contour.rectangle(60, 60), (Contour.circle(30, 30, share * least / 2),)))
    assert ("B004" in [f.code for f in made.findings]) is told
    assert len(made.cuts) == 2


def test_a_hole_pinched_to_less_than_the_kerf_comes_out_as_two_and_says_so() -> None:
    waist = Contour.from_points([(20, 20), (40, 20), (40, 39), (60, 39), (60, 20), (80, 20), (80, 60), (60, 60), (60, 40), (40, 40), (40, 60), (20, 60)])  # fmt: skip
    made = _made(Profile(Contour.rectangle(100, 80), (waist,)))
    (told,) = (f for f in made.findings if f.code == "B007")
    assert told.values["count"] == 2
    wide = _made(Profile(Contour.rectangle(100, 80), (Contour.rectangle(60, 40, x=20, y=20),)))
    assert "B007" not in [f.code for f in wide.findings]


def test_a_kerf_that_would_cut_into_a_neighbour_is_not_cut() -> None:
    def beside(gap: float) -> tuple[set[str], set[int]]:
        two = replace(
            _layout(SQUARE), placements=(Placement(0, Pose(20, 90)), Placement(0, Pose(120 + gap, 90)))
        )
        made = plan(two, CHART, TABLE, QUICK)
        return {f.code for f in made.findings}, {c.placement for c in made.cuts if c.contour == 0}

    kerf = _made(SQUARE).row.kerf
    assert beside(0.8 * kerf) == (beside(0.8 * kerf)[0] | {"B005"}, set())
    assert "B005" not in beside(1.2 * kerf)[0]


def test_tabs_without_room_for_a_lead_each_are_left_out_and_reported() -> None:
    tabbed = replace(QUICK, tab_below=200.0, tabs=TabChoice(count=40, width=1.0))
    few = replace(tabbed, tabs=TabChoice(count=2))
    assert "B020" not in [f.code for f in _made(SQUARE, few).findings]
    made = _made(SQUARE, tabbed)
    (told,) = (f for f in made.findings if f.code == "B020")
    assert told.values["count"] == 40
    assert [c.contour for c in made.cuts].count(0) == 1  # cut whole, without


def test_inside_corners_are_reported_with_their_size() -> None:
    ell = Contour.from_points([(0, 0), (80, 0), (80, 30), (30, 30), (30, 80), (0, 80)])
    made = _made(Profile(ell))
    told = next(f for f in made.findings if f.code == "B003")
    r = made.row.kerf / 2
    assert told.values["count"] == 1
    assert told.values["left_mm"] == pytest.approx(r * (math.sqrt(2) - 1))  # circle in a square corner
    assert told.place == pytest.approx((110, 120))


def test_a_slot_narrower_than_the_kerf_is_reported() -> None:
    keyhole = Contour.from_points([(0, 0), (80, 0), (80, 60), (40.5, 60), (40.5, 40), (60, 40), (60, 20), (20, 20), (20, 40), (39.5, 40), (39.5, 60), (0, 60)])  # fmt: skip
    assert "B006" in [f.code for f in _made(Profile(keyhole)).findings]


def test_a_start_by_hand_is_taken_and_an_impossible_one_is_reported() -> None:
    made = _made(
        SQUARE, replace(QUICK, cuts=(CutChoice(placement=0, contour=0, start=(130.0, 150.0), lead="arc"),))
    )
    cut = _cut(made, 0)
    assert cut.path.rows[cut.lead_edges, :2] == pytest.approx((130, 150 + made.row.kerf / 2), abs=0.05)
    near = KeepOut("magnet", Contour.rectangle(40, 20, x=110, y=152))
    blocked = replace(_layout(SQUARE), keepouts=(near,))
    moved = plan(
        blocked, CHART, TABLE, replace(QUICK, cuts=(CutChoice(placement=0, contour=0, start=(130.0, 150.0)),))
    )
    assert "B019" in [f.code for f in moved.findings]
    assert troubles(moved) == []


def test_choices_written_on_the_layout_are_used_and_options_win() -> None:
    layout = replace(
        _layout(SQUARE), burn={"amperage": 40.0, "cuts": [{"placement": 0, "contour": 2, "skip": True}]}
    )
    layout = Layout.from_dict(layout.as_dict())
    made = plan(layout, CHART, TABLE, BurnOptions(effort=0.02))
    assert made.row.amperage == 40
    assert {c.contour for c in made.cuts} == {0, 1}
    assert plan(layout, CHART, TABLE, QUICK).row.amperage == 45


def test_good_edges_carry_no_start() -> None:
    good = tuple((0, 0, e) for e in range(3))
    made = _made(Profile(Contour.rectangle(100, 60)), replace(QUICK, good_edges=good, start="straight"))
    cut = _cut(made, 0)
    x, y = cut.path.rows[cut.lead_edges, :2]
    assert x < 80.5  # only the left edge is free
    assert 90 < y < 150


def test_ranks_decide_the_order_where_precedence_allows() -> None:
    part = Part(
        name="tile", profile=Profile(Contour.rectangle(40, 40), (Contour.circle(20, 20, 8),)), thickness=6.0
    )
    placements = tuple(Placement(0, Pose(20 + 70 * i, 20), i + 1) for i in range(3))
    layout = Layout(plate=Plate.sheet("s", 300, 100, 6.0), parts=(part,), placements=placements)
    requested = replace(
        QUICK,
        cuts=(
            CutChoice(placement=0, contour=0, rank=2),
            CutChoice(placement=1, contour=0, rank=1),
            CutChoice(placement=2, contour=0, rank=0),
        ),
    )
    order = [(c.placement, c.contour) for c in plan(layout, CHART, TABLE, requested).cuts]
    assert [p for p, c in order if c == 0] == [2, 1, 0]
    assert all(order.index((p, 1)) < order.index((p, 0)) for p in range(3))


def test_tabs_leave_as_much_metal_as_they_say() -> None:
    made = _made(
        Profile(Contour.rectangle(50, 30)), replace(QUICK, tab_below=80.0, tabs=TabChoice(count=3, width=3.0))
    )
    assert len(made.cuts) == 3
    assert troubles(made) == []
    kerf = made.row.kerf
    swept = shapely.union_all([shapely.LineString(sampled(c.path.rows)).buffer(kerf / 2) for c in made.cuts])
    # straight tabs are seen as bridges between the part and the rest of the plate
    plate = shapely.box(0, 0, 300, 300).difference(swept)
    assert plate.geom_type == "Polygon"
    assert len([t for c in made.cuts for t in c.tabs]) == 3
    for tab in (t for c in made.cuts for t in c.tabs):
        assert tab.width == pytest.approx(3.0, abs=1e-6)
        assert 2 * shapely.Point(tab.at).distance(swept) == pytest.approx(3.0, abs=0.05)


def test_without_tabs_the_part_comes_loose() -> None:
    made = _made(Profile(Contour.rectangle(50, 30)))
    swept = shapely.LineString(sampled(made.cuts[0].path.rows)).buffer(made.row.kerf / 2)
    assert len(shapely.box(0, 0, 300, 300).difference(swept).geoms) == 2


def test_edge_start_needs_no_pierce() -> None:
    part = Part(name="strap", profile=Profile(Contour.rectangle(60, 40)), thickness=10.0)
    layout = Layout(
        plate=Plate.sheet("s", 300, 300, 10.0), parts=(part,), placements=(Placement(0, Pose(15, 100)),)
    )
    wide = replace(TABLE, reach=replace(TABLE.reach, x0=-50.0))
    made = plan(layout, CHART, wide, replace(QUICK, edge_start=True))
    (cut,) = made.cuts
    assert not cut.pierced
    assert cut.start[0] < 0
    assert made.pierces == 0
    far = replace(layout, plate=Plate.sheet("s", 500, 500, 10.0), placements=(Placement(0, Pose(220, 220)),))
    assert "B021" in [f.code for f in plan(far, CHART, wide, replace(QUICK, edge_start=True)).findings]


def test_marks_come_first_and_may_be_left_out() -> None:
    marks = (
        Mark("centre", at=(10, 10)),
        Mark("etch", Contour.from_points([(5, 50), (95, 50)], closed=False)),
        Mark("print", at=(1, 1)),
    )
    made = plan(_layout(SQUARE, marks=marks), CHART, TABLE, QUICK)
    assert [c.kind for c in made.cuts[:2]] == ["mark", "mark"]
    assert sum(c.kind == "mark" for c in made.cuts) == 2
    assert all(
        c.kind != "mark"
        for c in plan(_layout(SQUARE, marks=marks), CHART, TABLE, replace(QUICK, marks=False)).cuts
    )


def test_narrow_holes_may_be_marked_for_the_drill() -> None:
    made = _made(SQUARE, replace(QUICK, mark_below=15.0))
    (mark,) = (c for c in made.cuts if c.kind == "mark")
    assert mark.path.rows[:, :2].mean(axis=0) == pytest.approx((110, 120))
    assert {c.contour for c in made.cuts if c.kind != "mark"} == {0, 2}
    assert "B024" in [f.code for f in made.findings]


def test_out_of_reach_is_reported_not_cut() -> None:
    far = replace(
        _layout(SQUARE), placements=(Placement(0, Pose(1250, 90)),), plate=Plate.sheet("s", 1500, 300, 6.0)
    )
    made = plan(far, CHART, TABLE, QUICK)
    assert made.cuts == () or all(c.kind == "hole" for c in made.cuts)
    assert "B008" in [f.code for f in made.findings]
    seated = replace(far, seat=Pose(-300, 0))
    assert len(plan(seated, CHART, TABLE, QUICK).cuts) == 3


def test_a_part_off_the_plate_or_on_an_old_hole_is_not_cut() -> None:
    off = replace(_layout(SQUARE), placements=(Placement(0, Pose(230, 90)),))
    told = plan(off, CHART, TABLE, QUICK)
    assert "B022" in [f.code for f in told.findings]
    assert not any(c.contour == 0 for c in told.cuts)
    worn = Plate(
        name="worn",
        profile=Profile(Contour.rectangle(300, 300), (Contour.circle(130, 92, 8),)),
        thickness=6.0,
    )
    assert "B022" in [
        f.code for f in plan(replace(_layout(SQUARE), plate=worn), CHART, TABLE, QUICK).findings
    ]
    edge = replace(_layout(SQUARE), placements=(Placement(0, Pose(0, 90)),))
    along = plan(edge, CHART, replace(TABLE, reach=replace(TABLE.reach, x0=-50.0)), QUICK)
    assert "B023" in [f.code for f in along.findings]
    assert any(c.contour == 0 for c in along.cuts)


def test_an_arm_table_plans_too() -> None:
    arm = load_table("two-link arm")
    layout = replace(
        _layout(SQUARE), placements=(Placement(0, Pose(500, 200)),), plate=Plate.sheet("s", 1200, 600, 6.0)
    )
    made = plan(layout, CHART, arm, QUICK)
    assert len(made.cuts) == 3
    assert made.total_time > 0


def test_quality_asked_for_is_held_against_the_slope() -> None:
    assert "B011" in [f.code for f in _made(SQUARE, replace(QUICK, quality=1)).findings]
    assert "B011" not in [f.code for f in _made(SQUARE, replace(QUICK, quality=5)).findings]


def test_a_feed_above_the_table_is_held() -> None:
    slow = replace(TABLE, max_cut_speed=10.0)
    made = plan(_layout(SQUARE), CHART, slow, QUICK)
    assert "B009" in [f.code for f in made.findings]
    assert max(max(c.speeds) for c in made.cuts) == pytest.approx(10.0)


def test_times_add_up() -> None:
    made = _made(SQUARE)
    burning = sum(c.burn_time + c.pierce_delay for c in made.cuts)
    assert burning < made.arc_time < burning + 0.5 * len(made.cuts)
    assert made.total_time > made.arc_time + made.pierces * TABLE.probe_time
    assert made.cut_length == pytest.approx(sum(length(c.lit) for c in made.cuts))


def test_slow_stretches_are_reported() -> None:
    zigzag = Contour.from_points(
        [(0, 0), *[(5 + 2 * i, 3 * (i % 2)) for i in range(30)], (70, 0), (70, 40), (0, 40)]
    )
    made = plan(_layout(Profile(zigzag)), CHART, replace(TABLE, acceleration=150.0), QUICK)
    (told,) = [f.text for f in made.findings if f.code == "B010"]
    lowest = min(s.lowest for s in made.slow)
    assert f"down to {100 * lowest:.0f} %" in told
    (still,) = _slow_finding(made, [SlowStretch(0, (1.0, 2.0), 8.0, 0.0)])
    assert "down to a stop at corners" in still.text
    assert all(s.lowest < 0.8 for s in made.slow)


def test_the_same_input_gives_the_same_plan() -> None:
    a, b = (plan(random_layout(11), CHART, TABLE, QUICK) for _ in range(2))
    assert a.cuts == b.cuts


def test_mirrored_layout_has_mirrored_cuts() -> None:
    layout = _layout(SQUARE)
    # x -> 300 - x: mirrors the metal; the swirl stays, so the loops run the same way round
    flipped = replace(layout, placements=(Placement(0, Pose(300 - 80, 90, 0.0, True)),))
    a, b = plan(layout, CHART, TABLE, QUICK), plan(flipped, CHART, TABLE, QUICK)
    for k in range(3):
        one, two = _proper(_cut(a, k)), _proper(_cut(b, k))
        assert length(one) == pytest.approx(length(two), rel=1e-9)
        assert signed_area(one) == pytest.approx(signed_area(two), rel=1e-9)


def test_an_empty_layout_and_bad_options_are_refused() -> None:
    with pytest.raises(InputError, match="no part on it"):
        plan(replace(_layout(SQUARE), placements=()), CHART, TABLE, QUICK)
    for bad, said in (
        ({"lead": "spiral"}, r"lead is 'spiral'.*Allowed: arc, straight, centre, edge"),
        ({"overburn": 99.0}, r"overburn is 99.*Allowed: -5 mm to 20 mm"),
        ({"quality": 7}, r"quality is 7.*1, 2, 3, 4, 5"),
        ({"amps": 45}, r"key 'amps' is not known.*amperage"),
        ({"cuts": [{"placement": 0}]}, r"needs 'placement' and 'contour'"),
        ({"cuts": [{"placement": 0, "contour": 0, "lead": "hook"}]}, r"lead is 'hook'"),
    ):
        with pytest.raises(InputError, match=said):
            BurnOptions.from_dict(bad)


def test_a_choice_for_a_contour_that_is_not_there_is_reported() -> None:
    assert "B012" in [
        f.code
        for f in _made(SQUARE, replace(QUICK, cuts=(CutChoice(placement=0, contour=9, skip=True),))).findings
    ]


def test_every_cut_is_explained() -> None:
    made = plan(random_layout(5), CHART, TABLE, QUICK)
    assert all(len(c.why) >= 4 for c in made.cuts)
    assert made.why


def test_a_chart_without_the_grade_is_refused() -> None:
    only = Chart("mine", tuple(r for r in CHART.rows if r.grade == "stainless"))
    with pytest.raises(InputError, match="no rows for mild steel"):
        plan(_layout(SQUARE), only, TABLE, QUICK)


@pytest.mark.parametrize("seed", [2, 7])
def test_a_turned_job_is_the_same_job(seed: int) -> None:
    """Turn plate, parts and keep-outs by a quarter: every loop, lead-in length and time of burning stays."""
    layout = random_layout(seed)
    quarter = Pose(600.0, 0.0, math.pi / 2)
    turned = replace(
        layout,
        plate=replace(layout.plate, profile=quarter.apply(layout.plate.profile)),
        placements=tuple(replace(p, pose=quarter.after(p.pose)) for p in layout.placements),
        keepouts=tuple(replace(k, contour=quarter.apply(k.contour)) for k in layout.keepouts),
    )
    options = replace(QUICK, route=False, effort=0.0)
    a, b = plan(layout, CHART, TABLE, options), plan(turned, CHART, TABLE, options)
    for kind in ("hole", "outer"):
        one, two = (sorted(abs(signed_area(_proper(c))) for c in p.cuts if c.kind == kind) for p in (a, b))
        assert one == pytest.approx(two, rel=1e-6)
    assert troubles(b) == []
    assert {f.code for f in a.findings} == {f.code for f in b.findings}


def test_the_plan_says_what_to_see_to_about_water_and_air_with_its_source() -> None:
    steel = " ".join(_made(SQUARE).why)
    assert "below the plate's under side" in steel
    assert f"{_made(SQUARE).row.post_flow:g} s after it" in steel
    dry = plan(_layout(SQUARE), CHART, replace(TABLE, over_water=False), QUICK)
    assert "Over water" not in " ".join(dry.why)
    part = Part(name="plate", profile=SQUARE, thickness=6.0, grade="aluminium")
    layout = Layout(
        plate=Plate.sheet("s", 300, 300, 6.0, "aluminium"),
        parts=(part,),
        placements=(Placement(0, Pose(80, 90)),),
    )
    wet = " ".join(plan(layout, CHART, TABLE, QUICK).why)
    assert "hydrogen" in wet
    assert "NFPA 484" in wet
