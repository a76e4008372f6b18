"""Arcs to chords, always with a stated error."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from platewright.errors import InputError
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.measure import arc_data

__all__ = ["along_ring", "flatten", "ring_area"]

MOST = 4_000_000
"""Most chords of one contour [-]; a circle of a kilometre followed to a hundredth has half a million."""


def ring_area(ring: Floats) -> float:
    """Return the signed area of a closed ring of points (N, 2) [mm²], positive counterclockwise."""
    x, y = ring.T
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def along_ring(ring: Floats, at: Callable[[float], Floats]) -> Floats:
    """Return points (M, 2) of a closed ring (N, 2) at the distances along it that `at` gives for its length [mm]."""
    closed = np.vstack([ring, ring[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    places = at(float(along[-1]))
    return np.column_stack([np.interp(places, along, closed[:, k]) for k in (0, 1)])


def flatten(contour: Contour, *, tolerance: float) -> Floats:
    """Return points along the contour whose chords stray from it by at most `tolerance` [mm].

    Vertices are kept exactly. A closed contour's first point is not repeated.

    Parameters
    ----------
    tolerance : largest distance between chord and arc [mm], above 0

    Returns
    -------
    (M, 2) array of points [mm]
    """
    if not tolerance > 0:
        raise InputError(f"A chord tolerance must be above 0 mm, got {tolerance}.")
    arcs = arc_data(contour)
    # acos(1 - h) = 2 asin(sqrt(h / 2)), which does not round to 0 on very large radii
    height = np.clip(tolerance / np.where(np.isinf(arcs.radius), 1.0, arcs.radius), 0.0, 2.0)
    most = np.minimum(4 * np.arcsin(np.sqrt(height / 2)), math.pi / 2)
    pieces = np.where(arcs.sweep == 0, 1, np.ceil(np.abs(arcs.sweep) / np.maximum(most, 1e-9))).astype(
        np.int64
    )
    pieces = np.maximum(pieces, 1)
    if pieces.sum() > MOST:
        raise InputError(
            f"An arc of radius {float(arcs.radius[int(pieces.argmax())]):.4g} mm is too large to be followed to {tolerance:g} mm.",
            do="Check its size and unit.",
        )
    edge = np.repeat(np.arange(len(pieces)), pieces)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    angle = arcs.start_angle[edge] + arcs.sweep[edge] * step / pieces[edge]
    radius = np.where(np.isinf(arcs.radius), 0.0, arcs.radius)[edge]
    points = arcs.centre[edge] + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    vertex = step == 0
    points[vertex] = contour.starts[edge[vertex]]
    return points if contour.closed else np.vstack([points, contour.points[-1]])
