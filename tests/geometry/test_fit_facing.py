"""A small arc never comes out as the rest of its circle, and no edge runs back over another."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.geometry import distances, fit_outline, length
from tests.geometry.fit_helpers import dense, judge, part


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
