"""Compiled inner loops of the motion model (see ``motion`` for the words)."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = ["Law", "Way", "plan_edges"]

Floats = NDArray[np.float64]


class Way(NamedTuple):
    """Edges run one after the other: length [mm], speed each is held to [mm/s], direction at its start and end [rad]."""

    length: Floats
    cap: Floats
    turn_in: Floats
    turn_out: Floats


class Law(NamedTuple):
    """How a table changes speed: acceleration [mm/s²], and how far it may cut a corner [mm]."""

    acceleration: float
    tolerance: float


HAIR = 0.05
"""Edges that together are shorter than this share of the corner tolerance make no corners of their own [-]."""


@njit(cache=True)
def _vertex_limits(way: Way, law: Law) -> Floats:
    """Return the corner speed before each edge, from the directions of travel; index 0 is free."""
    length, turn_in, turn_out = way.length, way.turn_in, way.turn_out
    acceleration, tolerance = law
    count = len(length)
    limit = np.full(count + 1, np.inf)
    before, reach, left = -1, 0.0, 0.0
    for i in range(count):
        if length[i] <= 0.0:
            continue
        if before >= 0 and left + length[i] < HAIR * tolerance:
            left += length[
                i
            ]  # an edge shorter than the tolerance, such as two ends rounded apart: the table rounds over it
            continue
        if before >= 0:
            bend = abs((turn_in[i] - turn_out[before] + math.pi) % (2.0 * math.pi) - math.pi)
            if bend > 1e-9:
                s = math.cos(bend / 2.0)
                radius = 0.0 if s <= 0.0 else tolerance * s / (2.0 * math.sin(bend / 4.0) ** 2)
                room = (min(reach, length[i]) + left) / 2.0 / math.tan(bend / 2.0)
                limit[i] = math.sqrt(acceleration * min(radius, room))
        before, reach, left = i, length[i], 0.0
    return limit


@njit(cache=True)
def plan_edges(way: Way, law: Law, start_speed: float, end_speed: float) -> tuple[Floats, Floats, Floats]:
    """Return vertex speeds (E+1), peak speeds (E) and edge times (E): backward pass, forward pass, trapezoids."""
    length, cap, acceleration = way.length, way.cap, law.acceleration
    count = len(length)
    at = _vertex_limits(way, law)
    for i in range(1, count):
        at[i] = min(at[i], cap[i - 1], cap[i])
    at[0] = min(start_speed, cap[0])
    at[count] = min(end_speed, cap[count - 1])
    for i in range(count - 1, -1, -1):
        at[i] = min(at[i], math.sqrt(at[i + 1] ** 2 + 2.0 * acceleration * length[i]))
    for i in range(count):
        at[i + 1] = min(at[i + 1], math.sqrt(at[i] ** 2 + 2.0 * acceleration * length[i]))
    peak, time = np.empty(count), np.empty(count)
    for i in range(count):
        v0, v1, d = at[i], at[i + 1], length[i]
        top = min(cap[i], math.sqrt((2.0 * acceleration * d + v0 * v0 + v1 * v1) / 2.0))
        top = max(top, v0, v1)
        peak[i] = top
        if top <= 0.0:
            time[i] = 0.0
            continue
        cruise = max(0.0, d - (2.0 * top * top - v0 * v0 - v1 * v1) / (2.0 * acceleration))
        time[i] = (2.0 * top - v0 - v1) / acceleration + cruise / top
    return at, peak, time
