"""Among grain: what juts out of a straight, doubtful stretches, and corners that may be sharp or round, on outlines of known truth."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.geometry import Contour, distances, flatten
from platewright.geometry.edit import filleted
from platewright.pattern.corners import sharpened
from platewright.pattern.gaps import STEP, completed
from platewright.pattern.loops import even

TRUTH = Contour.rectangle(80, 50)


def _walked(contour: Contour, noise: float = 0.02) -> np.ndarray:
    loop = even(flatten(contour, tolerance=0.001), STEP)
    return np.asarray(loop + np.random.default_rng(3).normal(0, noise, loop.shape))


def _bumped(loop: np.ndarray, *, high: float, wide: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the loop with its lower side pushed out by `high` over `wide` about x = 40 [mm], and where."""
    share = np.clip(1 - np.abs(loop[:, 0] - 40) / (wide / 2), 0, 1) * (loop[:, 1] < 5)
    return loop - np.column_stack([np.zeros(len(loop)), high * share]), share > 0


def test_a_nib_is_cut_off_and_told_in_full_among_grain_and_kept_elsewhere() -> None:
    loop, there = _bumped(_walked(TRUTH), high=2.5, wide=3.0)
    sd = np.full(len(loop), 0.1)
    made, error = sharpened(loop, step=STEP, sd=sd, among_grain=True)
    assert distances(TRUTH, made).max() < 0.2
    assert 1.96 * error[there].max() > 2.0
    kept, _ = sharpened(loop, step=STEP, sd=sd)
    assert distances(TRUTH, kept).max() > 2.0


@pytest.mark.parametrize(("sd", "left"), [(0.4, False), (0.1, True)])
def test_a_doubtful_stretch_of_a_straight_is_carried_on_and_a_sure_one_kept(sd: float, left: bool) -> None:
    loop, there = _bumped(_walked(TRUTH), high=0.8, wide=8.0)
    edge = completed(loop, np.where(there, sd, 0.05))
    assert (distances(TRUTH, edge.points[there]).max() > 0.5) == left
    assert (edge.sd[there].max() > sd) == (not left)


def test_a_rounding_that_was_seen_stays_round() -> None:
    truth = TRUTH
    for vertex in (3, 2, 1, 0):
        truth = filleted(truth, vertex, 3.0)
    loop = _walked(truth)
    edge = completed(loop, np.full(len(loop), 0.05))
    assert distances(truth, edge.points).max() < 0.15
