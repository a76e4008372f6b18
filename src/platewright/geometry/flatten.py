"""Arcs to chords, always with a stated error."""

from __future__ import annotations

import math

import numpy as np

from platewright.errors import InputError
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.measure import arc_data

__all__ = ["flatten"]


def flatten(contour: Contour, *, tolerance: float) -> Floats:
    """Return points along the contour whose chords stray from it by at most `tolerance` [mm].

    Vertices are kept exactly. A closed contour's first point is not repeated.

    Parameters
    ----------
    contour : the contour
    tolerance : largest distance between chord and arc [mm], above 0

    Returns
    -------
    (M, 2) array of points [mm]
    """
    if not tolerance > 0:
        raise InputError(f"A chord tolerance must be above 0 mm, got {tolerance}.")
    arcs = arc_data(contour)
    with np.errstate(invalid="ignore"):
        most = 2 * np.arccos(
            np.clip(1 - tolerance / np.where(np.isinf(arcs.radius), 1.0, arcs.radius), -1, 1)
        )
    most = np.minimum(most, math.pi / 2)
    pieces = np.where(arcs.sweep == 0, 1, np.ceil(np.abs(arcs.sweep) / np.maximum(most, 1e-9))).astype(
        np.int64
    )
    pieces = np.maximum(pieces, 1)
    edge = np.repeat(np.arange(len(pieces)), pieces)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    angle = arcs.start_angle[edge] + arcs.sweep[edge] * step / pieces[edge]
    radius = np.where(np.isinf(arcs.radius), 0.0, arcs.radius)[edge]
    points = arcs.centre[edge] + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    vertex = step == 0
    points[vertex] = contour.starts[edge[vertex]]
    return points if contour.closed else np.vstack([points, contour.points[-1]])
