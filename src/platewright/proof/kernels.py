"""The compiled search for nearest edges; the rule is told in ``edges``."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = ["BLOCK", "nearest_edges"]

BLOCK = 16
"""Edges that share one box [-]."""

_TIE = 1e-9


@njit(cache=True)
def _to_line(px: float, py: float, edge: NDArray[np.float64]) -> tuple[float, float, float]:
    dx, dy = edge[2] - edge[0], edge[3] - edge[1]
    square = dx * dx + dy * dy
    qx, qy = px - edge[0], py - edge[1]
    along = 0.0
    if square > 0.0:
        along = min(1.0, max(0.0, (qx * dx + qy * dy) / square))
    length = math.sqrt(square)
    side = (dx * qy - dy * qx) / length if length > 0.0 else 0.0
    return math.hypot(qx - along * dx, qy - along * dy), side, along


@njit(cache=True)
def _to_arc(px: float, py: float, edge: NDArray[np.float64]) -> tuple[float, float, float]:
    vx, vy, radius, sweep = px - edge[4], py - edge[5], edge[6], edge[8]
    away = math.hypot(vx, vy)
    sign = 1.0 if sweep > 0.0 else -1.0
    turn = ((math.atan2(vy, vx) - edge[7]) * sign) % (2.0 * math.pi)
    side = (radius - away) * sign
    size = abs(sweep)
    if turn <= size:
        return abs(away - radius), side, turn / size
    to_start, to_end = math.hypot(px - edge[0], py - edge[1]), math.hypot(px - edge[2], py - edge[3])
    if to_start <= to_end:
        tangent = math.cos(edge[7]) * (px - edge[0]) + math.sin(edge[7]) * (py - edge[1])
        return to_start, -sign * tangent, 0.0
    last = edge[7] + sweep
    tangent = math.cos(last) * (px - edge[2]) + math.sin(last) * (py - edge[3])
    return to_end, -sign * tangent, 1.0


@njit(cache=True)
def _box_gap(px: float, py: float, box: NDArray[np.float64]) -> float:
    dx = max(0.0, box[0] - px, px - box[2])
    dy = max(0.0, box[1] - py, py - box[3])
    return math.hypot(dx, dy)


@njit(cache=True)
def nearest_edges(
    points: NDArray[np.float64],
    edges: NDArray[np.float64],
    boxes: NDArray[np.float64],
    slack: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Return distance [mm], edge, sideways offset [mm] and fraction along it [-] for every point.

    `edges` rows: start, end, centre [mm], radius [mm], start angle, sweep [rad]; `boxes` rows: low, high and largest
    slack of each block of `BLOCK` edges [mm].
    """
    count, blocks = len(points), len(boxes)
    best, which = np.empty(count), np.zeros(count, dtype=np.int64)
    side, along = np.zeros(count), np.zeros(count)
    guess = 0
    for i in range(count):
        px, py = points[i, 0], points[i, 1]
        low, dist, pick, aside, frac = np.inf, np.inf, -1, 0.0, 0.0
        for step in range(blocks):
            b = (guess + step) % blocks
            if _box_gap(px, py, boxes[b]) - boxes[b, 4] > low + _TIE:
                continue
            for e in range(b * BLOCK, min((b + 1) * BLOCK, len(edges))):
                d, s, f = _to_line(px, py, edges[e]) if edges[e, 8] == 0.0 else _to_arc(px, py, edges[e])
                rank = d - slack[e]
                if rank < low - _TIE or (rank <= low + _TIE and abs(s) > abs(aside)):
                    dist, pick, aside, frac = d, e, s, f
                low = min(low, rank)
        best[i], which[i], side[i], along[i] = dist, pick, aside, frac
        guess = pick // BLOCK
    return best, which, side, along
