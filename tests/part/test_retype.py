"""A length retyped: measured on the result by coordinates, against the geometry library for the area."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Polygon

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Profile
from platewright.part import ops
from platewright.part.model import Part
from platewright.part.replay import replay

ELL = [(0, 0), (100, 0), (100, 40), (60, 40), (60, 80), (0, 80)]


def part(points: list[tuple[float, float]], *holes: Contour) -> Part:
    outer = Contour([(x, y, 0.0) for x, y in points])
    return ops.from_profile(Profile(outer, holes), name="ell", thickness=6.0)


def corners(made: Part) -> set[tuple[float, float]]:
    return {(round(x, 3), round(y, 3)) for x, y in made.profile.outer.points.tolist()}


@pytest.mark.parametrize(
    ("edge", "length", "moves", "wanted"),
    [
        (0, 120, "end", [(0, 0), (120, 0), (120, 40), (60, 40), (60, 80), (0, 80)]),
        (0, 90, "start", [(10, 0), (100, 0), (100, 40), (60, 40), (60, 80), (10, 80)]),
        (2, 50, "end", [(0, 0), (100, 0), (100, 40), (50, 40), (50, 80), (0, 80)]),  # an inside corner
        (3, 30, "start", [(0, 0), (100, 0), (100, 50), (60, 50), (60, 80), (0, 80)]),
    ],
)
def test_one_edge_gets_its_length_and_one_beside_it_moves(
    edge: int, length: float, moves: str, wanted: list[tuple[float, float]]
) -> None:
    made = ops.set_length(part(ELL), edge=(0, edge), length=length, moves=moves)  # type: ignore[arg-type]
    assert corners(made) == {(float(x), float(y)) for x, y in wanted}
    assert made.profile.area() == pytest.approx(Polygon(wanted).area)
    assert replay(made.steps).profile.area() == pytest.approx(made.profile.area())


def test_a_slanting_neighbour_is_moved_along_the_edge() -> None:
    made = ops.set_length(part([(0, 0), (100, 0), (130, 60), (0, 60)]), edge=(0, 0), length=110)
    assert (110.0, 0.0) in corners(made)
    assert (140.0, 60.0) in corners(made)


@pytest.mark.parametrize("turn", [1, -1])
def test_a_square_hole_becomes_longer(turn: int) -> None:
    hole = [(20, 20), (40, 20), (40, 30), (20, 30)][::turn]
    made = ops.set_length(
        part(ELL, Contour([(x, y, 0.0) for x, y in hole])), edge=(1, 0 if turn == 1 else 2), length=25
    )
    (box,) = (Profile(h).bounds() for h in made.profile.holes)
    assert sorted([round(box.width, 3), round(box.height, 3)]) == [10.0, 25.0]


@pytest.mark.parametrize("length", [0, -5, math.nan, math.inf])
def test_a_length_that_cannot_be_is_refused(length: float) -> None:
    with pytest.raises(InputError, match="cannot be"):
        ops.set_length(part(ELL), edge=(0, 0), length=length)


def test_rounded_corners_move_along_with_their_radius() -> None:
    """A rounded rectangle retyped is the rectangle of the new size rounded: the geometry library's buffer says its area."""
    for moves, x0 in (("end", 0.0), ("start", -30.0)):
        plate = ops.fillet_corners(part([(0, 0), (100, 0), (100, 60), (0, 60)]), radius=10.0)
        straight = next(n for n, e in enumerate(plate.profile.outer.edges()) if e.length() > 79)
        made = ops.set_length(plate, edge=(0, straight), length=110, moves=moves)  # type: ignore[arg-type]
        box = made.profile.bounds()
        assert (box.width, box.height) == pytest.approx((130, 60))
        assert box.x0 == pytest.approx(x0) or box.x1 == pytest.approx(100 - x0)
        wanted = Polygon([(10, 10), (120, 10), (120, 50), (10, 50)]).buffer(10, quad_segs=2000)
        assert made.profile.area() == pytest.approx(wanted.area, rel=1e-6)
        assert (
            sorted(round(e.radius, 6) for e in made.profile.outer.edges() if isinstance(e, Arc)) == [10.0] * 4
        )


def test_one_rounded_corner_and_a_slanting_neighbour() -> None:
    slanting = part([(0, 0), (100, 0), (130, 60), (0, 60)])
    rounded = ops.fillet_corners(slanting, radius=8.0, corners=[(0, 1)])
    length = rounded.profile.outer.edge(0).length()
    made = ops.set_length(rounded, edge=(0, 0), length=length + 10)
    again = ops.fillet_corners(
        ops.set_length(slanting, edge=(0, 0), length=110), radius=8.0, corners=[(0, 1)]
    )
    assert made.profile.outer.rows == pytest.approx(again.profile.outer.rows)


def test_an_arc_that_rounds_no_corner_is_refused() -> None:
    end = Contour([(0, 0, 0.0), (100, 0, 1.0), (100, 40, 0.0), (0, 40, 0.0)])
    tongue = ops.from_profile(Profile(end, ()), name="tongue", thickness=6.0)
    with pytest.raises(InputError, match="arc lies beside"):
        ops.set_length(tongue, edge=(0, 0), length=120)
    shorter = ops.set_length(tongue, edge=(0, 0), length=80, moves="start")  # its other end has none
    assert shorter.profile.bounds().width == pytest.approx(100)


def test_an_edge_that_would_turn_back_is_refused() -> None:
    with pytest.raises(InputError, match="No room"):
        ops.set_length(part(ELL), edge=(0, 0), length=55)  # the step at 60 mm is passed


def test_a_short_nose_is_drawn_out_where_the_slope_after_it_leaves_no_room() -> None:
    nosed = part([(15, 0), (100, 0), (100, 10), (10, 100), (0, 100), (0, 15)])
    made = ops.set_length(nosed, edge=(0, 0), length=150)
    assert made.profile.bounds().x1 == pytest.approx(165)
    assert made.profile.area() == pytest.approx(nosed.profile.area() + 65 * 10)
