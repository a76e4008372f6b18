"""The search on its own: apart by a second library, repeatable, stirred and shrunk as told, ended when told."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon

from platewright.layout.engines.first import first_layout
from platewright.layout.problem import Budget, Piece, Problem, Shape, Spot
from platewright.layout.search import kernels
from platewright.layout.search.corners import Aim, refill
from platewright.layout.search.kernels import AWAY
from platewright.layout.search.lanes import LANES
from platewright.layout.search.press import TOUCH, Press, SqueezeOptions, State
from platewright.layout.search.squeeze import Search
from platewright.layout.search.tables import Tables, make_tables
from platewright.layout.search.trades import TOUCHING

TEE = np.array([(0, 0), (90, 0), (90, 30), (60, 30), (60, 90), (30, 90), (30, 30), (0, 30)], dtype=np.float64)
BAR = np.array([(0, 0), (120, 0), (120, 25), (0, 25)], dtype=np.float64)
WEDGE = np.array([(0, 0), (80, 0), (0, 60)], dtype=np.float64)
ROOM = np.array([(0, 0), (600, 0), (600, 200), (0, 200)], dtype=np.float64)
CLIPPED = np.array([(0, 0), (600, 0), (600, 200), (60, 200), (0, 140)], dtype=np.float64)


def _problem(room: np.ndarray = ROOM, fixed: tuple[Spot, ...] = ()) -> Problem:
    turns = tuple(math.radians(a) for a in (0, 90, 180, 270))
    shapes = tuple(Shape(raw=(p,), big=(p,), angles=turns) for p in (TEE, BAR, WEDGE))
    return Problem(shapes=shapes, pieces=tuple(Piece(i % 3) for i in range(12)), room=(room,), fixed=fixed)


def _tables(problem: Problem) -> Tables:
    tables = make_tables(problem)
    assert tables is not None
    return tables


def _pressed(problem: Problem, steps: int, seed: int = 1) -> tuple[Spot, ...]:
    search = Search(problem, _tables(problem), seed=seed, used=lambda: 0.0, steps=steps)
    return search.shortened(first_layout(problem).spots)


def _apart(problem: Problem, spots: Sequence[Spot]) -> bool:
    made = [Polygon(problem.placed(s)[0]) for s in spots]
    room = Polygon(problem.room[0]).buffer(1e-3)
    return all(room.contains(p) for p in made) and all(
        made[i].intersection(made[j]).area < 1e-2 for i in range(len(made)) for j in range(i)
    )


@pytest.mark.parametrize("room", [ROOM, CLIPPED])
def test_what_is_pressed_is_shorter_whole_apart_and_repeatable(room: np.ndarray) -> None:
    problem = _problem(room)
    start = first_layout(problem).spots
    pressed = _pressed(problem, 4000)
    assert problem.used(pressed) < 0.97 * problem.used(start)
    assert sorted(s.piece for s in pressed) == list(range(12))
    assert _apart(problem, pressed)
    assert pressed == _pressed(problem, 4000)


def test_more_steps_are_never_worse_than_the_start() -> None:
    problem = _problem()
    start = problem.used(first_layout(problem).spots)
    for steps in (1, 7, 60):
        assert problem.used(_pressed(problem, steps)) <= start


def test_two_workers_give_one_sound_layout() -> None:
    problem = _problem()
    search = Search(problem, _tables(problem), seed=1, used=lambda: 0.0, steps=2000, workers=2)
    told: list[float] = []
    pressed = search.shortened(
        first_layout(problem).spots, tell=lambda spots: told.append(problem.used(spots))
    )
    assert _apart(problem, pressed)
    assert told == sorted(told, reverse=True)
    assert problem.used(pressed) == pytest.approx(told[-1])


def test_a_question_for_the_time_ends_the_search_and_nothing_else_does() -> None:
    problem = _problem()
    requested: Iterator[int] = iter(range(10**9))
    search = Search(problem, _tables(problem), seed=1, used=lambda: next(requested) / 400)
    search.shortened(first_layout(problem).spots)
    assert next(requested) == pytest.approx(400, abs=8)  # used to the end, and not past it


def test_a_search_with_nothing_left_to_use_ends_at_once() -> None:
    problem = _problem()
    start = first_layout(problem).spots
    for used, steps in ((1.0, None), (1.0, 50), (0.0, 50)):
        search = Search(problem, _tables(problem), seed=1, used=iter([used] * 99).__next__, steps=steps)
        search.moves = steps or 0  # as after fitting missing pieces
        assert search.shortened(start) == start


def _press(problem: Problem) -> tuple[Press, State]:
    tables = _tables(problem)
    spots = first_layout(problem).spots
    press = Press(problem, tables, [s.piece for s in spots], seed=5, options=SqueezeOptions())
    angles = [int(np.argmin(np.abs(np.array(problem.shapes[0].angles) - s.angle))) for s in spots]
    form = [tables.first[problem.pieces[s.piece].shape] + a for s, a in zip(spots, angles, strict=True)]
    return press, State(np.array([(s.x, s.y) for s in spots]), np.array(form, dtype=np.int64))


def test_stirring_swaps_two_large_pieces_of_different_shapes() -> None:
    press, state = _press(_problem())
    lows, highs = press.tables.lows, press.tables.highs
    for _ in range(20):
        out = press.stirred(state)
        went = np.flatnonzero((out.pos != state.pos).any(axis=1))
        shapes = {int(press.shapes[k]) for k in went}
        assert {0, 1} <= shapes  # the wedge is the small one here
        was = {tuple(np.round(v, 6)) for v in (state.pos + (lows[state.form] + highs[state.form]) / 2)[went]}
        now = {tuple(np.round(v, 6)) for v in (out.pos + (lows[out.form] + highs[out.form]) / 2)[went]}
        assert len(was & now) >= 2


def test_shrinking_moves_only_what_lies_right_of_a_cut() -> None:
    press, state = _press(_problem())
    for _ in range(20):
        went = state.pos - press.shrunk(state, 5.0).pos
        mids = state.pos[:, 0] + (press.tables.lows[state.form, 0] + press.tables.highs[state.form, 0]) / 2
        gone = went[:, 0] > 0
        assert np.allclose(went[gone], (5.0, 0.0))
        assert not went[~gone].any()
        assert not gone.any() or gone.all() or mids[~gone].max() <= mids[gone].min()


def test_held_pieces_stay_through_everything() -> None:
    held = Spot(3, 200.0, 100.0, 0.0)
    problem = _problem(fixed=(held,))
    assert next(s for s in _pressed(problem, 1500) if s.piece == 3) == held


def test_a_large_pieces_depth_counts_more() -> None:
    press, _ = _press(_problem())
    tee, wedge = (int(np.flatnonzero(press.shapes == k)[0]) for k in (0, 2))
    ratio = (press.areas[tee] / press.areas[wedge]) ** 0.5  # linear sizes
    assert press.sizes[tee, tee] / press.sizes[wedge, wedge] == pytest.approx(ratio)
    assert np.array_equal(press.sizes, press.sizes.T)


def test_a_raster_holds_the_depths_of_a_box_in_a_box() -> None:
    """Two boxes overlap by how far their corners' difference lies inside a box of both sizes: closed form, rounded up to a unit."""
    shapes = tuple(
        Shape(raw=(p,), big=(p,), angles=(0.0,))
        for p in (
            np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=np.float64) for w, h in ((90, 50), (40, 30))
        )
    )
    tables = _tables(Problem(shapes=shapes, pieces=(Piece(0), Piece(1)), room=(ROOM,)))
    for still, moving, low, size in (
        (0, 1, (-40.0, -30.0), (130.0, 80.0)),
        (1, 0, (-90.0, -50.0), (130.0, 80.0)),
    ):
        region = tables.table[still, moving]
        nx, ny = tables.raster_size[region]
        kept = tables.rasters[tables.raster_at[region] : tables.raster_at[region + 1]].reshape(nx, ny)
        x, y = (
            tables.boxes[region, k] + tables.h * np.arange(n)[:, None] - low[k]
            for k, n in enumerate((nx, ny))
        )
        deep = np.minimum(np.minimum(x, size[0] - x), np.minimum(y, size[1] - y).T).clip(0.0)
        assert (kept[deep > 1e-3] > 0).all()
        assert (np.abs(kept * tables.unit - deep) <= 1.01 * tables.unit).all()
        assert tables.unit < 1e-3


def test_a_field_is_the_sum_of_what_is_in_the_way_at_every_place() -> None:
    """Boxes in a room they stick out of on all sides: how far a box lies in another is a closed form, and so is the sum with its weights."""
    sides = ((70.0, 45.0), (38.0, 61.0), (90.0, 20.0), (55.0, 50.0), (33.0, 41.0))
    boxes = [np.array([(0, 0), (w, 0), (w, d), (0, d)]) for w, d in sides]
    shapes = tuple(Shape(raw=(b,), big=(b,), angles=(0.0,)) for b in boxes)
    problem = Problem(shapes=shapes, pieces=tuple(Piece(i) for i in range(5)), room=(ROOM[:, ::-1] / 2,))
    press = Press(problem, tables := _tables(problem), range(5), seed=1, options=SqueezeOptions())
    pos = np.array([(0.0, 0.0), (-20.0, -31.0), (71.0, 288.0), (-9.0, 120.0), (50.0, 270.0)])
    room, span = kernels.Room(np.array(tables.room), tables.lows, tables.highs), np.empty(4)
    assert kernels._span(room, 0, span)
    for j in range(1, 5):  # onto the nearest node, where a raster is exact
        shift = pos[j] + tables.boxes[tables.table[j, 0], :2] - span[:2]
        pos[j] += tables.h * np.round(shift / tables.h) - shift
    press.weights[:] = 1.0 + np.abs(np.subtract.outer(np.arange(5.0), np.arange(5.0)))
    nx, ny = (1 + int((span[2 + k] - span[k]) / tables.h) for k in range(2))
    pieces = press.pieces_of(pos, np.arange(5))
    kernels._fill(tables.look(), pieces, 0, 0, span, press.work.field, nx, ny)
    step = kernels.row_length(ny)
    rows = press.work.field[LANES : LANES + nx * step].reshape(nx, step)
    x, y = span[0] + tables.h * np.arange(nx)[:, None], span[1] + tables.h * np.arange(ny)
    wanted = np.zeros((nx, ny))
    for j in range(1, 5):
        reach = [
            np.minimum(t + sides[0][k] - pos[j, k], pos[j, k] + sides[j][k] - t) for k, t in enumerate((x, y))
        ]
        wanted += press.weights[0, j] * np.minimum(*np.broadcast_arrays(*reach)).clip(0.0)
    assert np.abs(rows[:, :ny] - wanted).max() <= 1.1 * tables.unit * press.weights[0].sum()
    assert wanted.max() > 20.0
    assert (wanted == 0.0).any()
    assert np.isinf(rows[:, ny:]).all()
    a, b, least = kernels._lowest(press.work, nx, ny)
    assert rows[a, b] == least == rows[:, :ny].min()


def test_a_budget_tells_its_share() -> None:
    assert Budget(seconds=1000.0).used()() < 0.01
    assert Budget(seconds=0.0).used()() >= 1.0
    assert Budget(seconds=1000.0, cancelled=lambda: True).used()() == 1.0
    assert Budget(seconds=0.0, steps=5).used()() == 0.0


def test_a_room_shorter_than_a_piece_gives_no_layout() -> None:
    """A piece 300 mm long asked into 290 mm: there is no place for it, so none may come out (it lay outside the room)."""
    box = np.array([(0.0, 0.0), (310.0, 0.0), (310.0, 100.0), (0.0, 100.0)])
    bar = np.array([(0.0, 0.0), (300.0, 0.0), (300.0, 40.0), (0.0, 40.0)])
    problem = Problem(shapes=(Shape(raw=(bar,), big=(bar,), angles=(0.0,)),), pieces=(Piece(0),), room=(box,))
    tables = make_tables(problem)
    assert tables is not None
    press = Press(problem, tables, [0], seed=1, options=SqueezeOptions())
    overlap, state = press.separated(State(np.array([[-10.0, 0.0]]), np.array([0])), 290.0, lambda: False)
    assert not np.isfinite(overlap)
    assert press.legal(overlap, state, 310.0) is None


def _refilled(press: Press, state: State, order: np.ndarray, window: np.ndarray) -> tuple[np.ndarray, float]:
    """Put pieces where each touches most within a window [mm]; return those put, and how many pairs were looked at [-]."""
    t, pairs, done = press.tables, np.zeros(1), np.zeros(len(order), dtype=np.bool_)
    areas, turns = press.areas[order], press.options.turns
    aim = Aim(order, press.shapes[order], areas, window, t.area, TOUCH, TOUCHING, turns, pairs)
    room = kernels.Room(np.array(t.room), t.lows, t.highs)
    pieces = press.pieces_of(state.pos, state.form)
    refill(t.look(), room, pieces, press.work, aim, done)
    return order[done], float(pairs[0])


@pytest.mark.parametrize("room", [ROOM, CLIPPED])
def test_a_piece_taken_out_of_a_full_room_finds_its_way_back(room: np.ndarray) -> None:
    """Pieces stand in corners of one another, so the place that each came from is its own witness that there is one."""
    problem = replace(_problem(room), pieces=tuple(Piece(i % 3) for i in range(45)))
    tables = _tables(problem)
    press = Press(problem, tables, range(45), seed=2, options=SqueezeOptions())
    order, whole = np.random.default_rng(2).permutation(45), np.array(tables.room)
    state = press.state_of(())
    there, _ = _refilled(press, state, order, whole)
    spots = press.spots_of(state)
    assert 20 < len(there) < 45
    assert _apart(problem, [spots[i] for i in there.tolist()])
    for i in there.tolist():
        low, high = state.pos[i] + tables.lows[state.form[i]], state.pos[i] + tables.highs[state.form[i]]
        for window in (whole, np.array([*low, *high])):
            less = state.copy()
            less.pos[i] = AWAY * (1.0 + i)
            put, pairs = _refilled(press, less, np.array([i]), window)
            assert put.tolist() == [i]
            assert pairs < 20_000  # three times as many if edges that are covered were crossed too
