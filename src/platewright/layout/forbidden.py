"""Places a shape's origin may not take: Minkowski differences of loops with holes.

Glossary: for still loops A and moving loops B at a fixed turn, the forbidden places are A plus minus-B, that is
every shift at which B would share a point with A. Method: the sweep of each edge of B along each edge of A (one
parallelogram a pair) and one copy of each loop set for containment; the union of all is exact, holes included (if
no edges meet, one region holds the other or they are apart). Cost: edges of A times edges of B parallelograms,
unioned by the integer polygon library.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from platewright.geometry import Floats
from platewright.layout.shapes import GRID, Loops, loops_area

__all__ = ["apart", "outside_of"]


def _edges(loops: Sequence[Floats]) -> tuple[Floats, Floats]:
    starts = np.vstack(loops)
    ends = np.vstack([np.roll(p, -1, axis=0) for p in loops])
    return starts, ends


def _sweeps(still: Sequence[Floats], moving: Sequence[Floats]) -> list[list[list[int]]]:
    """Return the parallelograms edge + (-edge), all counterclockwise, as integer paths."""
    a, b = _edges(still)
    c, d = _edges(moving)
    a, b = a[:, None], b[:, None]
    quads = np.stack([a - c, b - c, b - d, a - d], axis=2).reshape(-1, 4, 2)
    u, v = quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0]
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    quads[turn < 0] = quads[turn < 0][:, ::-1]
    whole = np.round(quads * GRID).astype(np.int64)
    keep = np.abs(turn) > 1e-9
    result: list[list[list[int]]] = whole[keep].tolist()
    return result


def apart(still: Sequence[Floats], moving: Sequence[Floats]) -> Loops:
    """Return the loops of origins at which `moving` would share a point with `still` [mm]."""
    import pyclipper

    quads = _sweeps(still, moving)
    copies = [np.round((p - moving[0][0]) * GRID).astype(np.int64).tolist() for p in still]
    copies_b = [np.round((still[0][0] - p) * GRID).astype(np.int64).tolist() for p in moving]
    clip = pyclipper.Pyclipper()
    clip.AddPaths(quads, pyclipper.PT_SUBJECT, True)
    first = clip.Execute(pyclipper.CT_UNION, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    clip = pyclipper.Pyclipper()
    clip.AddPaths(first, pyclipper.PT_SUBJECT, True)
    for copy in (copies, copies_b):
        clean = pyclipper.SimplifyPolygons(copy, pyclipper.PFT_NONZERO)
        if clean:
            clip.AddPaths(clean, pyclipper.PT_SUBJECT, True)
    paths = clip.Execute(pyclipper.CT_UNION, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    return tuple(np.array(p, dtype=np.float64) / GRID for p in paths if len(p) > 2)


def outside_of(room: Sequence[Floats], moving: Sequence[Floats]) -> Loops:
    """Return the loops of origins at which `moving` would leave the room [mm], within a wide frame."""
    size = np.ptp(moving[0], axis=0).max()
    every = np.vstack(room) if room else moving[0]
    low, high = every.min(axis=0) - 3 * size - 10, every.max(axis=0) + 3 * size + 10
    frame = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    solid = (frame, *(p[::-1] for p in room))
    return apart(solid, moving) if loops_area(solid) > 0 else ()
