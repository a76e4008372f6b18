"""Two photos of one bench: blended outlines, and a wrongly typed thickness found out."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from examples.camera.lens import looking
from examples.camera.render import cached
from examples.camera.scene import Scene, random_scene
from examples.camera.shapes import tab

from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.model import Captured

CACHE = Path(__file__).parents[2] / ".cache"


@functools.cache
def scenes() -> tuple[Scene, Scene]:
    """Return one bench (cards lying on it, not on offcuts) photographed from two sides."""
    first = random_scene(
        31, bench="painted", profile=tab(), board=3.0, cards=6, megapixels=3.0, offcuts=False
    )
    at = np.array([0.0, 0.0, 0.0])
    distance = float(np.linalg.norm(first.camera.place)) * 1.08
    cameras = []
    for bearing in (0.6, 0.6 + np.pi):
        place, turn = looking(at, distance=distance, tilt=0.42, bearing=bearing, roll=-bearing - np.pi / 2)
        cameras.append(replace(first.camera, place=place, turn=turn))
    return replace(first, camera=cameras[0]), replace(first, camera=cameras[1])


def read(thickness: float, *, photos: int = 2) -> Captured:
    options = PhotoOptions(thickness=thickness, cards_on="bench", bars=(180.0, 200.0))
    return read_photo([cached(s, CACHE) for s in scenes()[:photos]], options=options)


def test_a_wrong_thickness_is_found_out_from_two_photos() -> None:
    wrong = read(1.5, photos=1)
    solved = read(1.5)
    assert "C021" not in [f.code for f in wrong.findings]
    said = next(f for f in solved.findings if f.code == "C021")
    assert said.values["thickness"] == pytest.approx(3.0, abs=0.35)
    truth = tab().area()
    off = [abs(sum(loop.area() for loop in c.loops()) - truth) for c in (wrong, solved)]
    assert off[1] < 0.7 * off[0]
    assert off[1] < 0.005 * truth


def test_two_photos_agree_when_nothing_moved() -> None:
    found = read(3.0)
    assert not {"C021", "C022"} & {f.code for f in found.findings}
    assert len(found.holes) == 1
    assert sum(loop.area() for loop in found.loops()) == pytest.approx(tab().area(), rel=0.012)
