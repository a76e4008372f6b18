"""The edge on a pale bench, against the renderer's truth; corners and unseen stretches, against closed forms."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from examples.camera.render import cached
from examples.camera.scene import random_scene
from examples.camera.shapes import tab

from platewright.geometry.contour import Floats
from platewright.pattern.capture.edge.corners import UNSEEN, sharpened
from platewright.pattern.capture.photo import PhotoOptions, read_photo

CACHE = Path(__file__).parents[2] / ".cache"
STEP = 0.4


def even(corners: Floats) -> Floats:
    """Return points each 0.4 mm round a polygon."""
    legs = np.roll(corners, -1, axis=0) - corners
    return np.vstack(
        [
            a + np.linspace(0, 1, round(float(np.hypot(*d)) / STEP), endpoint=False)[:, None] * d
            for a, d in zip(corners, legs, strict=True)
        ]
    )


def rounded(points: Floats, width: float) -> Floats:
    """Return the loop softened along itself by a bell of a width [mm], as a measured one is."""
    reach = np.arange(-12, 13)
    bell = np.exp(-0.5 * (reach * STEP / width) ** 2)
    return np.asarray(
        sum(b * np.roll(points, k, axis=0) for b, k in zip(bell / bell.sum(), reach, strict=True))
    )


SQUARE = np.array([(0.0, 0.0), (30.0, 0.0), (30.0, 30.0), (0.0, 30.0)])


def nearest(points: Floats, corner: Floats) -> float:
    return float(np.hypot(*(points - corner).T).min())


def test_a_pale_bench_neither_grows_the_outline_nor_shrinks_the_hole() -> None:
    scene = random_scene(117, bench="light", profile=tab(), board=3.0, cards=6, megapixels=12.2)
    found = read_photo([cached(scene, CACHE)], options=PhotoOptions(thickness=3.0, bars=(180.0, 200.0)))
    assert found.outer is not None
    (hole,) = found.holes
    # a bias b across the edge makes an outline's area larger by b times its length
    length = 60 + 2 * 30 + np.pi * 30
    truth = 60 * 30 + np.pi * 30**2 / 2
    assert (found.outer.area() - truth) / length == pytest.approx(0, abs=0.06)
    assert 2 * np.sqrt(-hole.area() / np.pi) == pytest.approx(20.0, abs=0.15)


def test_corners_stand_where_their_sides_meet() -> None:
    measured = rounded(even(SQUARE), 0.6)
    assert min(nearest(measured, c) for c in SQUARE) > 0.3
    made, sd = sharpened(measured, step=STEP, sd=np.full(len(measured), 0.02))
    assert max(nearest(made, c) for c in SQUARE) < 0.02
    assert len(made) == len(measured)
    assert sd.max() > 0.1  # what was laid anew is known less well


@pytest.mark.parametrize("radius", [4.0, 8.0])
def test_a_real_round_stays_round(radius: float) -> None:
    turn = np.linspace(-np.pi / 2, 0, 20)
    arc = np.column_stack([30 - radius + radius * np.cos(turn), radius + radius * np.sin(turn)])
    loop = even(np.vstack([[0.0, 0.0], arc, [30.0, 30.0], [0.0, 30.0]]))
    made, _ = sharpened(rounded(loop, 0.5), step=STEP, sd=np.full(len(loop), 0.02))
    assert nearest(made, np.array([30.0, 0.0])) > 0.4 * radius


def test_a_crumb_on_a_straight_edge_is_bridged_but_stays_unseen() -> None:
    loop = even(SQUARE)
    sd = np.full(len(loop), 0.02)
    under = (np.abs(loop[:, 0] - 15) < 1.5) & (loop[:, 1] == 0)
    loop[under, 1], sd[under] = -0.8, UNSEEN
    made, error = sharpened(loop, step=STEP, sd=sd)
    assert np.abs(made[under, 1]).max() < 0.01
    assert (error[under] == UNSEEN).all()


def test_an_unseen_step_is_not_bridged() -> None:
    step = np.array([(0.0, 0.0), (14.0, 0.0), (16.0, 2.0), (30.0, 2.0), (30.0, 30.0), (0.0, 30.0)])
    loop = even(step)
    sd = np.full(len(loop), 0.02)
    sd[(np.abs(loop[:, 0] - 15) < 1.2) & (loop[:, 1] < 3)] = UNSEEN
    made, _ = sharpened(loop, step=STEP, sd=sd)
    assert np.abs(made - loop).max() < 0.5


def test_a_crumb_the_edge_was_followed_round_is_cut_off_by_its_gap() -> None:
    # the way round the crumb is three times the gap; the edge is drawn in for a few points beside it
    loop = even(SQUARE * 2)
    off = 4.0 * np.clip(1 - ((loop[:, 0] - 30) / 2.6) ** 2, 0, None) * (loop[:, 1] == 0)
    drawn = even(loop - np.column_stack([0 * off, -off]))
    out = drawn[:, 1] * ((np.abs(drawn[:, 0] - 30) < 3) & (drawn[:, 1] < 6))
    sd = np.where(out > 0.6, UNSEEN, 0.03)
    made, error = sharpened(drawn, step=STEP, sd=sd)
    near = (np.abs(made[:, 0] - 30) < 8) & (made[:, 1] < 6)
    assert np.abs(made[near, 1]).max() < 0.02
    assert (error[out > 0.05] > 0.1).all()


def test_what_cannot_be_bridged_is_as_unsure_as_it_strays() -> None:
    # a crumb over a rounding: no straight or wide arc goes on across it
    turn = np.linspace(-np.pi / 2, 0, 40)
    arc = np.column_stack([48 + 12 * np.cos(turn), 12 + 12 * np.sin(turn)])
    loop = even(np.vstack([[0.0, 0.0], arc, [60.0, 60.0], [0.0, 60.0]]))
    sd = np.full(len(loop), 0.02)
    middle = np.array([48 + 12 * np.sqrt(0.5), 12 - 12 * np.sqrt(0.5)])
    under = np.hypot(*(loop - middle).T) < 3.0
    true = loop.copy()
    loop[under] -= 3.0 * np.array([np.sqrt(0.5), -np.sqrt(0.5)])
    sd[under] = UNSEEN
    made, error = sharpened(loop, step=STEP, sd=sd)
    miss = np.hypot(*(made - true).T)
    assert (miss < 3 * error).all()


def test_a_corner_between_wide_arcs_stands_where_the_arcs_meet() -> None:
    # two arcs of 150 mm about (0, 0) and (120, 0) meet at (60, sqrt(150² - 60²)); straights laid along their ends
    # would meet 0.2 to 0.3 mm inside
    corner = np.array([60.0, np.sqrt(150.0**2 - 60.0**2)])
    rise = np.linspace(0.5, np.arcsin(corner[1] / 150), 400)
    right = np.column_stack([150 * np.cos(rise), 150 * np.sin(rise)])
    left = np.column_stack([120 - 150 * np.cos(rise[::-1]), 150 * np.sin(rise[::-1])])
    loop = even(np.vstack([right, left]))
    made, _ = sharpened(rounded(loop, 0.6), step=STEP, sd=np.full(len(loop), 0.02))
    assert nearest(made, corner) < 0.05
    close = np.hypot(*(made - corner).T) < 6
    circles = np.abs([np.hypot(*(made[close] - c).T) - 150 for c in ((0, 0), (120, 0))])
    assert circles.min(axis=0).max() < 0.05
