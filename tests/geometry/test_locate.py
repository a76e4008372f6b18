"""Points on, near and in shapes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry.contour import Contour
from platewright.geometry.crossing.locate import contains, distances, nearest, point_at, tangent_at
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import length
from platewright.geometry.primitives import Point
from platewright.geometry.profile import Profile
from tests.geometry.helpers import generated

SLOT = Contour([(0, 0, 0), (20, 0, 1), (20, 4, 0), (0, 4, 1)])


def test_points_at_distances_along() -> None:
    assert point_at(SLOT, 5) == Point(5, 0)
    top = point_at(SLOT, 20 + math.pi)
    assert (top.x, top.y) == pytest.approx((22, 2))
    assert point_at(SLOT, length(SLOT) + 5).x == pytest.approx(5)
    assert point_at(SLOT, -1).distance(point_at(SLOT, length(SLOT) - 1)) == pytest.approx(0, abs=1e-12)
    end = point_at(SLOT, 20 + 2 * math.pi)
    assert (end.x, end.y) == pytest.approx((20, 4))


def test_walking_in_small_steps_covers_the_length() -> None:
    for _, profile, _ in generated(20, seed=21):
        along = np.linspace(0, length(profile.outer), 400)
        spots = np.array([(p.x, p.y) for p in (point_at(profile.outer, a) for a in along)])
        step = np.hypot(*np.diff(spots, axis=0).T)
        assert step.max() <= along[1] * (1 + 1e-9)
        assert distances(profile, spots).max() < 1e-9


def test_tangents() -> None:
    assert tangent_at(SLOT, 1).angle() == pytest.approx(0)
    assert tangent_at(SLOT, 20 + math.pi).angle() == pytest.approx(math.pi / 2)
    line = Contour.from_points([(0, 0), (3, 4)], closed=False)
    assert tangent_at(line, 5).y == pytest.approx(0.8)


def test_off_the_ends_of_an_open_contour_is_refused() -> None:
    with pytest.raises(InputError, match="0 to 5 mm"):
        point_at(Contour.from_points([(0, 0), (3, 4)], closed=False), 6)
    with pytest.raises(InputError, match="finite"):
        tangent_at(SLOT, math.nan)


def test_nearest_on_lines_arcs_and_ends() -> None:
    near = nearest(SLOT, (7, -3))
    assert (near.point, near.distance, near.edge, near.along) == (Point(7, 0), 3, 0, 7)
    near = nearest(SLOT, Point(25, 2))
    assert (near.point.x, near.distance, near.edge) == pytest.approx((22, 3, 1))
    ring = Profile(Contour.circle(0, 0, 10), (Contour.circle(0, 0, 6),))
    assert nearest(ring, (5, 0)).contour == 1
    with pytest.raises(InputError, match="one point"):
        nearest(SLOT, [(0, 0), (1, 1)])


def test_distances_agree_with_fine_chords() -> None:
    import shapely

    rng = np.random.default_rng(22)
    for _, profile, _ in generated(40, seed=22):
        box = profile.bounds()
        spots = rng.uniform((box.x0 - 5, box.y0 - 5), (box.x1 + 5, box.y1 + 5), (60, 2))
        chords = shapely.MultiLineString(
            [np.vstack([f, f[:1]]) for c in profile.contours() for f in [flatten(c, tolerance=1e-4)]]
        )
        assert distances(profile, spots) == pytest.approx(
            shapely.distance(shapely.points(spots), chords), abs=1.01e-4
        )


def test_inside_agrees_with_a_polygon_library() -> None:
    import shapely

    from platewright.geometry.regions.polygons import to_polygon

    rng = np.random.default_rng(23)
    for _, profile, _ in generated(80, seed=23):
        box = profile.bounds()
        spots = rng.uniform((box.x0 - 5, box.y0 - 5), (box.x1 + 5, box.y1 + 5), (300, 2))
        spots = spots[distances(profile, spots) > 1e-3]
        polygon = to_polygon(profile, tolerance=5e-4)
        assert (contains(profile, spots) == shapely.contains_xy(polygon, spots)).all()


def test_the_edge_itself_and_the_slack() -> None:
    disc = Contour.circle(0, 0, 5)
    assert contains(disc, [(5, 0), (0, 5), (3, 4), (-3, -4)]).all()
    assert contains(disc, (5.05, 0), slack=0.1).all()
    assert not contains(disc, (4.95, 0), slack=-0.1).any()
    assert contains(disc.reversed(), (1, 1)).all()
    ring = Profile(disc, (Contour.circle(0, 0, 2),))
    assert contains(ring, [(0, 0), (2, 0), (3, 0), (6, 0)]).tolist() == [False, True, True, False]
    assert contains(ring, np.zeros((0, 2))).shape == (0,)


def test_points_level_with_vertices_and_arc_tops_are_reported_right() -> None:
    """Where a ray grazes a vertex or runs along an edge, crossing rules go wrong first."""
    shape = Contour([(0, 0, 0), (4, 0, 1), (4, 4, 0), (2, 2, 0), (0, 4, 0)])
    inside = [(1, 2), (4.5, 2), (5.99, 2), (3, 2), (1, 0.5), (4, 2)]
    outside = [(-1, 0), (-1, 2), (-1, 4), (2, 4), (6.01, 2), (7, 0), (2, 2.01), (-3, 2)]
    assert contains(shape, inside).all()
    assert not contains(shape, outside).any()


def test_bad_points_are_refused() -> None:
    with pytest.raises(InputError, match="M, 2"):
        contains(SLOT, [[1, 2, 3]])
    with pytest.raises(InputError, match="finite"):
        distances(SLOT, [(math.nan, 0)])
    with pytest.raises(InputError, match="open contour"):
        contains(Contour.from_points([(0, 0), (1, 0)], closed=False), (0, 0))
