"""Lines that are all but parallel meet anywhere: none may come to run against its samples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.fit.chain import Chain, in_order, refine
from platewright.fit.edges.merge import unfolded
from platewright.fit.profile import FitOptions, fit_outline
from platewright.geometry import signed_area
from platewright.geometry.contour import Floats

CORNERS = np.array([(0.0, 0.0), (120.0, 0.0), (120.0, 60.0), (0.0, 60.0)])


def _walked(corners: Floats, step: float) -> tuple[Floats, Floats]:
    """Return samples along a closed polygon and the side each lies on."""
    points, sides = [], []
    for k, (a, b) in enumerate(zip(corners, np.roll(corners, -1, axis=0), strict=True)):
        count = int(np.hypot(*(b - a)) / step)
        points.append(a + np.arange(count)[:, None] / count * (b - a))
        sides.append(np.full(count, k))
    return np.vstack(points), np.concatenate(sides)


def _folded(rise: float, out: float) -> Chain:
    """Return a rectangle whose upper side is read as three lines, the middle one running back, its ends `out` past each other."""
    points, labels = _walked(CORNERS, 0.5)
    x = points[labels == 2][:, 0]
    upper = np.where(x > 70, 60.0, np.where(x < 50, 60.0 + rise, 60.0 + rise * (70 - x) / 20))
    points[labels == 2, 1] = upper
    kinds = np.where(labels == 2, 2 + (points[:, 0] <= 70) + (points[:, 0] < 50), labels + 2 * (labels == 3))
    rows = np.zeros((6, 3))
    rows[:, :2] = [(0, 0), (120, 0), (120, 60), (60 - out, 60.0), (60 + out, 60.0 + rise), (0, 60 + rise)]
    n = len(points)
    return Chain(
        points=points,
        weights=np.ones(n),
        labels=kinds.astype(np.int64),
        rows=rows,
        arcs=np.zeros(6, bool),
        closed=True,
        frozen=np.zeros(n, bool),
    )


def _against(chain: Chain) -> list[int]:
    ends = np.roll(chain.rows[:, :2], -1, axis=0)
    found = []
    for k in range(len(chain.arcs)):
        own = in_order(chain, k)
        run = chain.points[own[-1]] - chain.points[own[0]]
        if run @ (ends[k] - chain.rows[k, :2]) < 0:
            found.append(k)
    return found


@pytest.mark.parametrize("out", [2.0, 15.0, 30.0])
def test_a_line_that_runs_back_is_given_to_its_neighbour(out: float) -> None:
    chain = _folded(0.3, out)
    assert _against(chain) == [3]
    straight, _ = unfolded(chain, refine(chain, rounds=0)[1])
    assert _against(straight) == []
    assert len(straight.arcs) == 5
    low, high = straight.rows[:, :2].min(axis=0), straight.rows[:, :2].max(axis=0)
    assert np.abs(low).max() < 0.5
    assert np.abs(high - (120, 60)).max() < 0.5


def test_a_chain_without_folds_stays_as_it_is() -> None:
    chain = _folded(0.3, -10.0)
    here = refine(chain, rounds=0)[1]
    assert unfolded(chain, here) == (chain, here)


@pytest.mark.parametrize("seed", range(12))
def test_sides_with_steps_and_bumps_come_out_in_order(seed: int) -> None:
    """What a grain's edge does to a straight: pieces of it lie a few tenths beside it, sloping back."""
    rng = np.random.default_rng(seed)
    points, labels = _walked(CORNERS, 0.4)
    points = points + rng.normal(0, 0.04, points.shape)
    for side in (0, 2):
        along = points[labels == side, 0]
        for _ in range(3):
            at, wide, high = rng.uniform(15, 105), rng.uniform(3, 9), rng.uniform(-0.35, 0.35)
            points[labels == side, 1] += high * np.clip(1 - np.abs(along - at) / wide, 0, 1)
    fit = fit_outline(points, options=FitOptions(noise=0.05))
    low, high = fit.contour.starts.min(axis=0), fit.contour.starts.max(axis=0)
    assert np.abs(low).max() < 0.6
    assert np.abs(high - (120, 60)).max() < 0.6
    assert math.isclose(signed_area(fit.contour), 7200.0, rel_tol=0.01)
    turn = np.diff(np.vstack([fit.contour.starts, fit.contour.starts[:1]]), axis=0)
    ahead = np.roll(turn, -1, axis=0)
    assert ((turn * ahead).sum(axis=1) > -0.2 * np.hypot(*turn.T) * np.hypot(*ahead.T)).all()
