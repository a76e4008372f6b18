"""A phone's HEIC file: opened, turned once, and captured as the same picture's JPEG is.

`data/tab_lying.heic` is scene 31 below, stored lying on its side as a phone held upright stores it: an HEVC picture
of 1500 by 2000, an `irot` box of 270 degrees (ISO/IEC 23008-12, 6.5.10) and orientation 6 in its EXIF notes, as phones
write both. Encoded once with a stand-alone tool; nothing here encodes HEVC.
"""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
from examples.camera.render import cached
from examples.camera.scene import random_scene
from examples.camera.shapes import tab
from scipy.spatial import cKDTree

from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.image import read_picture
from platewright.pattern.model import Captured

CACHE = Path(__file__).parents[1] / ".cache"
HEIC = Path(__file__).parent / "data" / "tab_lying.heic"


@functools.cache
def jpeg() -> bytes:
    scene = random_scene(31, bench="painted", profile=tab(), board=3.0, cards=6, megapixels=3.0)
    return cached(scene, CACHE)


def captured(data: bytes) -> Captured:
    return read_photo([data], options=PhotoOptions(thickness=3.0, bars=(180.0, 200.0)))


def test_it_is_turned_upright_once() -> None:
    heic, upright = read_picture(HEIC.read_bytes()), read_picture(jpeg())
    assert heic.size == upright.size == (2000, 1500)
    assert np.abs(heic.rgb.astype(int) - upright.rgb).mean() < 1.5
    assert heic.focal == upright.focal  # said by the file's notes


def test_it_captures_the_same_outline() -> None:
    mine, other = captured(HEIC.read_bytes()), captured(jpeg())
    assert "stop" not in (
        mine.verdict,
        other.verdict,
    )  # pressed twice, a statement may fall either side of a look
    assert len(mine.holes) == len(other.holes) == 1
    for a, b in zip(mine.loops(), other.loops(), strict=True):
        off, _ = cKDTree(_dense(b.points)).query(a.points)
        # of two pressings each errs for itself by what it says
        assert np.percentile(off, 90) < 1.645 * np.hypot(np.median(a.sd), np.median(b.sd))
        assert np.percentile(off, 99) < 0.15  # 3 megapixels, pressed twice: single doubtful places may differ


def _dense(loop: np.ndarray) -> np.ndarray:
    share = np.linspace(0, 1, 20, endpoint=False)[:, None]
    return np.vstack([a + share * (b - a) for a, b in zip(loop, np.roll(loop, -1, axis=0), strict=True)])
