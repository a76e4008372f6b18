"""Curves from drawings (splines, ellipses, long polylines) as arcs and lines within a hard tolerance.

Method: an arc between two samples has one free number, its bulge; each sample between allows an interval
of it, and the arc is within tolerance if the intervals meet. Every sample's farthest reach is found by
doubling and halving, and the fewest arcs follow by always going on from the sample, among those reached,
that reaches farthest. Compare R. L. S. Drysdale, G. Rote, A. Sturm, "Approximation of an open polygonal
curve with a minimum number of circular arcs and biarcs", 2008.

Assumes that a run which one arc can follow can be followed in part too; where that fails the greedy choice
is taken instead, so the tolerance always holds and the count may be one over the fewest.
Cost: O(n * m log m), m samples an arc.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import ArrayLike, NDArray

from platewright.errors import InputError
from platewright.fit.prepare import checked, without_duplicates
from platewright.geometry.contour import Contour, Floats

__all__ = ["arcs_from_points"]


def _jumps(reach: NDArray[np.int64], start: int, end: int) -> list[int]:
    """Return the breaks of the fewest jumps from start to end [-]."""
    breaks = [start]
    here, done = start, start
    while reach[here] < end:
        span = np.arange(done + 1, reach[here] + 1)
        done = int(reach[here])
        here = int(span[np.argmax(reach[span])])
        breaks.append(here)
    return [*breaks, end]


def _bulge(points: Floats, i: int, j: int, tolerance: float) -> float | None:
    from platewright.fit import kernels

    low, high = kernels.channel(points, i, j, tolerance)
    if low > high:
        return None
    return 0.0 if low <= 0.0 <= high else 0.5 * (low + high)


def _greedy(reach: NDArray[np.int64], start: int, end: int) -> list[int]:
    breaks = [start]
    while breaks[-1] < end:
        breaks.append(int(reach[breaks[-1]]))
    return breaks


def _corners(points: Floats, closed: bool) -> Floats:
    """Return a closed run turned to start at its sharpest sample [mm], so the start is no break of its own."""
    if not closed:
        return points
    from platewright.fit.edges.segment import sharpest

    turned = np.roll(points, -sharpest(points, 1), axis=0)
    return np.vstack([turned, turned[:1]])


def arcs_from_points(points: ArrayLike, *, tolerance: float, closed: bool = False) -> Contour:
    """Return the fewest arcs and lines through samples of a curve, none farther than a tolerance from it.

    Breaks lie on samples; a straight within tolerance is preferred to an arc.

    Parameters
    ----------
    points : (N, 2) samples in order [mm], repeats allowed
    tolerance : farthest any sample may lie from the result [mm]
    closed : whether the last sample leads back to the first

    Raises
    ------
    InputError
        If the tolerance is not above 0 or fewer than 2 (3 if closed) samples differ.
    """
    from platewright.fit import kernels

    if not tolerance > 0:
        raise InputError(f"The tolerance is {tolerance} mm.", allowed="above 0 mm")
    least = 3 if closed else 2
    xy = without_duplicates(checked(points, least), closed)
    if len(xy) < least:
        raise InputError(f"Only {len(xy)} of the points differ.", allowed=f"at least {least}")
    run = np.ascontiguousarray(_corners(xy, closed))
    reach = kernels.reaches(run, tolerance)
    breaks = _jumps(reach, 0, len(run) - 1)
    bulges = [_bulge(run, i, j, tolerance) for i, j in itertools.pairwise(breaks)]
    if None in bulges:
        breaks = _greedy(reach, 0, len(run) - 1)
        bulges = [_bulge(run, i, j, tolerance) for i, j in itertools.pairwise(breaks)]
    rows = np.column_stack([run[breaks], [*(b or 0.0 for b in bulges), 0.0]])
    return Contour(rows[:-1] if closed else rows, closed)
