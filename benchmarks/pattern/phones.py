"""The path tracer's photographs as other phones would have written them; truth and cards stay as they are.

Each phone does what phones are known to do and neither camera model of ours or of the path tracer does: sharpens up to a
bound, evens out light from place to place, smooths noise flat, bends with another lens, draws colours stronger, enlarges.
All by general image operations of OpenCV, so that what reads the photos has no part in them.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image

from benchmarks.cut_part import shared
from benchmarks.figure import Figure
from benchmarks.pattern.measured import Loops, laid_on
from platewright.errors import PlatewrightError
from platewright.geometry import flatten
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.shape import to_profile

__all__ = ["PHONES", "figures", "rewritten"]

Floats = NDArray[np.float32]
GREY = np.array([0.299, 0.587, 0.114], np.float32)
FOCAL = 26 / 36
"""Focal length over the picture's width of the photographs' camera [-]."""


def _linear(stored: Floats) -> Floats:
    """Return linear light of stored values (IEC 61966-2-1) [-]."""
    return np.where(stored <= 0.04045, stored / 12.92, ((stored + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _stored(light: Floats) -> Floats:
    """Return stored values of linear light (IEC 61966-2-1) [-]."""
    v = np.clip(light, 0, 1)
    return np.where(v <= 0.0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055).astype(np.float32)


def _bent(picture: Floats, lens: tuple[float, ...], *, middle: tuple[float, float], fringe: float) -> Floats:
    """Return a picture through another lens: radial and tangential terms (k1, k2, p1, p2) [-], middle off by [px], red and blue larger and smaller by `fringe` [-]."""
    height, width = picture.shape[:2]
    focal = FOCAL * width
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    u, v = (x - (width - 1) / 2 - middle[0]) / focal, (y - (height - 1) / 2 - middle[1]) / focal
    k1, k2, p1, p2 = lens
    r2 = u * u + v * v
    grown = 1 + k1 * r2 + k2 * r2**2
    u, v = (
        u * grown + 2 * p1 * u * v + p2 * (r2 + 2 * u * u),
        v * grown + p1 * (r2 + 2 * v * v) + 2 * p2 * u * v,
    )
    planes = [
        cv2.remap(
            picture[..., c],
            u * size * focal + (width - 1) / 2,
            v * size * focal + (height - 1) / 2,
            cv2.INTER_LANCZOS4,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for c, size in enumerate((1 + fringe, 1.0, 1 - fringe))
    ]
    return np.maximum(np.stack(planes, axis=-1), 0)


def _noisy(light: Floats, share: float, rng: np.random.Generator) -> Floats:
    """Return linear light with photon noise of a variance that is this share of it [-]."""
    sd = np.sqrt(np.clip(light, 0.002, 1) * share)
    return light + rng.normal(0, 1, light.shape).astype(np.float32) * sd


def _parts(stored: Floats) -> tuple[Floats, Floats]:
    bright = stored @ GREY
    return bright, stored - bright[..., None]


def _whole(bright: Floats, tint: Floats) -> Floats:
    return np.clip(bright[..., None] + tint, 0, 1)


def _sharpened(bright: Floats, breadth: float, amount: float, most: float = 1.0) -> Floats:
    """Return brightness sharpened by a bell [px], by no more than `most` of what it takes away [-]."""
    return bright + amount * np.clip(bright - cv2.GaussianBlur(bright, (0, 0), breadth), -most, most)


def _older(stored: Floats, rng: np.random.Generator) -> Floats:
    """Eight megapixels, a barrel lens, noise, smoothed, sharpened hard up to a bound."""
    light = cv2.GaussianBlur(_linear(stored), (0, 0), 0.6)
    height, width = (int(v * 0.816) // 2 * 2 for v in stored.shape[:2])
    light = cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA)
    light = _noisy(
        _bent(light, (-0.045, 0.03, 0.001, -0.0008), middle=(18, -11), fringe=0.0005), 0.00012, rng
    )
    bright, tint = _parts(_stored(light))
    return _whole(
        _sharpened(cv2.bilateralFilter(bright, 5, 0.03, 1.5), 1.6, 1.3, 0.12),
        cv2.GaussianBlur(tint, (0, 0), 2.0),
    )


def _evened(stored: Floats, rng: np.random.Generator) -> Floats:
    """Light evened out from place to place, small steps drawn stronger."""
    bright, tint = _parts(stored)
    small = cv2.resize(bright, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    base = cv2.resize(
        cv2.bilateralFilter(small, 0, 0.18, 30), bright.shape[::-1], interpolation=cv2.INTER_CUBIC
    )
    middle = float(np.median(base))
    evened = middle + 0.55 * (base - middle) + 1.25 * (bright - base)
    gain = np.clip(np.clip(evened, 0.01, 1) / np.clip(bright, 0.02, 1), 0.5, 1.8)
    return _whole(np.clip(evened, 0, 1), tint * gain[..., None])


def _soft(stored: Floats, rng: np.random.Generator) -> Floats:
    """A soft lens in little light, noise smoothed flat."""
    bright, tint = _parts(_stored(_noisy(cv2.GaussianBlur(_linear(stored), (0, 0), 1.1), 0.0004, rng)))
    flat = cv2.fastNlMeansDenoising((np.clip(bright, 0, 1) * 255).astype(np.uint8), None, 4, 5, 11)
    return _whole(flat.astype(np.float32) / 255, cv2.GaussianBlur(tint, (0, 0), 3.0))


def _barrel(stored: Floats, rng: np.random.Generator) -> Floats:
    """Another lens: strong barrel, off the middle, with colour fringes."""
    return _stored(_bent(_linear(stored), (-0.11, 0.06, 0.0015, 0.0012), middle=(-25, 20), fringe=0.0007))


def _warm(stored: Floats, rng: np.random.Generator) -> Floats:
    """A lamp's colour, more contrast, stronger colours."""
    light = _linear(stored) * np.array([1.15, 0.95, 0.6], np.float32)
    bright, tint = _parts(_stored(light))
    return _whole(bright + 0.06 * np.sin(2 * np.pi * (bright - 0.5)), 1.4 * tint)


def _enlarged(stored: Floats, rng: np.random.Generator) -> Floats:
    """Twenty-four megapixels of twelve, sharpened."""
    height, width = (int(v * 1.414) // 2 * 2 for v in stored.shape[:2])
    bright, tint = _parts(cv2.resize(stored, (width, height), interpolation=cv2.INTER_CUBIC))
    return _whole(_sharpened(bright, 1.2, 0.8), tint)


def _dark(stored: Floats, rng: np.random.Generator) -> Floats:
    """Two stops too dark, in steps of ten bits, made bright again."""
    light = _noisy(0.25 * _linear(stored), 0.00025, rng)
    return _stored((2.2 * np.round(np.clip(light, 0, 1) * 1023) / 1023).astype(np.float32))


PHONES: dict[str, tuple[Callable[[Floats, np.random.Generator], Floats], int]] = {
    "older": (_older, 80), "evened light": (_evened, 92), "soft": (_soft, 68), "barrel": (_barrel, 88),
    "warm": (_warm, 85), "enlarged": (_enlarged, 85), "dark": (_dark, 85),
}  # fmt: skip
"""What each phone does to stored values, and the quality of its JPEG [-]."""


def rewritten(photo: bytes, phone: str) -> bytes:
    """Return a photograph (JPEG) as a phone named in `PHONES` would have written it; the same each time."""
    develop, quality = PHONES[phone]
    stored = np.asarray(Image.open(io.BytesIO(photo)).convert("RGB")).astype(np.float32) / 255
    made = develop(stored, np.random.default_rng([len(photo), len(phone)]))
    out = io.BytesIO()
    Image.fromarray((np.clip(made, 0, 1) * 255 + 0.5).astype(np.uint8)).save(
        out, "jpeg", quality=quality, subsampling=2
    )
    return out.getvalue()


EDGE_LOOKS = {"C006", "C022", "C026", "C027", "C028", "G503"}
"""Findings that name an edge or a place of which more may be wrong than is told of the whole: C006 what lies beyond the cards."""


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield, for each phone, how many scenes are accepted, how true they are and how many are wrong without a word."""
    photos = shared()
    if photos is None:
        yield Figure(name="capture: photos as other phones write them", ours="-", note="photos absent")
        return
    scenes = json.loads((photos / "truth.json").read_text(encoding="utf-8"))
    for phone in PHONES:
        yield _figure(phone, [_read(photos, s, phone) for s in scenes[:: 6 if quick else 1]])


def _read(photos: Path, scene: dict[str, Any], phone: str) -> tuple[str, NDArray[np.float64], bool]:
    """Return a scene's name, the distances between what was read and the truth, both ways [mm], none if refused, and whether it is silently wrong."""
    names = scene["photos"] if scene["bench"] in ("pine", "oak") else scene["photos"][:1]
    options = PhotoOptions(
        thickness=scene["board_typed_mm"], cards_on=scene["cards_on"], bars=tuple(scene["bars_mm"])
    )
    try:
        captured = read_photo(
            [rewritten((photos / name).read_bytes(), phone) for name in names], options=options
        )
        fitted = to_profile(captured)
    except PlatewrightError:
        return scene["scene"], np.empty(0), False
    truth = shapely.from_wkt(scene["truth_wkt_mm"])
    rings = [np.asarray(r.coords)[:-1] for r in (truth.exterior, *truth.interiors)]
    # even steps along straights too: without them a sector is laid on by its arcs alone, turned anyhow
    mine = [
        shapely.get_coordinates(shapely.LinearRing(flatten(c, tolerance=0.001)).segmentize(0.5))[:-1]
        for c in fitted.profile.contours()
    ]
    turn, shift = laid_on(mine, Loops.of(rings))
    laid = shapely.Polygon(mine[0] @ turn.T + shift, [m @ turn.T + shift for m in mine[1:]])
    off = np.concatenate(
        [
            shapely.distance(shapely.points(shapely.get_coordinates(a.boundary.segmentize(0.5))), b.boundary)
            for a, b in ((laid, truth), (truth, laid))
        ]
    )
    assert captured.uncertainty is not None
    named = {f.code for f in (*captured.findings, *fitted.findings)} & EDGE_LOOKS
    half = float(np.ptp(mine[0], axis=0).max()) / 2
    told = np.hypot(captured.uncertainty.outline, captured.uncertainty.scale * half)
    wrong = np.percentile(off, 95) > told and not named
    return scene["scene"], off, bool(wrong)


def _figure(phone: str, read: Sequence[tuple[str, NDArray[np.float64], bool]]) -> Figure:
    spread = [float(np.sqrt(np.mean(off**2))) for _, off, _ in read if len(off)]
    silent = [name for name, _, wrong in read if wrong]
    return Figure(
        name=f"capture: phone, {phone}: accepted; RMS median / worst [mm]; silently wrong",
        ours=f"{len(spread)} of {len(read)}; {np.median(spread):.3f} / {max(spread):.3f}; {len(silent)}",
        bar="0 silently wrong",
        holds=not silent,
        note=", ".join(silent),
    )
