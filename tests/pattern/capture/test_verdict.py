"""How bright the cut wall is, and what is told where the light does not say: evidence written down by hand, and edges drawn by SciPy."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from platewright.pattern.capture.camera.response import Response
from platewright.pattern.capture.checks import wall_gates
from platewright.pattern.capture.edge import wall as walls
from platewright.pattern.capture.edge.light import (
    LoopProfiles,
    PictureStatistics,
    Wall,
    fit_light,
    profiles_of,
)
from platewright.pattern.capture.edge.search import Edge
from platewright.pattern.capture.edge.wall import (
    LEVELS,
    WallEvidence,
    choose_walls,
    wall_evidence,
)

COUNT = 40
SAME = 60.0
"""What a level costs as a rule here [nats]."""


def _loop(dearer: NDArray[np.float64], place: NDArray[np.float64]) -> WallEvidence:
    """Return a loop whose levels (K,) cost more than is the rule by `dearer` [nats] and put the edge at `place` [mm]."""
    return WallEvidence(
        at=np.arange(COUNT),
        count=COUNT,
        angle=np.linspace(-np.pi, np.pi, COUNT, endpoint=False),
        weight=np.ones(COUNT),
        cost=np.tile(SAME + dearer, (COUNT, 2)),
        place=np.tile(place, (COUNT, 2)),
        wall=np.tile(LEVELS[:, None], (COUNT, 2, 3)),
    )


DARK = LEVELS < 0.15
APART = np.where(DARK, 0.5, 0.0)
"""Edges half a millimetre apart, of a dark wall and of one that is not [mm]."""


def test_levels_between_which_the_light_does_not_choose_are_told() -> None:
    (told,) = choose_walls([_loop(0 * LEVELS, APART)])
    assert (1.96 * told.doubt > 0.2).all()
    (plain,) = choose_walls([_loop(np.where(DARK, 400.0, 0.0), APART)])
    assert plain.place == pytest.approx(0.0)
    assert (1.96 * plain.doubt < 0.05).all()


def test_a_loop_that_does_not_tell_learns_from_one_that_does() -> None:
    (dark, _) = choose_walls([_loop(0 * LEVELS, APART), _loop(np.where(DARK, 0.0, 400.0), 0 * APART)])
    assert dark.place == pytest.approx(0.5)
    assert (1.96 * dark.doubt < 0.4).all()
    (alone,) = choose_walls([_loop(0 * LEVELS, APART)])
    (beside, _) = choose_walls([_loop(0 * LEVELS, APART), _loop(0 * LEVELS, 0 * APART)])
    assert beside.doubt == pytest.approx(alone.doubt)


def test_walls_that_face_another_way_may_be_lit_otherwise() -> None:
    # half of the loop tells that it is bright; what faces away from it may be dark all the same
    loop = _loop(np.where(DARK, 400.0, 0.0), APART)
    away = np.abs(loop.angle) < 0.5
    cost = np.where(away[:, None], SAME + np.tile(np.where(DARK, 0.0, 400.0), 2), loop.cost)
    cost[np.abs(np.abs(loop.angle) - 0.8) < 0.4] = SAME
    (found,) = choose_walls([replace(loop, cost=cost)])
    assert found.place[np.abs(loop.angle) < 0.3] == pytest.approx(0.5)
    assert found.place[np.abs(loop.angle) > 1.8] == pytest.approx(0.0)


def test_levels_share_a_picture_as_all_their_ways_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(walls, "LEVELS", LEVELS[:3])
    monkeypatch.setattr(walls, "DIRECTIONS", 4)
    monkeypatch.setattr(walls, "STRETCH", 0.01)
    random = np.random.default_rng(5)
    angle = np.pi / 2 * np.array([0, 1, 1, 2, 3])
    cost = walls.CORRELATED * random.exponential(2.0, (5, 3))
    cost[0] = (0.0, 1e5, 1e5)  # one place is sure, and next to no other deviates: so the ring is a chain
    monkeypatch.setattr(walls, "ELSEWISE", 1e-12)
    monkeypatch.setattr(walls, "DEVIATES", 0.12)
    monkeypatch.setattr(walls, "USUAL_SD", 9.0)
    loop = WallEvidence(
        at=np.arange(5), count=5, angle=angle, weight=np.ones(5), cost=np.tile(cost, (1, 2)),
        place=np.zeros((5, 6)), wall=np.ones((5, 6, 3)),
    )  # fmt: skip
    (both,) = walls._probabilities([loop])
    found = both[:, :3] + both[:, 3:]

    bell = lambda apart, sd: np.exp(-0.5 * (apart / sd) ** 2)  # noqa: E731
    log = np.log(LEVELS[:3])
    turn, own = (bell(log[:, None] - log, sd) for sd in (walls.TURN, 0.12))
    own = own / own.sum(axis=1, keepdims=True)
    usual = bell(np.log(LEVELS[:3] / walls.USUAL), walls.USUAL_SD) ** (1 / 4)
    likely = np.exp(-(cost - cost.min(axis=1, keepdims=True)) / walls.CORRELATED)
    total = np.zeros((5, 3))
    for field in itertools.product(range(3), repeat=4):
        prior = np.prod([usual[f] * turn[field[d - 1], f] for d, f in enumerate(field)])
        given = [own[field[d]] * likely[i] for i, d in enumerate((0, 1, 1, 2, 3))]
        whole = prior * np.prod([g.sum() for g in given])
        total += [whole * g / g.sum() for g in given]
    assert found == pytest.approx(total / total.sum(axis=1, keepdims=True), abs=1e-4)


PIXEL, BLUR, WIDE, THICK = 0.2, 0.7, 0.6, 3.0
FACE = np.array([0.30, 0.22, 0.14])
PLAIN = PictureStatistics(0.0, np.array([1 / 0.006**2] * 3), 0.0, Response(BLUR))


def _across(
    wall: float, bench: float, response: Response, *, face: NDArray[np.float64] = FACE, wide: float = WIDE
) -> LoopProfiles:
    """Return sixty profiles of face | wall | bench, the edge at 0, softened and sharpened by SciPy and stored by the standard's tone curve; wall and bench so bright over the face [-]."""
    fine = np.arange(-6.0, 7.0, 0.01)
    beyond = np.where(fine[:, None] < wide, wall * face, np.full(3, bench * face.mean()))
    light = np.where(fine[:, None] < 0, face, beyond)
    soft = gaussian_filter1d(light, BLUR * PIXEL / 0.01, axis=0)
    halo = soft - gaussian_filter1d(soft, response.breadth * PIXEL / 0.01, axis=0)
    grey = (response.amount * halo @ (0.299, 0.587, 0.114))[:, None]
    light = np.clip(soft + grey, 0.0, 1.0)
    tone = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    span = np.arange(-4.0, 5.01, 0.1)
    one = np.stack([np.interp(span, fine, tone[:, c]) for c in range(3)], axis=-1)
    noise = gaussian_filter1d(np.random.default_rng(7).normal(0, 0.006, (60, len(span), 3)), 1.0, axis=1)
    return LoopProfiles(
        stored=np.clip(one + noise, 0, 1), span=span, wall=np.full(60, wide), sigma=np.full(60, BLUR * PIXEL),
        along=0.8, pixel=PIXEL, wider=0.03, response=response, thick=THICK,
    )  # fmt: skip


@pytest.mark.parametrize("bench", [0.15, 0.5, 2.0])
@pytest.mark.parametrize("wall", [0.05, 0.25, 0.6, 1.0, 1.6])
def test_a_wall_of_any_brightness_is_found_or_told(wall: float, bench: float) -> None:
    # three pixels wide; as dark as the bench or as bright as the face it leaves one step, and more than one place is told
    across = _across(wall, bench, PLAIN.response)
    starts = [np.full(60, v) for v in (0.3, 0.0, -0.3)]
    evidence, _ = wall_evidence(across, np.tile([1.0, 0.0], (60, 1)), starts, PLAIN)
    (verdict,) = choose_walls([evidence])
    assert (np.abs(verdict.place) < np.maximum(0.05, 3 * verdict.doubt)).all()
    if min(abs(np.log(wall / bench)), abs(np.log(wall))) > 0.5:
        assert np.abs(verdict.place).max() < 0.06


def test_a_dark_wall_that_sharpening_paints_black_is_fitted_to_the_end() -> None:
    # below black the tone curve has no slope, and the fit crawls: six steps leave it five nats dearer than it is
    response = Response(BLUR, 0.7, 1.3)
    across = _across(0.06, 0.15, response, face=np.array([0.9, 0.88, 0.8]), wide=0.9)
    profiles = profiles_of(across, np.zeros(60), np.zeros(60))
    habits = replace(PLAIN, response=response)
    dark = Wall(0.02 * profiles.face, 2.0, 1.0)
    early, usual, late = (
        fit_light(profiles, habits, dark, place=np.full(60, 0.1), **rounds)[0].cost.mean()
        for rounds in ({"rounds": 6}, {}, {"rounds": 200})
    )
    assert usual == pytest.approx(late, abs=0.3)
    assert early > late + 1.0


def test_doubt_of_a_whole_edge_is_a_finding() -> None:
    points = np.column_stack([np.cos(np.linspace(0, 6.2, 200)), np.sin(np.linspace(0, 6.2, 200))]) * 30
    sd = np.where(np.arange(200) < 60, 0.2, 0.03)
    edge = Edge(points=points, sd=sd, fair=1.0, blind=0.0, doubt=0.11)
    (found,) = wall_gates([edge])
    assert (found.code, found.severity) == ("C028", "look")
    assert "30 %" in found.text
    assert "0.4 mm" in found.text
    assert wall_gates([Edge(points=points, sd=sd, fair=1.0, blind=0.0, doubt=0.05)]) == []
