"""Compiled: a glance over the room at how much a piece would overlap at its best place, before anything is moved."""

from __future__ import annotations

import numpy as np

from platewright.compiled import njit
from platewright.layout.search.kernels import Look, Pieces, Room, Work, _fill, _lowest, _span

__all__ = ["least_overlap"]


@njit(cache=True, nogil=True)
def least_overlap(look: Look, room: Room, pieces: Pieces, work: Work, i: int) -> float:
    """Return the least weighted depth [mm] of piece i over all places of the raster and all its turns; inf if it never fits."""
    span = np.empty(4)
    least = np.inf
    for n in range(pieces.counts[i]):
        form = pieces.choices[i, n]
        if not _span(room, form, span):
            continue
        nx, ny = int((span[2] - span[0]) / look.h) + 1, int((span[3] - span[1]) / look.h) + 1
        _fill(look, pieces, i, form, span, work.field, nx, ny)
        least = min(least, float(_lowest(work, nx, ny)[2]))
        if least <= 0.0:
            break
    return least
