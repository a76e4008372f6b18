"""Bridge a stretch of an edge from its two sides, where few photos agree or none shows the edge.

Glossary
--------
sure, weak, doubtful : places of a standard deviation below `WEAK`, above it, and above `DOUBTFUL`
stretch : doubtful places, the weak ones at its ends, and short sure bits within
sides : the sure places before and after a stretch, up to the next corner

Among grain a doubtful place is either right or on another edge nearby. If one cubic fits both sides, the edge is most likely
that cubic. The measurements in the stretch enter by their standard deviations, outliers with less weight; a long stretch is
not bridged if most of them lie off the cubic, as at a shallow corner or a jog between the sides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.edge.corners import TURN, line_of, sides_of, turning
from platewright.pattern.capture.edge.gap_circles import DENIED, OFF
from platewright.pattern.capture.edge.search import STEP
from platewright.pattern.loops import runs

__all__ = [
    "CORRELATED",
    "KNOWN",
    "SHORT",
    "WEAK",
    "Stretch",
    "bridged_smoothly",
    "busy_at",
    "cubic",
    "stretch_at",
]  # fmt: skip

Mask = NDArray[np.bool_]
Places = NDArray[np.int64]

WEAK, DOUBTFUL = 0.2, 0.28
"""Standard deviation from which few photos agree on a place (it is right, or on another edge), and from which it counts as doubtful [mm]."""
KNOWN = 0.05
"""Least standard deviation of a place [mm]."""
BIT = 6
"""A run of fewer sure places than this between doubtful ones belongs to the doubtful stretch [-]."""
LEAST, USUAL, MOST = 3, 5, 20
"""Least places of a side, most of one beside a short stretch, and beside any [-]."""
SHORT, LONGEST_BRIDGE = 12.0, 60.0
"""Longest stretch bridged whatever was measured in it, and longest bridged at all [mm]."""
CORRELATED = 8.0
"""Number of neighbouring places whose errors are correlated [-]."""
MORE = 3
"""Number of places beside a stretch that are affected by it [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Places of a loop: those before, within and after a stretch (indices), how its sides turn [rad], and how long it is between them [mm]."""

    before: Places
    within: Places
    after: Places
    turn: float
    over: float

    @property
    def index(self) -> Places:
        """All of them in order of travel [-]."""
        return np.concatenate([self.before, self.within, self.after])

    @property
    def middle(self) -> slice:
        """Which of `index` lie within [-]."""
        return slice(len(self.before), len(self.before) + len(self.within))

    def base(self) -> Floats:
        """Return the cubics' base along the stretch and its sides (N, 4) [-]."""
        inner = self.over * np.arange(1, len(self.within) + 1) / (len(self.within) + 1)
        sides = STEP * np.arange(1 - len(self.before), 1), self.over + STEP * np.arange(len(self.after))
        return np.vander(np.concatenate([sides[0], inner, sides[1]]) / self.over - 0.5, 4)


def busy_at(points: Floats, sd: Floats) -> Mask:
    """Return the places (N,) where a side ends because the edge turns or is weak [-]; points and their sd [mm]."""
    return np.asarray((turning(points, STEP) > TURN) | (sd >= WEAK))


def stretch_at(points: Floats, busy: Mask, at: int, length: int) -> Stretch | None:
    """Return a stretch from its first place and length [-]; None if its sides are too short to bridge it."""
    before, after = sides_of(busy, at, length, most=int(np.clip(length, USUAL, MOST)))
    if min(len(before), len(after)) < LEAST:
        return None
    a, b = (line_of(points[side]).along for side in (before, after))
    turn = abs(float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)))
    gap = float(np.hypot(*(points[after[0]] - points[before[-1]])))
    # an arc is longer than its chord
    over = gap / max(float(np.sinc(turn / (2 * np.pi))), 0.3)
    if over < 0.5 * STEP * length:
        return None
    return Stretch(before, (at + np.arange(length)) % len(points), after, turn, over)


def cubic(points: Floats, sd: Floats, stretch: Stretch, *, share: float) -> tuple[Floats, Floats]:
    """Return the joining cubic along the stretch and its sides, and the distance of the measured places from it (N,) [mm].

    The measurements within the stretch count as a `share` of that many independent places [-].
    """
    base, middle, places = stretch.base(), stretch.middle, points[stretch.index]
    error = np.maximum(sd[stretch.index], KNOWN)
    usual = 1 / error
    usual[middle] *= np.sqrt(share)
    weight = usual.copy()
    for _ in range(6):
        curve = base @ np.linalg.lstsq(base * weight[:, None], places * weight[:, None], rcond=None)[0]
        along = np.gradient(curve, axis=0)
        along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
        rel = places - curve
        off = rel[:, 0] * along[:, 1] - rel[:, 1] * along[:, 0]
        weight[middle] = (usual / np.sqrt(1 + (off / error) ** 2))[middle]
    return curve, off


def _carried(points: Floats, sd: Floats, stretch: Stretch, *, measured: bool) -> Floats | None:
    """Return the stretch laid on the curve that joins its sides [mm]; None if no smooth curve does. Measurements in it count only if `measured`."""
    if measured and stretch.turn > TURN:
        return None
    curve, off = cubic(points, sd, stretch, share=1 / CORRELATED if measured else 1e-8)
    within = np.abs(off[stretch.middle]) / np.maximum(sd[stretch.within], KNOWN)
    beside = np.delete(off, np.arange(len(off))[stretch.middle])
    denied = measured and STEP * len(within) > SHORT and np.percentile(within, 90) > DENIED
    if denied or float(np.sqrt(np.mean(beside**2))) > OFF:
        return None
    return np.asarray(curve[stretch.middle])


def _stretches(sd: Floats) -> list[tuple[int, int]]:
    """Return first place and length of each doubtful stretch that is not too long [-]."""
    weak = sd >= WEAK
    for at, length in runs(~weak):
        if length < BIT:
            weak[(at + np.arange(length)) % len(sd)] = True
    doubtful = sd >= DOUBTFUL
    return [
        (at, length)
        for at, length in runs(weak)
        if STEP * length <= LONGEST_BRIDGE and doubtful[(at + np.arange(length)) % len(sd)].any()
    ]


def bridged_smoothly(points: Floats, sd: Floats, gaps: Mask) -> Floats:
    """Return the loop with doubtful stretches and `unseen` gaps laid on the curves that join their sides [mm].

    Parameters
    ----------
    points, sd : (N, 2) places round a loop, `STEP` apart, and their standard deviations (N,) across [mm]
    gaps : (N,) where nothing was seen; bridged whichever way their sides turn, where they are not carried on
    """
    busy = busy_at(points, sd)
    made, done = points.copy(), np.zeros(len(points), dtype=bool)
    for at, length in _stretches(sd):
        for more in (MORE, 0):
            stretch = stretch_at(points, busy, at - more, length + 2 * more)
            if stretch is not None and (curve := _carried(points, sd, stretch, measured=True)) is not None:
                made[stretch.within], done[stretch.within] = curve, True
                break
    for at, length in runs(gaps & ~done):
        stretch = stretch_at(points, busy, at, length)
        if stretch is not None and (curve := _carried(points, sd, stretch, measured=False)) is not None:
            made[stretch.within] = curve
    return made
