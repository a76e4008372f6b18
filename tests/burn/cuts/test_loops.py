"""Which side of the line the torch runs, which way round, how fast, and how a cut is led in: reckoned by hand and by shapely.

A plate of 100 by 60 mm with a hole of 40 mm about (50, 30) and one of 12 mm about (85, 30); kerf 1.6 mm, lead 6 mm
(tests/program/helpers.ROW; 6 mm plate, so holes up to 24 mm are small and run at 0.6 of 40 mm/s).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from platewright.burn.cuts.leads import Start, clearances, lead_line, starts_of
from platewright.burn.cuts.loops import Loop, inside_corners, loops_of, marked_holes, small_limit
from platewright.burn.cuts.obstacles import Obstacles
from platewright.burn.job import Job
from platewright.burn.options import BurnOptions, CutChoice
from platewright.geometry import Contour, Profile, flatten, signed_area
from platewright.layout.model import KeepOut, Layout
from tests.burn.helpers import ring
from tests.program.helpers import ROW, TABLE
from tests.proof.helpers import layout_of

PROFILE = Profile(
    Contour.rectangle(100, 60, x=100, y=100),
    (Contour.circle(150, 130, 20, clockwise=True), Contour.circle(185, 130, 6, clockwise=True)),
)
LAYOUT = layout_of(PROFILE, width=400, height=300)


def loops(layout: Layout = LAYOUT, *, swirl: str = "clockwise", **options: Any) -> list[Loop]:
    table = replace(TABLE, swirl=swirl)
    return [x for x in loops_of(layout, ROW, table, BurnOptions(**options)) if isinstance(x, Loop)]


@pytest.mark.parametrize(
    ("swirl", "reverse"),
    [("clockwise", False), ("clockwise", True), ("counterclockwise", False), ("counterclockwise", True)],
)
def test_the_path_lies_half_a_kerf_in_the_scrap_and_runs_for_the_swirl(swirl: str, reverse: bool) -> None:
    """A clockwise swirl cuts square on its right: outsides clockwise, holes counterclockwise; all else turns that about."""
    cuts = tuple(CutChoice(placement=0, contour=c, reverse=reverse) for c in range(3))
    found = loops(swirl=swirl, cuts=cuts)
    assert [loop.kind for loop in found] == ["outer", "hole", "hole"]
    outline = shapely.box(100, 100, 200, 160)
    for loop, shape, side in zip(
        found, (outline, shapely.Point(150, 130).buffer(20, 200), shapely.Point(185, 130).buffer(6, 200)), (1, -1, -1), strict=True
    ):  # fmt: skip
        path = shapely.Polygon(ring(loop.path))
        meant = shape.buffer(side * 0.8, quad_segs=200)
        assert path.symmetric_difference(meant).area < 0.01 * path.length
        clockwise = ((swirl == "clockwise") != reverse) == (loop.kind == "outer")
        assert (signed_area(loop.path) < 0) == clockwise
        assert loop.kerf == pytest.approx(1.6, abs=1e-6)
        scrap_inside = loop.kind == "hole"
        assert loop.scrap_left == (scrap_inside != clockwise)


def test_small_holes_run_slowly_and_no_faster_than_the_table() -> None:
    outer, large, small = loops()
    assert (outer.feed, large.feed, small.feed) == pytest.approx((40, 40, 24))
    assert (outer.small, large.small, small.small) == (False, False, True)
    assert small.circle == pytest.approx((185, 130, 5.2))
    assert outer.circle is None
    assert [x.small for x in loops(small_hole=40.0)] == [False, True, True]
    assert [x.feed for x in loops(hole_speed_factor=0.5)] == pytest.approx([40, 40, 20])
    assert [
        x.feed for x in loops(cuts=(CutChoice(placement=0, contour=2, speed_factor=0.7),))
    ] == pytest.approx([40, 40, 28])
    slow = replace(TABLE, max_cut_speed=30.0)
    feeds = [x.feed for x in loops_of(LAYOUT, ROW, slow, BurnOptions()) if isinstance(x, Loop)]
    assert feeds == pytest.approx([30, 30, 24])


@pytest.mark.parametrize(("thickness", "limit"), [(2.0, 12.0), (3.0, 12.0), (4.0, 16.0), (10.0, 40.0)])
def test_the_limit_of_small_holes(thickness: float, limit: float) -> None:
    assert small_limit(BurnOptions(), thickness) == limit
    assert small_limit(BurnOptions(small_hole=9.0), thickness) == 9.0


def codes(profile: Profile, **options: Any) -> list[str]:
    layout = layout_of(profile, width=400, height=300)
    return [x.code for x in loops_of(layout, ROW, TABLE, BurnOptions(**options)) if not isinstance(x, Loop)]


@pytest.mark.parametrize(("diameter", "below", "expected"), [
    (9.0, 0.0, []), (8.99, 0.0, ["B004"]), (1.5, 0.0, ["B004", "B001", "B003"]), (8.0, 8.01, ["B024"]), (8.0, 7.99, ["B004"]),
])  # fmt: skip
def test_holes_too_small_to_cut(diameter: float, below: float, expected: list[str]) -> None:
    """The row's smallest is 9 mm; one narrower than the kerf has no path at all."""
    hole = Contour.circle(150, 130, diameter / 2, clockwise=True)
    assert codes(Profile(PROFILE.outer, (hole,)), mark_below=below) == expected


def test_a_hole_too_small_is_told_by_its_number_and_on_its_edge() -> None:
    holes = tuple(Contour.circle(x, 130, r, clockwise=True) for x, r in ((120, 10), (150, 4), (180, 10)))
    layout = layout_of(Profile(PROFILE.outer, holes), width=400, height=300)
    (found,) = [x for x in loops_of(layout, ROW, TABLE, BurnOptions()) if not isinstance(x, Loop)]
    assert found.subject == "part 1 #1, hole 2"
    assert found.place is not None
    assert math.dist(found.place, (150, 130)) == pytest.approx(4)


def test_what_half_a_kerf_leaves_in_an_inside_corner() -> None:
    """In a corner of an angle a round of radius r stops r/sin(a/2) - r short; in a fillet of radius f < r, r - f is told."""
    for angle in (90.0, 60.0, 120.0):
        half = math.radians(angle / 2)
        notch = [
            (0.0, 0),
            (100, 0),
            (100, 50),
            (50 + 20 * math.tan(half), 50),
            (50, 30),
            (50 - 20 * math.tan(half), 50),
            (0, 50),
        ]
        ((vertex, left),) = inside_corners(Contour.from_points(notch), radius=0.8)
        assert vertex == 4
        assert left == pytest.approx(0.8 / math.sin(half) - 0.8)
    assert inside_corners(Contour.rectangle(10, 10), radius=0.8) == []
    fillet = Contour(
        np.array(
            [
                [0, 0, 0],
                [50, 0, 0],
                [50, 20.0, 0],
                [20.5, 20, -math.tan(math.pi / 8)],
                [20, 20.5, 0],
                [20, 50, 0],
                [0, 50, 0],
            ]
        )
    )
    found = inside_corners(fillet, radius=0.8)
    assert [(v, pytest.approx(m)) for v, m in found] == [(3, 0.3)]


# -- leads -------------------------------------------------------------------------------------------------


def starts(loop: Loop, **options: Any) -> list[Start]:
    return starts_of(loop, Job.on(LAYOUT, row=ROW, table=TABLE, options=BurnOptions(**options)), most=40)


def _way(start: Start, loop: Loop) -> shapely.LineString:
    path = shapely.LinearRing(ring(loop.path))
    place = path.interpolate(start.along)
    return shapely.LineString(lead_line(start.pierce, start.bulge, np.array([place.x, place.y])))


@pytest.mark.parametrize("lead", [None, "arc", "straight"])
@pytest.mark.parametrize("number", [0, 1, 2])
def test_a_lead_lies_in_the_scrap_and_ends_on_the_path(number: int, lead: str | None) -> None:
    """Judged by shapely: it ends on the path, keeps half a kerf off the part, and its pierce the splash of 0.8 + 1.5 mm."""
    metal = shapely.Polygon(
        flatten(PROFILE.outer, tolerance=0.001), [flatten(h, tolerance=0.001) for h in PROFILE.holes]
    )
    loop = loops()[number]
    found = starts(loop, lead=lead) if lead else starts(loop)
    assert found
    for start in found:
        way = _way(start, loop)
        assert way.distance(metal) > 0.8 - 0.03
        assert shapely.Point(start.pierce).distance(metal) >= 0.8 + 1.5 - 0.01
        assert (
            way.length
            <= (loop.circle[2] * math.pi / 2 if start.kind == "centre" and loop.circle else 6.0) + 0.02
        )


def headings(way: shapely.LineString, loop: Loop, along: float) -> float:
    """The angle between the lead's end and the cut's beginning [rad]."""
    (ax, ay), (bx, by) = way.coords[-2], way.coords[-1]
    path = shapely.LinearRing(ring(loop.path))
    on = path.interpolate((along + 0.3) % path.length)
    turn = math.atan2(on.y - by, on.x - bx) - math.atan2(by - ay, bx - ax)
    return abs(math.remainder(turn, 2 * math.pi))


def test_arcs_meet_the_cut_along_it_and_are_as_long_as_asked() -> None:
    for loop in loops():
        for start in starts(loop, lead="arc"):
            way = _way(start, loop)
            assert headings(way, loop, start.along) < 0.2
            assert any(way.length == pytest.approx(6.0 * share, abs=0.02) for share in (1.0, 0.7, 0.5, 0.35))
            assert start.bulge == pytest.approx((1 if loop.scrap_left else -1) * math.tan(math.pi / 8))


def test_a_small_round_hole_is_led_in_from_its_middle() -> None:
    small = loops()[2]
    found = starts(small)
    assert {s.kind for s in found} == {"centre"}
    for start in found:
        assert start.pierce == pytest.approx((185, 130))
        assert _way(start, small).length == pytest.approx(math.pi * 5.2 / 2, rel=0.02)


def test_a_lead_may_be_chosen_longer_for_one_contour() -> None:
    large = loops()[1]
    choice = (CutChoice(placement=0, contour=1, lead="straight", lead_length=8.0),)
    lengths = [_way(s, large).length for s in starts(large, cuts=choice)]
    assert lengths
    assert all(any(x == pytest.approx(8.0 * s, abs=0.01) for s in (1.0, 0.7, 0.5, 0.35)) for x in lengths)


@pytest.mark.parametrize(("thickness", "splash"), [(6.0, 2.3), (3.0, 1.8), (12.0, 3.8)])
def test_the_room_a_lead_keeps(thickness: float, splash: float) -> None:
    """Half a kerf and a quarter of the thickness, at least 1 mm; 0.3 mm of metal between two kerfs (common practice)."""
    clear = clearances(replace(ROW, thickness=thickness), BurnOptions(), 1.6)
    assert (clear.lead_own, clear.lead_other, clear.lead_plate) == pytest.approx((0.78, 1.9, 1.1))
    assert (clear.pierce_own, clear.pierce_other, clear.pierce_plate) == pytest.approx(
        (splash, max(splash, 1.9), max(splash, 1.1))
    )
    chosen = clearances(ROW, BurnOptions(splash=0.5), 1.6)
    assert (chosen.pierce_own, chosen.pierce_other, chosen.pierce_plate) == pytest.approx((0.5, 1.9, 1.1))


def ways_clear_of(others: Sequence[Profile], loop_of: int = 0) -> tuple[Loop, list[Start], Any]:
    layout = layout_of(PROFILE, *others, width=400, height=300)
    loop = loops(layout)[loop_of]
    found = starts_of(loop, Job.on(layout, row=ROW, table=TABLE, options=BurnOptions()), most=40)
    return (
        loop,
        found,
        shapely.union_all([shapely.Polygon(flatten(o.outer, tolerance=0.001)) for o in others]),
    )


def test_leads_keep_their_room_from_a_part_beside() -> None:
    """A part 6 mm to the right: a start there would mark it; those that are left keep 1.9 mm off, their pierces 2.3."""
    loop, found, other = ways_clear_of([Profile(Contour.rectangle(60, 60, x=206, y=100))])
    assert found
    for start in found:
        assert _way(start, loop).distance(other) >= 1.9 - 0.01
        assert shapely.Point(start.pierce).distance(other) >= 2.3 - 0.01


@pytest.mark.parametrize("side", range(4))
@pytest.mark.parametrize("what", ["part", "plate", "keep-out"])
def test_every_side_of_everything_stands_in_the_way(what: str, side: int) -> None:
    """A way of 4 mm through the middle of a side, and one that ends 1 mm before it."""
    magnet = KeepOut("magnet", Contour.rectangle(50, 40, x=300, y=200))
    layout = replace(LAYOUT, keepouts=(magnet,))
    x0, y0, x1, y1 = {
        "part": (100, 100, 200, 160),
        "plate": (0, 0, 400, 300),
        "keep-out": (300, 200, 350, 240),
    }[what]
    middle = [((x0 + x1) / 2, y0), (x1, (y0 + y1) / 2), ((x0 + x1) / 2, y1), (x0, (y0 + y1) / 2)][side]
    out = np.array([(0, -1), (1, 0), (0, 1), (-1, 0)][side])
    owner = {"part": 0, "plate": -1, "keep-out": -2}[what]
    obstacles = Obstacles.of(layout)
    through, before = (np.array([middle + 5 * out, middle + end * out]) for end in (-1.0, 1.0))
    assert obstacles.crossing(through, 9, 0.1).tolist() == [owner]
    assert obstacles.crossing(before, 9, 0.9).tolist() == []
    assert obstacles.crossing(before, 9, 1.1).tolist() == [owner]


def test_a_hole_for_the_drill_is_marked_in_its_middle() -> None:
    (found,) = marked_holes(LAYOUT, BurnOptions(mark_below=13.0))
    placement, number, mark = found
    assert (placement, number, mark.kind, mark.at) == (0, 2, "centre", pytest.approx((185, 130)))
    assert not list(marked_holes(LAYOUT, BurnOptions(mark_below=12.0)))
    skipped = BurnOptions(mark_below=13.0, cuts=(CutChoice(placement=0, contour=2, skip=True),))
    assert not list(marked_holes(LAYOUT, skipped))


def test_corners_a_kerf_cannot_fill_are_told_with_their_radius() -> None:
    """An L has one: half of 1.6 mm is kept round in it, 0.8 (√2 - 1) mm at most."""
    shape = Contour.from_points([(100, 100), (200, 100), (200, 130), (130, 130), (130, 200), (100, 200)])
    layout = layout_of(Profile(shape), width=400, height=300)
    (found,) = [x for x in loops_of(layout, ROW, TABLE, BurnOptions()) if not isinstance(x, Loop)]
    assert found.code == "B003"
    assert found.place == (130, 130)
    assert (found.values["count"], found.values["radius_mm"]) == (1, pytest.approx(0.8))
    assert found.values["left_mm"] == pytest.approx(0.8 * (math.sqrt(2) - 1))


@pytest.mark.parametrize("bulge", [0.0, 0.2, -0.2, math.tan(math.pi / 8), -1.0])
def test_a_lead_is_looked_at_along_its_own_arc_from_pierce_to_loop(bulge: float) -> None:
    """A bulge is tan(sweep / 4), positive counterclockwise: over a chord c the arc bows c / 2 * bulge to the right of it."""
    way = lead_line((10.0, 20.0), bulge, np.array([16.0, 28.0]))
    assert way[0] == pytest.approx((10, 20))
    assert way[-1] == pytest.approx((16, 28))
    middle = shapely.LineString(way).interpolate(0.5, normalized=True)
    across = (middle.x - 13) * 0.8 - (middle.y - 24) * 0.6
    assert across == pytest.approx(5 * bulge, abs=0.12)
    sweep = 4 * math.atan(abs(bulge))
    whole = 10.0 if bulge == 0 else 5 / math.sin(sweep / 2) * sweep
    assert shapely.LineString(way).length == pytest.approx(whole, rel=0.03)
