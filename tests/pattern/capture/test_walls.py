"""Cut edges of other shades and cores by our own camera, lit and shaded by the way they face (3 megapixels)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from examples.camera.render import _lit_from, cached
from examples.camera.scene import random_scene
from examples.camera.shapes import tab

from platewright.geometry import length
from platewright.pattern.capture.camera.lens import View
from platewright.pattern.capture.edge.profiles import Setting
from platewright.pattern.capture.edge.search import _widest
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.loops import even, normals_of
from platewright.pattern.shape import to_profile

CACHE = Path(__file__).parents[2] / ".cache"


@pytest.mark.parametrize(("seed", "core"), [(41, "ink"), (42, "as the face"), (44, "as the face, dark")])
def test_a_cut_edge_may_be_of_any_shade(seed: int, core: str) -> None:
    scene = random_scene(seed, bench="painted", profile=tab(), board=3.0, cards=6, megapixels=3.0, cores=True)
    assert (scene.core is None) == core.startswith("as the face")
    found = read_photo([cached(scene, CACHE)], options=PhotoOptions(thickness=3.0, bars=(180.0, 200.0)))
    assert found.verdict != "stop"
    area = sum(loop.area() for loop in found.loops())
    # a third of a millimetre a pixel: the ridge between shade and place is flat, and what is doubtful of it is told
    assert np.sqrt(area / tab().area()) == pytest.approx(1, abs=0.002)
    # how far the edge lies out on the average, beside what is told of a place
    around = sum(length(c) for c in tab().contours())
    assert found.uncertainty is not None
    assert abs(area - tab().area()) / around <= found.uncertainty.outline
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


@pytest.mark.parametrize(
    ("left", "hole", "widest"),
    [
        # the camera 200 mm left of the part: one side's wall is seen, as wide as thickness over height makes it
        (200.0, False, 3.196 * 200 / 503.196),
        # above the middle of a hole: both sides' walls, 40 mm beside it
        (-40.0, True, 2 * 3.196 * 40 / 503.196),
        # above the middle of the part: none
        (-40.0, False, 0.0),
    ],
)
def test_a_wall_taken_for_wrong_moves_sides_apart_by_no_more_than_is_seen_of_it(
    left: float, hole: bool, widest: float
) -> None:
    # straight down from 500 mm over the face of a board of 3 mm, known to 0.1 (sd, so 0.196 at 95 %)
    view = View(np.zeros(7), np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, 500.0]))
    setting = Setting(view=view, z=0.0, thickness=3.0, blur=1.0)
    loop = even(
        left + np.array([(0.0, 0.0), (80.0, 0.0), (80.0, 20.0), (0.0, 20.0)]) - (0.0, left + 10.0), 0.8
    )
    loop = loop[::-1] if hole else loop
    assert _widest(loop, normals_of(loop), setting) == pytest.approx(widest, rel=0.02)
