"""A two-link arm: its reach, its joint angles, and how fast it can draw a path.

With base at the origin, link lengths l1 and l2 and elbow angle q2, the torch stands at
``x = l1 cos q1 + l2 cos(q1+q2), y = l1 sin q1 + l2 sin(q1+q2)``. The joint rates for a torch velocity v are
``J⁻¹ v`` with the Jacobian of these two lines; the feed is held so that neither joint turns faster than it can. Near the
inner and outer rim (q2 towards 180° or 0°) the Jacobian loses rank and the feed falls to nothing, so the reach
stops short of both. Cost: linear in the number of pieces the path is divided into.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError
from platewright.geometry import Contour, Floats, Pose, arc_data, edge_lengths
from platewright.geometry.measure import on_edges
from platewright.table.model import Arm, TableProfile

__all__ = ["PIECE", "capped", "joints", "seated", "speed_limit"]

Ints = NDArray[np.int64]

PIECE = 5.0
"""Longest piece of path with one speed limit [mm]: a joint's share changes by about 1 % over it at 500 mm radius."""


def seated(table: TableProfile, seat: Pose | None) -> TableProfile:
    """Return the table as seen from a plate's seat: an arm's base moved to plate coordinates [mm, rad], so that speeds fit."""
    if seat is None or not isinstance(table.reach, Arm):
        return table
    back = seat.inverse()
    x, y = back.points([(table.reach.x, table.reach.y)])[0]
    arm = replace(
        table.reach,
        x=float(x),
        y=float(y),
        start_angle=table.reach.start_angle + back.angle,
        end_angle=table.reach.end_angle + back.angle,
    )
    return replace(table, reach=arm)


def joints(arm: Arm, points: Floats) -> Floats:
    """Return shoulder and elbow angles [rad] for (N, 2) points [mm].

    Raises
    ------
    InputError
        If a point is nearer or farther than the links allow.
    """
    x, y = points[:, 0] - arm.x, points[:, 1] - arm.y
    cosine = (x * x + y * y - arm.first**2 - arm.second**2) / (2 * arm.first * arm.second)
    if (np.abs(cosine) > 1 + 1e-12).any():
        bad = points[int(np.flatnonzero(np.abs(cosine) > 1 + 1e-12)[0])]
        raise InputError(
            f"The point ({bad[0]:.2f}, {bad[1]:.2f} mm) is beyond the arm.",
            allowed=f"{abs(arm.first - arm.second):g} to {arm.first + arm.second:g} mm from the arm's base",
        )
    bend = np.arccos(np.clip(cosine, -1, 1)) * (-1.0 if arm.elbow == "left" else 1.0)
    shoulder = np.arctan2(y, x) - np.arctan2(arm.second * np.sin(bend), arm.first + arm.second * np.cos(bend))
    return np.column_stack([np.mod(shoulder + math.pi, 2 * math.pi) - math.pi, bend])


def speed_limit(arm: Arm, points: Floats, directions: Floats) -> Floats:
    """Return the fastest torch speed [mm/s] at (N, 2) points [mm] in directions [rad], from the joint speeds."""
    angles = joints(arm, points)
    both = angles[:, 0] + angles[:, 1]
    sine = arm.first * arm.second * np.sin(angles[:, 1])
    ux, uy = np.cos(directions), np.sin(directions)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate1 = np.abs(arm.second * (ux * np.cos(both) + uy * np.sin(both)) / sine)
        along = arm.first * (ux * np.cos(angles[:, 0]) + uy * np.sin(angles[:, 0]))
        along += arm.second * (ux * np.cos(both) + uy * np.sin(both))
        rate2 = np.abs(along / sine)
        limit = np.minimum(arm.first_speed / rate1, arm.second_speed / rate2)
    return np.where(np.isfinite(limit), limit, np.inf)


def capped(path: Contour, feeds: Floats, arm: Arm) -> tuple[Floats, Ints, Floats]:
    """Divide an open path into pieces and hold each to what the joints can do.

    Returns
    -------
    rows (M+1, 3) [mm, -], the edge each piece belongs to (M,), its feed (M,) [mm/s]
    """
    arcs, lengths = arc_data(path), edge_lengths(path)
    pieces = np.maximum(1, np.ceil(lengths / PIECE)).astype(np.int64)
    owner = np.repeat(np.arange(len(path)), pieces)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    low, high = step / pieces[owner], (step + 1) / pieces[owner]
    starts, (mid, heading), ends = (
        on_edges(path, owner, low)[0],
        on_edges(path, owner, (low + high) / 2),
        on_edges(path, owner, high)[0],
    )
    limit = speed_limit(arm, mid, heading)
    for spot, share in ((starts, low), (ends, high)):
        limit = np.minimum(limit, speed_limit(arm, spot, on_edges(path, owner, share)[1]))
    rows = np.column_stack([starts, np.tan(arcs.sweep[owner] / pieces[owner] / 4)])
    caps = np.minimum(feeds[owner], np.maximum(limit, 1e-3))
    return np.vstack([rows, [*path.points[-1], 0.0]]), owner, caps
