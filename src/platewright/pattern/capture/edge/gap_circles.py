"""Loops that are plainly circles where they were seen, carried on as circles where they were not.

Most holes and discs are round. Where enough of a loop was seen, all the way round, and lies on one circle, and what was
measured in between does not deny it, it is a circle there too: a flat or a keyway hidden in a gap would stand off it.
"""

from __future__ import annotations

import numpy as np

from platewright.fit.outline import fit_circle
from platewright.geometry.contour import Floats

__all__ = ["on_circle"]

SEEN, WIDEST = 0.35, 2.4
"""Share of a loop that must have been seen for sure [-], and the widest angle between such places [rad]."""
OFF, FARTHEST = 0.12, 0.3
"""How far sure places may lie off the circle, or another curve that goes on beyond them: RMS, and 95 % of them [mm]."""
DENIED = 3.0
"""How many of their standard deviations nine tenths of the other places may lie off that [-]."""
LEFT = 0.5
"""What is left of a place's standard deviation, or of what it was moved by, whichever is more [-]."""


def on_circle(points: Floats, sd: Floats, *, sure: float) -> tuple[Floats, Floats] | None:
    """Return places and standard deviations (N,) with the unsure ones laid on the loop's circle [mm]; None if it is none.

    Parameters
    ----------
    points, sd : (N, 2) places round a loop and (N,) their standard deviations across [mm]
    sure : standard deviation below which a place is sure [mm]
    """
    known = sd < sure
    if known.all() or known.mean() < SEEN:
        return None
    circle = fit_circle(points[known])
    middle = np.array([circle.x, circle.y])
    rel = points - middle
    far = np.maximum(np.hypot(*rel.T), 1e-9)
    off = far - circle.radius
    turn = np.sort(np.arctan2(rel[known, 1], rel[known, 0]))
    widest = float(np.diff(np.append(turn, turn[0] + 2 * np.pi)).max())
    size = np.abs(off)
    odd = float(np.percentile(size[~known] / sd[~known], 90))
    right = float(np.sqrt(np.mean(off[known] ** 2))) < OFF and np.percentile(size[known], 95) < FARTHEST
    if widest > WIDEST or odd > DENIED or not right:
        return None
    laid = middle + rel * (circle.radius / far)[:, None]
    left = LEFT * np.maximum(sd, size)
    return np.where(known[:, None], points, laid), np.where(known, sd, left)
