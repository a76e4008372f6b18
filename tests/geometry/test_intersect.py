"""Crossings of lines and arcs, by hand and by substitution."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.geometry.primitives import Arc, Line, Point
from tests.geometry.helpers import intersect


def line(a, b) -> Line:
    return Line(Point(*a), Point(*b))


def spots(found) -> list[tuple[float, float]]:
    return [(round(p.x, 9), round(p.y, 9)) for p in found]


def test_lines() -> None:
    assert spots(intersect(line((0, 0), (10, 10)), line((0, 10), (10, 0)))) == [(5, 5)]
    assert intersect(line((0, 0), (1, 1)), line((0, 10), (10, 0))) == ()
    assert spots(intersect(line((0, 0), (10, 0)), line((10, 0), (10, 5)))) == [(10, 0)]
    assert intersect(line((0, 0), (10, 0)), line((0, 1), (10, 1))) == ()


def test_overlaps_give_the_ends_of_the_overlap_in_order_along_the_first() -> None:
    assert spots(intersect(line((10, 0), (0, 0)), line((-5, 0), (4, 0)))) == [(4, 0), (0, 0)]
    upper, right = Arc(Point(0, 0), 5, 0, math.pi), Arc(Point(0, 0), 5, -math.pi / 2, math.pi)
    assert spots(intersect(upper, right)) == [(5, 0), (0, 5)]


def test_line_and_arc() -> None:
    arc = Arc(Point(0, 0), 5, 0, math.pi)
    assert spots(intersect(line((-10, 3), (10, 3)), arc)) == [(-4, 3), (4, 3)]
    assert spots(intersect(line((-10, -3), (10, -3)), arc)) == []
    assert spots(intersect(line((-10, 5), (10, 5)), arc)) == [(0, 5)]


def test_arcs() -> None:
    a, b = Arc(Point(0, 0), 5, 0, math.pi), Arc(Point(6, 0), 5, 0, math.pi)
    assert spots(intersect(a, b)) == [(3, 4)]
    touch = Arc(Point(0, 8), 3, math.pi, math.pi)
    assert spots(intersect(a, touch)) == [(0, 5)]
    within = Arc(Point(0, 3), 2, 0, math.pi)
    assert spots(intersect(a, within)) == [(0, 5)]
    assert intersect(a, Arc(Point(0, 0), 4, 0, math.pi)) == ()


def test_every_crossing_lies_on_both_and_both_orders_agree() -> None:
    rng = np.random.default_rng(31)

    def edge() -> Line | Arc:
        if rng.random() < 0.4:
            return line(rng.uniform(-10, 10, 2), rng.uniform(-10, 10, 2))
        return Arc(Point(*rng.uniform(-5, 5, 2)), rng.uniform(1, 12), rng.uniform(-3, 3), rng.uniform(-6, 6))

    met = 0
    for _ in range(400):
        a, b = edge(), edge()
        found = intersect(a, b)
        met += len(found)
        for p in found:
            for e in (a, b):
                if isinstance(e, Arc):
                    assert p.distance(e.centre) == pytest.approx(e.radius, abs=1e-6)
                else:
                    assert abs((e.end - e.start).cross(p - e.start)) / e.length() < 1e-6
        assert sorted(spots(found)) == sorted(spots(intersect(b, a)))
    assert met > 100
