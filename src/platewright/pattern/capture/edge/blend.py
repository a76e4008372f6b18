"""Several photos of one template: outlines blended, and the height of its face from how they disagree.

An error d in the height of the face moves a point at p, seen from a camera whose foot is F and height H, by
d (p - F) / H. Two photos from different places move it differently; the differences along the normals, taken
over the whole outline, give d by linear least squares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.lens import View
from platewright.pattern.capture.edge.search import Edge

__all__ = ["Height", "blended", "height_error"]

NEAR = 1.0
"""Edges of two photos farther apart than this are not the same edge [mm]."""


@dataclass(frozen=True, slots=True)
class Height:
    """Error of the assumed height of the face and its standard deviation [mm]."""

    error: float
    sd: float


def _normals(points: Floats) -> Floats:
    along = np.roll(points, -3, axis=0) - np.roll(points, 3, axis=0)
    along = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    return np.column_stack([along[:, 1], -along[:, 0]])


def _offsets(first: Edge, other: Edge) -> tuple[Floats, Floats]:
    """Return how far the other edge lies outside the first along its normals [mm], nan where it is not near."""
    from scipy.spatial import cKDTree

    normals = _normals(first.points)
    _, at = cKDTree(other.points).query(first.points)
    before, after = other.points[at - 1], other.points[(at + 1) % len(other.points)]
    across = _normals(other.points)[at]
    # the foot on the other edge's tangent, along the first's normal
    along = ((other.points[at] - first.points) * across).sum(axis=1)
    slant = (normals * across).sum(axis=1)
    offset = along / np.where(np.abs(slant) < 0.5, np.nan, slant)
    corner = np.hypot(*(after - before).T) < 0.6 * np.median(np.hypot(*(after - before).T))
    unsure = (first.sd > 0.14) | (other.sd[at] > 0.14) | corner | (np.abs(offset) > NEAR)
    return np.where(unsure, np.nan, offset), other.sd[at]


def height_error(sets: Sequence[Sequence[Edge]], views: Sequence[View], *, z: float) -> Height | None:
    """Return the error of the height `z` of the face over the cards' paper [mm], None if the photos cannot tell."""
    lever, off = [], []
    for k in range(1, len(sets)):
        for first, other in zip(sets[0], sets[k], strict=True):
            offset, _ = _offsets(first, other)
            normals = _normals(first.points)
            pulls = [(first.points - v.place[:2]) / (v.place[2] - z) for v in (views[0], views[k])]
            slope = (normals * (pulls[0] - pulls[1])).sum(axis=1)
            known = np.isfinite(offset)
            # a face that is really higher by d was laid too far out by d (p - F) / H in each photo
            lever.append(-slope[known])
            off.append(offset[known])
    a, b = np.concatenate(lever), np.concatenate(off)
    if len(a) < 50 or float((a**2).sum()) < 1e-6:
        return None
    error = float((a * b).sum() / (a**2).sum())
    for _ in range(3):
        miss = b - a * error
        spread = 1.4826 * float(np.median(np.abs(miss))) + 1e-3
        weight = np.abs(miss) < 3 * spread
        error = float((a * b)[weight].sum() / (a**2)[weight].sum())
    # neighbours share their errors over about four millimetres, ten points
    sd = spread / float(np.sqrt((a[weight] ** 2).sum() / 10))
    return Height(error, sd) if sd < 0.4 else None


def blended(sets: Sequence[Sequence[Edge]]) -> tuple[list[Edge], float]:
    """Return the mean of the outlines of all photos, and by how much they differ (95th percentile) [mm]."""
    if len(sets) == 1:
        return list(sets[0]), 0.0
    made, differ = [], []
    for k, first in enumerate(sets[0]):
        pairs = [_offsets(first, other[k]) for other in sets[1:]]
        offsets = np.stack([np.zeros(len(first.points)), *(p[0] for p in pairs)])
        known = np.isfinite(offsets)
        mean = np.where(known, offsets, 0.0).sum(axis=0) / known.sum(axis=0)
        differ.append(np.abs(offsets[1:][known[1:]]))
        sd = first.sd / np.sqrt(known.sum(axis=0))
        made.append(replace(first, points=first.points + mean[:, None] * _normals(first.points), sd=sd))
    every = np.concatenate(differ)
    return made, float(np.percentile(every, 95)) if len(every) else np.inf
