"""Loops that are plainly circles where they were seen, carried on as circles where they were not.

Most holes and discs are round. Where enough of a loop was seen, all the way round, and lies on one circle, and what was
measured in between does not deny it, it is a circle there too: a flat or a keyway hidden in a gap would stand off it.
"""

from __future__ import annotations

import numpy as np

from platewright.geometry.contour import Floats

__all__ = ["on_circle"]

SEEN, WIDEST = 0.35, 2.4
"""Share of a loop that must have been seen for sure [-], and the widest angle between such places [rad]."""
OFF, FARTHEST = 0.12, 0.3
"""How far sure places may lie off the circle: RMS, and 95 % of them [mm]."""
DENIED = 3.0
"""How many of their standard deviations nine tenths of the other places may lie off it [-]."""
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
    middle, radius = _circle(points, sd, known)
    rel = points - middle
    far = np.hypot(*rel.T)
    off = far - radius
    turn = np.sort(np.arctan2(rel[known, 1], rel[known, 0]))
    widest = float(np.diff(np.append(turn, turn[0] + 2 * np.pi)).max())
    size = np.abs(off)
    odd = float(np.percentile(size[~known] / sd[~known], 90))
    right = float(np.sqrt(np.mean(off[known] ** 2))) < OFF and np.percentile(size[known], 95) < FARTHEST
    if widest > WIDEST or odd > DENIED or not right:
        return None
    laid = middle + rel * (radius / far)[:, None]
    left = LEFT * np.maximum(sd, size)
    return np.where(known[:, None], points, laid), np.where(known, sd, left)


def _circle(points: Floats, sd: Floats, known: np.ndarray) -> tuple[Floats, float]:
    """Return middle and radius of the circle nearest to places by their standard deviations, odd ones counting less [mm]."""
    start = points[known].mean(axis=0)
    rel = points[known] - start
    base = np.column_stack([2 * rel, np.ones(len(rel))])
    x, y, c = np.linalg.lstsq(base, (rel**2).sum(axis=1), rcond=None)[0]
    middle, radius = start + (x, y), float(np.sqrt(max(c + x * x + y * y, 1e-9)))
    for _ in range(8):
        rel = points - middle
        far = np.maximum(np.hypot(*rel.T), 1e-9)
        off = far - radius
        weight = 1 / (sd * np.sqrt(1 + (off / (2 * sd)) ** 2))
        slope = np.column_stack([rel / far[:, None], np.ones(len(far))])
        step = np.linalg.lstsq(slope * weight[:, None], off * weight, rcond=None)[0]
        middle, radius = middle + step[:2], radius + float(step[2])
    return middle, radius
