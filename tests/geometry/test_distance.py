"""Distance between profiles, and the narrowest neck of one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.geometry.contour import Contour
from platewright.geometry.crossing.distance import distance, neck
from platewright.geometry.crossing.locate import distances
from platewright.geometry.primitives import Point
from platewright.geometry.profile import Profile
from platewright.geometry.regions.offset import offset_profile
from platewright.geometry.transform import Pose
from tests.geometry.helpers import generated

SQUARE = Profile(Contour.rectangle(10, 10))


def disc(x: float, y: float, r: float) -> Profile:
    return Profile(Contour.circle(x, y, r))


def test_distances_by_closed_form() -> None:
    assert distance(disc(0, 0, 5), disc(20, 0, 4)).distance == pytest.approx(11)
    assert distance(SQUARE, disc(15, 5, 2)).distance == pytest.approx(3)
    assert distance(SQUARE, disc(13, 14, 2)).distance == pytest.approx(3)
    assert distance(SQUARE, Pose(13, 14).apply(SQUARE)).distance == pytest.approx(5)
    gap = distance(SQUARE, Pose(10.5, 3).apply(SQUARE))
    assert gap.distance == pytest.approx(0.5)
    assert gap.first.distance(gap.second) == pytest.approx(0.5)


def test_touching_and_overlapping_are_at_no_distance() -> None:
    for other in (disc(12, 5, 2), disc(10, 5, 2), disc(5, 5, 2), SQUARE, disc(5, 5, 30)):
        assert distance(SQUARE, other).distance == pytest.approx(0, abs=1e-9)
        assert distance(other, SQUARE).distance == pytest.approx(0, abs=1e-9)


def test_a_part_lying_in_a_hole_is_measured_to_the_hole() -> None:
    ring = Profile(Contour.circle(0, 0, 20), (Contour.circle(0, 0, 12),))
    assert distance(ring, disc(3, 0, 5)).distance == pytest.approx(4)
    assert distance(disc(3, 0, 5), ring).distance == pytest.approx(4)


def test_no_pair_of_points_is_nearer_and_growing_by_half_makes_them_touch() -> None:
    shapes = [p for _, p, _ in generated(60, seed=51)]
    apart = 0
    for a, b in zip(shapes[::2], shapes[1::2], strict=True):
        gap = distance(a, b)
        sampled = min(distances(a, b.outer.points).min(), distances(b, a.outer.points).min())
        assert gap.distance <= sampled + 1e-9
        if gap.distance == 0:
            continue
        apart += 1
        assert distances(a, (gap.first.x, gap.first.y))[0] < 1e-7
        assert distances(b, (gap.second.x, gap.second.y))[0] < 1e-7
        assert gap.first.distance(gap.second) == pytest.approx(gap.distance)
        half = gap.distance / 2
        less = distance(offset_profile(a, half * 0.98)[0], offset_profile(b, half * 0.98)[0])
        assert less.distance == pytest.approx(gap.distance * 0.02, rel=1e-3, abs=1e-5)
        assert distance(offset_profile(a, half * 1.02)[0], offset_profile(b, half * 1.02)[0]).distance == 0
    assert apart > 10


def test_webs_by_closed_form() -> None:
    cases = [
        (Profile(Contour.rectangle(10, 6)), 6),
        (Profile(Contour.rectangle(10, 6), (Contour.circle(5, 3.5, 1),)), 1.5),
        (Profile(Contour.rectangle(30, 20), (Contour.circle(8, 10, 3), Contour.circle(15, 10, 3))), 1),
        (Profile(Contour.circle(0, 0, 10), (Contour.circle(3, 0, 6.5),)), 0.5),
        (Profile(Contour.circle(0, 0, 10), (Contour.circle(0, 0, 6),)), 4),
        (Profile(Contour([(0, 0, 0), (20, 0, 1), (20, 4, 0), (0, 4, 1)])), 4),
        (Profile(Contour.from_points([(0, 0), (10, 0), (10, 10), (5.5, 3), (0, 10)])), 3),
    ]
    for profile, width in cases:
        found = neck(profile)
        assert found is not None
        assert found.width == pytest.approx(width, abs=1e-9)
        assert found.first.distance(found.second) == pytest.approx(width, abs=1e-9)


def test_shapes_that_only_get_wider_have_no_neck() -> None:
    assert neck(disc(0, 0, 5)) is None
    assert neck(Profile(Contour.from_points([(0, 0), (10, 0), (0, 10)]))) is None


def test_a_way_across_a_hole_or_outside_is_no_neck() -> None:
    u = Contour.from_points([(0, 0), (20, 0), (20, 20), (12, 20), (12, 8), (9, 8), (9, 20), (0, 20)])
    found = neck(Profile(u))
    assert found is not None
    assert found.width == pytest.approx(8)


def test_only_necks_below_are_looked_for() -> None:
    plate = Profile(Contour.rectangle(10, 6), (Contour.circle(5, 3.5, 1),))
    assert neck(plate, below=1.4) is None
    assert neck(plate, below=1.6) is not None


def test_touching_edges_are_a_neck_of_no_width() -> None:
    found = neck(Profile(Contour.rectangle(10, 10), (Contour.circle(2, 5, 2),)))
    assert found is not None
    assert (found.width, found.first) == (0.0, Point(0, 5))


def test_shrinking_by_more_than_half_a_neck_cuts_it_and_by_less_does_not() -> None:
    """The dumbbells of the offset tests: the neck is where the offset splits."""
    rng = np.random.default_rng(52)
    for _ in range(25):
        width, a, b = rng.uniform(1, 6), rng.uniform(8, 20), rng.uniform(8, 20)
        half, apart = width / 2, a + b + rng.uniform(3, 30)
        rows = [
            (math.sqrt(a * a - half * half), -half, 0.0),
            (apart - math.sqrt(b * b - half * half), -half, math.tan((math.tau - 2 * math.asin(half / b)) / 4)),
            (apart - math.sqrt(b * b - half * half), half, 0.0),
            (math.sqrt(a * a - half * half), half, math.tan((math.tau - 2 * math.asin(half / a)) / 4)),
        ]  # fmt: skip
        profile = Profile(Contour(np.array(rows)))
        found = neck(profile)
        assert found is not None
        assert found.width == pytest.approx(width, abs=1e-7)
        assert len(offset_profile(profile, -half * 0.999)) == 1
        assert len(offset_profile(profile, -half * 1.001)) == 2
