"""Arc words to centre and sweep, after NISTIR 6556 clause 3.5.3. Plain arithmetic, so that it can be compiled too."""

from __future__ import annotations

import math

__all__ = ["OK", "ONE_WAY", "SAME_POINT", "TOO_FAR", "by_centre", "by_radius"]

OK, SAME_POINT, TOO_FAR = 0, 1, 2
_HALF_SLACK = 1e-6
"""How much longer than the diameter the chord of an R half circle may be [mm]: round-off of a written number."""

ONE_WAY = 1e-6
"""Ends no further beside one another than this [mm], seen from the centre, lie in one direction: no program's digits tell them apart."""


Spot = tuple[float, float]


def by_centre(start: Spot, end: Spot, centre: Spot, clockwise: bool) -> tuple[float, float]:
    """Return (sweep [rad], radius mismatch [mm]) of an arc about a centre [mm]; ends in one direction are a full circle."""
    (x0, y0), (x1, y1), (cx, cy) = start, end, centre
    a0 = math.atan2(y0 - cy, x0 - cx)
    a1 = math.atan2(y1 - cy, x1 - cx)
    sweep = a0 - a1 if clockwise else a1 - a0
    across = (x0 - cx) * (y1 - cy) - (y0 - cy) * (x1 - cx)
    along = (x0 - cx) * (x1 - cx) + (y0 - cy) * (y1 - cy)
    if along > 0.0 and abs(across) <= ONE_WAY * math.sqrt(along):
        sweep = 2 * math.pi
    elif sweep <= 0.0:
        sweep += 2 * math.pi
    first = math.sqrt((x0 - cx) * (x0 - cx) + (y0 - cy) * (y0 - cy))
    last = math.sqrt((x1 - cx) * (x1 - cx) + (y1 - cy) * (y1 - cy))
    return (-sweep if clockwise else sweep), abs(first - last)


def by_radius(
    x0: float, y0: float, x1: float, y1: float, radius: float, clockwise: bool
) -> tuple[int, float, float, float]:
    """Return (status [-], centre x, centre y [mm], sweep [rad]) of an R arc; R below 0 [mm] asks for the long way."""
    chord = math.sqrt((x1 - x0) * (x1 - x0) + (y1 - y0) * (y1 - y0))
    if chord == 0.0:
        return SAME_POINT, 0.0, 0.0, 0.0
    size = abs(radius)
    half = chord / 2
    if half > size + _HALF_SLACK:
        return TOO_FAR, 0.0, 0.0, 0.0
    ratio = min(1.0, half / size)
    sweep = 2 * math.asin(ratio)
    rise = math.sqrt(max(0.0, size * size - half * half))
    if radius < 0:
        sweep = 2 * math.pi - sweep
        rise = -rise
    if clockwise:
        rise = -rise
    cx = (x0 + x1) / 2 - (y1 - y0) / chord * rise
    cy = (y0 + y1) / 2 + (x1 - x0) / chord * rise
    return OK, cx, cy, (-sweep if clockwise else sweep)
