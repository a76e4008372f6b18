"""What stands where an edge was not seen: curves through what was, and how far they may be off.

Glossary
--------
unseen : a place of a standard deviation of `corners.UNSEEN` or more
gap : a stretch of unseen places

A gap is bridged by a stiff curve that carries on both sides; its error grows with its length, and with the corner that
its two sides would meet in. Longer ones are left as they were found. Corners that were seen are put where their sides meet.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import spsolve

from platewright.geometry.contour import Floats
from platewright.pattern.corners import UNSEEN, sharpened
from platewright.pattern.edges import Edge, longest_gap

__all__ = ["STEP", "bridged", "completed", "curved"]

Mask = NDArray[np.bool_]

STEP = 0.4
"""Distance of places along a loop [mm]."""
STIFF, ODD, OFF = 30.0, 0.12, 0.8
"""What bending costs against places known to a millimetre [-]; a place farther off its neighbours' curve counts less and less, and much farther not at all [mm]."""
KNOWN = 0.05
"""Standard deviation of the edge where it is known [mm]."""
SPOILT, LONGEST = 3, 12.0
"""How many places beside a gap lean on it [-], and the longest gap that is bridged [mm]."""
STIFFER = 3e5
"""What bending costs where the known edge is carried on over a gap: its direction is that of a few millimetres [-]."""
SIDE, MOST_BEND = 5, 2.1
"""How many places beside a gap its sides' directions are taken from [-], and the most they are believed to turn [rad]."""
DOUBTFUL, STRAIGHT_ON = 0.28, 0.35
"""Standard deviation from which a place is doubtful [mm], and how far its sides may turn there and yet rather be carried on [rad]."""
WEAK, TAIL, SEEN = 0.2, 1.5, 0.49
"""From which standard deviation few photos agree on a place [mm], so that it is right or on another edge: as its error has a long tail, so much more of it is told [-], up to the most of a place that was seen [mm]."""
BULGE = 0.07
"""How far a bridged border may be off, as a share of the gap [-]."""


def bridged(places: Floats, sd: Floats, unsure: Mask, *, stiff: float) -> Floats:
    """Return places along a closed loop [mm] smoothed by their errors `sd` [mm]; unsure ones follow their neighbours."""
    n = len(places)
    weight = np.where(unsure, 1e-6, 1 / sd**2)
    ones = np.ones(n)
    bend = sparse.diags([ones * -2, ones[1:], ones[1:], [1.0], [1.0]], [0, 1, -1, n - 1, 1 - n])
    system = (sparse.diags(weight) + stiff * bend.T @ bend).tocsc()
    return np.asarray(spsolve(system, weight * places), dtype=np.float64)


def curved(places: Floats, sd: Floats) -> Floats:
    """Return a smooth curve through places round a loop that odd ones hardly move [mm]."""
    curve = bridged(places, sd, np.zeros(len(places), bool), stiff=STIFF)
    for _ in range(5):
        off = places - curve
        curve = bridged(places, sd * np.sqrt(1 + (off / ODD) ** 2), np.abs(off) > OFF, stiff=STIFF)
    return curve


def _gap_errors(points: Floats, unsure: Mask) -> tuple[Floats, Floats, Floats]:
    """Return the error of each place in a gap, the gap's length [mm], and how far its sides turn [rad]; 0 where the edge is known.

    Both sides carried on meet in a corner that may hide in the gap: its height over the gap counts.
    """
    error, size, turn = np.zeros((3, len(unsure)))
    if unsure.all():
        return error + BULGE * STEP * len(unsure), size + STEP * len(unsure), turn + MOST_BEND
    start = int(np.argmin(unsure))
    turned = np.roll(unsure, -start).astype(np.int8)
    steps = np.flatnonzero(np.diff(np.concatenate([[0], turned, [0]])))
    for low, high in zip(steps[::2], steps[1::2], strict=True):
        gap = np.arange(low, high) + start
        beside = np.array([low - 2 * SIDE, low - SIDE, high + SIDE, high + 2 * SIDE]) + start
        around = points[beside % len(points)]
        a, b = around[1] - around[0], around[3] - around[2]
        bend = min(abs(float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))), MOST_BEND)
        height = 0.5 * float(np.hypot(*(around[2] - around[1]))) * np.tan(bend / 2)
        size[gap % len(points)], turn[gap % len(points)] = STEP * (high - low), bend
        error[gap % len(points)] = np.hypot(BULGE * STEP * (high - low), 0.6 * height)
    return error, size, turn


def completed(points: Floats, errors: Floats) -> Edge:
    """Return the edge with corners where their sides meet and short gaps bridged.

    Parameters
    ----------
    points, errors : (N, 2) places round a loop, `STEP` apart, and their standard deviations across; `UNSEEN` where not seen [mm]
    """
    unseen = errors >= UNSEEN
    doubt, size, _ = _gap_errors(points, unseen)
    _, long, turn = _gap_errors(points, errors >= DOUBTFUL)
    before = np.hypot(errors, doubt)
    points, wide = sharpened(points, step=STEP, sd=before, among_grain=True)
    left = unseen & (wide == before) & (size <= LONGEST)
    weak = (errors >= WEAK) & ~unseen & (wide == before)
    wide = np.where(weak, np.minimum(TAIL * wide, SEEN), wide)
    # what strays between sides that carry on into each other has followed another edge of the grain
    left |= (long > 0) & (long <= LONGEST) & (turn <= STRAIGHT_ON)
    spoilt = np.any([np.roll(left, k) for k in range(-SPOILT, SPOILT + 1)], axis=0)
    smooth = [bridged(v, np.full(len(v), KNOWN), spoilt, stiff=STIFFER) for v in points.T]
    points = np.where(spoilt[:, None], np.column_stack(smooth), points)
    # what lies beside a gap is no surer than the gap, and a corner laid in one may really be rounded
    wide = np.maximum(wide, doubt)
    gaps = np.where(wide >= UNSEEN, wide, 0.0)
    wide = np.max([wide, *(np.roll(gaps, k) for k in range(-SPOILT, SPOILT + 1))], axis=0)
    return Edge(points, wide, 0.0, float(1 - unseen.mean()), longest_gap(~unseen) * STEP)
