"""Which reading of the cut wall holds, and what is told where the light does not say: readings written down by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.pattern.capture.checks import wall_gates
from platewright.pattern.capture.edge.search import Edge
from platewright.pattern.capture.edge.wall import ReadingCosts, choose_readings

COUNT = 40
DARK, MIDDLE, BRIGHT, AS_BENCH, AS_FACE = range(5)


def _loop(*, dearer: dict[int, float], place: dict[int, float]) -> ReadingCosts:
    """Return a loop whose readings cost 60 nats and what they are `dearer`, the edge at 0 but where a `place` is given [mm]."""
    cost = np.full((COUNT, 5), 60.0) + [dearer.get(k, 0.0) for k in range(5)]
    places = np.tile([place.get(k, 0.0) for k in range(5)], (COUNT, 1))
    face = np.tile([1.3, 1.0, 0.7], (COUNT, 1))
    wall = face[:, None, :] * np.array([0.25, 0.5, 0.8, 0.15, 1.0])[None, :, None]
    angle = np.linspace(-np.pi, np.pi, COUNT, endpoint=False)
    return ReadingCosts(
        at=np.arange(COUNT),
        count=COUNT,
        angle=angle,
        weight=np.ones(COUNT),
        cost=cost,
        place=places,
        wall=wall,
        face=face,
    )


def test_a_wall_that_passes_for_the_bench_is_reported_a_walls_width_away() -> None:
    # all that was followed ended at one place, a wall like the bench fits as well and puts the edge 0.5 mm out
    (told,) = choose_readings([_loop(dearer={}, place={AS_BENCH: 0.5})])
    assert told.place == pytest.approx(0.0)
    assert (1.96 * told.doubt > 0.4).all()
    (plain,) = choose_readings([_loop(dearer={AS_BENCH: 40.0}, place={AS_BENCH: 0.5})])
    assert (1.96 * plain.doubt < 0.05).all()


def test_a_wall_that_passes_for_the_face_is_minded_and_not_believed() -> None:
    # it fits better than what was followed, as it does wherever the light takes one step
    (told,) = choose_readings([_loop(dearer={DARK: 8.0, MIDDLE: 8.0, BRIGHT: 8.0}, place={AS_FACE: -0.6})])
    assert told.place == pytest.approx(0.0)
    assert (1.96 * told.doubt > 0.3).all()


def test_a_core_far_brighter_than_the_face_is_not_ruled_out_where_the_light_says_nothing() -> None:
    # a white core on a pale bench passes for bench: what walls are as a rule may choose, it does not acquit
    loop = _loop(dearer={}, place={AS_BENCH: 0.6})
    wall = loop.wall.copy()
    wall[:, AS_BENCH] = 2.0
    (told,) = choose_readings([replace(loop, wall=wall)])
    assert told.place == pytest.approx(0.0)
    assert (1.96 * told.doubt > 0.2).all()


def test_a_loop_that_does_not_tell_says_nothing_of_another() -> None:
    open_ = _loop(dearer={}, place={AS_BENCH: 0.5, AS_FACE: -0.1})
    apart = {DARK: 0.5, AS_BENCH: 0.5, AS_FACE: -0.1}
    alone, beside = (
        choose_readings([_loop(dearer={}, place=apart)])[0],
        choose_readings([_loop(dearer={}, place=apart), open_])[0],
    )
    assert beside.doubt == pytest.approx(alone.doubt)
    plain = _loop(
        dearer={MIDDLE: 60.0, BRIGHT: 60.0, AS_FACE: 60.0},
        place=dict.fromkeys(range(5), 0.0) | {1: -0.5, 2: -0.5, 4: -0.6},
    )
    taught = choose_readings([_loop(dearer={}, place=apart), plain])[0]
    assert taught.place == pytest.approx(0.5)


def test_doubt_of_a_whole_edge_is_a_finding() -> None:
    points = np.column_stack([np.cos(np.linspace(0, 6.2, 200)), np.sin(np.linspace(0, 6.2, 200))]) * 30
    sd = np.where(np.arange(200) < 60, 0.2, 0.03)
    edge = Edge(points=points, sd=sd, fair=1.0, blind=0.0, doubt=0.11)
    (found,) = wall_gates([edge])
    assert (found.code, found.severity) == ("C028", "look")
    assert "30 %" in found.text
    assert "0.4 mm" in found.text
    assert wall_gates([Edge(points=points, sd=sd, fair=1.0, blind=0.0, doubt=0.05)]) == []
