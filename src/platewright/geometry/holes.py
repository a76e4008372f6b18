"""How wide a hole is, how round, and whether a drill makes it."""

from __future__ import annotations

import numpy as np

from platewright.geometry.contour import Contour, signed_area
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import length
from platewright.geometry.moments import centroid

__all__ = ["ROUND", "for_the_drill", "hydraulic_diameter", "roundness"]

ROUND = 0.5
"""A hole whose edge lies nowhere nearer to its middle than elsewhere by more than this is round [mm]: a drill of the mean
size leaves every place of it within 0.25 mm, half of what the proof allows an edge."""


def hydraulic_diameter(hole: Contour) -> float:
    """Return four times area over perimeter [mm]: the diameter of a circle, nearly twice the width of a long slot."""
    return 4.0 * abs(signed_area(hole)) / length(hole)


def roundness(hole: Contour) -> float:
    """Return by how much the distance from the centroid to the edge differs, greatest less least [mm]."""
    middle = centroid(hole)
    start = flatten(hole, tolerance=0.01) - (middle.x, middle.y)
    along = np.roll(start, -1, axis=0) - start
    share = -np.sum(start * along, axis=1) / np.maximum(np.sum(along**2, axis=1), 1e-300)
    nearest = start + np.clip(share, 0.0, 1.0)[:, None] * along
    return float(np.hypot(*start.T).max() - np.hypot(*nearest.T).min())


def for_the_drill(hole: Contour, *, below: float) -> bool:
    """Tell whether a hole is round and narrower than `below` [mm]; a slot or a square is not, however narrow."""
    return hydraulic_diameter(hole) < below and roundness(hole) <= ROUND
