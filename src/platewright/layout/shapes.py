"""Loops of points and what the search asks of them: grown, shrunk, joined, turned.

Loops come from ``stock.safe`` (covers and cores of true shapes): outer counterclockwise, holes clockwise. Offsets
and unions are done by an integer polygon library on a grid of 0.1 micrometre, always to the safe side.
Cost: near linear in points.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from platewright.geometry import Floats
from platewright.stock.safe import CHORD, Loops, core, cover

__all__ = ["CHORD", "Loops", "core", "cover", "grown", "joined", "loops_area", "shrunk", "turned"]

GRID = 1e4
"""Integer units per millimetre in the polygon library: 0.1 micrometre, good to plates of kilometres."""


def loops_area(loops: Iterable[Floats]) -> float:
    """Return the signed area of loops [mm²]."""
    return sum(
        0.5 * float(np.dot(p[:, 0], np.roll(p[:, 1], -1)) - np.dot(p[:, 1], np.roll(p[:, 0], -1)))
        for p in loops
    )


def turned(loops: Sequence[Floats], angle: float) -> Loops:
    """Return loops turned about the origin by an angle [rad]; quarter turns are exact."""
    c, s = math.cos(angle), math.sin(angle)
    c, s = (round(v) if abs(v - round(v)) < 1e-12 else v for v in (c, s))
    turn = np.array([[c, s], [-s, c]], dtype=np.float64)
    return tuple(p @ turn for p in loops)


def _to_grid(loops: Iterable[Floats]) -> list[list[list[int]]]:
    return [np.round(p * GRID).astype(np.int64).tolist() for p in loops]


def _from_grid(paths: Iterable[Sequence[Sequence[int]]]) -> Loops:
    return tuple(np.array(p, dtype=np.float64) / GRID for p in paths if len(p) > 2)


def _offset(loops: Sequence[Floats], distance: float, tolerance: float) -> Loops:
    import pyclipper

    # the library rounds its count of steps on an arc, so a chord may stray 2.25 times its tolerance
    offset = pyclipper.PyclipperOffset(2.0, tolerance * GRID / 2.5)
    offset.AddPaths(_to_grid(loops), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    return _from_grid(offset.Execute(distance * GRID))


def grown(loops: Sequence[Floats], distance: float, *, tolerance: float = CHORD) -> Loops:
    """Return loops grown by at least a distance [mm], at most `tolerance` more; holes that close are gone."""
    return _offset(loops, distance + tolerance, tolerance)


def shrunk(loops: Sequence[Floats], distance: float, *, tolerance: float = CHORD) -> Loops:
    """Return loops shrunk by at least a distance [mm], at most `tolerance` more; what vanishes is gone."""
    return _offset(loops, -(distance + tolerance), tolerance)


def joined(added: Sequence[Floats], taken: Sequence[Floats] = ()) -> Loops:
    """Return the union of `added` loops less the union of `taken` loops [mm]."""
    import pyclipper

    if not added:
        return ()
    first = pyclipper.SimplifyPolygons(_to_grid(added), pyclipper.PFT_NONZERO)
    if not first or not taken:
        return _from_grid(first)
    second = pyclipper.SimplifyPolygons(_to_grid(taken), pyclipper.PFT_NONZERO)
    clip = pyclipper.Pyclipper()
    clip.AddPaths(first, pyclipper.PT_SUBJECT, True)
    if second:
        clip.AddPaths(second, pyclipper.PT_CLIP, True)
    return _from_grid(clip.Execute(pyclipper.CT_DIFFERENCE, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO))
