"""Points of which some are known better than others: the shape follows those."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.fit.outline import fit_circle
from platewright.fit.profile import FitOptions, fit_profile
from platewright.geometry.measure import arc_data

TURN = np.linspace(0, 2 * np.pi, 240, endpoint=False)
RING = np.column_stack([np.cos(TURN), np.sin(TURN)])


def _bulged() -> tuple[np.ndarray, np.ndarray]:
    """Return a circle of radius 15 mm, one side of it read up to 0.2 mm too far out, and what is known of its points [mm]."""
    out = 0.2 * np.maximum(np.cos(TURN), 0)
    return RING * (15 + out)[:, None], np.where(out > 0.01, 0.3, 0.02)


def test_a_circle_follows_the_points_that_are_known() -> None:
    points, sd = _bulged()
    weighed, alike = fit_circle(points, 1 / sd**2), fit_circle(points)
    assert weighed.radius == pytest.approx(15.0, abs=0.01)
    assert alike.radius > 15.05


def test_a_hole_half_of_which_is_doubtful_is_one_circle() -> None:
    square = np.array([[-60.0, -60], [60, -60], [60, 60], [-60, 60]])
    t = np.linspace(0, 1, 300, endpoint=False)[:, None]
    outer = np.vstack([a + t * (b - a) for a, b in zip(square, np.roll(square, -1, axis=0), strict=True)])
    rng = np.random.default_rng(4)
    hole, sd = _bulged()
    outer, hole = (p + rng.normal(0, 0.01, p.shape) for p in (outer, hole))
    options = FitOptions(noise=0.05, round_to=None)
    known = fit_profile(outer, [hole[::-1]], options=options, sds=[np.full(len(outer), 0.02), sd[::-1]])
    arcs = arc_data(known.profile.holes[0])
    assert arcs.radius == pytest.approx([15.0, 15.0], abs=0.02)
    assert np.ptp(arcs.centre, axis=0).max() < 1e-6
    alike = fit_profile(outer, [hole[::-1]], options=options)
    # without that it is two arcs about two middles
    assert np.ptp(arc_data(alike.profile.holes[0]).centre[:, 0]) > 0.1


def test_points_known_alike_are_fitted_as_without() -> None:
    rng = np.random.default_rng(5)
    points = RING * 20 + rng.normal(0, 0.02, RING.shape)
    points[:, 0] = np.minimum(points[:, 0], 16.0)
    alike = fit_profile(points, sds=[np.full(len(points), 0.07)])
    assert alike.profile == fit_profile(points).profile
