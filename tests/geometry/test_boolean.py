"""Union, difference and intersection against closed forms, a polygon library, and set algebra."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.geometry.contour import Contour
from platewright.geometry.measure import arc_data
from platewright.geometry.profile import Profile
from platewright.geometry.regions.boolean import difference, intersection, union
from platewright.geometry.regions.polygons import to_polygon
from platewright.geometry.regions.validity import explain
from platewright.geometry.transform import Pose
from tests.geometry.helpers import generated


def area(profiles) -> float:
    return sum(p.area() for p in profiles)


SQUARE = Profile(Contour.rectangle(10, 10))


def test_two_discs_overlap_in_a_lens() -> None:
    a, b = Profile(Contour.circle(0, 0, 5)), Profile(Contour.circle(6, 0, 5))
    lens = 2 * (25 * math.acos(0.6) - 3 * 4)
    (both,) = intersection(a, b)
    assert both.area() == pytest.approx(lens, rel=1e-12)
    assert union(a, b)[0].area() == pytest.approx(50 * math.pi - lens, rel=1e-12)
    assert difference(a, b)[0].area() == pytest.approx(25 * math.pi - lens, rel=1e-12)
    arcs = arc_data(both.outer)
    assert arcs.radius == pytest.approx([5] * len(both.outer), abs=1e-12)
    assert {round(x) for x in arcs.centre[:, 0].tolist()} == {0, 6}


def test_touching_edges_are_dissolved() -> None:
    (joined,) = union(SQUARE, Pose(10, 0).apply(SQUARE))
    assert len(joined.outer) == 4
    assert joined.area() == pytest.approx(200)
    (arched,) = union(Profile(Contour([(0, 0, 0), (10, 0, 1)])), Profile(Contour([(0, 0, -1), (10, 0, 0)])))
    assert len(arched.outer) == 2


def test_touching_only_at_a_corner_stays_two() -> None:
    assert len(union(SQUARE, Pose(10, 10).apply(SQUARE))) == 2


def test_a_bite_across_makes_two_and_a_bite_inside_makes_a_hole() -> None:
    bar, disc = Profile(Contour.rectangle(20, 4, x=-5, y=3)), Profile(Contour.circle(5, 5, 3))
    assert [p.area() for p in difference(SQUARE, bar)] == pytest.approx([30, 30])
    (holed,) = difference(SQUARE, disc)
    assert len(holed.holes) == 1
    assert difference(SQUARE, SQUARE) == ()


def test_several_at_once() -> None:
    discs = [Profile(Contour.circle(x, 5, 2)) for x in (0, 5, 10)]
    (bitten,) = difference(SQUARE, discs)
    assert bitten.area() == pytest.approx(100 - 2 * 4 * math.pi)
    assert area(union(SQUARE, *discs)) == pytest.approx(100 + 4 * math.pi)
    assert area(intersection(discs, SQUARE)) == pytest.approx(8 * math.pi)
    assert union([]) == ()


def test_metal_in_a_hole_stays_apart_and_comes_out_as_its_own_part() -> None:
    ring = Profile(Contour.circle(0, 0, 10), (Contour.circle(0, 0, 6),))
    slug = Profile(Contour.circle(0, 0, 4))
    assert len(union(ring, slug)) == 2
    assert intersection(ring, slug) == ()


def test_booleans_agree_with_a_polygon_library_and_with_set_algebra() -> None:
    """56 pairs; areas by inclusion and exclusion to float noise, by the library to its chords."""
    shapes = [p for _, p, _ in generated(56, seed=12)]
    rng = np.random.default_rng(12)
    for one, other in zip(shapes, shapes[1:] + shapes[:1], strict=True):
        a, b = (Pose(*-np.array([s.bounds().x0, s.bounds().y0])).apply(s) for s in (one, other))
        b = Pose(*rng.uniform(-20, 20, 2)).apply(b)
        both, either, less = intersection(a, b), union(a, b), difference(a, b)
        total = a.area() + b.area()
        assert area(both) + area(either) == pytest.approx(total, abs=1e-6 * math.sqrt(total))
        assert area(less) + area(both) == pytest.approx(a.area(), abs=1e-6 * math.sqrt(total))
        p, q = to_polygon(a, tolerance=1e-3), to_polygon(b, tolerance=1e-3)
        reach = 3e-3 * (p.length + q.length)
        assert area(both) == pytest.approx(p.intersection(q).area, abs=reach)
        assert area(less) == pytest.approx(p.difference(q).area, abs=reach)
        for part in (*both, *either, *less):
            assert [f for f in explain(part) if f.severity == "stop"] == []


def test_a_shape_with_itself_is_itself() -> None:
    for _, profile, _ in generated(40, seed=13):
        (again,) = union(profile, profile)
        assert again.area() == pytest.approx(profile.area(), rel=1e-9)
        assert len(again.holes) == len(profile.holes)
        assert difference(profile, profile) == ()
