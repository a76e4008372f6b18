"""Long gaps in which the weak measurements agree with what the two sides predict.

Where no edge is certain the tracer still returns the likeliest places; if they follow another edge of the grain they
wander by millimetres. If nearly all of them lie on one simple curve from side to side, that is the edge: the cubic that
joins the sides, or both sides extended to a corner, sharp or rounded by one radius. In gaps that were read correctly nine
tenths of the places lay within about one standard deviation of it, in wrong ones beyond four.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from platewright.geometry.contour import Floats
from platewright.pattern.capture.edge.corners import line_of, met
from platewright.pattern.capture.edge.gap_bridging import (
    CORRELATED,
    KNOWN,
    SHORT,
    Mask,
    Stretch,
    busy_at,
    cubic,
    stretch_at,
)
from platewright.pattern.capture.edge.gap_circles import OFF
from platewright.pattern.capture.edge.search import STEP
from platewright.pattern.loops import runs

__all__ = ["supported"]

LONGEST_GAP = 48.0
"""Longer gaps are never accepted [mm]; those up to `SHORT` are bridged anyway."""
WITHIN = 1.3
"""How many standard deviations nine tenths of the places may lie off the prediction [-]."""
MOST_TURN = 2.5
"""Largest turn between the two sides [rad]."""
TRIED = 40
"""Number of corner radii tried [-]."""
MORE = (0, 3, 6)
"""Distances in places kept between the gap and its sides; the first that works is used [-]."""


def _corner(points: Floats, sd: Floats, stretch: Stretch) -> float:
    """Return the 90th percentile of a gap's distances from the best corner between straight sides [sd]; infinite if the sides do not meet."""
    first, second = (line_of(points[s]) for s in (stretch.before, stretch.after))
    corner = met(first, second)
    if corner is None or max(first.off, second.off) > OFF:
        return np.inf
    u, v = first.along, second.along
    legs = float((corner - points[stretch.before[-1]]) @ u), float((points[stretch.after[0]] - corner) @ v)
    if min(legs) <= 0:
        return np.inf
    most = min(legs) / float(np.tan(stretch.turn / 2))
    places, error = points[stretch.within], np.maximum(sd[stretch.within], KNOWN)
    off = [
        cKDTree(_way(corner, u, v, radius=float(radius), legs=legs)).query(places)[0] / error
        for radius in np.linspace(0.0, most, TRIED)
    ]
    return float(np.percentile(min(off, key=lambda one: float(np.log1p(one**2).sum())), 90))


def _way(corner: Floats, u: Floats, v: Floats, *, radius: float, legs: tuple[float, float]) -> Floats:
    """Return a dense way along u to the corner, round it, and along v [mm]."""
    turn = float(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
    back = radius * np.tan(abs(turn) / 2)
    lengths = legs[0] - back, legs[1] - back
    first = corner + np.linspace(-legs[0], -back, max(2, round(lengths[0] / 0.1)))[:, None] * u
    last = corner + np.linspace(back, legs[1], max(2, round(lengths[1] / 0.1)))[:, None] * v
    if radius == 0:
        return np.vstack([first, last[1:]])
    left = np.sign(turn) * np.array([-u[1], u[0]])
    angle = np.linspace(0, abs(turn), max(3, round(radius * abs(turn) / 0.1)))[1:-1, None]
    arc = first[-1] + radius * (np.sin(angle) * u + (1 - np.cos(angle)) * left)
    return np.vstack([first, arc, last])


def _smooth(points: Floats, sd: Floats, stretch: Stretch) -> float:
    """Return the 90th percentile of a gap's distances from the cubic that joins its sides [sd]; infinite if none does."""
    _, off = cubic(points, sd, stretch, share=1 / CORRELATED)
    beside = np.delete(off, np.arange(len(off))[stretch.middle])
    if float(np.sqrt(np.mean(beside**2))) > OFF:
        return np.inf
    return float(np.percentile(np.abs(off[stretch.middle]) / np.maximum(sd[stretch.within], KNOWN), 90))


def supported(points: Floats, sd: Floats, gaps: Mask) -> Mask:
    """Return which places of long gaps the measurements support (N,).

    Parameters
    ----------
    points, sd : (N, 2) places round a loop, `search.STEP` apart, and their standard deviations (N,) across [mm]
    gaps : (N,) where the edge is not certain
    """
    busy = busy_at(points, sd)
    backed = np.zeros(len(points), dtype=bool)
    for at, length in runs(gaps):
        if not SHORT < STEP * length <= LONGEST_GAP:
            continue
        for more in MORE:
            stretch = stretch_at(points, busy, at - more, length + 2 * more)
            if stretch is None or stretch.turn > MOST_TURN:
                continue
            if min(_smooth(points, sd, stretch), _corner(points, sd, stretch)) <= WITHIN:
                backed[stretch.within] = True
                break
    return backed & gaps
