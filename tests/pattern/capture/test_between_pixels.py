"""Light between pixels, against the arithmetic of light; and a disc written by its closed form, with its edge where it was drawn."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from platewright.pattern.capture.camera.lens import View
from platewright.pattern.capture.camera.rectify import light_at, light_of, stored_of
from platewright.pattern.capture.edge.profiles import Setting, across_loop

PIXEL, SIZE, RADIUS = 0.3, 160, 12.0
"""Size of a pixel on the face [mm], of the picture [px], and of the disc [mm]."""


def _camera() -> View:
    """Return a camera 300 mm straight above the middle of the picture."""
    middle = (SIZE - 1) / 2
    lens = np.array([np.log(300.0 / PIXEL), middle, middle, 0, 0, 0, 0])
    return View(lens, np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, 300.0]))


def _written(inside: float, outside: float) -> np.ndarray:
    """Return a disc as a camera writes it whose lens blurs by 0.65 px: a Gauss step across its rim, sRGB, 8 bits."""
    x, y = np.meshgrid(*[(np.arange(SIZE) - (SIZE - 1) / 2) * PIXEL] * 2)
    light = inside + (outside - inside) * ndtr((np.hypot(x, y) - RADIUS) / (0.65 * PIXEL))
    tone = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.repeat((255 * tone + 0.5).astype(np.uint8)[..., None], 3, axis=2)


def test_half_way_between_black_and_white_is_half_the_light() -> None:
    rgb = np.zeros((8, 8, 3), np.uint8)
    rgb[:, 4:] = 255
    assert light_at(rgb, np.array([[[3.5, 4.0]]])) == pytest.approx(0.5, abs=1e-3)


def test_stored_values_are_light_and_back() -> None:
    stored = np.arange(256) / 255
    assert stored_of(light_of(stored)) == pytest.approx(stored, abs=1e-4)


@pytest.mark.parametrize("hole", [False, True])
@pytest.mark.parametrize(("face", "bench"), [(0.5, 0.05), (0.85, 0.04), (0.06, 0.5)])
def test_an_edge_lies_where_half_the_light_is(face: float, bench: float, hole: bool) -> None:
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False) * (-1 if hole else 1)
    away = np.column_stack([np.cos(turn), np.sin(turn)])
    inside, outside = (bench, face) if hole else (face, bench)
    setting = Setting(view=_camera(), z=0.0, thickness=0.0, blur=0.65)
    across = across_loop(
        _written(inside, outside), setting, RADIUS * away, normals=-away if hole else away, along=0.38
    )
    level = (light_of(across.stored)[..., 1].mean(axis=0) - bench) / (face - bench)
    k = int(np.flatnonzero(level < 0.5)[0])
    place = across.span[k - 1] + (level[k - 1] - 0.5) / (level[k - 1] - level[k]) * (
        across.span[k] - across.span[k - 1]
    )
    # a tenth of a pixel is 0.03 mm
    assert place == pytest.approx(0, abs=0.006)
