"""Errors shared over long stretches: a bowed sheet is still a rectangle, and what is really there stays."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.fit.edges.segment import Price
from platewright.fit.edges.slow import bend_price
from platewright.fit.profile import FitOptions, fit_outline
from platewright.geometry import Contour, flatten

WIDE, HIGH, NOISE = 320.0, 200.0, 0.03


def _dense(contour: Contour, step: float = 0.4) -> np.ndarray:
    loop = flatten(contour, tolerance=0.002)
    closed = np.vstack([loop, loop[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.arange(0, along[-1], step)
    return np.column_stack([np.interp(at, along, v) for v in closed.T])


def _bowed(points: np.ndarray, rise: float) -> np.ndarray:
    """Return points as a camera off to one side sees them on a sheet bowed along x: long sides bend by `rise` [mm]."""
    lift = rise * (1 - ((points[:, 0] - WIDE / 2) / (WIDE / 2)) ** 2)
    return points + np.column_stack([0 * lift, lift])


def _count(points: np.ndarray, slow: float, seed: int) -> int:
    noisy = points + NOISE * np.random.default_rng(seed).standard_normal(points.shape)
    options = FitOptions(noise=NOISE, slow=slow, kind="dense", relations=False)
    return len(fit_outline(noisy, options=options).contour)


SHEET = Contour.from_points(np.array([(0, 0), (WIDE, 0), (WIDE, HIGH), (0, HIGH)]))
CHAMFERED = Contour.from_points(np.array([(0, 0), (WIDE, 0), (WIDE, HIGH - 3), (WIDE - 3, HIGH), (0, HIGH)]))
BENT = Contour.from_points(np.array([(0, 0), (WIDE, 0), (WIDE, HIGH), (WIDE / 2, HIGH + 3), (0, HIGH)]))


@pytest.mark.parametrize("seed", range(3))
def test_a_bowed_sheet_has_four_straight_sides_if_a_bow_is_allowed_for(seed: int) -> None:
    bowed = _bowed(_dense(SHEET), 0.12)
    noisy = bowed + NOISE * np.random.default_rng(seed).standard_normal(bowed.shape)
    options = FitOptions(noise=NOISE, kind="dense", relations=False)
    curved = fit_outline(noisy, options=options).contour
    straight = fit_outline(
        noisy, options=FitOptions(noise=NOISE, slow=0.05, kind="dense", relations=False)
    ).contour
    assert (curved.bulges != 0).any() or len(curved) > 4
    assert len(straight) == 4
    assert not straight.bulges.any()


@pytest.mark.parametrize(("shape", "count"), [(CHAMFERED, 5), (BENT, 5), (SHEET, 4)])
def test_what_is_really_there_stays(shape: Contour, count: int) -> None:
    assert _count(_bowed(_dense(shape), 0.12), 0.05, 7) == count


def test_a_bowed_disc_is_a_circle() -> None:
    disc = _dense(Contour.circle(WIDE / 2, WIDE / 2, WIDE / 2))
    assert _count(_bowed(disc, 0.15), 0.05, 1) == 2


def test_the_price_is_the_integral_over_bends_of_every_size() -> None:
    # offsets b along one direction of unit RMS, noise of variance q each: the normal integral done by numbers
    price, slow, count, bend = Price(weight=8.0, parameter=4.0), 0.05, 400, 0.07
    points = np.column_stack([np.linspace(0, 300, count), np.zeros(count)])
    q = 0.5 / price.weight
    sizes = np.linspace(-0.6, 0.6, 40001)
    likely = np.exp(-count * (bend - sizes) ** 2 / (2 * q)) * np.exp(-0.5 * (sizes / slow) ** 2)
    total = likely.sum() * (sizes[1] - sizes[0]) / (slow * np.sqrt(2 * np.pi))
    assert bend_price(count * bend**2, points, price, slow=slow) == pytest.approx(-np.log(total), rel=1e-3)


def test_a_slow_error_is_a_length() -> None:
    with pytest.raises(InputError, match="slow"):
        FitOptions(slow=-0.1)
