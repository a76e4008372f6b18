"""Benches and boards: reflectance in linear light as a function of place, from noise with a fixed seed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.float32]
SIDE = 1024


@cache
def _noise(seed: int, octave: int) -> Image:
    """Return a tile that repeats, mean 0 and standard deviation 1, smooth over 2**octave texels."""
    rng = np.random.default_rng((seed, octave))
    raw = rng.standard_normal((SIDE, SIDE)).astype(np.float32)
    if octave:
        sigma = 2.0**octave / 2
        pad = int(4 * sigma) + 1
        raw = cv2.GaussianBlur(np.pad(raw, pad, mode="wrap"), (0, 0), sigma)[pad:-pad, pad:-pad]
    return (raw - raw.mean()) / raw.std()


@dataclass(frozen=True, slots=True)
class Grain:
    """Noise of a seed at places: `stretch` texels a millimetre in x and y."""

    seed: int

    def at(self, places: Image, octave: int, *, stretch: tuple[float, float]) -> Image:
        """Return the noise at (..., 2) places [mm]."""
        u = np.mod(places[..., 0] * np.float32(stretch[0]) + np.float32(91.7 * octave), SIDE)
        v = np.mod(places[..., 1] * np.float32(stretch[1]) + np.float32(37.3 * octave), SIDE)
        return np.asarray(
            cv2.remap(_noise(self.seed, octave), u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        )


def _toned(colour: tuple[float, float, float], tone: Image) -> Image:
    return np.maximum(np.asarray(colour, dtype=np.float32) * tone[..., None], 0.004)


def steel(places: Image, seed: int) -> Image:
    """Return a worn steel bench top: brushed, blotched, scratched."""
    g = Grain(seed)
    tone = (
        1
        + 0.05 * g.at(places, 0, stretch=(1.0, 9.0))
        + 0.05 * g.at(places, 3, stretch=(2, 2))
        + 0.10 * g.at(places, 6, stretch=(1.5, 1.5))
    )
    scratch = g.at(places, 2, stretch=(0.15, 3.0))
    tone = tone + 0.25 * np.clip(scratch - 2.2, 0, 1)
    rust = np.clip(g.at(places, 5, stretch=(1.1, 1.1)) - 1.5, 0, 1)[..., None]
    return _toned((0.17, 0.185, 0.205), tone) * (1 - rust * np.array([0.1, 0.35, 0.5], np.float32))


def light(places: Image, seed: int) -> Image:
    """Return a pale laminate top with speckle."""
    g = Grain(seed)
    tone = 1 + 0.03 * g.at(places, 1, stretch=(3, 3)) + 0.03 * g.at(places, 6, stretch=(1.2, 1.2))
    dirt = np.clip(g.at(places, 4, stretch=(2, 2)) - 2.0, 0, 1)
    return _toned((0.66, 0.65, 0.61), tone - 0.25 * dirt)


def painted(places: Image, seed: int) -> Image:
    """Return a mid-dark blue-green painted top, chipped here and there."""
    g = Grain(seed)
    tone = 1 + 0.05 * g.at(places, 2, stretch=(4, 4)) + 0.07 * g.at(places, 6, stretch=(1, 1))
    base = _toned((0.055, 0.105, 0.125), tone)
    chip = np.clip((g.at(places, 4, stretch=(2.5, 2.5)) - 2.4) * 3, 0, 1)[..., None]
    return base * (1 - chip) + chip * np.array([0.3, 0.28, 0.25], np.float32)


def wood(places: Image, seed: int) -> Image:
    """Return brown planks with grain, knots and gaps."""
    g = Grain(seed)
    plank = np.floor(places[..., 1] / 118.0)
    shade = 0.14 * np.sin(plank * 12.9898 + seed).astype(np.float32)
    waved = np.stack(
        [places[..., 0] + plank * 131.0, places[..., 1] + 5 * g.at(places, 6, stretch=(0.35, 0.6))], axis=-1
    ).astype(np.float32)
    tone = (
        1
        + shade
        + 0.13 * g.at(waved, 2, stretch=(0.12, 2.2))
        + 0.07 * g.at(waved, 1, stretch=(0.3, 4.5))
        + 0.06 * g.at(places, 6, stretch=(1, 1))
    )
    gap = np.abs(places[..., 1] - plank * 118.0 - 59) > 58.2
    tone = np.where(gap, 0.25, tone).astype(np.float32)
    # species differ: from redder than board to its very colour; darker grain is redder
    blend = np.random.default_rng((seed, 12)).uniform(0, 1)
    base = (1 - blend) * np.array([0.33, 0.205, 0.11]) + blend * np.array([0.39, 0.255, 0.143])
    tones = np.stack([np.maximum(tone, 0.05) ** p for p in (1.0, 1.12, 1.25)], axis=-1)
    return np.maximum(base.astype(np.float32) * tones.astype(np.float32), 0.004)


def cardboard(places: Image, seed: int) -> Image:
    """Return brown board: faint flutes, mottling, a stain."""
    g = Grain(seed + 7)
    tone = (
        1
        + 0.012 * np.sin(places[..., 0] * np.float32(2 * np.pi / 7.2))
        + 0.025 * g.at(places, 1, stretch=(4, 1.5))
        + 0.03 * g.at(places, 5, stretch=(2, 2))
    )
    stain = np.clip(g.at(places, 6, stretch=(0.8, 0.8)) - 1.7, 0, 1)
    return _toned((0.42, 0.275, 0.155), (tone - 0.12 * stain).astype(np.float32))


def plain_paper(places: Image, seed: int) -> Image:
    """Return white paper."""
    return np.full((*places.shape[:-1], 3), 0.80, dtype=np.float32)


BENCHES = {"steel": steel, "light": light, "painted": painted, "wood": wood, "paper": plain_paper}
