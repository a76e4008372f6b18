"""The one-page frame: four cards that stay together, a small part between them, the bench is the paper."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from examples.camera.lens import looking
from examples.camera.render import cached
from examples.camera.scene import Laid, random_scene
from examples.camera.shapes import tab

from platewright.geometry import Pose
from platewright.pattern.capture.camera.cards import frame
from platewright.pattern.capture.photo import PhotoOptions, read_photo

CACHE = Path(__file__).parents[2] / ".cache"


def test_a_small_part_on_the_frame_is_measured() -> None:
    page = frame("letter")
    assert page.clear is not None
    x, y, w, h = page.clear
    middle = np.array([x + w / 2, y + h / 2])
    first = random_scene(5, bench="paper", profile=tab(), board=2.0, cards=4, megapixels=4.0)
    place, turn = looking(
        np.array([*middle, 0.0]), distance=330.0, tilt=0.25, bearing=0.3, roll=-0.3 - np.pi / 2
    )
    cards = tuple(Laid(p.card.id, Pose(p.x, p.y), 0.1, None) for p in page.cards)
    camera = replace(first.camera, place=place, turn=turn, radial=(0.03, -0.02, 0.0))
    scene = replace(
        first, cards=cards, camera=camera, pose=Pose(middle[0] - 5, middle[1] - 30, 0.1), fray=0.0
    )
    options = PhotoOptions(thickness=2.0, card_height=0.1, bars=(180.0, 200.0))
    found = read_photo([cached(scene, CACHE)], options=options)
    assert found.verdict != "stop", [f.text for f in found.findings]
    assert len(found.holes) == 1
    assert sum(loop.area() for loop in found.loops()) == pytest.approx(tab().area(), rel=0.012)
