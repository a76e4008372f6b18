"""Where whole lines and circles meet, exact.

Closed forms throughout. A line or circle that misses the other by under ``TOUCH`` touches it at one point.
"""

from __future__ import annotations

import math

from platewright.geometry.contour import Floats
from platewright.geometry.tolerance import TOUCH, WELD

__all__ = ["carriers_meet"]


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
