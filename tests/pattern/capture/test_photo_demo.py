"""The demo's photograph, read end to end and compared with the strap it was taken of."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from examples.camera.render import cached
from examples.gate.photo import photo_bytes, scene
from examples.gate.strap import BOARD, true_profile

from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.model import Captured
from platewright.pattern.shape import to_profile

CACHE = Path(__file__).parents[2] / ".cache"


@pytest.fixture(scope="module")
def captured() -> Captured:
    told: list[float] = []
    options = PhotoOptions(thickness=BOARD, bars=(180.0, 200.0), holes=1)
    found = read_photo([photo_bytes()], options=options, progress=lambda share, words: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1.0
    return found


def test_the_photo_is_what_the_camera_model_draws_of_the_scene() -> None:
    kept, drawn = (
        cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
        for data in (photo_bytes(), cached(scene(), CACHE))
    )
    assert float(np.mean(cv2.absdiff(kept, drawn))) < 1.0  # grey levels; another JPEG coder rounds otherwise


def test_it_may_be_used(captured: Captured) -> None:
    assert captured.verdict == "go", [f.text for f in captured.findings]
    assert captured.straightened is not None
    assert captured.straightened.data[:2] == b"\xff\xd8"


def test_overall_size_area_and_hole_are_true(captured: Captured) -> None:
    truth = true_profile()
    assert captured.outer is not None
    wide, high = np.ptp(captured.outer.points, axis=0)
    assert wide == pytest.approx(truth.bounds().width, abs=0.25)
    assert high == pytest.approx(truth.bounds().height, abs=0.25)
    area = sum(loop.area() for loop in captured.loops())
    # an edge error of 0.05 mm all round changes the area by 0.05 times the length of the outline
    assert area == pytest.approx(truth.area(), abs=0.05 * 800)
    assert len(captured.holes) == 1
    hole = captured.holes[0]
    assert hole.area() < 0
    assert 2 * np.sqrt(-hole.area() / np.pi) == pytest.approx(20.0, abs=0.2)


def test_the_shape_is_the_strap(captured: Captured) -> None:
    fitted = to_profile(captured)
    truth = true_profile()
    assert fitted.moved_rms < 0.08
    # two of the strap's fourteen edges are straights of about a millimetre between two arcs: too short to be seen
    assert len(truth.outer) - 2 <= len(fitted.profile.outer) <= len(truth.outer)
    assert fitted.profile.area() == pytest.approx(truth.area(), abs=40.0)
    width = next(d for d in fitted.dimensions if d.what == "width over all")
    assert abs(width.value - truth.bounds().width) <= width.uncertainty
