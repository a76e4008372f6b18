"""The fit: known shapes come back from noisy, sparse and damaged points."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.fit.profile import fit_outline
from platewright.geometry import Contour


def test_four_clicks_are_the_four_corners() -> None:
    clicks = [(0, 0), (100, 0.2), (100.3, 50), (0, 50)]
    fit = fit_outline(clicks)
    assert len(fit.contour) == 4
    assert fit.moved_max < 0.4


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(0, 0), (1, 1)], "2 points"),
        ([(0, 0), (1, 1), (math.nan, 0)], "Point 2"),
        ([(0, 0), (1, 0), (1, 0), (0, 0)], "differ"),
        ([(0, 0), (1, 0), (2, 0), (3, 0)], "enclose nothing"),
        ([(0, 0), (1e7, 0), (0, 1e7)], "unit"),
        ("words", "not numbers"),
    ],
)
def test_bad_points_are_reported(points: object, says: str) -> None:
    with pytest.raises(InputError, match=says):
        fit_outline(points)  # type: ignore[arg-type]


def test_a_noisy_circle_is_one_circle() -> None:
    rng = np.random.default_rng(7)
    t = np.linspace(0, math.tau, 200, endpoint=False)
    points = np.column_stack([3 + 12.5 * np.cos(t), 4 + 12.5 * np.sin(t)]) + rng.normal(0, 0.1, (200, 2))
    fit = fit_outline(points)
    assert len(fit.contour) == 2
    assert isinstance(fit.contour, Contour)
    assert fit.contour.edge(0).radius == pytest.approx(12.5, abs=0.03)
