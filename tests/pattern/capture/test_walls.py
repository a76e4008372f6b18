"""Cut edges of other shades and cores by our own camera, lit and shaded by the way they face (3 megapixels)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from examples.camera.render import _lit_from, cached
from examples.camera.scene import random_scene
from examples.camera.shapes import tab

from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.shape import to_profile

CACHE = Path(__file__).parents[2] / ".cache"


@pytest.mark.parametrize(("seed", "core"), [(41, "ink"), (42, "as the face"), (44, "as the face, dark")])
def test_a_cut_edge_may_be_of_any_shade(seed: int, core: str) -> None:
    scene = random_scene(seed, bench="painted", profile=tab(), board=3.0, cards=6, megapixels=3.0, cores=True)
    assert (scene.core is None) == core.startswith("as the face")
    found = read_photo([cached(scene, CACHE)], options=PhotoOptions(thickness=3.0, bars=(180.0, 200.0)))
    assert found.verdict != "stop"
    area = sum(loop.area() for loop in found.loops())
    assert np.sqrt(area / tab().area()) == pytest.approx(1, abs=0.0012)
    (hole,) = [d for d in to_profile(found).dimensions if d.what == "diameter" and d.contour]
    assert hole.value == pytest.approx(20.0, abs=0.12)
    assert abs(hole.value - 20.0) <= hole.uncertainty


def test_walls_are_lit_from_where_shadows_point_away() -> None:
    scene = random_scene(41, bench="painted", profile=tab(), board=3.0, cards=6, megapixels=3.0, cores=True)
    lit = np.array([_lit_from(scene, k) for k in range(16)])
    toward = np.degrees(np.arctan2(*-np.array(scene.light.shadow)[::-1])) % 360
    assert abs((np.argmax(lit) * 22.5 + 11.25 - toward + 180) % 360 - 180) < 12
    assert lit.min() == pytest.approx(1 - scene.lamp)
    assert lit.mean() == pytest.approx(1, abs=0.02)
