"""The compiled steps of the least squares against general solvers, plain loops and numerical slopes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from platewright.fit import descent, kernels
from platewright.fit.chain import Chain, normal, refine
from platewright.fit.edges import clicks
from platewright.fit.edges import kernels as edge_kernels
from platewright.fit.edges.pieces import piece_of
from platewright.fit.edges.segment import Price, cut_open
from platewright.fit.relations import rules
from platewright.fit.relations.rules import Rule, system
from platewright.fit.solve import joined_smoothly, pseudo, step_under
from platewright.geometry import Contour
from tests.fit.helpers import along
from tests.fit.helpers import clicks as clicked

PLATE = np.array(Contour.rectangle(120, 70, radius=12).rows)


def _chain(rows: np.ndarray, sd: float = 0.1) -> Chain:
    points, labels = along(Contour(rows), 0.5)
    points = points + np.random.default_rng(4).normal(0, sd, points.shape)
    fixed = np.zeros(len(points), bool)
    return Chain(
        points=points,
        weights=np.ones(len(points)),
        labels=labels,
        rows=rows,
        arcs=rows[:, 2] != 0,
        closed=True,
        frozen=fixed,
    )


@pytest.mark.parametrize("size", [3, 12, 41])
def test_a_ringed_band_is_solved_as_by_the_general_solver(size: int) -> None:
    rng = np.random.default_rng(size)
    a = np.zeros((size, size))
    for k in range(size):
        own = np.arange(k, k + 5) % size
        g = rng.normal(size=5)
        np.add.at(a, np.ix_(own, own), np.outer(g, g))
    a += np.eye(size)
    right = rng.normal(size=(size, 3))
    assert descent.solved(a, right) == pytest.approx(np.linalg.solve(a, right), rel=1e-9)


def test_the_slope_is_the_numerical_one() -> None:
    chain = replace(_chain(PLATE), frozen=np.ones(len(_chain(PLATE).points), bool))
    here = normal(chain)
    for k in np.flatnonzero(chain.free)[::5]:
        totals = []
        for step in (1e-5, -1e-5):
            rows = chain.rows.copy()
            rows[k // 3, k % 3] += step
            totals.append(normal(replace(chain, rows=rows)).total)
        assert here.slope[k] == pytest.approx((totals[0] - totals[1]) / 4e-5, abs=1e-3)


def test_samples_pass_to_the_nearest_edge_from_either_side() -> None:
    chain = _chain(PLATE)
    nearest = kernels.distances(chain.points, chain.rows, True)[1]
    for aside in (-1, 0, 1):
        moved = replace(chain, labels=(nearest + aside) % len(chain.arcs))
        assert np.array_equal(normal(moved).labels, nearest)


def test_a_piece_with_smooth_joins_is_the_best_there_is() -> None:
    rows = PLATE.copy()
    rows[:, :2] += np.random.default_rng(2).normal(0, 0.2, (len(rows), 2))
    first = int(np.flatnonzero(rows[:, 2])[1])
    piece = piece_of(_chain(rows), first, 1)
    assert piece is not None
    trial = replace(piece.chain, frozen=np.ones(len(piece.chain.points), bool))
    found = joined_smoothly(trial, (1, 2))
    assert found.unmet < 1e-9

    free = np.flatnonzero(trial.free)

    def rows_of(x: np.ndarray) -> np.ndarray:
        out = trial.rows.ravel().copy()
        out[free] = x
        return out.reshape(-1, 3)

    def off(x: np.ndarray) -> list[float]:
        e = rows_of(x)
        return [float(rules.tangent(np.r_[e[v - 1], e[v, :2], e[v], e[v + 1, :2]])[0]) for v in (1, 2)]

    peer = minimize(
        lambda x: normal(replace(trial, rows=rows_of(x))).total,
        trial.rows.ravel()[free], constraints={"type": "eq", "fun": off}, method="SLSQP", options={"maxiter": 300, "ftol": 1e-12},
    )  # fmt: skip
    assert found.normal.total <= peer.fun * (1 + 1e-6)


def test_a_refined_chain_has_no_slope_left() -> None:
    rows = np.array(Contour.rectangle(120, 70).rows)
    rows[1, 2] = 0.3
    chain, here = refine(_chain(rows))
    step = descent.solved(here.hessian[np.ix_(chain.free, chain.free)], here.slope[chain.free][:, None])
    assert abs(here.slope[chain.free] @ step[:, 0]) < 1e-5 * here.total


def test_a_rule_said_twice_changes_no_step() -> None:
    rng = np.random.default_rng(1)
    a = rng.normal(size=(6, 6))
    hessian, slope, g = a @ a.T + np.eye(6), rng.normal(size=6), np.array([0.3])
    row = rng.normal(size=(1, 6))
    once = step_under(hessian, slope, g, row)
    assert step_under(hessian, slope, np.r_[g, g], np.vstack([row, row])) == pytest.approx(once, abs=1e-9)
    assert row @ once == pytest.approx(-g)
    singular = np.array([[2.0, 2.0, 0.0], [2.0, 2.0, 0.0], [0.0, 0.0, 5.0]])
    assert singular @ pseudo(singular) @ singular == pytest.approx(singular)


def test_rules_together_say_what_each_says_alone() -> None:
    x = np.random.default_rng(8).uniform(-50, 50, 24)
    e, f, shared = np.arange(5), np.arange(9, 14), np.array([3, 4, 5, 6, 7])
    some = [
        Rule(np.r_[e, f], rules.parallel),
        Rule(e, rules.long, target=12.0),
        Rule(np.r_[f, e], rules.signed_distance, target=3.0, sign=-1.0),
        Rule(np.r_[e, shared], rules.tangent),
        Rule(f, rules.long, target=7.0),
        Rule(np.r_[shared, f], rules.parallel),
    ]
    g, slopes = system(some).at(x)
    for k, rule in enumerate(some):
        assert g[k] == pytest.approx(float(rule.at(x)[0]), abs=1e-12)
        for column in range(len(x)):
            step = 1e-4 * np.eye(len(x))[column]
            wanted = float((rule.at(x + step) - rule.at(x - step))[0]) / 2e-4
            assert slopes[k, column] == pytest.approx(wanted, abs=1e-5)


def test_what_is_known_of_the_way_ahead_loses_no_cut() -> None:
    points, _ = along(Contour(PLATE), 1.0)
    points = points + np.random.default_rng(6).normal(0, 0.15, points.shape)
    price = Price.of(0.15, stretch=1.0, samples=len(points))
    whole = cut_open(points, price)
    ahead = np.zeros(len(points) + 1)
    for k in range(len(points) - 2):
        ahead[k] = 0.9 * cut_open(points[k:], price).cost
    assert cut_open(points, price, ahead, whole.cost + 1.0) == whole
    assert cut_open(points, price, ahead, 0.5 * whole.cost).cost >= whole.cost


def test_long_runs_of_clicks_are_left_out_of_no_cut() -> None:
    rows = np.array(Contour.rectangle(160, 90, radius=40).rows)
    points = clicked(Contour(rows), np.random.default_rng(5), gap=0.0)
    price = clicks.priced(points, Price.of(0.3, stretch=1.0, samples=len(points)))
    widest = clicks.widest_step(points)
    total, _, _ = edge_kernels.partition_clicks(points, price.prices, widest)
    best = np.full(len(points), np.inf)
    best[0] = 0.0
    steps = np.hypot(*np.diff(points, axis=0).T)
    for t in range(1, len(points)):
        for s in range(int(t == len(points) - 1), t):  # no edge is the whole lap
            count = t - s + 1
            line, arc = edge_kernels.misfits(points, np.array([s]), np.array([t + 1]))[0]
            cost = price.line + price.weight * line + min(price.clicks, price.click * (count - 2))
            best[t] = min(best[t], best[s] + cost)
            if count >= edge_kernels.CLICKS_LEAST and steps[s:t].max() <= widest:
                best[t] = min(best[t], best[s] + price.arc + price.weight * arc)
    assert total == pytest.approx(best, abs=1e-6)


def test_a_step_under_no_joins_is_the_free_step() -> None:
    hessian, slope, free = np.diag([2.0, 2.0, 1.0]), np.array([1.0, -2.0, 0.5]), np.arange(3)
    none = np.zeros(0), np.zeros((3, 0))
    assert descent.step(hessian, slope, free, 1e-6, none) == pytest.approx(
        descent.step(hessian, slope, free, 1e-6)
    )
