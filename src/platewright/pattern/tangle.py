"""How much a heap of lines lies over itself: told from a sample, before anything is made of all its crossings."""

from __future__ import annotations

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Floats

__all__ = ["crossing_pairs", "refuse_tangled"]

SAMPLE = 300
"""Boxes sampled [-]."""
USUAL, FEW = 60.0, 100_000
"""Pairs of boxes that meet, for each line: more than any traced edge has, and so many in all that it matters [-]."""


def crossing_pairs(low: Floats, high: Floats) -> float:
    """Return about how many pairs of boxes meet [-], from their lower left and upper right corners [mm]."""
    count = len(low)
    some = np.linspace(0, count - 1, min(SAMPLE, count)).astype(np.int64)
    meets = [int(((low <= high[k]) & (high >= low[k])).all(axis=1).sum()) - 1 for k in some.tolist()]
    return sum(meets) / max(len(some), 1) * count / 2


def refuse_tangled(points: Floats, *, what: str, where: str = "") -> None:
    """Refuse a closed row of points [mm] whose lines run criss-cross over each other.

    Raises
    ------
    InputError
        Saying what it is that cannot be an outline.
    """
    after = np.roll(points, -1, axis=0)
    met = crossing_pairs(np.minimum(points, after), np.maximum(points, after))
    if met > FEW and met > USUAL * len(points):
        raise InputError(
            f"{what} runs criss-cross over itself; no outline can be told in it.", where=where,
            do="Trace it once round, points in order.",
        )  # fmt: skip
