"""Unordered edges joined into contours."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry.contour import Contour
from platewright.geometry.measure import arc_data, length, signed_area
from platewright.geometry.primitives import Arc, Line, Point
from platewright.geometry.regions.chain import chain
from platewright.geometry.regions.nesting import nest
from tests.geometry.helpers import generated


def line(a, b) -> Line:
    return Line(Point(*a), Point(*b))


SQUARE = [line((0, 0), (10, 0)), line((10, 10), (10, 0)), line((0, 10), (10, 10)), line((0, 0), (0, 10))]


def codes(chained) -> list[str]:
    return sorted(f.code for f in chained.findings)


def test_shuffled_and_turned_edges_come_back_as_the_contours_they_were() -> None:
    rng = np.random.default_rng(61)
    for _, profile, _ in generated(60, seed=61):
        edges = [e for c in profile.contours() for e in c.edges()]
        turned = [
            e if rng.random() < 0.5 else
            line((e.end.x, e.end.y), (e.start.x, e.start.y)) if isinstance(e, Line) else
            Arc(e.centre, e.radius, e.start_angle + e.sweep, -e.sweep)
            for e in edges
        ]  # fmt: skip
        order = rng.permutation(len(edges))
        made = chain([turned[k] for k in order])
        assert made.open == ()
        (again,) = nest(made.closed)
        assert again.area() == pytest.approx(profile.area(), rel=1e-9)
        assert sorted(len(h) for h in again.holes) == sorted(len(h) for h in profile.holes)
        assert len(again.outer) == len(profile.outer)


def test_a_square_beside_a_stray_line_gives_the_square_and_a_finding() -> None:
    made = chain([*SQUARE, line((20, 0), (30, 0))])
    assert [c.rows.tolist() for c in made.closed] == [Contour.rectangle(10, 10).rows.tolist()]
    assert [len(c) for c in made.open] == [1]
    assert codes(made) == ["G001"]
    assert made.findings[0].values["gap"] == 10


def test_a_line_hanging_off_a_square_does_not_keep_it_from_closing() -> None:
    made = chain([*SQUARE, line((10, 0), (15, -3)), line((15, -3), (18, 0))])
    assert len(made.closed) == 1
    assert [len(c) for c in made.open] == [2]
    assert codes(made) == ["G001", "G005"]


def test_a_line_across_a_square_is_left_open_and_reported() -> None:
    made = chain([*SQUARE, line((0, 0), (10, 10))])
    assert signed_area(made.closed[0]) == 100
    assert [len(c) for c in made.open] == [1]
    assert codes(made) == ["G001", "G005", "G005"]


def test_squares_touching_at_a_corner_are_two() -> None:
    other = [line((a.start.x + 10, a.start.y + 10), (a.end.x + 10, a.end.y + 10)) for a in SQUARE]
    made = chain([*other, *SQUARE])
    assert [signed_area(c) for c in made.closed] == [100, 100]


def test_a_square_within_a_square_joined_by_a_bridge() -> None:
    inner = [
        line((3, 3), (7, 3)), line((7, 3), (7, 7)), line((7, 7), (3, 7)), line((3, 7), (3, 3)), line((3, 3), (0, 0)),
    ]  # fmt: skip
    made = chain([*SQUARE, *inner])
    assert sorted(signed_area(c) for c in made.closed) == [16, 100]
    assert [len(c) for c in made.open] == [1]


def test_gaps_are_closed_up_to_the_gap_allowed_and_each_is_reported() -> None:
    loose = [
        line((0, 0), (10, 0)),
        line((10, 10.03), (10, 0.02)),
        line((0, 10), (9.97, 10)),
        line((0, 0.01), (0, 10)),
    ]
    made = chain(loose, gap=0.05)
    assert made.closed[0].rows == pytest.approx(Contour.rectangle(10, 10).rows)
    assert sorted(round(f.values["gap"], 4) for f in made.findings) == [0.01, 0.02, 0.0424]
    strict = chain(loose, gap=0.015)
    assert strict.closed == ()
    assert codes(strict) == ["G001", "G001", "G002"]


def test_a_gap_in_line_is_bridged_and_arcs_keep_their_centres() -> None:
    parts = [Arc(Point(0, 0), 5, 0.01, math.pi - 0.01), line((-5, 0), (5, 0))]
    made = chain(parts, gap=0.1)
    assert arc_data(made.closed[0]).centre[0] == pytest.approx([0, 0], abs=1e-9)
    assert length(made.closed[0]) == pytest.approx(10 + 5 * math.pi, abs=0.01)
    split = chain([*SQUARE[1:], line((0, 0), (4, 0)), line((4.03, 0), (10, 0))], gap=0.05)
    assert len(split.closed[0]) == 6
    assert signed_area(split.closed[0]) == pytest.approx(100)


def test_edges_drawn_twice_partly_twice_and_of_no_length_are_dropped() -> None:
    twice = [*SQUARE, SQUARE[0], line((10, 0), (10, 10)), line((2, 0), (6, 0)), line((5, 5), (5, 5))]
    arcs = [Arc(Point(30, 0), 4, 0, math.pi), Arc(Point(30, 0), 4, math.pi, -math.pi), line((26, 0), (34, 0))]
    made = chain([*twice, *arcs])
    assert len(made.closed) == 2
    assert made.open == ()
    assert codes(made) == ["G003", "G004", "G016"]


def test_circles_of_one_arc_and_nearly_closed_ones() -> None:
    full = chain([Arc(Point(3, 4), 5, 1, math.tau), Arc(Point(3, 4), 5, 2, -math.tau)])
    assert signed_area(full.closed[0]) == pytest.approx(25 * math.pi)
    assert codes(full) == ["G003"]
    nearly = chain([Arc(Point(0, 0), 5, 0.001, math.tau - 0.002)])
    assert signed_area(nearly.closed[0]) == pytest.approx(25 * math.pi, abs=0.001)
    hair = chain([Arc(Point(0, 0), 5, 0, math.tau - 1e-6)])
    assert signed_area(hair.closed[0]) == pytest.approx(25 * math.pi, abs=1e-4)


def test_nothing_and_nonsense() -> None:
    assert chain([]).closed == ()
    with pytest.raises(InputError, match="0 or more"):
        chain(SQUARE, gap=-1)
    assert chain([line((1, 1), (1, 1))]).closed == ()


def test_nesting_by_even_and_odd_depth() -> None:
    rings = [Contour.circle(0, 0, r) for r in (2, 10, 6, 1)] + [
        Contour.circle(30, 0, 3),
        Contour.circle(0, 8, 1),
    ]
    profiles = nest(rings)
    assert sorted(round(p.area() / math.pi, 6) for p in profiles) == [3, 9, 100 - 36 - 1]
    assert nest([]) == ()


def test_ten_thousand_edges_in_a_second_of_work() -> None:
    import time

    rng = np.random.default_rng(62)
    edges = []
    for x in range(50):
        for y in range(50):
            c = Contour.rectangle(8, 8, x=10 * x, y=10 * y)
            edges += list(c.edges())
    began = time.process_time()
    made = chain([edges[k] for k in rng.permutation(len(edges))])
    assert len(made.closed) == 2500
    assert time.process_time() - began < 4
