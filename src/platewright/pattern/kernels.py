"""Compiled inner loops of the edge search."""

from __future__ import annotations

import math

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["closed_path", "edge_costs"]

Singles = NDArray[np.float32]


DIM = 1.2
"""How far the contact shadow beside an edge reaches [mm]."""
STIFF = 0.5
"""How strongly the contact shadow is held to none, in samples."""

FINE = 256.0
"""Entries of the step table per standard deviation."""
WIDE = 4.0


def _step_table() -> NDArray[np.float64]:
    at = np.arange(-WIDE, WIDE + 1.5 / FINE, 1 / FINE)
    return np.array([0.5 * math.erfc(-v / math.sqrt(2.0)) for v in at])


STEPS = _step_table()
"""The Gauss step from 0 to 1 [-], from -4 to 4 standard deviations."""


@numba.njit(cache=True, fastmath=True)
def _rise(at: float, table: NDArray[np.float64]) -> float:
    if at <= -WIDE:
        return 0.0
    if at >= WIDE:
        return 1.0
    return table[int((at + WIDE) * FINE + 0.5)]  # type: ignore[no-any-return]


@numba.njit(cache=True, fastmath=True)
def edge_costs(
    signal: NDArray[np.float64],
    span: NDArray[np.float64],
    tries: NDArray[np.float64],
    wall: NDArray[np.float64],
    shade: NDArray[np.float64],
    sigma: NDArray[np.float64],
    table: NDArray[np.float64] = STEPS,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return, for every profile and every tried edge place, the squared misfit of face | wall | bench and their contrast.

    The bench may darken towards the edge, as it does in the contact shadow: a level that fades over `DIM`.

    Parameters
    ----------
    signal : (N, M) profiles [-]
    span : (M,) places along the normal, outward positive [mm]
    tries : (E,) edge places to try [mm]
    wall, shade, sigma : (N,) wall width [mm], wall over face brightness [-], blur [mm]
    table : the Gauss step [-]
    """
    count, length = signal.shape
    costs = np.empty((count, len(tries)))
    steps = np.empty((count, len(tries)))
    fade = np.empty(length)
    for j in range(length):
        fade[j] = math.exp(-(span[j] - span[0]) / DIM)
    for i in range(count):
        total = 0.0
        steep = 1.0 / sigma[i]
        for j in range(length):
            total += signal[i, j] * signal[i, j]
        for k in range(len(tries)):
            aa = ab = bb = ac = bc = ay = by = cy = 0.0
            cc = STIFF
            lift = math.exp((tries[k] + wall[i] - span[0]) / DIM)
            for j in range(length):
                first = _rise((span[j] - tries[k]) * steep, table)
                second = _rise((span[j] - tries[k] - wall[i]) * steep, table)
                face = 1.0 - first + shade[i] * (first - second)
                dim = second * min(fade[j] * lift, 1.0)
                y = signal[i, j]
                aa += face * face
                ab += face * second
                bb += second * second
                ac += face * dim
                bc += second * dim
                cc += dim * dim
                ay += face * y
                by += second * y
                cy += dim * y
            # the shadow's share is taken out first, then face and bench are solved
            aa, ab, bb = aa - ac * ac / cc, ab - ac * bc / cc, bb - bc * bc / cc
            ry, sy = ay - ac * cy / cc, by - bc * cy / cc
            det = aa * bb - ab * ab
            if det < 1e-9:
                costs[i, k] = total
                steps[i, k] = 0.0
                continue
            high = (ry * bb - sy * ab) / det
            low = (sy * aa - ry * ab) / det
            costs[i, k] = max(total - cy * cy / cc - high * ry - low * sy, 0.0)
            steps[i, k] = high - low
    return costs, steps


@numba.njit(cache=True)
def closed_path(costs: NDArray[np.float64], step: float, spread: float, most: float) -> NDArray[np.int64]:
    """Return the cheapest way round a closed loop: which try [-] at each place, jumps paid for.

    Parameters
    ----------
    costs : (N, E) cost of each try at each place [-]
    step : distance of tries [mm]
    spread : jump from place to place that costs one half [mm]; `most` is the most a jump costs [-]
    """
    count, tries = costs.shape
    reach = min(tries - 1, int(spread * math.sqrt(2.0 * most) / step) + 1)
    back = np.empty((2 * count, tries), np.int64)
    total = costs[0].copy()
    fresh = np.empty(tries)
    for i in range(1, 2 * count):
        low = total.min()
        at_low = int(np.argmin(total))
        for k in range(tries):
            best, at = low + most, at_low
            for m in range(max(0, k - reach), min(tries, k + reach + 1)):
                jump = (k - m) * step / spread
                cost = total[m] + min(0.5 * jump * jump, most)
                if cost < best:
                    best, at = cost, m
            back[i, k] = at
            fresh[k] = best + costs[i % count, k]
        for k in range(tries):
            total[k] = fresh[k]
    path = np.empty(count, np.int64)
    k = int(np.argmin(total))
    for i in range(2 * count - 1, 0, -1):
        if count // 2 <= i < count // 2 + count:
            path[i % count] = k
        k = back[i, k]
    return path
