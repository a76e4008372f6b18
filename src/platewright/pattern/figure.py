"""Figure and ground: which pixels of a picture are metal.

The ground is a plane of colour fitted to the picture's border, outliers left out; what differs from it by more than a
level is the figure. A see-through picture takes its own opacity instead. Strokes drawn by hand are added or taken away,
and what is finer than the smallest detail goes. See ``silhouette`` for words and references.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Floats

__all__ = [
    "Level",
    "Mask",
    "Stroke",
    "box_of",
    "check_border",
    "cleaned",
    "difference_of",
    "drawn",
    "largest",
    "parted",
]  # fmt: skip

Mask = Any
"""Pixels, (H, W) 8-bit; the vision library gives no types."""
PIXELS = 6_000_000
"""Pictures above this are halved [px]: 3000 by 2000 on a sign a metre wide is a third of a millimetre, found to a tenth of that."""
SOFT = 1.2
"""Blur before the edge is found [px]: above the pixel's own step, so that the gradient is a gradient."""
LEAST = 25.0
"""A level whose two sides differ by less than this is told as doubtful [of 255]."""
TIP = 3.6
"""What is left of a figure beside the discs that fit into it is a tip up to this many radii from them [-]: a corner of 32 degrees; longer ones are hairs."""
NOTHING = 8.0
"""Two sides that differ by less than this are one: nothing stands out [of 255]."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A stroke drawn by hand: points in parts of the picture's width from its upper left [-], its width likewise, metal or not."""

    points: tuple[tuple[float, float], ...]
    width: float
    metal: bool = True


# -- what stands out ---------------------------------------------------------------------------


def difference_of(data: bytes, where: str) -> tuple[Mask, bool]:
    """Return how far each pixel is from the ground, 0 to 255 [-], and whether that is the picture's own opacity."""
    import cv2

    from platewright.pattern.image import read_picture

    rgb: Mask = read_picture(data, where=where).rgb
    clear = _opacity(data)
    if clear is not None:
        rgb, opaque = clear, True
    else:
        opaque = False
    while rgb.shape[0] * rgb.shape[1] > PIXELS:
        rgb = cv2.resize(rgb, (rgb.shape[1] // 2, rgb.shape[0] // 2), interpolation=cv2.INTER_AREA)
    if opaque:
        return np.ascontiguousarray(rgb), True
    lab = cv2.cvtColor(cv2.GaussianBlur(rgb, (0, 0), SOFT), cv2.COLOR_RGB2LAB)
    away = _ground_less(lab)
    top = max(float(np.percentile(away[::7, ::7], 99.5)), 1e-6)
    scale = max(top, 60.0)  # a plain sheet's own noise is not stretched to a figure
    return np.clip(away * (255.0 / scale), 0, 255).astype(np.uint8), False


def _opacity(data: bytes) -> NDArray[np.uint8] | None:
    """Return the opacity of a see-through picture that uses it, upright; None for others."""
    from PIL import Image, ImageOps

    opened = Image.open(io.BytesIO(data)) if data[:4] in (b"\x89PNG", b"RIFF") else None
    if opened is None or (opened.mode not in ("RGBA", "LA", "PA") and "transparency" not in opened.info):
        return None
    alpha = np.asarray(ImageOps.exif_transpose(opened.convert("RGBA")).getchannel("A"))
    opaque = float((alpha > 127).mean())
    return alpha if 0.001 < opaque < 0.999 else None


def _ground_less(lab: Mask) -> Floats:
    """Return each pixel's distance from the ground: a plane of colour fitted to the border, twice, outliers left out."""
    high, wide = lab.shape[:2]
    rim = max(2, round(0.02 * min(high, wide)))
    step = max(1, (high + wide) // 1500)
    rows, columns = np.mgrid[0:high:step, 0:wide:step]
    edge = (rows < rim) | (rows >= high - rim) | (columns < rim) | (columns >= wide - rim)
    y, x = rows[edge] / high, columns[edge] / wide
    colours = lab[rows[edge], columns[edge]].astype(np.float32)
    terms = np.column_stack([np.ones_like(x), x, y]).astype(np.float32)
    middle = np.median(colours, axis=0)
    off = np.abs(colours - middle).sum(axis=1)
    keep = off <= np.percentile(off, 70) + 1
    for _ in range(2):
        plane, *_ = np.linalg.lstsq(terms[keep], colours[keep], rcond=None)
        off = np.abs(colours - terms @ plane).sum(axis=1)
        keep = off <= np.percentile(off, 80) + 1
    across = np.arange(wide, dtype=np.float32) / wide
    up = np.arange(high, dtype=np.float32)[:, None] / high
    square = np.zeros((high, wide), np.float32)
    for k in range(3):
        ground = plane[0, k] + plane[1, k] * across + plane[2, k] * up
        square += (lab[:, :, k] - ground) ** 2
    return np.asarray(np.sqrt(square))


@dataclass(frozen=True, slots=True)
class Level:
    """Which level parts figure and ground: 0 to 100 [%] or None to find it, whether they change places, whether it is opacity."""

    percent: float | None = None
    invert: bool = False
    opaque: bool = False


def parted(difference: Mask, wanted: Level, found: list[Finding], where: str) -> tuple[float, Mask]:
    """Return the level [of 255, -] and what is above it."""
    import cv2

    chosen, _ = cv2.threshold(difference, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    level = 127.5 if wanted.opaque else max(float(chosen), 1.0)
    if wanted.percent is not None:
        level = max(wanted.percent * 255 / 100, 0.5)
    above = difference > level
    share = float(above.mean())
    if not 0.0002 < share < 0.9998:
        raise InputError(
            "Nothing in this picture stands out from its background." if wanted.percent is None else "At this level all of the picture is one.",
            where=where, do="Set the level by hand, or use a picture of the figure before a plain background.",
        )  # fmt: skip
    contrast = float(difference[above][::5].mean() - difference[~above][::5].mean())
    if contrast < NOTHING:
        raise InputError(
            "Nothing in this picture stands out from its background.", where=where,
            do="Use a picture of the figure before a plain background.",
        )  # fmt: skip
    if contrast < LEAST:
        found.append(finding("C113", contrast=contrast))
    mask = (above != wanted.invert).astype(np.uint8)
    return level, mask


def drawn(mask: Mask, strokes: tuple[Stroke, ...]) -> Mask:
    """Return a mask with strokes drawn into it [-]."""
    import cv2

    wide = mask.shape[1]
    for stroke in strokes:
        spots = [(round(x * wide), round(y * wide)) for x, y in stroke.points]
        thick = max(1, round(stroke.width * wide))
        for a, b in zip(spots, spots[1:] or spots, strict=False):
            cv2.line(mask, a, b, int(stroke.metal), thick)
        for spot in spots:
            cv2.circle(mask, spot, max(1, thick // 2), int(stroke.metal), -1)
    return mask


# -- what is left out --------------------------------------------------------------------------


def largest(mask: Mask) -> Mask:
    """Return a mask with its largest piece only [px]."""
    import cv2

    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    if count < 3:
        return mask
    return (labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))).astype(np.uint8)


def box_of(mask: Mask, where: str) -> tuple[int, int, int, int]:
    """Return the box of a mask as x, y, width, height [px], or refuse one in which next to nothing is left."""
    import cv2

    box = cv2.boundingRect(mask)
    if box[2] < 4 or box[3] < 4:
        raise InputError(
            "Nothing of the picture is left.", where=where, do="Change the level or the strokes."
        )
    return int(box[0]), int(box[1]), int(box[2]), int(box[3])


def cleaned(mask: Mask, smallest: float, *, fill: bool, where: str) -> Mask:
    """Return a mask without hairs and cracks finer than the smallest detail [px], its holes filled if wanted."""
    radius = smallest / 2
    if radius >= 1:
        mask = _opened(mask, radius)
        mask = 1 - _opened(1 - mask, radius)
    if fill:
        mask = _filled(mask)
    box_of(mask, where)
    return mask


def _opened(mask: Mask, radius: float) -> Mask:
    """Return a mask without what a disc of a radius [px] does not fit in; tips that taper off stay, hairs go whole."""
    import cv2

    framed: Mask = cv2.copyMakeBorder(mask, 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    core: Mask = (cv2.distanceTransform(framed, cv2.DIST_L2, 5) > radius).astype(np.uint8)
    if not core.any():
        return np.zeros_like(mask)
    away = cv2.distanceTransform(1 - core, cv2.DIST_L2, 5)
    rest: Mask = framed & (away > radius + 1)
    labels: Mask
    count, labels = cv2.connectedComponents(rest, connectivity=8)
    spots = np.nonzero(rest)
    reach = np.zeros(count)
    np.maximum.at(reach, labels[spots], away[spots])
    framed[spots] = reach[labels[spots]] <= TIP * radius
    return np.ascontiguousarray(framed[1:-1, 1:-1])


def _filled(mask: Mask) -> Mask:
    import cv2

    loops, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    out = np.zeros_like(mask)
    cv2.drawContours(out, loops, -1, 1, -1)
    return out


def check_border(mask: Mask, found: list[Finding]) -> None:
    """Tell a figure that runs off the picture's border (no units, [-])."""
    rim = np.concatenate([mask[0], mask[-1], mask[:, 0], mask[:, -1]])
    if 0.0 < float(rim.mean()) < 0.6 and rim.sum() > 3:
        found.append(finding("C111"))
