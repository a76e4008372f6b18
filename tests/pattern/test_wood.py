"""Brown board on a bare wooden bench: read where grain and shadow show the edge, refused where they do not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from examples.camera.render import cached
from examples.camera.scene import random_scene

from platewright.geometry.measure import signed_area
from platewright.pattern.border import bridged
from platewright.pattern.model import Captured
from platewright.pattern.photo import PhotoOptions, read_photo

CACHE = Path(__file__).parents[1] / ".cache"


def read(seed: int, *, click: tuple[float, float] | None = None) -> tuple[Captured, float]:
    """Return what was read on wood and the true area without holes [mm²]."""
    scene = random_scene(seed, bench="wood", megapixels=6.0)
    options = PhotoOptions(thickness=round(scene.board, 1), bars=(180.0, 200.0), click=click)
    return read_photo([cached(scene, CACHE)], options=options), signed_area(scene.truth().outer)


def test_board_of_the_benchs_colour_is_read_and_says_how_true_it_is() -> None:
    found, area = read(406)
    assert found.verdict == "look"
    assert "C025" in [f.code for f in found.findings]
    assert found.outer is not None
    assert found.uncertainty is not None
    assert len(found.holes) == 1
    length = float(np.hypot(*np.diff(found.outer.points, axis=0).T).sum())
    assert abs(found.outer.area() - area) < length * found.uncertainty.outline
    assert 0.2 < found.uncertainty.outline < 0.8
    x, y = found.holes[0].points.T
    assert np.ptp(x) == pytest.approx(20.0, abs=0.5)
    assert np.ptp(y) == pytest.approx(20.0, abs=0.5)


def test_it_is_refused_where_the_grain_hides_too_much_of_the_edge() -> None:
    found, _ = read(403)
    assert found.verdict == "stop"
    assert {"C013", "C025"} <= {f.code for f in found.findings}


def test_a_gap_is_bridged_smoothly_and_ends_meet() -> None:
    along = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    true, unsure = np.cos(along), np.zeros(400, bool)
    unsure[180:210] = unsure[-10:] = unsure[:10] = True
    seen = np.where(unsure, 5.0, true)
    found = bridged(seen, np.full(400, 0.05), unsure, stiff=30.0)
    assert np.abs(found - true).max() < 0.03
    turned = bridged(np.roll(seen, 77), np.full(400, 0.05), np.roll(unsure, 77), stiff=30.0)
    assert turned == pytest.approx(np.roll(found, 77), abs=1e-9)
