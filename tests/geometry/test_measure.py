"""Area, centroid, second moments, merging and polygons."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry.contour import Contour
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import bounds, length, signed_area
from platewright.geometry.moments import centroid, moments
from platewright.geometry.profile import Profile
from platewright.geometry.regions.merge import merged
from platewright.geometry.regions.polygons import to_polygon
from tests.geometry.helpers import generated


def test_moments_agree_with_fine_chords() -> None:
    for _, profile, _ in generated(50, seed=81):
        m = moments(profile)
        polygon = to_polygon(profile, tolerance=1e-5)
        size = math.sqrt(m.area)
        assert m.area == pytest.approx(profile.area(), rel=1e-12)
        assert (m.centroid.x, m.centroid.y) == pytest.approx(
            (polygon.centroid.x, polygon.centroid.y), abs=1e-4
        )
        straight = Profile(
            Contour.from_points(flatten(profile.outer, tolerance=1e-5)),
            tuple(Contour.from_points(flatten(h, tolerance=1e-5)) for h in profile.holes),
        )
        s = moments(straight)
        assert (m.xx, m.yy, m.xy) == pytest.approx((s.xx, s.yy, s.xy), abs=2e-5 * size**3 * 10)


def test_flat_arcs_keep_their_digits() -> None:
    """The bow of a flat arc is 2/3 chord times rise to first order; nothing may cancel away."""
    for bulge in (1e-3, 1e-5, 1e-7, 1e-9):
        m = moments(Contour([(0, 0, -bulge), (1000, 0, 0), (1000, -1, 0), (0, -1, 0)]))
        rise = 500 * bulge
        assert abs(m.area) - 1000 == pytest.approx(2 / 3 * 1000 * rise, rel=1e-5, abs=1e-9)
        assert m.xx == pytest.approx(-(1000**3) / 12, rel=1e-3 + bulge * 1000)


def test_rows_from_lists() -> None:
    assert Contour.from_rows([(0, 0, 0), (4, 0, 0), (4, 3, 0)]) == Contour.from_points(
        [(0, 0), (4, 0), (4, 3)]
    )
    with pytest.raises(InputError, match="three numbers each"):
        Contour.from_rows([(0, 0), (1, 2, 3)])


def test_no_area_has_its_vertices_for_centre() -> None:
    m = moments(Contour.from_points([(0, 0), (10, 4)]))
    assert (m.area, m.centroid.x, m.centroid.y, m.xx) == (0, 5, 2, 0)
    assert centroid(Contour.from_points([(1, 1), (1, 1), (1, 1)])).x == 1


def test_boxes_hold_every_point_and_touch_the_shape() -> None:
    for _, profile, _ in generated(50, seed=82):
        box = bounds(profile.outer)
        spots = flatten(profile.outer, tolerance=1e-4)
        assert (spots >= np.array([box.x0, box.y0]) - 1e-9).all()
        assert (spots <= np.array([box.x1, box.y1]) + 1e-9).all()
        assert spots.min(axis=0) == pytest.approx([box.x0, box.y0], abs=2e-4)
        assert spots.max(axis=0) == pytest.approx([box.x1, box.y1], abs=2e-4)


# -- merge ------------------------------------------------------------------------------------------


def test_collinear_and_cocircular_neighbours_are_joined() -> None:
    assert merged(
        Contour.from_points([(0, 0), (3, 0), (5, 0), (10, 0), (10, 5), (10, 10), (0, 10)])
    ) == Contour.rectangle(10, 10)
    eighth = math.tan(math.pi / 8)
    disc = Contour([(5, 0, eighth), (0, 5, eighth), (-5, 0, eighth), (0, -5, eighth)])
    assert len(merged(disc)) == 2
    assert signed_area(merged(disc)) == pytest.approx(25 * math.pi)
    three = merged(Contour([(5, 0, eighth), (0, 5, eighth), (-5, 0, eighth), (0, -5, 0)]))
    assert three.rows.tolist() == [pytest.approx([5, 0, math.tan(1.5 * math.pi / 4)]), [0, -5, 0]]


def test_merging_changes_no_outline_and_a_second_time_nothing() -> None:
    for _, profile, _ in generated(60, seed=83):
        once = merged(profile)
        assert once.area() == pytest.approx(profile.area(), rel=1e-9)
        assert length(once.outer) == pytest.approx(length(profile.outer), rel=1e-9)
        assert merged(once) == once


def test_what_runs_back_or_turns_is_not_joined() -> None:
    spike = Contour.from_points([(0, 0), (10, 0), (10, 5), (20, 5), (10, 5), (10, 10), (0, 10)])
    assert len(merged(spike)) == 7
    assert len(merged(Contour.from_points([(0, 0), (5, 0), (10, 0)], closed=False))) == 1
    assert len(merged(Contour.from_points([(0, 0), (0, 0), (10, 0), (10, 5)]))) == 3


# -- polygons ---------------------------------------------------------------------------------------


def test_a_polygon_has_the_area_of_its_profile() -> None:
    plate = Profile(Contour.rectangle(10, 10), (Contour.rectangle(2, 2, x=4, y=4),))
    polygon = to_polygon(plate, tolerance=0.01)
    assert polygon.area == 96


def test_chords_stay_within_the_error_asked_for() -> None:
    disc = Profile(Contour.circle(0, 0, 100))
    for error in (1, 0.1, 0.001):
        polygon = to_polygon(disc, tolerance=error)
        middles = np.asarray(polygon.exterior.coords)
        middles = (middles[1:] + middles[:-1]) / 2
        assert 0 < 100 - np.hypot(*middles.T).min() <= error
    with pytest.raises(InputError, match="above 0"):
        to_polygon(disc, tolerance=0)
    with pytest.raises(InputError, match="encloses nothing"):
        to_polygon(Profile(Contour.from_points([(0, 0), (1, 1)])), tolerance=1)
