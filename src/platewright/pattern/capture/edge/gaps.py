"""Close the gaps of an edge by curves through what was seen, and state how far they may be off.

Glossary
--------
unseen : a place of a standard deviation of `corners.UNSEEN` or more
gap : a stretch of unseen places

A loop that is clearly a circle is completed as one (``gap_circles``). Corners that were seen are put where their sides meet
(``corners``). A stretch whose two sides one smooth curve can join is laid on that curve (``gap_bridging``). Gaps up to 12 mm are
bridged whatever their sides do; the stated error grows with their length and with the corner in which the sides would meet.
Longer gaps stay as they were found, and are accepted if the measurements in them agree with their sides (``gap_evidence``).
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import spsolve

from platewright.geometry.contour import Floats
from platewright.pattern.capture.edge.corners import UNSEEN, sharpened
from platewright.pattern.capture.edge.gap_bridging import SHORT, WEAK, bridged_smoothly
from platewright.pattern.capture.edge.gap_circles import on_circle
from platewright.pattern.capture.edge.gap_evidence import supported
from platewright.pattern.capture.edge.search import STEP, Edge, longest_gap
from platewright.pattern.loops import runs

__all__ = ["bridged", "completed", "curved"]

Mask = NDArray[np.bool_]

STIFF, ODD, OFF = 30.0, 0.12, 0.8
"""Weight of bending against places known to 1 mm [-]; distances from the neighbours' curve at which a place loses weight, and all weight [mm]."""
SPOILT = 3
"""Number of places beside a gap that get the gap's error [-]."""
SIDE, MOST_BEND = 5, 2.1
"""Number of places from which a side's direction is taken [-], and the largest turn that is counted [rad]."""
TAIL = 2.0
"""Factor on the stated error of places on which few photos agree: their error has a long tail, as they may lie on another edge [-]."""
SUPPORTED = 0.5
"""Factor on the standard deviation of places in a gap whose measurements agree with its sides [-]."""
BULGE = 0.07
"""Error of a bridged edge as a share of the gap [-]."""


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


def _gap_errors(points: Floats, unsure: Mask) -> tuple[Floats, Floats]:
    """Return the error of each place in a gap and the gap's length [mm]; 0 where the edge is known.

    Both sides carried on meet in a corner that may hide in the gap: its height over the gap counts.
    """
    error, size = np.zeros((2, len(unsure)))
    if unsure.all():
        return error + BULGE * STEP * len(unsure), size + STEP * len(unsure)
    for at, length in runs(unsure):
        gap = (at + np.arange(length)) % len(points)
        beside = np.array([at - 2 * SIDE, at - SIDE, at + length + SIDE, at + length + 2 * SIDE])
        around = points[beside % len(points)]
        a, b = around[1] - around[0], around[3] - around[2]
        bend = min(abs(float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))), MOST_BEND)
        height = 0.5 * float(np.hypot(*(around[2] - around[1]))) * np.tan(bend / 2)
        size[gap] = STEP * length
        error[gap] = np.hypot(BULGE * STEP * length, 0.6 * height)
    return error, size


def completed(points: Floats, errors: Floats) -> Edge:
    """Return the edge with corners where their sides meet, doubtful stretches carried on and short gaps bridged.

    Parameters
    ----------
    points, errors : (N, 2) places round a loop, `STEP` apart, and their standard deviations across; `UNSEEN` where not seen [mm]
    """
    hidden = errors >= UNSEEN
    if (laid := on_circle(points, errors, sure=WEAK)) is not None:
        points, errors = laid
    else:
        errors = np.where(supported(points, errors, hidden), SUPPORTED * errors, errors)
    unseen = errors >= UNSEEN
    doubt, size = _gap_errors(points, unseen)
    before = np.hypot(errors, doubt)
    points, wide = sharpened(points, step=STEP, sd=before, among_grain=True)
    kept = wide == before
    weak = (errors >= WEAK) & kept
    # a corner laid over doubtful places is no surer than they are
    wide = np.where(weak, TAIL * wide, np.where(hidden & ~unseen, np.maximum(wide, TAIL * errors), wide))
    # places far off a smooth curve between the sides have followed another edge of the grain
    made = bridged_smoothly(points, errors, unseen & kept & (size <= SHORT))
    # places beside a gap get its error, and a corner laid in a gap may really be rounded
    wide = np.maximum(wide, doubt)
    gaps = np.where(unseen | ((wide >= UNSEEN) & ~weak), wide, 0.0)
    wide = np.max([wide, *(np.roll(gaps, k) for k in range(-SPOILT, SPOILT + 1))], axis=0)
    return Edge(
        points=made,
        sd=wide,
        fair=float(1 - hidden.mean()),
        blind=longest_gap(~hidden) * STEP,
        open=longest_gap(~unseen) * STEP,
    )
