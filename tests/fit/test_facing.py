"""A small arc never comes out as the rest of its circle, and no edge runs back over another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.fit.chain import Chain, facing
from platewright.fit.profile import fit_outline
from platewright.geometry import Contour, flatten, length
from platewright.geometry.crossing.locate import distances
from tests.fit.helpers import dense, judge, part


@pytest.mark.parametrize("seed", [1047, 1064])
def test_a_small_arc_stays_on_its_samples_side(seed: int) -> None:
    # both came out with one rounding of 83 degrees as the 277 degrees opposite, 3 mm off the points
    rng = np.random.default_rng([2026, seed])
    truth = part(rng, spacing=0.25, sd=0.2)
    points = dense(truth, rng, spacing=0.25, sd=0.2)
    fit = fit_outline(points)
    assert distances(fit.contour, points).max() < 1.0
    assert judge(truth, fit.contour).deviation < 1.0


def test_no_vertex_slides_along_the_circle_two_arcs_share() -> None:
    # came out running 90 mm back and forth along one circle, 3.6 mm off the shape and near every point
    rng = np.random.default_rng([2026, 2051])
    truth = part(rng, spacing=0.25, sd=0.2)
    fit = fit_outline(dense(truth, rng, spacing=0.25, sd=0.2))
    assert judge(truth, fit.contour).deviation < 0.5
    assert length(fit.contour) == pytest.approx(length(truth), rel=0.01)


@pytest.mark.parametrize("bulge", [1.0, 1 - 4e-16, 1 + 4e-16, 0.8, 1.25])
def test_an_arc_opposite_its_samples_is_put_on_their_side(bulge: float) -> None:
    # a tab: a straight end and a round one whose samples lie below it; the solver left it above
    tab = Contour(np.array([(0, 0, bulge), (60, 0, 0), (60, 30, 0), (0, 30, 0)], dtype=float))
    points = flatten(tab, tolerance=0.01)
    away = np.array([np.hypot(*(points - s).T).argmin() for s in tab.starts])
    labels = np.searchsorted(away, np.arange(len(points)), side="right") - 1
    wrong = tab.rows.copy()
    wrong[0, 2] = -1 / bulge
    chain = Chain(
        points=points, weights=np.ones(len(points)), labels=labels.astype(np.int64), rows=wrong, arcs=np.array([True, False, False, False]),
        closed=True, frozen=np.zeros(len(points), bool),
    )  # fmt: skip
    assert facing(chain).rows[0, 2] == pytest.approx(bulge, rel=1e-12)
    right = replace(chain, rows=tab.rows.copy())
    assert facing(right).rows == pytest.approx(tab.rows)
