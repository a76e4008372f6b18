"""The area a table's torch can be over, as an outline and as a test of points."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from platewright.geometry import Contour, Floats
from platewright.table.model import Gantry, Reach

__all__ = ["inside", "outline"]


def outline(reach: Reach) -> Contour:
    """Return the reach as a closed counterclockwise contour, arcs exact [mm]."""
    if isinstance(reach, Gantry):
        return Contour.rectangle(reach.x1 - reach.x0, reach.y1 - reach.y0, x=reach.x0, y=reach.y0)
    sweep = reach.end_angle - reach.start_angle
    parts = max(1, math.ceil(sweep / (math.pi / 2) - 1e-9))
    angles = np.linspace(reach.start_angle, reach.end_angle, parts + 1)
    bulge = math.tan(sweep / parts / 4)
    ring = np.column_stack([np.cos(angles), np.sin(angles)])
    outer = np.column_stack([ring * reach.outer, np.full(parts + 1, bulge)])
    inner = np.column_stack([ring[::-1] * reach.inner, np.full(parts + 1, -bulge)])
    outer[-1, 2] = inner[-1, 2] = 0.0
    return Contour(np.vstack([outer, inner]) + (reach.x, reach.y, 0.0))


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
