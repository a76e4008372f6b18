"""How hard the camera sharpens is learnt anew at the template: phones bound what they add, so a fainter step gets more of it.

Edges are drawn by SciPy's filters, by a camera that shares nothing with the reader's model.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from platewright.pattern.capture.camera.response import Response
from platewright.pattern.capture.edge.light import LoopProfiles, Profiles, learn_statistics, profiles_of

PIXEL = 0.2
"""[mm]"""
FACE, BENCH = np.array([0.30, 0.22, 0.14]), np.array([0.10, 0.10, 0.11])
"""Linear colours of brown board and of dark paint [-]."""
CARDS = Response(0.7, 0.5, 2.0, toned=True)


def _stored(light: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055))


def _profiles(amount: float, wall: float) -> Profiles:
    """Return eighty profiles across an edge at 0 of which no wall is seen, sharpened in tone-curved values by `amount`; `wall` is the width they are said to have [mm]."""
    fine = np.arange(-5.0, 5.0, 0.01)
    light = np.where(fine[:, None] < 0, FACE, BENCH)
    tone = _stored(gaussian_filter1d(light, 0.7 * PIXEL / 0.01, axis=0))
    halo = amount * (tone - gaussian_filter1d(tone, 2.0 * PIXEL / 0.01, axis=0)) @ (0.299, 0.587, 0.114)
    span = np.arange(-2.4, 2.61, 0.1)
    one = np.stack([np.interp(span, fine, tone[:, c] + halo) for c in range(3)], axis=-1)
    noise = gaussian_filter1d(np.random.default_rng(7).normal(0, 0.006, (80, len(span), 3)), 1.0, axis=1)
    across = LoopProfiles(
        stored=np.clip(one + noise, 0, 1), span=span, wall=np.full(80, wall), sigma=np.full(80, 0.7 * PIXEL),
        along=0.4, pixel=PIXEL, wider=0.05, response=CARDS, thick=3.0,
    )  # fmt: skip
    return profiles_of(across, np.zeros(80), np.zeros(80))


@pytest.mark.parametrize(("amount", "low", "high"), [(0.5, 0.99, 1.01), (1.2, 1.9, 3.0), (0.2, 0.35, 0.75)])
def test_the_halo_is_as_strong_as_at_the_template(amount: float, low: float, high: float) -> None:
    profiles = _profiles(amount, wall=0.0)
    learnt = learn_statistics(profiles, PIXEL, place=np.zeros(80))
    assert low <= learnt.response.amount / CARDS.amount <= high


def test_where_walls_are_seen_the_cards_are_believed() -> None:
    profiles = _profiles(1.2, wall=0.4)
    learnt = learn_statistics(profiles, PIXEL, place=np.zeros(80))
    assert learnt.response == CARDS
