"""What a layout is worth: pieces, then the rest of the plate, then travel; and sliding together."""

from __future__ import annotations

import math

import numpy as np
import pytest
from benchmarks.packing.shapes import flange, strap

from platewright.geometry import Contour, Profile
from platewright.layout.check import check
from platewright.layout.engines.choice import best_packing
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Wanted
from platewright.layout.problem import Packed, Piece, Problem, Shape, Spot
from platewright.layout.useful import free_rectangle, neat, travel, worth
from platewright.part.model import Part
from platewright.stock.model import Plate

SQUARE = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])


def _squares(count: int) -> Problem:
    """Return squares of 100 mm, 6 mm apart, in a room of 1000 x 600."""
    shape = Shape.made((SQUARE,), 6.0, (0.0,), least=math.inf)
    room = np.array([(0.0, 0.0), (1000.0, 0.0), (1000.0, 600.0), (0.0, 600.0)])
    return Problem(shapes=(shape,), pieces=(Piece(0),) * count, room=(room,))


def _at(*places: tuple[float, float]) -> tuple[Spot, ...]:
    return tuple(Spot(i, x, y, 0.0) for i, (x, y) in enumerate(places))


def test_the_shortest_tree_joins_the_middles() -> None:
    """Places 0, 200 and 500 along a line: 500 whichever order; the corners of a square: three sides."""
    assert travel(_squares(3), _at((500, 0), (0, 0), (200, 0))) == pytest.approx(500)
    assert travel(_squares(4), _at((0, 0), (300, 0), (300, 300), (0, 300))) == pytest.approx(900)
    assert travel(_squares(1), _at((0, 0))) == 0.0


def test_layouts_alike_in_pieces_and_rest_are_reported_apart_by_travel() -> None:
    """A column of three at the left end: the same rectangle stays free, its edge is as long, one spreads wider."""
    problem = _squares(3)
    close = worth(problem, _at((0, 130), (0, 245), (0, 360)))
    wide = worth(problem, _at((0, 112), (0, 245), (0, 378)))
    assert (close.left_out, close.rectangle, close.edge) == (wide.left_out, wide.rectangle, wide.edge)
    assert close.travel == pytest.approx(230)
    assert wide.travel == pytest.approx(266)
    assert close < wide


def test_a_larger_rectangle_outweighs_travel_and_a_piece_outweighs_both() -> None:
    problem = _squares(2)
    column, row = _at((0, 0), (0, 500)), _at((0, 0), (106, 0))
    assert free_rectangle(problem, column).area() > free_rectangle(problem, row).area()
    assert travel(problem, column) > travel(problem, row)
    assert worth(problem, column) < worth(problem, row) < worth(problem, _at((0, 0)))


def test_of_two_rests_with_one_rectangle_the_more_compact_is_worth_more() -> None:
    problem = _squares(3)
    together, apart = _at((0, 0), (0, 106), (0, 212)), _at((0, 20), (0, 240), (0, 460))
    one, other = worth(problem, together), worth(problem, apart)
    assert one.rectangle == other.rectangle
    assert one.edge < other.edge


def test_pieces_slide_together_and_the_length_does_not_grow() -> None:
    problem = _squares(3)
    loose = Packed(_at((20, 50), (60, 200), (10, 440)))
    tidy = neat(problem, loose)
    assert problem.used(tidy.spots) <= problem.used(loose.spots)
    assert travel(problem, tidy.spots) == pytest.approx(2 * 106, abs=0.5)
    assert neat(problem, tidy).spots == tidy.spots


def test_what_lies_in_a_bore_rides_along() -> None:
    ring, cap = Wanted(part=flange(140, 100, "ring")), Wanted(part=flange(50, 10, "cap"))
    layout = lay([ring, cap], Plate.sheet("s", 700, 500, 6), options=LayOptions(steps=60)).layouts[0]
    (_, _, outer), (_, _, inner) = layout.placed()
    middle = [(b.x0 + b.x1, b.y0 + b.y1) for b in (outer.bounds(), inner.bounds())]
    assert math.dist(*middle) / 2 < 50
    assert check(layout) == ()


def test_lay_takes_the_shorter_travel_of_layouts_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that ends with its pieces spread along the plate's end: lay hands them back together."""

    def spread(problem: Problem, *budget: object, **more: object) -> Packed:
        found = best_packing(problem, *budget, **more)  # type: ignore[arg-type]
        x = problem.box()[0]
        return Packed(tuple(Spot(s.piece, x + 1.0, 10.0 + 180.0 * s.piece, 0.0) for s in found.spots))

    monkeypatch.setattr("platewright.layout.bed.best_packing", spread)
    layout = lay(
        [Wanted(part=strap(100, 100), quantity=3)],
        Plate.sheet("s", 1200, 600, 6),
        options=LayOptions(steps=1),
    ).layouts[0]
    heights = sorted(p.bounds().y0 for _, _, p in layout.placed())
    assert len(heights) == 3
    assert heights[2] - heights[0] == pytest.approx(2 * 106, abs=1.0)


def test_a_few_parts_leave_the_long_leg_of_a_drop_whole() -> None:
    """An L with a leg of 1200 x 350: the arm above it takes them all, from its far end."""
    outline = Contour.from_points([(0, 0), (1200, 0), (1200, 350), (450, 350), (450, 900), (0, 900)])
    block = Part(name="block", profile=Profile(Contour.rectangle(120, 90)), thickness=6.0)
    drop = Plate(name="L", profile=Profile(outline), thickness=6.0, kind="drop")
    layout = lay([Wanted(part=block, quantity=6)], drop, options=LayOptions(steps=40)).layouts[0]
    assert len(layout.placements) == 6
    assert min(p.bounds().y0 for _, _, p in layout.placed()) > 350
