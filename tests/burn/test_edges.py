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


def test_nearest_is_near() -> None:
    square = Contour.rectangle(100, 100)
    assert nearest(square, 50, -20) == pytest.approx(50, abs=1)
    assert nearest(square, 130, 25) == pytest.approx(125, abs=1)
