"""Among grain: what juts out of a straight, doubtful stretches, and corners that may be sharp or round, on outlines of known truth."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.geometry import Contour, flatten
from platewright.geometry.crossing.locate import distances
from platewright.geometry.regions.edit import filleted
from platewright.pattern.capture.edge.corners import sharpened
from platewright.pattern.capture.edge.gaps import completed
from platewright.pattern.capture.edge.search import STEP
from platewright.pattern.loops import even

TRUTH = Contour.rectangle(80, 50)


def _walked(contour: Contour, noise: float = 0.02) -> np.ndarray:
    loop = even(flatten(contour, tolerance=0.001), STEP)
    return np.asarray(loop + np.random.default_rng(3).normal(0, noise, loop.shape))


def _bumped(loop: np.ndarray, *, high: float, wide: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the loop with its lower side pushed out by `high` over `wide` about x = 40 [mm], and where."""
    share = np.clip(1 - np.abs(loop[:, 0] - 40) / (wide / 2), 0, 1) * (loop[:, 1] < 5)
    return loop - np.column_stack([np.zeros(len(loop)), high * share]), share > 0


def test_a_protrusion_is_cut_off_and_fully_reported_among_grain_and_kept_elsewhere() -> None:
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


def _beside_a_corner(loop: np.ndarray, *, near: float, wide: float) -> np.ndarray:
    """Return which places of the lower side lie from `near` to `near + wide` before its right end [mm]."""
    left = 80 - loop[:, 0]
    return (loop[:, 1] < 5) & (left > near) & (left < near + wide)


@pytest.mark.parametrize("near", [3.0, 6.0, 20.0])
def test_a_stretch_carried_on_joins_its_sides_also_close_to_a_corner(near: float) -> None:
    loop = _walked(TRUTH)
    there = _beside_a_corner(loop, near=near, wide=9.0)
    inside = np.minimum(80 - loop[:, 0] - near, near + 9.0 - (80 - loop[:, 0]))
    loop[there, 1] -= 0.6 * np.clip(inside[there] / 2, 0, 1)
    edge = completed(loop, np.where(there, 0.4, 0.05))
    steps = np.hypot(*(edge.points - np.roll(edge.points, 1, axis=0)).T)
    assert steps.max() < 2 * STEP
    assert distances(TRUTH, edge.points[there]).max() < 0.15


@pytest.mark.parametrize(("jog", "kept"), [(0.5, False), (4.0, True)])
def test_a_long_doubtful_stretch_is_carried_on_unless_what_was_seen_denies_it(jog: float, kept: bool) -> None:
    loop = _walked(TRUTH)
    there = _beside_a_corner(loop, near=25.0, wide=26.0)
    off = jog * np.sin((loop[:, 0] - 29) * 4 * np.pi / 26) if not kept else -jog
    loop[:, 1] += np.where(there, off, 0.0)
    edge = completed(loop, np.where(there, 0.4, 0.05))
    assert (distances(TRUTH, edge.points[there]).max() > 3.0) == kept
    if not kept:
        assert np.sqrt(np.mean(distances(TRUTH, edge.points[there]) ** 2)) < 0.15


def test_a_wide_arc_is_carried_on_as_an_arc() -> None:
    turn = np.linspace(0, 2 * np.pi, 800, endpoint=False)
    truth = Contour.from_points(120 * np.column_stack([np.cos(turn), np.sin(turn)]))
    loop = _walked(truth)
    there = (np.abs(loop[:, 1]) < 12) & (loop[:, 0] > 0)
    loop[there] *= 1.006
    edge = completed(loop, np.where(there, 0.45, 0.05))
    assert distances(truth, edge.points[there]).max() < 0.35


def _ring(radius: float, flat: float = 0.0) -> np.ndarray:
    """Return a circle about (50, 20), cut off straight `flat` short of its right end [mm]."""
    rng = np.random.default_rng(7)
    turn = np.linspace(0, 2 * np.pi, round(2 * np.pi * radius / STEP), endpoint=False)
    ring = radius * np.column_stack([np.cos(turn), np.sin(turn)]) + rng.normal(0, 0.02, (len(turn), 2))
    ring[:, 0] = np.minimum(ring[:, 0], radius - flat)
    return ring + (50.0, 20.0)


def test_a_hole_seen_for_two_thirds_is_round_all_the_way() -> None:
    loop = _ring(9.0)
    hidden = loop[:, 0] > 54.0
    sd = np.where(hidden, 0.5, 0.05)
    loop[hidden] += np.random.default_rng(1).normal(0, 0.5, (int(hidden.sum()), 2))
    edge = completed(loop, sd)
    away = np.abs(np.hypot(*(edge.points - (50.0, 20.0)).T) - 9.0)
    assert edge.open is not None
    assert edge.open < 1.0
    assert away.max() < 0.1
    assert edge.fair == pytest.approx(1 - hidden.mean())  # what was seen is still said
    assert 1.96 * edge.sd[hidden].max() > 0.5


@pytest.mark.parametrize("doubtful", [5.0, 7.0])
def test_a_flat_that_was_measured_is_kept_though_it_is_doubted(doubtful: float) -> None:
    loop = _ring(9.0, flat=3.0)
    edge = completed(loop, np.where(loop[:, 0] > 50 + doubtful, 0.4, 0.05))
    middle = edge.points[np.abs(edge.points[:, 1] - 20) < 3]
    assert middle[:, 0].max() < 50 + 9 - 3 + 0.3


def test_half_a_circle_tells_nothing_of_the_other_half() -> None:
    loop = _ring(9.0)
    assert completed(loop, np.where(loop[:, 0] > 50.0, 0.5, 0.05)).open != 0.0


def _rounded(radius: float) -> Contour:
    truth = TRUTH
    for vertex in (3, 2, 1, 0):
        truth = filleted(truth, vertex, radius)
    return truth


def _over_a_corner(loop: np.ndarray, reach: float) -> np.ndarray:
    return np.asarray(np.abs(loop - (80.0, 0.0)).sum(axis=1) < reach)


@pytest.mark.parametrize("truth", [TRUTH, _rounded(6.0), _rounded(9.0)], ids=["sharp", "6 mm", "9 mm"])
def test_a_gap_over_a_corner_is_supported_by_places_that_lie_on_one(truth: Contour) -> None:
    loop = _walked(truth)
    hidden = _over_a_corner(loop, 14.0)
    rng = np.random.default_rng(11)
    wander = np.convolve(rng.normal(0, 0.3, len(loop)), np.ones(6) / 6, mode="same")
    loop[hidden] += wander[hidden, None]
    sd = np.where(hidden, 0.5, 0.05)
    edge = completed(loop, sd)
    assert edge.blind > 12.0
    assert edge.open == 0.0
    assert distances(truth, edge.points[hidden]).max() < 1.0
    assert 1.96 * edge.sd[hidden].min() > 0.4


def test_a_gap_over_a_corner_is_not_supported_by_places_that_wander_off() -> None:
    loop = _walked(_rounded(6.0))
    hidden = _over_a_corner(loop, 14.0)
    along = np.linspace(0, np.pi, int(hidden.sum()))
    loop[hidden] += (3.0 * np.sin(2 * along))[:, None]
    edge = completed(loop, np.where(hidden, 0.5, 0.05))
    assert edge.open is not None
    assert edge.open > 12.0
    assert 1.96 * edge.sd[hidden].max() > 3.0
