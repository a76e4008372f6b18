"""Find the cards in a picture and put a finger on every saddle, to a few hundredths of a pixel.

Method: the open marker detector finds who and where, on a copy of about 2000 pixels (and on the full picture
if that finds few); a homography from the marker's corners says where the saddles are; each is refined on the
full picture (gradient orthogonality, Foerstner and Guelch 1987, as OpenCV's corner refinement does it), twice,
the second time from a homography through the saddles themselves. A saddle counts only if its four squares are
alternately dark and light; a card only with six or more saddles on both sides. Outer corners of black squares
are never measured with: blur and ink move them.

Pixel convention: the middle of the upper left pixel is (0, 0). Cost: about half a second at 12 megapixels.
Limits: markers smaller than about 24 pixels a side are not found; a blur above a sixth of a square
(12 mm) makes saddles unreadable.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.cards import SQUARE, Card, card

__all__ = ["Sighting", "find_cards", "other_kinds"]

Grey = NDArray[np.uint8]

LEAST_SADDLES = 6
"""A card with fewer readable saddles is not measured with [-]."""
WINDOWS, WIDEST = (0.34, 0.3, 0.3), (40, 20)
"""How far around a saddle its edges are looked at, turn by turn, as a share of a square [-], and at most first and later [px].

The more of the edges, the less noise: 0.14 of a square leaves 0.08 px (RMS) and 0.024 % of scale in 26 photos by the path tracer at
0.3 mm a pixel, 0.3 leaves 0.06 px and 0.016 %. Half a square would see the neighbours.
"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sighting:
    """One card seen.

    Attributes
    ----------
    card : its identity
    marker : (4, 2) marker corners [px], rough
    which : (K,) indices of the saddles read
    pixels : (K, 2) where they are [px]
    blur : blur of its edges, standard deviation [px]
    square : size of a square in the picture [px]
    """

    card: int
    marker: Floats
    which: NDArray[np.int64]
    pixels: Floats
    blur: float
    square: float

    @property
    def readable(self) -> bool:
        """Whether enough saddles were read, on both strips."""
        half = len(card(self.card).saddles) // 2
        sides = ((self.which < half).sum(), (self.which >= half).sum())
        return len(self.which) >= LEAST_SADDLES and min(sides) >= 2


def _mapped(homography: Floats, points: Floats) -> Floats:
    mapped = cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(np.float64), homography)
    return np.asarray(mapped, dtype=np.float64).reshape(-1, 2)


def _detector(dictionary: int) -> cv2.aruco.ArucoDetector:
    options = cv2.aruco.DetectorParameters()
    options.adaptiveThreshWinSizeMin = 5
    options.adaptiveThreshWinSizeMax = 45
    options.adaptiveThreshWinSizeStep = 20
    options.minMarkerPerimeterRate = 0.02
    options.polygonalApproxAccuracyRate = 0.05
    return cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(dictionary), options)


def _markers(grey: Grey, dictionary: int, *, long_side: int) -> list[tuple[int, Floats]]:
    """Return (identity, (4, 2) corners [px] of the full picture), detected at a reduced size."""
    scale = min(1.0, long_side / max(grey.shape))
    small = grey if scale == 1.0 else cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    corners, ids, _ = _detector(dictionary).detectMarkers(small)
    if not len(corners):
        return []
    across = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
    return [
        (int(i), (c.reshape(4, 2).astype(float) + 0.5) * across - 0.5)
        for i, c in zip(np.ravel(ids), corners, strict=True)
    ]


def _rays(grey: Grey, homography: Floats, saddles: Floats, reach: float) -> Floats:
    """Return the brightness [-] of the four squares around each saddle, (K, 4), `reach` [mm] off along diagonals."""
    offsets = reach * np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)], dtype=float)
    spots = _mapped(homography, (saddles[:, None, :] + offsets[None]).reshape(-1, 2)).astype(np.float32)
    brightness = cv2.remap(
        grey,
        spots[:, 0].reshape(1, -1),
        spots[:, 1].reshape(1, -1),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=127,
    )
    return np.asarray(brightness, dtype=np.float64).reshape(-1, 4)


def _alternate(levels: Floats, dark_first: NDArray[np.bool_], least: float) -> NDArray[np.bool_]:
    """Tell which saddles have squares alternately dark and light by at least `least` grey levels [-]."""
    first, second = levels[:, [0, 2]], levels[:, [1, 3]]
    dark = np.where(dark_first[:, None], first, second)
    light = np.where(dark_first[:, None], second, first)
    return np.asarray(light.min(axis=1) - dark.max(axis=1) > least)


def _dark_first(one: Card) -> NDArray[np.bool_]:
    """Tell for each saddle whether the square to its upper right is black."""
    boxes = np.array(one.squares)
    probe = one.saddles + 0.25 * SQUARE
    inside = (
        (probe[:, None, 0] > boxes[None, :, 0])
        & (probe[:, None, 0] < boxes[None, :, 0] + boxes[None, :, 2])
        & (probe[:, None, 1] > boxes[None, :, 1])
        & (probe[:, None, 1] < boxes[None, :, 1] + boxes[None, :, 3])
    )
    return np.asarray(inside.any(axis=1))


def _refined(grey: Grey, guesses: Floats, *, half: int, soften: float) -> Floats:
    """Return refined corner places [px]; the neighbourhood is cut out, softened and handed to the refiner."""
    low = np.maximum(np.floor(guesses.min(axis=0)).astype(int) - 3 * half - 8, 0)
    high = np.ceil(guesses.max(axis=0)).astype(int) + 3 * half + 9
    part = grey[low[1] : high[1], low[0] : high[0]]
    if min(part.shape) < 2 * half + 6:
        return np.full_like(guesses, np.nan)
    soft = cv2.GaussianBlur(part, (0, 0), soften) if soften > 0 else part
    local = (guesses - low).astype(np.float32).reshape(-1, 1, 2)
    inside = ((local[:, 0] > half + 2) & (local[:, 0] < np.array(part.shape[::-1]) - half - 3)).all(axis=1)
    done = np.full(guesses.shape, np.nan)
    if inside.any():
        rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 60, 1e-4)
        kept = np.ascontiguousarray(local[inside])
        done[inside] = cv2.cornerSubPix(soft, kept, (half, half), (-1, -1), rule).reshape(-1, 2) + low
    return done


def _edge_blur(grey: Grey, homography: Floats, one: Card) -> float:
    """Return the blur of edges between squares [px], from the steepest slope of each edge profile."""
    found = []
    half = len(one.saddles) // 2
    middles = np.vstack(
        [(one.saddles[i] + one.saddles[i + 1]) / 2 for i in range(2 * half - 1) if i != half - 1]
    )
    span = np.linspace(-3.5, 3.5, 57)
    for middle in middles:
        spots = _mapped(homography, middle + np.column_stack([span, np.zeros_like(span)])).astype(np.float32)
        line = cv2.remap(grey, spots[:, :1], spots[:, 1:], cv2.INTER_LINEAR).ravel().astype(float)
        step = float(np.hypot(*(spots[-1] - spots[0]))) / (len(span) - 1)
        slope = np.abs(np.diff(line)).max() / step
        rise = abs(line[-6:].mean() - line[:6].mean())
        if rise > 20 and slope > 0:
            found.append(rise / (slope * np.sqrt(2 * np.pi)))
    return float(np.median(found)) if found else float("inf")


def _read(grey: Grey, identity: int, marker: Floats) -> Sighting:
    """Return the sighting of one marker; with no saddles if they cannot be read."""
    one = card(identity)
    start = cv2.getPerspectiveTransform(one.marker.astype(np.float32), marker.astype(np.float32))
    homography = np.asarray(start, dtype=np.float64)
    side = np.hypot(*(np.roll(marker, -1, axis=0) - marker).T).mean()
    square = float(side * SQUARE / np.hypot(*(one.marker[1] - one.marker[0])))
    pixels, good = _mapped(homography, one.saddles), np.ones(len(one.saddles), dtype=bool)
    levels = np.zeros((len(one.saddles), 4))
    for turn, share in enumerate(WINDOWS):
        half = int(np.clip(round(share * square), 4, WIDEST[min(turn, 1)]))
        soften = 1.5 if square > 24 else 0.8
        new = _refined(grey, pixels, half=half, soften=soften)
        near = np.hypot(*(new - pixels).T) < (0.3 if turn == 0 else 0.12) * square
        near &= np.isfinite(new).all(axis=1)
        if near.sum() < 4:
            return Sighting(
                card=identity, marker=marker, which=np.empty(0, np.int64), pixels=np.empty((0, 2)),
                blur=np.inf, square=square,
            )  # fmt: skip
        fitted, kept = cv2.findHomography(
            one.saddles[near], new[near], cv2.RANSAC, max(1.0, (0.06, 0.02, 0.02)[turn] * square)
        )
        if fitted is None:
            return Sighting(
                card=identity, marker=marker, which=np.empty(0, np.int64), pixels=np.empty((0, 2)),
                blur=np.inf, square=square,
            )  # fmt: skip
        homography = np.asarray(fitted, dtype=np.float64)
        good = near.copy()
        good[near] &= kept.ravel().astype(bool)
        levels = _rays(grey, homography, one.saddles, 0.28 * SQUARE)
        spread = np.percentile(levels, 85) - np.percentile(levels, 15)
        good &= _alternate(levels, _dark_first(one), max(10.0, 0.3 * spread))
        pixels = np.where(good[:, None], new, _mapped(homography, one.saddles))
    which = np.flatnonzero(good)
    blur = _edge_blur(grey, homography, one)
    return Sighting(card=identity, marker=marker, which=which, pixels=pixels[which], blur=blur, square=square)


def find_cards(grey: Grey) -> list[Sighting]:
    """Return the cards seen in a grey picture, readable or not; places [px].

    The same identity may come twice (two prints of one sheet): they are two cards.
    """
    sightings: list[Sighting] = []
    for long_side in (2000, 1100, 4200):
        if long_side == 4200 and (max(grey.shape) <= 2000 or sum(s.readable for s in sightings) >= 4):
            break
        if long_side == 1100 and sum(s.readable for s in sightings) >= 5:
            continue
        for identity, marker in _markers(grey, cv2.aruco.DICT_4X4_50, long_side=long_side):
            middle = marker.mean(axis=0)
            known = [
                i for i, s in enumerate(sightings) if np.hypot(*(s.marker.mean(axis=0) - middle)) < s.square
            ]
            if any(sightings[i].readable for i in known):
                continue
            found = _read(grey, identity, marker)
            sightings = [s for i, s in enumerate(sightings) if i not in known or not found.readable]
            if found.readable or not known:
                sightings.append(found)
    return sorted(sightings, key=lambda s: (s.card, float(s.marker[0, 0])))


def other_kinds(grey: Grey) -> str:
    """Say why no card may have been found: "mirrored", "other" markers, or "" if nothing like a card is there [-]."""
    mirror = np.ascontiguousarray(grey[:, ::-1])
    if sum(_read(mirror, i, m).readable for i, m in _markers(mirror, cv2.aruco.DICT_4X4_50, long_side=2000)):
        return "mirrored"
    kinds = (cv2.aruco.DICT_APRILTAG_36h11, cv2.aruco.DICT_5X5_250, cv2.aruco.DICT_6X6_250)
    return "other" if any(len(_markers(grey, kind, long_side=1400)) >= 2 for kind in kinds) else ""
