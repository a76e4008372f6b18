"""A photo sampled across a loop on the template's upper face: profiles of light, how wide the cut wall is seen, how blurred.

Lengths are those on the upper face's plane, so what lies lower (the wall's foot, the bench) is seen moved towards the
camera's foot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.lens import View, project
from platewright.pattern.capture.camera.rectify import light_at, stored_of
from platewright.pattern.capture.camera.response import Response, plain
from platewright.pattern.capture.edge.light import ACROSS, BENCH_SIDE, FACE_SIDE, LoopProfiles
from platewright.pattern.image import Bytes
from platewright.pattern.loops import softened

__all__ = ["Setting", "across_loop", "blurs_across", "sampled", "wall_widths"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What the edge search must know: camera, height of the upper face over the cards' paper [mm], blur [px].

    Also the thickness and its standard deviation [mm].
    """

    view: View
    z: float
    thickness: float
    blur: float
    thickness_sd: float = 0.1
    response: Response | None = None

    @property
    def written(self) -> Response:
        """How the camera writes a plain edge."""
        return self.response or plain(self.blur)


def sampled(rgb: Bytes, setting: Setting, spots: Floats) -> Floats:
    """Return linear RGB (N, M, 3) [-] at world places (N, M, 2) on the upper face's plane [mm]."""
    flat = spots.reshape(-1, 2)
    pixels = project(setting.view, np.column_stack([flat, np.full(len(flat), setting.z)]))
    return light_at(rgb, pixels.reshape(spots.shape))


def wall_widths(points: Floats, normals: Floats, setting: Setting) -> Floats:
    """Return the visible width of the cut wall at each point, seen in the upper face's plane [mm].

    The foot of the wall is seen moved towards the camera's foot; round a hole or a corner that move has a share
    along the edge, which bares a little more of a hollow wall and hides a little of a bulging one.
    """
    place = setting.view.place
    move = setting.thickness * (place[:2] - points) / (place[2] - setting.z + setting.thickness)
    across, along = (move * normals).sum(axis=1), move[:, 1] * normals[:, 0] - move[:, 0] * normals[:, 1]
    return np.asarray(np.maximum(across + 0.5 * _hollow(points, normals) * along**2, 0.0), dtype=np.float64)


def _hollow(points: Floats, normals: Floats) -> Floats:
    """Return the curvature over a few millimetres, positive where the metal is hollow as round a hole [1/mm]."""
    soft = softened(normals, 3.0)
    turn, chord = (np.roll(v, -8, axis=0) - np.roll(v, 8, axis=0) for v in (soft, points))
    bend = -(turn * chord).sum(axis=1) / np.maximum((chord**2).sum(axis=1), 1e-9)
    return np.asarray(np.clip(bend, -0.25, 0.25), dtype=np.float64)


def blurs_across(points: Floats, normals: Floats, setting: Setting) -> Floats:
    """Return the picture's blur across the edge [mm]."""
    z = np.full(len(points), setting.z)
    ends = [project(setting.view, np.column_stack([points + s * 0.5 * normals, z])) for s in (-1, 1)]
    scale = np.hypot(*(ends[1] - ends[0]).T)
    return np.asarray(setting.blur / np.maximum(scale, 1e-6))


def across_loop(
    rgb: Bytes, setting: Setting, feet: Floats, *, normals: Floats, along: float, reach: float = 0.0
) -> LoopProfiles:
    """Return profiles across a closed loop (N, 2) of feet `along` apart whose edge is within `reach` [mm]."""
    wall, sigma = wall_widths(feet, normals, setting), blurs_across(feet, normals, setting)
    sigma, pixel = sigma * (setting.written.blur / setting.blur), float(np.median(sigma)) / setting.blur
    span = np.arange(-FACE_SIDE - reach, BENCH_SIDE + reach + float(wall.max()) + 1e-9, ACROSS)
    spots = feet[:, None, :] + span[None, :, None] * normals[:, None, :]
    stored = stored_of(softened(sampled(rgb, setting, spots), 0.5 / along))
    wider = max(0.03, setting.thickness_sd / max(setting.thickness, 0.1))
    return LoopProfiles(
        stored=stored,
        span=span,
        wall=wall,
        sigma=sigma,
        along=along,
        pixel=pixel,
        wider=wider,
        response=setting.written,
        thick=max(setting.thickness, 0.05),
    )
