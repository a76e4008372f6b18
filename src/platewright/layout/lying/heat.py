"""Where cuts bring heat together: small pieces side by side, and long cuts of neighbours beside one another.

Model: a cut warms the plate about as far as heat gets while the torch is still near, ``sqrt(4 a t)`` of the diffusivity a
and a time t (a point source in an infinite plate: Carslaw and Jaeger). What gathers at a place is the length of cuts that
near it. One long straight cut has 2 r of it, and that is counted as 1. The order of cuts is the burn plan's; this is
what no order can mend. That neighbours' long cuts and small pieces are kept apart is common practice; the time is ours.
"""

from __future__ import annotations

import math

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats
from platewright.geometry.flatten import along_ring, flatten
from platewright.layout.model import Layout, runs
from platewright.table.energy import metal

__all__ = ["cut_points", "gathered", "heat_findings", "near_reach"]

WHILE = 20.0
"""How long the torch is near [s]; ours."""

FINE = 10.0
"""Points of a cut within its reach [-]."""

HOT = 4.0
"""Gathered heat from which a piece is told, over that of one straight cut [-]; ours."""


def near_reach(grade: str) -> float:
    """Return how far a cut warms a plate of a grade [mm]; as mild steel if there are no values for it."""
    try:
        diffusivity = metal(grade).diffusivity
    except InputError:
        diffusivity = metal("mild steel").diffusivity
    return math.sqrt(4.0 * diffusivity * WHILE)


def cut_points(contours: tuple[Contour, ...], step: float) -> Floats:
    """Return points along closed contours, about `step` apart [mm], each for as much cut."""

    def middles(long: float) -> Floats:
        many = max(round(long / step), 4)
        return (np.arange(many) + 0.5) * long / many

    return np.vstack([along_ring(flatten(c, tolerance=0.1), middles) for c in contours])


def gathered(layout: Layout) -> Floats:
    """Return, of each piece, how much cut lies within reach of its hottest place, over that of one straight cut (N,) [-]."""
    from scipy.spatial import cKDTree

    if not layout.placements:
        return np.zeros(0)
    reach = near_reach(layout.plate.grade)
    points = [cut_points(tuple(p.contours()), reach / FINE) for _, _, p in layout.placed()]
    counts = cKDTree(np.vstack(points)).query_ball_point(np.vstack(points), reach, return_length=True)
    ends = np.cumsum([len(p) for p in points])[:-1]
    return np.array([float(c.max()) for c in np.split(counts, ends)]) / (2.0 * FINE)


def heat_findings(layout: Layout) -> tuple[Finding, ...]:
    """Tell at which pieces heat gathers [-]."""
    heat = gathered(layout)
    hot = np.flatnonzero(heat >= HOT)
    if not len(hot):
        return ()
    reach = near_reach(layout.plate.grade)
    pieces = runs(int(n) for n in hot)
    return (finding("L053", subject=layout.plate.name, pieces=pieces, times=float(heat.max()), reach=reach),)
