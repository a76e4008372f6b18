"""Pieces and splits of chains keep shape and length; the distance along is what it says."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from platewright.burn.cuts.edges import at_distance, nearest, piece, split_many
from platewright.geometry import Contour, length


def _chain(seed: int) -> np.ndarray:
    draw = np.random.default_rng(seed)
    points = np.cumsum(draw.uniform(-30, 30, (12, 2)), axis=0)
    bulges = np.where(draw.random(12) < 0.6, draw.uniform(-1.4, 1.4, 12), 0.0)
    return np.column_stack([points, bulges])


@pytest.mark.parametrize("seed", range(8))
def test_pieces_add_up_and_meet(seed: int) -> None:
    rows = _chain(seed)
    whole = length(Contour(rows, closed=False))
    cuts = np.sort(np.random.default_rng(seed).uniform(0, whole, 4))
    parts = [piece(rows, a, b) for a, b in zip([0.0, *cuts], [*cuts, whole], strict=True)]
    assert sum(length(Contour(p, closed=False)) for p in parts) == pytest.approx(whole, rel=1e-12)
    for a, b in itertools.pairwise(parts):
        assert a[-1, :2] == pytest.approx(b[0, :2], abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_splits_change_neither_length_nor_places(seed: int) -> None:
    rows = _chain(seed)
    chain = Contour(rows, closed=False)
    whole = length(chain)
    more = Contour(split_many(rows, np.random.default_rng(seed).uniform(0, whole, 9)), closed=False)
    assert len(more) > len(chain)
    assert length(more) == pytest.approx(whole, rel=1e-12)
    along = np.linspace(0, whole, 101)
    one, two = at_distance(chain, along)[0], at_distance(more, along)[0]
    assert one == pytest.approx(two, abs=1e-8)


def test_directions_and_places_on_a_circle() -> None:
    ring = Contour.circle(3, 4, 10)
    along = np.linspace(0, 20 * math.pi, 37)[:-1]
    points, heading, _, _ = at_distance(ring, along)
    assert np.hypot(*(points - (3, 4)).T) == pytest.approx(np.full(36, 10.0), abs=1e-12)
    assert np.cos(heading - (along / 10 + math.pi / 2)) == pytest.approx(np.ones(36), abs=1e-12)


@pytest.mark.parametrize("x", [9.0, 390.0, 397.5, 1984.4])
def test_the_nearest_place_is_exact_on_a_long_edge_and_is_not_that_of_the_edge_across(x: float) -> None:
    """A strip of 2000 by 6 mm: places were looked for every 31 mm only, up to 16 mm off, or on the far side 6 mm away."""
    strip = Contour.rectangle(2000, 6)
    assert nearest(strip, x, -0.5) == pytest.approx(x, abs=1e-9)
    assert nearest(strip, x, 0.5) == pytest.approx(x, abs=1e-9)
    assert nearest(strip, x, 6.5) == pytest.approx(4006 - x, abs=1e-9)


def test_the_nearest_place_of_an_arc_is_on_its_radius() -> None:
    """A circle of 1000 mm radius run counterclockwise from its right: 0.3 rad on are 300 mm."""
    spot = (900 * np.cos(0.3), 900 * np.sin(0.3))
    for clockwise, along in ((False, 300.0), (True, 2000 * np.pi - 300.0)):
        assert nearest(Contour.circle(0, 0, 1000, clockwise=clockwise), *spot) == pytest.approx(along)


def test_of_places_as_near_the_first_along_is_taken() -> None:
    """A path that ends where it began, and one that runs 10 mm above another stretch of itself."""
    again = Contour.from_points([(0, 0), (30, 0), (30, 10), (0, 10), (0, 0)], closed=False)
    assert nearest(again, 0.0, 0.0) == 0
    assert nearest(again, -3.0, -1e-9) == pytest.approx(0, abs=1e-9)
    assert nearest(again, 20.0, 5.0) == pytest.approx(20)
