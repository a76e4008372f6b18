"""How this camera writes a plain edge, measured where the truth is known: at the squares of the cards.

Glossary
--------
halo : phones sharpen: beside an edge the dark side comes out darker and the bright side brighter than they are
edge response : what is stored across a step from black to white, over the distance from the step

Sharpening moves an edge that is fitted without it: the tone curve makes much of the dark side's halo, so the edge is
pushed towards the bright side, outwards on a pale bench (0.07 mm at a third of a millimetre a pixel), inwards on a dark one;
and a halo passes for a seam of dark wall. Learnt from the outline it trades against blur, shadow and wall. The cards'
squares have none of these: printed steps, flat, their places known. So blur and halo are fitted to them: a bell, then
more by `amount` of what a wider bell takes away, in linear light or in tone-curved values, whichever fits better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.optimize import least_squares
from scipy.special import ndtr

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.cards import SQUARE, Card, card
from platewright.pattern.capture.camera.detect import Sighting
from platewright.pattern.capture.camera.rectify import light_at, light_of, stored_of
from platewright.pattern.image import Bytes

__all__ = ["Response", "plain", "response_of"]

HALF, BESIDE = 0.35, 0.25
"""How far a profile reaches either side of a square's edge, and along it, as a share of the square [-]."""
SAMPLES, LINES = 121, 11
"""Samples of a profile, and profiles side by side that are averaged [-]."""
PITCH, REACH = 0.25, 5.0
"""Distance of the places the response is taken at, and how far out [px]."""
LEAST_STEP = 0.25
"""A card whose white is brighter than its black by less than this (stored, of 1) says nothing [-]."""
CUT = 0.05
"""Darker than the cards' black by so much, or not brighter by as much (stored, of 1), a sample is not fitted on the dark side [-]."""
FEWEST = 12
"""So many edges at least, or no halo is told [-]."""
MIX = np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])
"""From tone-curved red, green, blue to brightness (ITU-R BT.601) and colour differences (JFIF 1.02)."""


@dataclass(frozen=True, slots=True)
class Response:
    """Blur (sd) [px]; by how much it is sharpened [-], over what breadth (sd) [px], whether in tone-curved values."""

    blur: float
    amount: float = 0.0
    breadth: float = 1.0
    toned: bool = False


def plain(blur: float) -> Response:
    """Return the response of a camera that blurs [px] and does not sharpen."""
    return Response(blur)


def _edges(one: Card) -> list[tuple[Floats, Floats]]:
    """Return the middles of edges between squares and the directions across them [mm]."""
    half = len(one.saddles) // 2
    across, up = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    upright = [(one.saddles[i] + one.saddles[i + 1]) / 2 for i in range(2 * half - 1) if i != half - 1]
    level = [s + side * across * SQUARE / 2 for s in one.saddles for side in (-1.0, 1.0)]
    return [(middle, across) for middle in upright] + [(middle, up) for middle in level]


def _profiles(rgb: Bytes, sighting: Sighting) -> list[tuple[Floats, Floats]]:
    """Return places [px] and stored brightness across each edge of one card's squares."""
    one = card(sighting.card)
    homography, _ = cv2.findHomography(one.saddles[sighting.which], sighting.pixels, 0)
    span = np.linspace(-HALF, HALF, SAMPLES) * SQUARE
    beside = np.linspace(-BESIDE, BESIDE, LINES) * SQUARE
    found = []
    for middle, across in _edges(one):
        along = np.array([-across[1], across[0]])
        spots = middle + span[None, :, None] * across + beside[:, None, None] * along
        laid = cv2.perspectiveTransform(spots.reshape(-1, 1, 2), homography)
        pixels = np.asarray(laid, dtype=np.float64).reshape(LINES, SAMPLES, 2)
        if (pixels < 1).any() or (pixels > np.array(rgb.shape[1::-1]) - 2).any():
            continue
        stored = stored_of(light_at(rgb, pixels).mean(axis=0)) @ MIX[0]
        long = float(np.hypot(*(pixels[LINES // 2, -1] - pixels[LINES // 2, 0])))
        found.append((np.linspace(-0.5, 0.5, SAMPLES) * long, stored))
    return found


def _crossed(place: Floats, stored: Floats) -> tuple[Floats, Floats, Floats] | None:
    """Return places from where half the light is reached [px], stored values as a share of the step, and both levels; None if it is no plain step."""
    end = SAMPLES // 8
    levels = np.array([stored[:end].mean(), stored[-end:].mean()])
    if levels[0] > levels[1]:
        levels, stored, place = levels[::-1], stored[::-1], -place[::-1]
    if levels[1] - levels[0] < LEAST_STEP or place[-1] < REACH:
        return None
    light, ends = light_of(stored), light_of(levels)
    share = (light - ends[0]) / (ends[1] - ends[0])
    up = np.flatnonzero((share[:-1] < 0.5) & (share[1:] >= 0.5))
    if len(up) != 1:
        return None
    k = int(up[0])
    zero = place[k] + (0.5 - share[k]) / (share[k + 1] - share[k]) * (place[k + 1] - place[k])
    return place - zero, (stored - levels[0]) / (levels[1] - levels[0]), levels


def _written(at: Floats, response: Response, shift: float, levels: Floats) -> Floats:
    """Return what is stored across a step between two linear levels [-]."""
    z = at - shift
    if not response.toned:
        wide = np.hypot(response.blur, response.breadth)
        step = (1 + response.amount) * ndtr(z / response.blur) - response.amount * ndtr(z / wide)
        return stored_of(levels[0] + (levels[1] - levels[0]) * step)
    fine = np.arange(at[0] - 12.0, at[-1] + 12.0, PITCH)
    tone = stored_of(levels[0] + (levels[1] - levels[0]) * ndtr((fine - shift) / response.blur))
    reach = np.arange(-12.0, 12.0 + 1e-9, PITCH)
    bell = np.exp(-0.5 * (reach / response.breadth) ** 2)
    soft = np.convolve(np.pad(tone, len(reach) // 2, mode="edge"), bell / bell.sum(), mode="valid")
    return np.clip(np.interp(at, fine, tone + response.amount * (tone - soft)), 0.0, 1.0)


def response_of(rgb: Bytes, sightings: Sequence[Sighting], blur: float) -> Response:
    """Return how the camera writes a plain edge, by the cards' squares; a plain `blur` [px] where they do not tell."""
    steps = [_crossed(*p) for s in sightings if s.readable for p in _profiles(rgb, s)]
    known = [s for s in steps if s is not None]
    if len(known) < FEWEST:
        return plain(blur)
    at = np.arange(-REACH, REACH + 1e-9, PITCH)
    shape = np.median([np.interp(at, place, share) for place, share, _ in known], axis=0)
    levels = np.median([v for _, _, v in known], axis=0)
    stored = levels[0] + (levels[1] - levels[0]) * shape
    ends = light_of(levels)
    # the dark side's halo is cut off at black, and what noise leaves there is no light
    plainly = (at > 0) | (stored > levels[0] + CUT)
    best = (np.inf, plain(blur))
    for toned in (False, True):

        def response(v: Floats, toned: bool = toned) -> Response:
            return Response(float(np.exp(v[0])), float(v[1]), float(np.exp(v[2])), toned)

        start = np.array([np.log(max(blur, 0.4)), 0.5, np.log(1.3), 0.0])
        low, high = (
            np.array([np.log(0.2), 0.0, np.log(0.6), -1.0]),
            np.array([np.log(6.0), 3.0, np.log(3.0), 1.0]),
        )
        found = least_squares(
            lambda v: (_written(at, response(v), float(v[3]), ends) - stored)[plainly],
            np.clip(start, low, high),
            bounds=(low, high),
        )
        if found.cost < best[0]:
            best = (float(found.cost), response(found.x))
    return best[1]
