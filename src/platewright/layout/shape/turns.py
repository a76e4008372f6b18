"""Which turns a part may be laid at, without those that look the same."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from platewright.geometry import Floats
from platewright.layout.shape.loops import Loops, turned
from platewright.layout.shape.room import straight_turn

__all__ = ["FORMS", "distinct", "free_turns"]

FORMS = 96
"""Most turned shapes one search looks up [-]: memory grows with the square."""

SAME = 0.02
"""Two turns that differ by less than this everywhere are one [mm]."""

_STEPS = (24, 12, 8, 4)


def _round(loops: Sequence[Floats]) -> bool:
    """Tell whether the loops are circles about one centre (as far as the search's polygons tell)."""
    middle = loops[0].mean(axis=0)
    for loop in loops:
        away = np.hypot(*(loop - middle).T)
        if len(loop) < 12 or away.max() - away.min() > 0.01 * away.max() + 0.3:
            return False
    return True


def _print(loops: Loops) -> Floats:
    """Return vertices from the box's corner, in one order, for comparing."""
    points = np.vstack(loops)
    points = points - points.min(axis=0)
    keys = np.round(points / SAME)
    ordered: Floats = points[np.lexsort((keys[:, 1], keys[:, 0]))]
    return ordered


def distinct(loops: Loops, angles: Sequence[float]) -> tuple[float, ...]:
    """Return the angles [rad] without those that give the same outline as an earlier one, up to a shift."""
    if _round(loops):
        return tuple(angles[:1])
    kept: list[float] = []
    prints: list[Floats] = []
    for angle in dict.fromkeys(round(math.remainder(a, math.tau), 12) for a in angles):
        mine = _print(turned(loops, angle))
        if not any(np.abs(mine - other).max() < 2 * SAME for other in prints):
            kept.append(angle)
            prints.append(mine)
    return tuple(kept)


def free_turns(loops: Loops, shapes: int) -> tuple[float, ...]:
    """Return turns [rad] for a part that may lie anyhow: even steps from its straightest place.

    Parameters
    ----------
    loops : the part's outline [mm]
    shapes : how many different shapes share the search's tables [-]; more shapes, fewer turns
    """
    count = next((k for k in _STEPS if k * shapes <= FORMS), 4)
    lean = straight_turn(loops)
    quarter = [lean + k * math.pi / 2 for k in range(4)]
    return tuple(quarter + [lean + k * math.tau / count for k in range(count)])
