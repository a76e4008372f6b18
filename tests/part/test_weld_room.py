"""Weld room: measured on the result, not believed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Line, Point, Pose, Profile
from platewright.part import ops
from platewright.part.families import make
from platewright.part.ops.steps import from_profile
from tests.part.helpers import generated, same_profile, ten_edges


def part_of(profile: Profile):  # type: ignore[no-untyped-def]
    return from_profile(profile, name="test", thickness=6.0)


def carrier_distance(line: Line, other: Line) -> float:
    """Return how far parallel `other` lies to the left of `line` (into the metal) [mm]; NaN if not parallel."""
    way = (line.end - line.start) * (1 / line.length())
    if abs(way.cross((other.end - other.start) * (1 / other.length()))) > 1e-9:
        return math.nan
    return way.cross(other.start - line.start)


def lines(profile: Profile) -> list[Line]:
    return [e for e in profile.outer.edges() if isinstance(e, Line)]


def test_three_edges_of_ten_set_back_by_three_legs() -> None:
    before = ten_edges()
    legs = {0: 5.0, 3: 3.0, 7: 8.0}
    after = ops.weld_room(part_of(before), edges=[(0, k) for k in legs], distance=list(legs.values())).profile
    assert len(after.outer) == 10
    old, new = lines(before), lines(after)
    for k, line in enumerate(old):
        # the edge that replaces this one: parallel, same direction, nearest
        gaps = [
            carrier_distance(line, other)
            for other in new
            if (line.end - line.start).dot(other.end - other.start) > 0
        ]
        want = legs.get(k, 0.0)
        assert min(abs(gap - want) for gap in gaps if not math.isnan(gap)) < 1e-9
    for k in set(range(10)) - set(legs):
        # an edge with no set-back neighbour has not moved at all; the others are only trimmed on their own line
        if not {(k - 1) % 10, (k + 1) % 10} & set(legs):
            rows = after.outer.points
            for x, y in (before.outer.starts[k], before.outer.ends[k]):
                assert np.hypot(rows[:, 0] - x, rows[:, 1] - y).min() < 1e-9
    assert after.holes == before.holes
    assert after.area() < before.area()


def test_edge_numbers_stay() -> None:
    before = ten_edges()
    after = ops.weld_room(part_of(before), edges=[(0, 0), (0, 3)], distance=[5, 3]).profile
    for k, (a, b) in enumerate(zip(before.outer.edges(), after.outer.edges(), strict=True)):
        assert abs(math.remainder(a.direction() - b.direction(), math.tau)) < 1e-9, k


def test_growing_undoes_setting_back() -> None:
    before = ten_edges()
    part = ops.weld_room(part_of(before), distance=2.5)
    again = ops.weld_room(part, distance=-2.5)
    assert same_profile(again.profile, before) < 1e-9


def test_a_round_plate_keeps_its_centre() -> None:
    part = make("flange", {"outside": "150", "bore": "60", "count": "0"})
    smaller = ops.weld_room(part, distance=4.0)
    edge = smaller.profile.outer.edge(0)
    assert isinstance(edge, Arc)
    assert edge.radius == pytest.approx(71)
    assert edge.centre.distance(Point(0, 0)) < 1e-9
    bigger_bore = ops.weld_room(part, edges=[(1, 0), (1, 1)], distance=4.0)
    bore = bigger_bore.profile.holes[0].edge(0)
    assert isinstance(bore, Arc)
    assert bore.radius == pytest.approx(34)


@pytest.mark.parametrize("radius", [3.0, 12.0, 50.0])
@pytest.mark.parametrize("back", [2.0, 5.0, 11.0])
def test_a_straight_edge_runs_on_through_round_corners(radius: float, back: float) -> None:
    # bottom edge of a rounded plate set back: the result is the plate cut along y = back, exactly
    plate = Contour.rectangle(200, 120, radius=radius)
    bottom = next(k for k, e in enumerate(plate.edges()) if isinstance(e, Line) and e.start.y == e.end.y == 0)
    after = ops.weld_room(part_of(Profile(plate)), edges=[(0, bottom)], distance=back).profile
    box = after.bounds()
    assert box.y0 == pytest.approx(back, abs=1e-9)
    assert (box.x0, box.x1, box.y1) == pytest.approx((0, 200, 120))
    # closed form: whole plate less the slice below y = back
    if back <= radius:
        segment = radius**2 * math.acos(1 - back / radius) - (radius - back) * math.sqrt(
            2 * radius * back - back**2
        )
        slice_ = (200 - 2 * radius) * back + segment
    else:
        slice_ = 200 * back - 2 * (1 - math.pi / 4) * radius**2
    assert after.area() == pytest.approx(200 * 120 - (4 - math.pi) * radius**2 - slice_, abs=1e-6)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    legs=st.lists(st.floats(0.5, 6.0), min_size=1, max_size=4),
    turn=st.floats(-3.1, 3.1),
    mirrored=st.booleans(),
    start=st.integers(0, 9),
)
def test_weld_room_follows_the_part(legs: list[float], turn: float, mirrored: bool, start: int) -> None:
    before = ten_edges()
    pose = Pose(40, -25, turn, mirrored)
    edges = [(0, 2 * k) for k in range(len(legs))]
    straight = ops.weld_room(part_of(before), edges=edges, distance=legs).profile
    moved = pose.apply(Profile(before.outer.started_at(start), before.holes))
    mids = [before.outer.edge(e).at(0.5) for _, e in edges]
    wanted = []
    for mid in mids:
        x, y = pose.points([(mid.x, mid.y)])[0]
        away = [math.hypot(e.at(0.5).x - x, e.at(0.5).y - y) for e in moved.outer.edges()]
        wanted.append((0, int(np.argmin(away))))
    after = ops.weld_room(part_of(moved), edges=wanted, distance=legs).profile
    assert same_profile(after, pose.apply(straight)) < 1e-7


@pytest.mark.published
def test_the_proposal_comes_with_its_source() -> None:
    part = make("plate", thickness="6 mm")
    leg = ops.propose_room(part, 12.0)
    assert leg.leg == 3  # AISC 360-16 Table J2.4: thinner part up to 6 mm
    assert "J2.4" in leg.source
    assert ops.propose_room(part, 12.0, along_edge=True).maximum == 4  # J2.2b: 6 mm less 2 mm


def test_what_cannot_be_has_a_sentence() -> None:
    part = part_of(ten_edges())
    with pytest.raises(InputError, match="leaves nothing"):
        ops.weld_room(part, distance=500.0)
    with pytest.raises(InputError, match="2 pieces"):
        ops.weld_room(part_of(dumbbell()), distance=6.0)
    with pytest.raises(InputError, match="no edge 12"):
        ops.weld_room(part, edges=[(0, 12)], distance=1.0)
    with pytest.raises(InputError, match="no contour 7"):
        ops.weld_room(part, edges=[(7, 0)], distance=1.0)
    with pytest.raises(InputError, match="named twice"):
        ops.weld_room(part, edges=[(0, 1), (0, 1)], distance=1.0)
    with pytest.raises(InputError, match="need 2 distances"):
        ops.weld_room(part, edges=[(0, 1), (0, 2)], distance=[1.0])


def dumbbell() -> Profile:
    points = [
        (0, 0),
        (40, 0),
        (40, 15),
        (80, 15),
        (80, 0),
        (120, 0),
        (120, 40),
        (80, 40),
        (80, 25),
        (40, 25),
        (40, 40),
        (0, 40),
    ]
    return Profile(Contour.from_points(points))


def test_a_set_back_edge_cuts_like_a_half_plane() -> None:
    """On outlines that lie wholly to one side of an edge, against a polygon library's half-plane cut."""
    from shapely import Polygon

    from platewright.geometry import flatten
    from platewright.part.refs import turn_at

    requested = 0
    for made in generated(44, seed=9):
        outer = made.profile.outer
        whole = Polygon(flatten(outer, tolerance=1e-4))
        for k, edge in enumerate(outer.edges()):
            shallow = any(1e-6 < turn_at(outer, v) < math.radians(5) for v in (k, (k + 1) % len(outer)))
            if not isinstance(edge, Line) or (k + requested) % 3 or shallow:
                continue
            back = (1.0, 2.5, 4.0)[requested % 3]
            if whole.intersection(beyond(edge, -1e-6)).area > 1e-3:
                continue  # some of the part lies beyond the edge's line
            if whole.intersection(beyond(edge, back)).geom_type != "Polygon":
                continue  # teeth or arms stand in one line, and a half-plane cuts them all
            requested += 1
            found = ops.weld_room(part_of(Profile(outer)), edges=[(0, k)], distance=back).profile.area()
            assert found == pytest.approx(whole.difference(beyond(edge, back)).area, abs=0.2), (made.name, k)
    assert requested > 30


def beyond(edge: Line, back: float):  # type: ignore[no-untyped-def]
    """Return the half-plane to the right of an edge moved left by `back` [mm], as a big polygon."""
    from shapely import Polygon

    along = (edge.end - edge.start) * (1 / edge.length())
    a, b = edge.start + along * -5000, edge.end + along * 5000
    a, b = a + along.left() * back, b + along.left() * back
    out = along.left() * -5000
    return Polygon([(p.x, p.y) for p in (a, b, b + out, a + out)])
