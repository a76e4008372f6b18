"""The bench seen from straight above: maps between a photo and a plane of the world."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.lens import View, project
from platewright.pattern.image import Bytes

__all__ = ["LINEAR", "Plan", "from_above", "light_at", "light_of", "plan_of", "stored_of"]

Singles = NDArray[np.float32]


def _linear_table() -> Singles:
    value = np.arange(256) / 255.0
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return table.astype(np.float32)


LINEAR = _linear_table()
"""Linear light [-] of an 8-bit value (IEC 61966-2-1): edges located in tone-curved values are biased."""


def light_of(stored: Floats) -> Floats:
    """Return the linear light [-] of stored values, of 1."""
    return np.asarray(np.interp(stored, np.arange(256) / 255.0, LINEAR))


def stored_of(light: Floats) -> Floats:
    """Return the stored values of linear light, of 1 [-]; the inverse of `light_of`."""
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-6) ** (1 / 2.4) - 0.055)


def light_at(rgb: Bytes, pixels: Floats) -> Floats:
    """Return linear RGB (N, M, 3) [-] between pixels, at places (N, M, 2) [px].

    Between pixels light is averaged, not stored values: the tone curve bends up, so their mean is darker than the light
    there, and an edge found in it lies up to a tenth of a pixel on its bright side.
    """
    low = np.maximum(np.floor(pixels.min(axis=(0, 1))).astype(int) - 2, 0)
    high = np.minimum(np.ceil(pixels.max(axis=(0, 1))).astype(int) + 3, np.array(rgb.shape[1::-1]))
    part = cv2.LUT(rgb[low[1] : high[1], low[0] : high[0]], LINEAR)
    x, y = np.ascontiguousarray((pixels - low).transpose(2, 0, 1), dtype=np.float32)
    found = cv2.remap(part, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(found, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Plan:
    """A raster on a plane of the world.

    Attributes
    ----------
    origin : world place of the middle of the upper left pixel [mm]; rows run towards smaller y
    pitch : size of a pixel [mm]
    size : width and height [px]
    z : height of the plane [mm]
    """

    origin: tuple[float, float]
    pitch: float
    size: tuple[int, int]
    z: float

    def world(self, pixels: Floats) -> Floats:
        """Return world x, y [mm] of raster places (N, 2) [px]."""
        return np.asarray(self.origin + np.asarray(pixels, dtype=np.float64) * (self.pitch, -self.pitch))

    def pixels(self, world: Floats) -> Floats:
        """Return raster places [px] of world x, y [mm]."""
        return np.asarray((np.asarray(world, dtype=np.float64) - self.origin) / (self.pitch, -self.pitch))

    def finer(self, pitch: float) -> Plan:
        """Return the same ground at another pitch [mm]."""
        wide, high = (int(np.ceil(n * self.pitch / pitch)) for n in self.size)
        return Plan(self.origin, pitch, (wide, high), self.z)


def plan_of(low: Floats, high: Floats, *, pitch: float, z: float) -> Plan:
    """Return the plan covering the box from `low` to `high` [mm] at a pitch and height [mm]."""
    wide, tall = (int(np.ceil(v / pitch)) + 1 for v in np.asarray(high) - np.asarray(low))
    return Plan((float(low[0]), float(high[1])), pitch, (wide, tall), z)


def _map(view: View, plan: Plan, shrink: int) -> tuple[Singles, Singles]:
    """Return where each raster pixel is in the picture shrunk by a whole factor: exact each 8 px, linear between."""
    step = 8
    wide, high = plan.size
    across, down = np.arange(0, wide + step, step), np.arange(0, high + step, step)
    grid = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2).astype(np.float64)
    world = np.column_stack([plan.world(grid), np.full(len(grid), plan.z)])
    pixels = (project(view, world) + 0.5) / shrink - 0.5
    coarse = pixels.reshape(len(down), len(across), 2).astype(np.float32)
    enlarge = np.array([[step, 0, 0], [0, step, 0]], dtype=np.float64)
    full = np.asarray(cv2.warpAffine(coarse, enlarge, (wide, high), flags=cv2.INTER_LINEAR), dtype=np.float32)
    return full[..., 0], full[..., 1]


def from_above(rgb: Bytes, view: View, plan: Plan, *, outside: int = 0) -> tuple[Bytes, NDArray[np.bool_]]:
    """Return the picture laid on the plan (8-bit RGB) and which of its pixels the photo shows [-]."""
    middle = plan.world(np.array(plan.size, dtype=np.float64)[None] / 2)
    around = np.vstack([middle, middle + (plan.pitch, 0)])
    spots = project(view, np.column_stack([around, [plan.z, plan.z]]))
    shrink = max(1, int(np.hypot(*(spots[1] - spots[0])) * 0.9))
    small = (
        rgb
        if shrink == 1
        else cv2.resize(rgb, (rgb.shape[1] // shrink, rgb.shape[0] // shrink), interpolation=cv2.INTER_AREA)
    )
    x, y = _map(view, plan, shrink)
    visible = (x >= 0) & (y >= 0) & (x <= small.shape[1] - 1) & (y <= small.shape[0] - 1)
    laid = cv2.remap(
        small, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(outside,) * 3
    )
    return np.asarray(laid, dtype=np.uint8), visible
