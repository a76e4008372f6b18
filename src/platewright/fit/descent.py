"""Steps of the least squares: symmetric systems, damping, and smooth joins of a chain.

The way down is Gauss and Newton's, damped (D. Marquardt, 1963); under smooth joins each step solves the quadratic
problem with the joins linearised (sequential quadratic programming). Systems are LAPACK's (Cholesky's factor); only the sums
over samples are compiled (``kernels``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dposv

from platewright.geometry.contour import Floats

__all__ = ["joins_at", "known", "largest", "solved", "spread_evenly", "step"]


def solved(a: Floats, right: Floats) -> Floats:
    """Return the solutions (N, K) of a positive definite system (N, N) for right-hand sides (N, K), in their units [-]; not finite if it is none."""
    _, x, failed = dposv(a.T, right)
    return np.full(right.shape, np.nan) if failed else np.asarray(x)


def known(hessian: Floats, free: NDArray[np.int64], share: float, more: Floats, least: float) -> Floats:
    """Return the part of a matrix for the `free` unknowns, with a `share` of `more` and `least` added to its diagonal [-]."""
    out = hessian[free[:, None], free]
    out.flat[:: len(free) + 1] += share * more[free] + least
    return np.asarray(out)


def spread_evenly(hessian: Floats) -> Floats:
    """Return a chain's Hessian's diagonal [-], so that turning the axes changes nothing.

    Both coordinates of a vertex are alike, and none is next to nothing.
    """
    out = hessian.diagonal().reshape(-1, 3).copy()
    out[:, 2] = np.maximum(out[:, 2], 1e-12)
    even = 0.5 * (out[:, 0] + out[:, 1])
    out[:, :2] = np.maximum(even, 1e-3 * max(1e-9, float(even.max())))[:, None]
    return np.asarray(out.ravel())


def largest(values: Floats) -> float:
    """Return the largest of values without their signs [mm]."""
    return float(np.abs(values).max(initial=0.0))


def step(
    hessian: Floats,
    slope: Floats,
    free: NDArray[np.int64],
    damp: float,
    joins: tuple[Floats, Floats] | None = None,
) -> Floats:
    """Return the damped step of the `free` unknowns that meets linearised joins: their values (K,) [mm] and slopes (N, K) [-].

    What two joins say alike is met once: a billionth more on their diagonal keeps the system definite.
    """
    system = known(hessian, free, damp, spread_evenly(hessian), 1e-12)
    if joins is None or not len(joins[0]):
        return solved(system, -slope[free, None])[:, 0]
    g, slopes = joins[0], joins[1][free]
    both = solved(system, np.column_stack([-slope[free], slopes]))
    alone, spread = both[:, 0], both[:, 1:]
    square = slopes.T @ spread
    square.flat[:: len(g) + 1] *= 1 + 1e-9
    return np.asarray(alone + spread @ solved(square, (-g - slopes.T @ alone)[:, None])[:, 0])


def joins_at(rows: Floats, joins: Sequence[int]) -> tuple[Floats, Floats]:
    """Return how far a chain's edges are from running on smoothly at vertices (K,) [mm], a radian counting as 10 mm, and the slopes (3 V, K) [-]."""
    g, slopes = np.empty(len(joins)), np.zeros((rows.size, len(joins)))
    for k, v in enumerate(joins):
        (x0, y0, b0), (x1, y1, b1), (x2, y2, _) = rows[v - 1 : v + 2].tolist()
        ax, ay, bx, by = x1 - x0, y1 - y0, x2 - x1, y2 - y1
        turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by) - 2 * math.atan(b0) - 2 * math.atan(b1)
        before, after = max(ax * ax + ay * ay, 1e-24), max(bx * bx + by * by, 1e-24)
        px, py, qx, qy = ax / before, ay / before, bx / after, by / after
        g[k] = 10 * math.sin(turn)
        slopes[3 * v - 3 : 3 * v + 5, k] = (
            10
            * math.cos(turn)
            * np.array((-py, px, -2 / (1 + b0 * b0), py + qy, -px - qx, -2 / (1 + b1 * b1), -qy, qx))
        )
    return g, slopes
