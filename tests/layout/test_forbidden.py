"""Forbidden places against a polygon library; pieces are convex and add up; erosion and rectangles by closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from benchmarks.packing.shapes import bracket, flange, generated, strap
from shapely import Point, Polygon

from platewright.geometry import Contour, Profile
from platewright.layout.problem import pack_loops
from platewright.layout.search.kernels import depth
from platewright.layout.search.tables import edge_rows, sides_of
from platewright.layout.shape import convex_kernels as convex
from platewright.layout.shape import kernels
from platewright.layout.shape.forbidden import outside_of, overlapping_shifts, pieces, solid_of, within
from platewright.layout.shape.loops import Loops, loops_area
from platewright.layout.shape.room import shape_of
from platewright.layout.shape.turns import distinct, free_turns

SQUARE: Loops = (np.array([(0.0, 0), (10, 0), (10, 10), (0, 10)]),)


def _polygon(loops: Loops, x: float = 0.0, y: float = 0.0) -> Polygon:
    return Polygon(loops[0] + (x, y), [p + (x, y) for p in loops[1:]])


def _in(loops: Loops, x: float, y: float) -> bool:
    points, starts = pack_loops(loops)
    return bool(len(loops)) and bool(kernels.point_in(points, starts, x, y))


@pytest.mark.parametrize("seed", range(25))
def test_a_shift_is_forbidden_exactly_when_the_shapes_meet(seed: int) -> None:
    rng = np.random.default_rng(seed)
    still = shape_of(generated(rng, 0).profile)
    moving = shape_of(generated(rng, 1).profile)
    if seed % 3 == 0:
        still = shape_of(flange(150, 110).profile)
    if seed % 5 == 0:
        moving = shape_of(flange(200, 160).profile)
    region = overlapping_shifts(solid_of(still), solid_of(moving))
    one = _polygon(still)
    for x, y in rng.uniform(-320, 320, (60, 2)).tolist():
        two = _polygon(moving, x, y)
        near = one.boundary.distance(two.boundary)
        if near > 1e-3 or one.intersection(two).area > 1e-3:
            assert _in(region, x, y) == one.intersects(two)


def test_two_squares_give_a_square_of_twice_the_side() -> None:
    region = overlapping_shifts(solid_of(SQUARE), solid_of(SQUARE))
    assert loops_area(region) == pytest.approx(400.0)


@pytest.mark.parametrize("seed", range(12))
def test_pieces_are_convex_and_add_up(seed: int) -> None:
    loop = np.ascontiguousarray(shape_of(generated(np.random.default_rng(seed), 0).profile)[0])
    cut = pieces(loop)
    assert all(convex.is_convex(p) for p in cut)
    assert sum(loops_area((p,)) for p in cut) == pytest.approx(loops_area((loop,)))


def test_an_l_is_cut_in_two() -> None:
    outline = np.array([(0.0, 0), (10, 0), (10, 3), (3, 3), (3, 10), (0, 10)])
    assert len(pieces(outline)) == 2


def test_a_disc_in_a_bore_has_a_bore_of_shifts() -> None:
    """A disc of 20 in a bore of 50 may move its centre within a disc of 30 (up to the polygons' chords)."""
    bore = np.ascontiguousarray(shape_of(Profile(Contour.circle(0, 0, 50)))[0])
    free = within(bore, solid_of(shape_of(Profile(Contour.circle(0, 0, 20)))))
    assert loops_area(free) == pytest.approx(math.pi * 30**2, rel=0.02)


@pytest.mark.parametrize("seed", range(8))
def test_a_shift_out_of_the_room_is_forbidden(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outline = np.array([(0.0, 0), (600, 0), (600, 200), (250, 200), (250, 500), (0, 500)])
    hole = np.array([(100.0, 60), (100, 120), (180, 120), (180, 60)])
    room = (outline, hole)
    moving = shape_of(generated(rng, 0).profile)
    region = outside_of(room, solid_of(moving))
    for x, y in rng.uniform(-100, 700, (60, 2)).tolist():
        placed = _polygon((moving[0],), x, y)
        if _polygon(room).boundary.distance(placed.boundary) > 1e-3:
            assert _in(region, x, y) != _polygon(room).contains(placed)


@pytest.mark.parametrize("seed", range(5))
def test_depth_is_the_distance_to_the_regions_edge(seed: int) -> None:
    rng = np.random.default_rng(seed)
    loops = shape_of(generated(rng, 0).profile)
    sides = sides_of(edge_rows(loops))
    polygon = _polygon(loops)
    for x, y in rng.uniform(-160, 160, (100, 2)).tolist():
        inside = polygon.contains(Point(x, y))
        expected = polygon.boundary.distance(Point(x, y)) if inside else 0.0
        assert depth(sides, 0, sides.shape[1], x, y, 0.0) == pytest.approx(expected, abs=1e-9)


def test_the_largest_free_rectangle() -> None:
    taken = np.zeros((20, 30), dtype=np.uint8)
    taken[5, 7] = 1
    assert kernels.largest_free(taken) == (0, 8, 20, 22)
    taken[:, 12] = 1
    assert kernels.largest_free(taken) == (0, 13, 20, 17)


@pytest.mark.parametrize(
    ("profile", "count"),
    [
        (flange(60, 30).profile, 1),
        (strap(100, 100).profile, 1),
        (strap(100, 40).profile, 2),
        (bracket(100, 60, 20).profile, 4),
    ],
)
def test_turns_that_look_alike_are_one(profile: Profile, count: int) -> None:
    loops = shape_of(profile)[:1]
    assert len(distinct(loops, [k * math.pi / 2 for k in range(4)])) == count


def test_a_tilted_part_gets_its_straight_turn() -> None:
    tilted = Profile(Contour.from_points([(0, 0), (100, 30), (97, 40), (-3, 10)]))
    angles = free_turns(shape_of(tilted), 20)
    lean = math.atan2(30, 100)
    assert any(abs(math.remainder(a + lean, math.pi / 2)) < 1e-6 for a in angles)
