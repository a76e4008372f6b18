"""A camera: where it stands, and how its lens turns places into pixels and back.

World: z up, places [mm]; a lens is (log f, cx, cy, k1, k2, p1, p2) with f, cx, cy [px], model of Brown (1971) with two
radial and two tangential terms. Limits: a wide-angle fisheye is outside the lens model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platewright.geometry.contour import Floats

__all__ = ["LENS", "View", "bent", "derivatives", "project", "rotation", "to_plane", "unbent"]

LENS = 7
"""Lens unknowns [-]: log f, cx, cy, k1, k2, p1, p2."""


def rotation(vector: Floats) -> Floats:
    """Return the 3 by 3 turn of a rotation vector [rad] (Rodrigues)."""
    angle = float(np.sqrt(vector @ vector))
    x, y, z = vector
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    if angle < 1e-12:
        return np.asarray(np.eye(3) + cross, dtype=np.float64)
    return np.asarray(
        np.eye(3) + np.sin(angle) / angle * cross + (1 - np.cos(angle)) / angle**2 * cross @ cross
    )


def bent(lens: Floats, ideal: Floats) -> Floats:
    """Return pixels [px] of ideal image coordinates (..., 2) [-] under a lens (log f, cx, cy, k1, k2, p1, p2)."""
    x, y = ideal[..., 0], ideal[..., 1]
    log_f, cx, cy, k1, k2, p1, p2 = lens
    r2 = x * x + y * y
    stretch = 1 + r2 * (k1 + k2 * r2)
    u = x * stretch + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
    v = y * stretch + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
    f = np.exp(log_f)
    return np.stack([f * u + cx, f * v + cy], axis=-1)


def unbent(lens: Floats, pixels: Floats) -> Floats:
    """Return ideal image coordinates [-] of pixels [px]: fixed point, to far below a thousandth of a pixel."""
    f, centre = np.exp(lens[0]), lens[1:3]
    aim = (pixels - centre) / f
    found = aim.copy()
    for _ in range(25):
        off = (bent(lens, found) - centre) / f - aim
        # beyond the fold of a strong lens there is no answer; stay finite there
        found = np.clip(found - off, -3.0, 3.0)
        if np.abs(off).max(initial=0.0) < 1e-9:
            break
    return np.asarray(found, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One photo's camera: lens vector, turn (3, 3) and shift (3,) [mm] so that camera = turn @ world + shift."""

    lens: Floats
    turn: Floats
    shift: Floats

    @property
    def place(self) -> Floats:
        """Where the lens is in the world [mm]."""
        return np.asarray(-self.turn.T @ self.shift)


def project(view: View, points: Floats) -> Floats:
    """Return pixels (N, 2) [px] of world points (N, 3) [mm]."""
    in_camera = points @ view.turn.T + view.shift
    return bent(view.lens, in_camera[:, :2] / in_camera[:, 2:])


def to_plane(view: View, pixels: Floats, z: float | Floats = 0.0) -> Floats:
    """Return world x, y (N, 2) [mm] where the rays of pixels (N, 2) [px] meet the height z [mm]."""
    ideal = unbent(view.lens, pixels)
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ view.turn
    place = view.place
    far = (z - place[2]) / rays[:, 2]
    return np.asarray(place[:2] + far[:, None] * rays[:, :2])


def derivatives(lens: Floats, in_camera: Floats) -> tuple[Floats, Floats]:
    """Return the derivatives of pixels by lens (N, 2, 7) and by camera coordinates (N, 2, 3) [mm]."""
    z = in_camera[:, 2]
    x, y = in_camera[:, 0] / z, in_camera[:, 1] / z
    log_f, _, _, k1, k2, p1, p2 = lens
    f, r2 = np.exp(log_f), x * x + y * y
    stretch, grow = 1 + r2 * (k1 + k2 * r2), 2 * k1 + 4 * k2 * r2
    one, nil = np.ones_like(x), np.zeros_like(x)
    u = x * stretch + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
    v = y * stretch + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
    by_u = [f * u, one, nil, f * x * r2, f * x * r2 * r2, 2 * f * x * y, f * (r2 + 2 * x * x)]
    by_v = [f * v, nil, one, f * y * r2, f * y * r2 * r2, f * (r2 + 2 * y * y), 2 * f * x * y]
    to_lens = np.stack([np.stack(by_u, axis=1), np.stack(by_v, axis=1)], axis=1)
    ux = stretch + x * x * grow + 2 * p1 * y + 6 * p2 * x
    uy = x * y * grow + 2 * p1 * x + 2 * p2 * y
    vy = stretch + y * y * grow + 6 * p1 * y + 2 * p2 * x
    to_point = np.empty((len(x), 2, 3))
    for row, (dx, dy) in enumerate(((ux, uy), (uy, vy))):
        to_point[:, row, 0], to_point[:, row, 1] = f * dx / z, f * dy / z
        to_point[:, row, 2] = -f * (dx * x + dy * y) / z
    return to_lens, to_point
