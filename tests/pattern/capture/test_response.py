"""Blur and halo of a camera, found from the squares of a card painted here pixel by pixel and sharpened by an ordinary filter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from platewright.pattern.capture.camera.cards import card
from platewright.pattern.capture.camera.detect import find_cards
from platewright.pattern.capture.camera.response import _written, response_of

SCALE, FINE, RIM = 5.3, 5, 60
"""Pixels to the millimetre (edges at all places between pixels), samples to the pixel, and white round the card [px]."""


def _toned(light: np.ndarray) -> np.ndarray:
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-6) ** (1 / 2.4) - 0.055)


def _painted() -> np.ndarray:
    """Return linear brightness of one card, grey ink on white paper, upright."""
    one = card(3)
    wide, high = (round(v * SCALE) * FINE for v in one.size)
    paper = np.full((high, wide), 0.6)
    for x, y, w, h in one.squares:
        left, right = round(x * SCALE * FINE), round((x + w) * SCALE * FINE)
        top, low = high - round((y + h) * SCALE * FINE), high - round(y * SCALE * FINE)
        paper[top:low, left:right] = 0.12
    small = paper.reshape(high // FINE, FINE, wide // FINE, FINE).mean(axis=(1, 3))
    return np.pad(small, RIM, constant_values=0.6)


def _step(at: np.ndarray, blur: float, amount: float, breadth: float, *, toned: bool) -> np.ndarray:
    """Return what is stored across a step from ink to paper, at places between pixels [px], by filters alone."""
    fine = 0.05
    x = np.arange(-15, 15, fine)
    light = gaussian_filter(np.where(x > 0, 0.6, 0.12), np.hypot(blur, 0.4) / fine)
    stored = _toned(light) if toned else light
    stored = stored + amount * (stored - gaussian_filter(stored, breadth / fine))
    return np.interp(at, x, stored if toned else _toned(np.clip(stored, 0, 1)))


@pytest.mark.parametrize("toned", [False, True])
@pytest.mark.parametrize(("blur", "amount", "breadth"), [(0.8, 0.6, 1.3), (1.1, 0.0, 1.3), (0.8, 0.3, 1.6)])
def test_how_an_edge_is_written_is_found(blur: float, amount: float, breadth: float, toned: bool) -> None:
    light = gaussian_filter(_painted(), blur)
    stored = _toned(light) if toned else light
    stored = stored + amount * (stored - gaussian_filter(stored, breadth))
    stored = stored if toned else _toned(np.clip(stored, 0, 1))
    grey = np.clip(255 * stored + 0.5, 0, 255).astype(np.uint8)
    found = response_of(np.repeat(grey[..., None], 3, axis=2), find_cards(grey), 1.0)
    at = np.arange(-4, 4.1, 0.25)
    # a pixel is as broad as a bell of 0.29 px, and reading between pixels softens as much again
    true = _step(at, blur, amount, breadth, toned=toned)
    plain = _step(at, found.blur, 0.0, 1.0, toned=toned)
    own = _written(at, found, 0.0, np.array([0.12, 0.6]))
    assert np.abs(own - true).max() < 0.03
    if amount > 0.5:  # without the halo it cannot be written
        assert np.abs(own - true).max() < 0.6 * np.abs(plain - true).max()


def test_without_cards_the_blur_said_stands() -> None:
    plain = np.full((100, 100, 3), 128, np.uint8)
    assert response_of(plain, [], 1.4).blur == 1.4
    assert response_of(plain, [], 1.4).amount == 0.0
