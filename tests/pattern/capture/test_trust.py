"""What is told of an edge: more where the template is as dark as a shadow, and dimensions by what their edges share."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.pattern.capture.uncertainty import edge_bias
from platewright.pattern.model import Captured, Outline, Uncertainty
from platewright.pattern.shape import to_profile


def _told(face: int, bench: int, *, thickness: float = 3.0, pixel: float = 0.2) -> tuple[float, float]:
    inside = np.zeros((80, 80), bool)
    inside[20:60, 20:60] = True
    laid = np.where(inside[..., None], face, bench).astype(np.uint8).repeat(3, axis=2)
    return edge_bias(laid, inside, pixel=pixel, thickness=thickness)


def test_a_template_as_dark_as_a_shadow_is_reported_by_its_thickness() -> None:
    # stored 60 of 255 is 4.5 % of the light, 200 is 58 %
    assert _told(60, 200)[1] == pytest.approx(0.6)
    assert _told(60, 200, thickness=1.0)[1] == pytest.approx(0.2)
    assert _told(60, 90)[1] == 0.0  # on a dark bench a shadow is darker still
    assert _told(140, 200)[1] == 0.0


def test_the_edges_bias_goes_with_the_pixel_and_a_pale_bench() -> None:
    dark, pale = _told(140, 90), _told(140, 200)
    assert pale[0] > 2 * dark[0]
    assert _told(140, 90, pixel=0.4)[0] == pytest.approx(2 * dark[0])


def test_a_diameter_is_reported_better_than_one_place_and_a_small_hole_worse_than_a_large_one() -> None:
    def ring(radius: float, middle: tuple[float, float], way: int) -> np.ndarray:
        turn = way * np.linspace(0, 2 * np.pi, round(2 * np.pi * radius / 0.4), endpoint=False)
        return np.column_stack([np.cos(turn), np.sin(turn)]) * radius + middle

    loops = [ring(60.0, (0, 0), 1), ring(20.0, (-20, 0), -1), ring(4.0, (30, 0), -1)]
    outer, *holes = (Outline(p, np.full(len(p), 0.05)) for p in loops)
    stated = Uncertainty(0.0, 0.12, 0.12, shared=0.04)
    dimensions = to_profile(Captured(outer=outer, holes=tuple(holes), uncertainty=stated)).dimensions
    told = [d.uncertainty for d in dimensions if d.what == "diameter"]
    assert 2 * stated.shared < told[0] < told[1] < told[2] < 2 * stated.outline
    assert Uncertainty(0.0, 0.12, 0.12).of_length(10.0) == pytest.approx(0.24)
