"""Settling: into a corner by closed form; never deeper than before, and hardly ever less deep nearby, by a second library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import MultiPoint, Point, Polygon

from platewright.geometry import Floats
from platewright.layout.problem import Piece, Problem, Shape, Spot
from platewright.layout.search import kernels
from platewright.layout.search.press import Press, SqueezeOptions, State
from platewright.layout.search.settle import settle
from platewright.layout.search.tables import make_tables

ROOM = np.array([(0, 0), (900, 0), (900, 900), (0, 900)], dtype=np.float64)
BOX = np.array([(0, 0), (100, 0), (100, 100), (0, 100)], dtype=np.float64)


def _press(shapes: list[Floats], places: Floats) -> tuple[Press, State]:
    made = tuple(Shape(raw=(p,), big=(p,), angles=(0.0,)) for p in shapes)
    problem = Problem(shapes=made, pieces=tuple(Piece(k) for k in range(len(shapes))), room=(ROOM,))
    tables = make_tables(problem)
    assert tables is not None
    press = Press(problem, tables, range(len(shapes)), seed=1, options=SqueezeOptions())
    return press, press.state_of([Spot(k, x, y, 0.0) for k, (x, y) in enumerate(places.tolist())])


def _settled(press: Press, state: State, i: int, reach: float) -> tuple[float, float, float]:
    t, form, span = press.tables, int(state.form[i]), np.empty(4)
    press.weights[:] = 1.0
    kernels._span(kernels.Room(np.array(t.room), t.lows, t.highs), form, span)
    x, y = state.pos[i].tolist()
    pieces = press.pieces_of(state.pos, state.form)
    return settle(t.look(), pieces, press.work, span, i, form, (x, y), (reach, 1e-4), 1e-6)


def _depth(others: list[Floats], mine: Floats) -> float:
    """Return how deep a convex polygon lies in others in sum [mm]: of their corners' differences a second library makes the region."""
    total = 0.0
    for other in others:
        region = MultiPoint([tuple(a - b) for a in other for b in mine]).convex_hull
        assert isinstance(region, Polygon)
        here = Point(0.0, 0.0)
        total += region.exterior.distance(here) if region.contains(here) else 0.0
    return total


def test_a_piece_goes_into_the_corner_of_two_others() -> None:
    press, state = _press([BOX, BOX, BOX], np.array([(100.0, 200.0), (200.0, 100.0), (197.0, 195.0)]))
    x, y, left = _settled(press, state, 2, 8.0)
    assert (x, y) == pytest.approx((200.0, 200.0), abs=1e-5)
    assert left == 0.0


def test_a_slot_of_no_slack_is_found() -> None:
    press, state = _press([BOX, BOX, BOX], np.array([(100.0, 300.0), (300.0, 300.0), (203.0, 297.0)]))
    x, _, left = _settled(press, state, 2, 8.0)
    assert x == pytest.approx(200.0, abs=1e-5)
    assert left == 0.0


def test_it_ends_no_deeper_than_before_and_where_the_way_is_up_all_round() -> None:
    rng = np.random.default_rng(11)
    shallow, freed, valleys = 0, 0, 0
    for _ in range(60):
        shapes = []
        for _ in range(5):
            turns = np.sort(rng.uniform(0, math.tau, 7))
            shapes.append(
                np.column_stack([np.cos(turns), np.sin(turns)]) * rng.uniform(60, 110, (1, 2)) + 120
            )
        places = rng.uniform(300, 600, (5, 2))
        press, state = _press(shapes, places)
        others = [p + q for p, q in zip(shapes[1:], places[1:], strict=True)]
        before = _depth(others, shapes[0] + places[0])
        x, y, left = _settled(press, state, 0, 6.0)
        assert left == pytest.approx(_depth(others, shapes[0] + (x, y)), abs=2e-3)
        assert left <= before + 2e-3
        shallow += 0.0 < before < 60.0
        freed += 0.0 < before < 60.0 and left == 0.0
        ring = [(x + math.cos(a), y + math.sin(a)) for a in np.arange(0, math.tau, 0.2)]
        valleys += min(_depth(others, shapes[0] + p) for p in ring) >= 0.97 * left
    assert shallow >= 15
    assert freed >= 0.8 * shallow, (freed, shallow)
    assert valleys >= 57, valleys
