"""Flatbed scans drawn with exact coverage: a stretched scanner is put right by a card on the glass."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from examples.camera.coverage import cover
from examples.camera.shapes import bracket
from PIL import Image

from platewright.errors import InputError
from platewright.geometry import Pose, Profile, flatten
from platewright.pattern.capture.camera.cards import card
from platewright.pattern.capture.scan import ScanOptions, read_scan


def scan(
    profile: Profile, *, dpi: tuple[float, float], with_card: Pose | None, stated_dpi: tuple[int, int] | None
) -> bytes:
    """Return a PNG of a piece under a white lid, 260 by 180 mm of glass."""
    scale = np.array(dpi) / 25.4
    high, wide = round(180 * scale[1]), round(260 * scale[0])

    def to_pixels(points: np.ndarray) -> np.ndarray:
        return np.column_stack([points[:, 0] * scale[0], high - points[:, 1] * scale[1]]) - 0.5

    light = np.full((high, wide, 3), 0.85, dtype=np.float32)

    def lay(loops: list[np.ndarray], colour: tuple[float, float, float]) -> None:
        patch = cover([to_pixels(p) for p in loops], (high, wide))
        assert patch is not None
        share = np.clip(np.abs(patch.cover), 0, 1)[..., None]
        light[patch.window] += share * (np.array(colour, np.float32) - light[patch.window])

    lay([flatten(c, tolerance=0.002) for c in profile.contours()], (0.40, 0.27, 0.15))
    if with_card is not None:
        one = card(5)
        for x, y, w, h in one.squares:
            lay([with_card.points([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])], (0.05, 0.05, 0.05))
    light = cv2.GaussianBlur(light, (0, 0), 0.8)
    light += np.random.default_rng(1).normal(0, 0.004, light.shape).astype(np.float32)
    tone = 1.055 * np.power(np.clip(light, 0.004, 1), 1 / 2.4) - 0.055
    out = io.BytesIO()
    picture = Image.fromarray((tone * 255 + 0.5).astype(np.uint8))
    picture.save(out, "PNG", **({} if stated_dpi is None else {"dpi": stated_dpi}))
    return out.getvalue()


PIECE = Pose(20, 10, 0.1).apply(bracket())


def sizes(found: object) -> tuple[float, float, list[float]]:
    outer, holes = found.outer, found.holes  # type: ignore[attr-defined]
    wide, high = np.ptp(outer.points, axis=0)
    return float(wide), float(high), sorted(-h.area() for h in holes)


def test_the_file_s_own_resolution_is_used_and_said() -> None:
    found = read_scan(scan(PIECE, dpi=(200, 200), with_card=None, stated_dpi=(200, 200)))
    assert [f.code for f in found.findings] == ["C030"]
    wide, high, holes = sizes(found)
    assert (wide, high) == (pytest.approx(120, abs=0.15), pytest.approx(80, abs=0.15))
    assert holes == [pytest.approx(np.pi * 36, rel=0.01), pytest.approx(200 + np.pi * 25, rel=0.01)]


def test_a_card_on_the_glass_puts_a_stretched_scanner_right() -> None:
    data = scan(PIECE, dpi=(200, 203), with_card=Pose(155, 95, 0.05), stated_dpi=(200, 200))
    without = read_scan(scan(PIECE, dpi=(200, 203), with_card=None, stated_dpi=(200, 200)))
    found = read_scan(data, options=ScanOptions(bars=(180.0, 200.0)))
    assert "C031" in [f.code for f in found.findings]
    assert "C032" in [f.code for f in found.findings]
    wide, high, _ = sizes(found)
    assert (wide, high) == (pytest.approx(120, abs=0.12), pytest.approx(80, abs=0.12))
    assert sizes(without)[1] == pytest.approx(80 * 203 / 200, abs=0.4)


def test_a_scan_that_says_nothing_is_refused_with_what_to_do() -> None:
    with pytest.raises(InputError, match="dots an inch"):
        read_scan(scan(PIECE, dpi=(150, 150), with_card=None, stated_dpi=None))
    with pytest.raises(InputError):
        ScanOptions(dpi=(3, 3))
    with pytest.raises(InputError):
        ScanOptions(bars=(100.0, 200.0))
