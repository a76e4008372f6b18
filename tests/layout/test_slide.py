"""All pieces moved at once: half-planes keep out by a second library, lengths by closed form, never an overlap."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point, Polygon, affinity, unary_union

from platewright.geometry import Floats
from platewright.layout.problem import Piece, Problem, Shape
from platewright.layout.search.kernels import inside
from platewright.layout.search.press import Press, SqueezeOptions, State
from platewright.layout.search.slide import Slide
from platewright.layout.search.tables import edge_rows, make_tables, sides_of
from platewright.layout.search.walls import walls
from platewright.layout.shape.loops import Loops

HOOK = np.array(
    [(0, 0), (60, 0), (60, 60), (40, 60), (40, 20), (20, 20), (20, 60), (0, 60)], dtype=np.float64
)


def _region(rng: np.random.Generator) -> tuple[Polygon, Loops]:
    """Return a hooked region, often with a hole, as a second library has it and as loops, outer first."""
    hook = Polygon(HOOK)
    made = unary_union(
        [
            affinity.translate(affinity.rotate(hook, a), *rng.uniform(-25, 25, 2))
            for a in rng.uniform(0, 360, 3)
        ]
    )
    polygon = max(getattr(made, "geoms", [made]), key=lambda p: p.area)
    polygon = Polygon(polygon.exterior, polygon.interiors)
    loops = [np.asarray(polygon.exterior.coords)[:-1][:: 1 if polygon.exterior.is_ccw else -1]]
    loops += [np.asarray(h.coords)[:-1][:: -1 if h.is_ccw else 1] for h in polygon.interiors]
    return polygon, tuple(loops)


@pytest.mark.parametrize("seed", range(40))
def test_within_its_walls_and_reach_no_point_lies_in_the_region(seed: int) -> None:
    rng = np.random.default_rng(seed)
    polygon, loops = _region(rng)
    sides = sides_of(edge_rows(loops))
    out = np.zeros((8, 3))
    corners = np.vstack(loops)
    spots = [*rng.uniform(-80, 100, (30, 2)), *corners[rng.integers(0, len(corners), 6)]]
    for x, y in np.array(spots).tolist():
        reach = float(rng.uniform(3, 15))
        within = polygon.contains(Point(x, y))
        if within and polygon.boundary.distance(Point(x, y)) > 2:
            continue
        count = walls(sides, 0, sides.shape[1], x, y, reach, out)
        n, c = out[:count, :2], out[:count, 2]
        if not within:
            assert (n @ (x, y) >= c - 1e-6).all()
        around = (x, y) + rng.uniform(-reach, reach, (200, 2)) * 0.7
        kept = around[(around @ n.T >= c + 1e-6).all(axis=1)] if count else around
        assert not any(polygon.contains(Point(p)) for p in kept), (seed, x, y)


def _press(shapes: list[Floats], room: tuple[float, float], counts: list[int]) -> Press:
    box = np.array([(0, 0), (room[0], 0), room, (0, room[1])], dtype=np.float64)
    pieces = tuple(Piece(i) for i, n in enumerate(counts) for _ in range(n))
    problem = Problem(
        shapes=tuple(Shape(raw=(p,), big=(p,), angles=(0.0,)) for p in shapes), pieces=pieces, room=(box,)
    )
    tables = make_tables(problem)
    assert tables is not None
    return Press(problem, tables, range(len(pieces)), seed=1, options=SqueezeOptions())


def _box(w: float, h: float) -> Floats:
    return np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=np.float64)


def _state(press: Press, *at: tuple[float, float]) -> State:
    form = np.array([press.choices[i, 0] for i in range(press.n)])
    return State(np.array(at, dtype=np.float64), form)


def test_a_row_closes_up_to_the_sum_of_its_widths() -> None:
    press = _press([_box(100, 40), _box(70, 50)], (1000, 60), [2, 1])
    begun = _state(press, (3, 5), (240, 11), (120, 4))
    assert press.length(press.compacted(begun)) == pytest.approx(270, abs=1e-3)


def test_a_piece_slides_into_a_hook_and_round_no_corner() -> None:
    """A bar in the mouth of a hook that lies on its back goes in to the floor: 20 mm of hook, 60 mm of bar."""
    hook = HOOK @ np.array([[0.0, -1.0], [1.0, 0.0]])  # its mouth looks to the right
    hook = hook - hook.min(axis=0)
    press = _press([hook, _box(60, 19)], (400, 60), [1, 1])
    assert press.length(press.compacted(_state(press, (0, 0), (55, 20.5)))) == pytest.approx(80, abs=1e-3)
    before = press.compacted(_state(press, (0, 0), (130, 0)))  # in front of an arm: no way but round it
    assert press.length(before) == pytest.approx(120, abs=1e-3)


def test_overlaps_a_length_has_room_for_are_parted_exactly() -> None:
    press = _press([_box(50, 50)], (400, 150), [6])
    begun = _state(press, *[(x, y) for x in (1, 48) for y in (0, 46, 99)])
    overlap, state = press.slid(begun, 100.001, press.overlap(begun.pos, begun.form))
    assert overlap == 0.0
    assert press.length(state) <= 100.001 + 1e-9
    less, _ = press.slid(begun, 99.0, press.overlap(begun.pos, begun.form))
    assert less == pytest.approx(3.0, abs=0.2)  # three rows, each a millimetre short


def test_places_that_fill_a_room_to_the_micrometre_count_as_free() -> None:
    """Three boxes of 50 mm fill 150 mm of height exactly: no spare is asked where there is none."""
    press = _press([_box(50, 50)], (400, 150), [3])
    begun = _state(press, (10, 0), (12, 49.8), (11, 100))
    overlap, state = press.slid(begun, 62.0, press.overlap(begun.pos, begun.form))
    assert overlap == 0.0
    assert press.length(press.compacted(state)) == pytest.approx(50, abs=1e-3)


def test_held_pieces_stay() -> None:
    press = _press([_box(50, 50)], (400, 150), [3])
    press.movable[1] = False
    press.slide = Slide(press.tables, press.movable)
    state = press.compacted(_state(press, (100, 0), (200, 0), (300, 60)))
    assert state.pos[1].tolist() == [200, 0]
    assert press.length(state) == pytest.approx(250)


@pytest.mark.parametrize("seed", range(4))
def test_level_with_a_corner_no_side_counts_twice_or_not_at_all(seed: int) -> None:
    rng = np.random.default_rng(seed)
    polygon, loops = _region(rng)
    loops = tuple(p + rng.uniform(-1e3, 1e3, 2) / 3 for p in loops[:1])
    polygon = Polygon(loops[0])
    sides = sides_of(edge_rows(loops))
    low, high = loops[0][:, 0].min() - 5, loops[0][:, 0].max() + 5
    for corner in loops[0]:
        for x in rng.uniform(low, high, 40):
            if polygon.boundary.distance(Point(x, corner[1])) > 1e-9:
                assert inside(sides, 0, sides.shape[1], x, corner[1]) == polygon.contains(Point(x, corner[1]))
