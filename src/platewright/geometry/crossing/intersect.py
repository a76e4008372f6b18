"""Where single lines and arcs meet, exact; and where whole contours do.

Closed forms throughout. A line or circle that misses the other by under ``TOUCH`` touches it at one point.
Overlapping edges (collinear, cocircular) meet at the ends of their overlap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.pairs import box_pairs, meetings, weld
from platewright.geometry.curves import Curves, gather
from platewright.geometry.primitives import Point
from platewright.geometry.profile import Profile
from platewright.geometry.tolerance import TOUCH, WELD

__all__ = ["Crossing", "carriers_meet", "crossings"]


@dataclass(frozen=True, slots=True)
class Crossing:
    """A place where two contours meet: point [mm], and the edge of each [-]."""

    point: Point
    first_edge: int
    second_edge: int


def carriers_meet(
    p: Floats, u: Floats, r: float, q: Floats, w: Floats, t: float
) -> list[tuple[float, float]]:
    """Return where two whole lines or circles meet.

    Parameters
    ----------
    p, u, r : point [mm], unit direction [-] and inf for a line; centre [mm], anything and radius [mm] for a circle
    q, w, t : the same for the other

    Returns
    -------
    none, one or two points (x, y) [mm]; none for parallel lines and concentric circles
    """
    if math.isinf(r) and math.isinf(t):
        den = float(u[0] * w[1] - u[1] * w[0])
        if abs(den) < 1e-12:
            return []
        along = float((q[0] - p[0]) * w[1] - (q[1] - p[1]) * w[0]) / den
        return [(float(p[0] + along * u[0]), float(p[1] + along * u[1]))]
    if math.isinf(r) or math.isinf(t):
        if math.isinf(t):
            p, u, q, t = q, w, p, r
        along = float((q[0] - p[0]) * u[0] + (q[1] - p[1]) * u[1])
        foot = (float(p[0] + along * u[0]), float(p[1] + along * u[1]))
        off = abs(float((q[0] - p[0]) * u[1] - (q[1] - p[1]) * u[0]))
        return _either_side(foot, (float(u[0]), float(u[1])), t - off, t + off)
    dx, dy = float(q[0] - p[0]), float(q[1] - p[1])
    apart = math.hypot(dx, dy)
    if apart <= WELD:
        return []
    ux, uy = dx / apart, dy / apart
    if min(abs(apart - r - t), abs(apart - abs(r - t))) <= TOUCH:
        side = 1.0 if apart + (r - t) * (r + t) / apart >= 0 else -1.0
        return [(float(p[0]) + side * r * ux, float(p[1]) + side * r * uy)]
    along = (apart + (r - t) * (r + t) / apart) / 2
    foot = (float(p[0]) + along * ux, float(p[1]) + along * uy)
    return _either_side(foot, (-uy, ux), r - abs(along), r + abs(along))


def _either_side(
    foot: tuple[float, float], way: tuple[float, float], inside: float, outside: float
) -> list[tuple[float, float]]:
    if inside < -TOUCH:
        return []
    if inside <= TOUCH:
        return [foot]
    half = math.sqrt(inside * outside)
    return [(foot[0] + k * half * way[0], foot[1] + k * half * way[1]) for k in (-1, 1)]


def crossings(first: Contour | Profile, second: Contour | Profile) -> tuple[Crossing, ...]:
    """Return the places where two contours or profiles meet, touch or begin to overlap [mm].

    Edges are counted through all contours of a profile, outer first. A meeting at a vertex is given once
    for each pair of edges that share it.
    """
    one, two = (list(s.contours()) if isinstance(s, Profile) else [s] for s in (first, second))
    a, b = gather(one), gather(two)
    i, j = box_pairs(_grown(a), _grown(b))
    both = Curves.joined([a, b])
    found = meetings(both, (i, j + len(a)))
    if len(found.point) == 0:
        return ()
    node, places = weld(found.point, WELD)
    pair = np.column_stack(
        [np.minimum(found.curve, found.mate), np.maximum(found.curve, found.mate) - len(a)]
    )
    every = np.unique(np.column_stack([pair, node]), axis=0)
    return tuple(
        Crossing(Point(float(places[k, 0]), float(places[k, 1])), p, q) for p, q, k in every.tolist()
    )


def _grown(curves: Curves) -> Floats:
    grown: Floats = curves.boxes() + np.array([-WELD, -WELD, WELD, WELD])
    return grown
