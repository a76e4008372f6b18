"""Polygons of a library, and the widest place of the metal against closed forms."""

from __future__ import annotations

import math

import pytest

from platewright.geometry import Contour, Pose, Profile
from platewright.geometry.regions.polygons import widest


def _circle(radius: float, x: float = 0.0, y: float = 0.0) -> Contour:
    return Contour([(x + radius, y, 1.0), (x - radius, y, 1.0)])


def test_the_widest_place_of_a_triangle_is_its_incircle() -> None:
    # a 3-4-5 triangle holds a circle of radius 1 about (1, 1)
    triangle = Profile(Contour.from_points([(0, 0), (4, 0), (0, 3)]))
    x, y, radius = widest(triangle)
    assert (x, y, radius) == pytest.approx((1.0, 1.0, 1.0), abs=0.05)


def test_the_widest_place_of_a_ring_lies_in_its_metal_and_turns_with_it() -> None:
    ring = Profile(_circle(50.0), (_circle(30.0, 5.0),))
    x, y, radius = widest(ring)
    # the metal is widest opposite the hole's shift: 25 mm across
    assert radius == pytest.approx(12.5, abs=1.0)
    assert math.hypot(x, y) + radius <= 50.0 + 0.2
    assert math.hypot(x - 5.0, y) - radius >= 30.0 - 0.2
    turned = widest(Pose(10.0, 20.0, 1.0).apply(ring))
    assert turned[2] == pytest.approx(radius, abs=1.0)
