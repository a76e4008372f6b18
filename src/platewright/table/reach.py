"""The area a table's torch can be over, as a test of points."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from platewright.geometry import Floats
from platewright.table.model import Gantry, Reach

__all__ = ["inside"]


def inside(reach: Reach, points: ArrayLike, *, slack: float = 1e-6) -> NDArray[np.bool_]:
    """Tell which (N, 2) points [mm] the torch can be over, to within a slack [mm]."""
    xy: Floats = np.asarray(points, dtype=np.float64)
    if isinstance(reach, Gantry):
        low, high = np.array([reach.x0, reach.y0]) - slack, np.array([reach.x1, reach.y1]) + slack
        beyond = np.maximum(low - xy, xy - high).max(axis=1)
        return np.asarray(beyond <= 0.0, dtype=np.bool_)
    away = xy - (reach.x, reach.y)
    radius = np.hypot(away[:, 0], away[:, 1])
    turn = np.mod(np.arctan2(away[:, 1], away[:, 0]) - reach.start_angle + slack / reach.outer, 2 * math.pi)
    within = turn <= reach.end_angle - reach.start_angle + 2 * slack / reach.outer
    return (radius >= reach.inner - slack) & (radius <= reach.outer + slack) & within
