"""Where a template ends on a bench of its own colour, told by two or more photos from different sides.

Glossary
--------
face, bench : the plane of the template's upper face, and that of the bench one thickness lower
disparity : by how much what lies on the bench moves against the face from one photo to another
alike on the face (on the bench) : what two photos show at one place of that plane, one less the other, log brightness
band : what lies between face and bench in one of the photos: the cut wall, or bench that the other does not see

Whatever the template looks like, all photos show the same thing at a place of its face. Beyond its edge they show
what lies lower, each another piece of it; but taken for places of the bench they are alike there. So the edge is
where likeness changes from one plane to the other, and colour and grain, which pass for board in any one photo,
cannot deceive. Along lines across the rough outline every place of the edge is weighed: likeness on the face inside,
the band whose width follows from where the cameras stood, likeness on the bench outside; exact marginals round the
loop give place and error (``marginals``). Where a bench is even, or its grain and the disparity run along the edge,
little is told and the error is large: another photo from another side tells it.

Cost: 0.3 s a pair of photos and metre. Limits: the template must not move between photos, nor the lamps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.lens import View
from platewright.pattern.capture.edge.marginals import edge_marginals
from platewright.pattern.capture.edge.profiles import Setting, blurs_across, sampled
from platewright.pattern.capture.edge.search import STEP
from platewright.pattern.capture.region.colour import tones
from platewright.pattern.image import Bytes
from platewright.pattern.loops import even, normals_of, softened

__all__ = ["EdgeEstimate", "PhotoView", "density", "edge_by_parallax", "spread_of"]

ACROSS = 0.1
"""Distance of samples across the outline [mm]; its lines are `STEP` apart."""
ROUNDS = ((3.0, 1.5), (1.5, 0.8), (0.9, 0.5))
"""How far the edge is looked for, and how much the outline is softened first, round by round [mm]."""
BESIDE = 4.0
"""How far inside and outside what is looked for likeness is learnt [mm]."""
AROUND = 6.0
"""Over how much of the outline the photos' shares of light are compared [mm]."""
CORRELATED = 0.1
"""Weight of a sample among neighbours that say the same [-]."""
SPREAD, MOST = 0.08, 12.0
"""How much the edge wanders from line to line [mm], and the most that a jump costs [-]."""
BAND = 0.3
"""How unlike wall and bench, or bench and what hides it, are in the band [-]."""
LEAST = 0.006
"""Least unlikeness of alike places [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class PhotoView:
    """One photo and how it was taken."""

    rgb: Bytes
    setting: Setting

    @property
    def view(self) -> View:
        """Camera."""
        return self.setting.view


@dataclass(frozen=True, slots=True, eq=False)
class EdgeEstimate:
    """The edge on lines across an outline: feet and normals (N, 2), places outwards of the feet and their standard deviation [mm]."""

    feet: Floats
    normals: Floats
    places: Floats
    sd: Floats

    @property
    def points(self) -> Floats:
        """The edge (N, 2) [mm]."""
        return np.asarray(self.feet + self.places[:, None] * self.normals)


def _tone(rgb: Bytes, setting: Setting, spots: Floats) -> Floats:
    """Return log brightness at places (N, M, 2) of the setting's plane [-]."""
    light = softened(sampled(rgb, setting, spots), 0.5)
    return np.asarray(tones(light.astype(np.float32))[..., 0], dtype=np.float64)


def _footed(photo: PhotoView, spots: Floats) -> Floats:
    """Return the places of the bench that the photo shows at places of the face [mm]."""
    place, s = photo.view.place, photo.setting
    return np.asarray(spots + (spots - place[:2]) * s.thickness / (place[2] - s.z))


def _leaning(photo: PhotoView, feet: Floats, normals: Floats) -> Floats:
    """Return how far out the foot of the wall is seen, negative where the wall is hidden and some bench with it (N,) [mm]."""
    place, s = photo.view.place, photo.setting
    return np.asarray(
        ((place[:2] - feet) * normals).sum(axis=1) * s.thickness / (place[2] - s.z + s.thickness)
    )


def density(values: NDArray[np.floating], spread: float) -> Floats:
    """Return the log density of differences, Student's with three degrees of freedom [-]."""
    return np.asarray(-np.log(spread) - 2.0 * np.log1p((values / spread) ** 2 / 3.0))


def spread_of(values: NDArray[np.floating]) -> float:
    """Return how far differences of alike places wander [-]."""
    return LEAST + 1.4826 * float(np.median(np.abs(values)))


def _levelled(difference: Floats, where: NDArray[np.bool_]) -> Floats:
    """Return differences (N, M) without the slow part that samples `where` (M,) show along the outline [-]."""
    slow = np.median(difference[:, where], axis=1)
    half = round(AROUND / STEP)
    index = (np.arange(len(slow))[:, None] + np.arange(-half, half + 1)) % len(slow)
    return np.asarray(difference - softened(np.median(slow[index], axis=1), half)[:, None])


def _summed(zones: Sequence[tuple[Floats, Floats]], last: Floats, start: float) -> Floats:
    """Return the sum of densities (N, M) zone by zone up to ends (N, E), and of the last to the end of the line [-]."""
    count = last.shape[1]
    rows = np.arange(len(last))[:, None]

    def upto(values: Floats, end: Floats) -> Floats:
        run = np.pad(np.cumsum(values, axis=1), ((0, 0), (1, 0)))
        at = np.clip((end - start) / ACROSS + 0.5, 0, count - 1e-6)
        low = at.astype(int)
        share = at - low
        return np.asarray(run[rows, low] * (1 - share) + run[rows, low + 1] * share)

    total = np.broadcast_to(last.sum(axis=1)[:, None], zones[0][1].shape).copy()
    following = [values for values, _ in zones[1:]] + [last]
    for (values, end), after in zip(zones, following, strict=True):
        total += upto(values, end) - upto(after, end)
    return total


def _gains(photos: Sequence[PhotoView], feet: Floats, normals: Floats, reach: float) -> Floats:
    """Return the log-likelihood (N, E) of each try at the edge on each line [-]."""
    lean = [_leaning(p, feet, normals) for p in photos]
    soft = [blurs_across(feet, normals, p.setting)[:, None] for p in photos]
    beyond = max(0.0, *(float((a - np.minimum(b, 0)).max()) for a, b in permutations(lean, 2)))
    span = np.arange(-reach - BESIDE, reach + beyond + BESIDE, ACROSS)
    spots = feet[:, None] + span[None, :, None] * normals[:, None]
    face = [_tone(p.rgb, p.setting, spots) for p in photos]
    tries = np.broadcast_to(
        np.arange(-reach, reach + 1e-9, ACROSS), (len(feet), round(2 * reach / ACROSS) + 1)
    )
    inner, outer = span < -reach - 0.6, span > reach + beyond + 0.6
    gain = np.zeros(tries.shape)
    for i, j in permutations(range(len(photos)), 2):
        upper = _levelled(face[i] - face[j], inner)
        bench = replace(photos[j].setting, z=photos[j].setting.z - photos[j].setting.thickness)
        lower = face[i] - _tone(photos[j].rgb, bench, _footed(photos[i], spots))
        lower = _levelled(lower, outer)
        band = np.maximum(0.0, np.maximum(lean[i], lean[i] - lean[j]))[:, None]
        blur = np.hypot(soft[i], soft[j])
        alike = [(upper, spread_of(upper[:, inner])), (lower, spread_of(lower[:, outer]))]
        within, lower_down = (density(off, spread) for off, spread in alike)
        gain += _summed(
            [(within, tries - blur), (density(upper, BAND), tries + band + blur)], lower_down, float(span[0])
        )
    return gain * (CORRELATED / (len(photos) - 1))


def edge_by_parallax(photos: Sequence[PhotoView], loop: Floats) -> EdgeEstimate:
    """Move a rough loop onto the edge that the photos tell together.

    Parameters
    ----------
    photos : two or more, from different sides; settings of one face and thickness [mm]
    loop : (N, 2) places within about 3 mm of the edge; metal on the left of travel [mm]
    """
    points = loop
    for reach, soft in ROUNDS:
        feet = even(softened(even(points, STEP), soft / STEP), STEP)
        normals = normals_of(feet)
        place, sd = edge_marginals(_gains(photos, feet, normals, reach), ACROSS, SPREAD, MOST)
        estimate = EdgeEstimate(feet, normals, place - reach, sd)
        points = estimate.points
    return estimate
