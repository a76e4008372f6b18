"""The dynamic programme finds the least cost there is: compared with a plain search written out here."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from platewright.fit.edges import kernels
from platewright.fit.edges.kernels import ARC_LEAST, LINE_LEAST
from platewright.fit.edges.segment import Price, cut_closed, cut_open
from platewright.fit.outline import fit_circle
from platewright.geometry import Contour
from tests.fit.helpers import dense


def _line_misfit(points: np.ndarray) -> float:
    rel = points - points.mean(axis=0)
    return float(np.linalg.eigvalsh(rel.T @ rel)[0])


def _circle_misfit(points: np.ndarray) -> float:
    """Taubin's fit the slow way: a generalised eigenvalue problem."""
    rel = points - points.mean(axis=0)
    z = (rel**2).sum(axis=1)
    a = np.column_stack([z, rel, np.ones(len(z))])
    m = a.T @ a
    n = len(z) * np.array([[4 * z.mean(), 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 0]], dtype=float)
    # z has mean z.mean(); the constant is free, so take it out first
    top = m[:3, :3] - np.outer(m[:3, 3], m[3, :3]) / m[3, 3]
    scale = np.diag(1 / np.sqrt(np.diag(n)[:3]))
    return len(z) * float(np.linalg.eigvalsh(scale @ top @ scale)[0])


def _slow(points: np.ndarray, price: Price) -> float:
    n = len(points)
    best = np.full(n + 1, math.inf)
    best[0] = 0.0
    for t in range(1, n + 1):
        for s in range(t):
            if t - s >= LINE_LEAST:
                best[t] = min(best[t], best[s] + price.line + price.weight * _line_misfit(points[s:t]))
            if t - s >= ARC_LEAST:
                best[t] = min(best[t], best[s] + price.arc + price.weight * _circle_misfit(points[s:t]))
    return float(best[n])


def _shape(seed: int, count: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    truth = Contour.rectangle(30, 20, radius=4) if seed % 2 else Contour.rectangle(25, 15)
    points = dense(truth, rng, spacing=1.0, sd=0.15)
    return points[:count]


@pytest.mark.parametrize("seed", range(4))
def test_pruning_loses_nothing(seed: int) -> None:
    points = _shape(seed, 60)
    price = Price.of(0.15, stretch=1.0, samples=len(points))
    assert cut_open(points, price).cost == pytest.approx(_slow(points, price), abs=2e-2)


def test_misfits_agree_with_the_slow_way_far_from_the_origin() -> None:
    points = _shape(1, 40) + [3000.0, -2000.0]
    starts, ends = np.array([0, 5, 20]), np.array([12, 35, 40])
    got = kernels.misfits(points, starts, ends)
    for row, a, e in zip(got, starts, ends, strict=True):
        assert row[0] == pytest.approx(_line_misfit(points[a:e]), rel=1e-6)
        assert row[1] == pytest.approx(_circle_misfit(points[a:e]), rel=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_a_closed_cut_is_the_best_of_all_starts(seed: int) -> None:
    points = _shape(seed, 1000)
    price = Price.of(0.15, stretch=1.0, samples=len(points))
    every = min(cut_open(np.roll(points, -s, axis=0), price).cost for s in range(len(points)))
    found = cut_closed(points, price)
    assert found.cost == pytest.approx(every, abs=1e-6)
    assert found.bound <= every + 1e-6
    assert found.cost - found.bound < price.line


def test_the_circle_is_the_one_a_general_solver_finds() -> None:
    rng = np.random.default_rng(3)
    t = rng.uniform(0, 2.0, 60)
    points = np.column_stack([5 + 40 * np.cos(t), -7 + 40 * np.sin(t)]) + rng.normal(0, 0.2, (60, 2))
    peer = least_squares(
        lambda p: np.hypot(points[:, 0] - p[0], points[:, 1] - p[1]) - p[2],
        [0, 0, 30],
        xtol=1e-14,
        ftol=1e-14,
    )
    own = fit_circle(points)
    assert (own.x, own.y, own.radius) == pytest.approx(tuple(peer.x), abs=1e-5)
