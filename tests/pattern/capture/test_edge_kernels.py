"""The edge search's compiled loops against plain ones: the cheapest path, what the camera would write, who holds where."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from platewright.pattern.capture.camera.response import MIX
from platewright.pattern.capture.edge.kernels import Camera, Scene, closed_path, painted
from platewright.pattern.capture.edge.light import KNOTS


def _jump(far: float, spread: float, most: float) -> float:
    return min(0.5 * (far / spread) ** 2, most)


def test_the_path_round_a_loop_costs_no_more_than_any_other() -> None:
    rng = np.random.default_rng(3)
    for _ in range(4):
        # two places far better than all others tell where the path passes on both sides of those between
        costs = rng.uniform(0, 4, (5, 3, 5))
        costs[[0, 2]] += 40.0
        costs[[0, 2], 1, 2] = 0.0
        shade, place = closed_path(costs, 0.1, 0.15, 0.8, 3.0)

        def price(states: tuple[tuple[int, int], ...], costs: np.ndarray = costs) -> float:
            total = 0.0
            for i, (s, k) in enumerate(states):
                before = states[i - 1]
                total += float(costs[i, s, k]) + _jump(s - before[0], 0.8, 3.0)
                total += _jump(0.1 * (k - before[1]), 0.15, 3.0)
            return total

        every = itertools.product(itertools.product(range(3), range(5)), repeat=3)
        least = min(price(((1, 2), a, (1, 2), b, c)) for a, b, c in every)
        found = tuple((int(s), int(k)) for s, k in zip(shade, place, strict=True))
        assert price(found) == pytest.approx(least)


def _paint(state: np.ndarray, soften: np.ndarray, toned: float = 0.0) -> np.ndarray:
    span = np.arange(-2.4, 4.0, 0.1)
    one = np.ones(len(state))
    return painted(
        np.arange(len(state)), state,
        Scene(
            span, 0.8 * one, 0.25 * one, np.tile([[0.5, 0.35, 0.2], [0.08, 0.1, 0.12]], (len(state), 1, 1)), KNOTS,
            np.tile([0.2, 0.15, 0.1], (len(state), 1)), 3.0,
        ),
        Camera(MIX, np.array([0.0 if toned else 0.4, 2.0, toned]), soften, np.array([0.25, 0.5, 0.25])),
    )  # fmt: skip


@pytest.mark.parametrize("toned", [0.0, 0.5])
def test_slopes_of_what_the_camera_writes_are_the_numerical_ones(toned: float) -> None:
    state = np.array([[0.12, 0.1, 0.95, 0.02, 0.05, 0.4, 0.5, 0.3, 0.8, 0.9, 1.0, 1.0, 1.05, 1.0, 0.2]])
    bell = np.array([0.2, 0.6, 0.2])
    made = _paint(state, bell, toned)[0]
    for k in range(state.shape[1]):
        step = 0.03 * np.eye(state.shape[1])[k]
        more, less = (_paint(state + sign * step, bell, toned)[0, ..., -1] for sign in (1, -1))
        # the step of a bell is read from a table of 1/256 standard deviations, so no finer
        assert made[..., k] == pytest.approx((more - less) / 0.06, abs=0.08 * np.abs(made[..., k]).max())


def test_colour_differences_are_softened_and_brightness_is_not() -> None:
    state = np.array([[0.0, 0.0, 1.0, 0.0, 0.0, 0.4, 0.4, 0.4, *np.ones(6), 0.0]])
    bell = np.exp(-0.5 * (np.arange(-8, 9) / 2.0) ** 2)
    plain, soft = _paint(state, np.ones(1))[0, ..., -1], _paint(state, bell / bell.sum())[0, ..., -1]
    assert soft[0] == pytest.approx(plain[0], abs=1e-12)
    for y in (1, 2):
        assert soft[y] == pytest.approx(
            gaussian_filter1d(plain[y], 2.0, mode="nearest", truncate=4.0), abs=1e-4
        )
