"""The camera: pinhole, a lens that bends straight lines, and where it stands. World: z up, bench at z = 0 [mm]."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera with known truth.

    Attributes
    ----------
    size : (width, height) [px]
    focal : focal length [px]
    centre : principal point [px]
    radial : k1, k2, k3 [-]
    tangential : p1, p2 [-]
    place : where the lens is [mm]
    turn : (3, 3) rotation, world to camera (camera x right, y down, z forward)
    """

    size: tuple[int, int]
    focal: float
    centre: tuple[float, float]
    radial: tuple[float, float, float]
    tangential: tuple[float, float]
    place: Floats
    turn: Floats

    def project(self, points: Floats) -> Floats:
        """Return (N, 2) pixels of (N, 3) world points [mm]."""
        seen = (points - self.place) @ self.turn.T
        return self.bent(seen[:, :2] / seen[:, 2:])

    def bent(self, ideal: Floats) -> Floats:
        """Return pixels of ideal image coordinates [-]."""
        x, y = ideal[..., 0], ideal[..., 1]
        r2 = x * x + y * y
        k1, k2, k3 = self.radial
        p1, p2 = self.tangential
        stretch = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        u = x * stretch + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        v = y * stretch + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        return np.stack([self.focal * u + self.centre[0], self.focal * v + self.centre[1]], axis=-1)

    def rays(self) -> NDArray[np.float32]:
        """Return (height, width, 2) ideal coordinates [-] of every pixel: exact each 8 px, linear between."""
        wide, high = self.size
        step = 8
        grid = np.stack(
            np.meshgrid(np.arange(0, wide + step, step), np.arange(0, high + step, step)), axis=-1
        ).astype(float)
        ideal = (grid - self.centre) / self.focal
        for _ in range(12):
            ideal = ideal - (self.bent(ideal) - grid) / self.focal
        coarse = ideal.astype(np.float32)
        # enlarge about pixel centres: coarse node (i, j) is the pixel (8 i, 8 j)
        matrix = np.array([[step, 0, 0], [0, step, 0]], dtype=np.float64)
        return cv2.warpAffine(coarse, matrix, (wide, high), flags=cv2.INTER_LINEAR)

    def on_plane(self, rays: NDArray[np.float32], height: float) -> NDArray[np.float32]:
        """Return (..., 2) world x, y [mm] where the rays meet the plane z = `height` [mm]."""
        m = self.turn.T.astype(np.float32)
        x, y = rays[..., 0], rays[..., 1]
        down = m[2, 0] * x + m[2, 1] * y + m[2, 2]
        far = np.float32(height - self.place[2]) / down
        return np.stack(
            [np.float32(self.place[i]) + far * (m[i, 0] * x + m[i, 1] * y + m[i, 2]) for i in range(2)],
            axis=-1,
        )


def looking(
    at: Floats, *, distance: float, tilt: float, bearing: float, roll: float
) -> tuple[Floats, Floats]:
    """Return place [mm] and rotation of a camera aimed at a point, tilted from straight down [rad]."""
    away = np.array([math.sin(tilt) * math.cos(bearing), math.sin(tilt) * math.sin(bearing), math.cos(tilt)])
    place = np.asarray(at, dtype=float) + distance * away
    forward = -away
    side = np.array([math.cos(bearing + math.pi / 2), math.sin(bearing + math.pi / 2), 0.0])
    down = np.cross(forward, side)
    right = math.cos(roll) * side + math.sin(roll) * down
    return place, np.stack([right, np.cross(forward, right), forward])
