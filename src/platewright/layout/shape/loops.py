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

__all__ = ["CHORD", "HAIR", "Loops", "core", "cover", "grown", "joined", "loops_area", "shrunk", "turned"]

GRID = 1e4
"""Integer units per millimetre in the polygon library: 0.1 micrometre, good to plates of kilometres."""


HAIR = 3e-4
"""What a distance is made larger by [mm]: three units of the grid, which its corners may be off by."""


def loops_area(loops: Iterable[Floats]) -> float:
    """Return the signed area of loops [mm²]."""
    total = 0.0
    for p in loops:
        x, y = p[:, 0], p[:, 1]
        total += float(np.dot(x[:-1], y[1:]) - np.dot(y[:-1], x[1:]) + x[-1] * y[0] - y[-1] * x[0])
    return 0.5 * total


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
    """Return the region within a distance of loops (material left of every edge) [mm].

    Edges move outward by the distance and no more; corners get tangents to their arc, so that nothing lies nearer than
    the distance. An inward corner is passed by way of the corner itself, and what is then wound backwards drops out.
    """
    import pyclipper

    paths = [p for loop in loops if len(p := _outline(loop, distance, tolerance)) > 2]
    if not paths:
        return ()
    clip = pyclipper.Pyclipper()
    clip.AddPaths(_to_grid(paths), pyclipper.PT_SUBJECT, True)
    return _from_grid(clip.Execute(pyclipper.CT_UNION, pyclipper.PFT_POSITIVE, pyclipper.PFT_POSITIVE))


def _outline(loop: Floats, distance: float, tolerance: float) -> Floats:
    edges = np.roll(loop, -1, axis=0) - loop
    long = np.hypot(*edges.T)
    loop, edges, long = loop[long > 1e-9], edges[long > 1e-9], long[long > 1e-9]
    if len(loop) < 3:
        return loop[:0]
    out = np.column_stack([edges[:, 1], -edges[:, 0]]) / long[:, None]
    before = np.roll(out, 1, axis=0)
    turn = np.arctan2(before[:, 0] * out[:, 1] - before[:, 1] * out[:, 0], (before * out).sum(axis=1))
    most = 2 * math.acos(distance / (distance + tolerance)) if distance > 0 else math.pi
    rows: list[Floats] = []
    for corner, first, last, angle in zip(loop, before, out, turn.tolist(), strict=True):
        if angle < -1e-12:
            rows += [corner + distance * first, corner, corner + distance * last]
            continue
        count = max(1, math.ceil(angle / most))
        step = angle / count
        start = math.atan2(first[1], first[0])
        at = start + step * (np.arange(count) + 0.5)
        far = distance / math.cos(step / 2)
        rows += [*(corner + far * np.column_stack([np.cos(at), np.sin(at)]))]
    return np.array(rows)


def grown(loops: Sequence[Floats], distance: float, *, tolerance: float = CHORD) -> Loops:
    """Return loops grown by at least a distance [mm]; at rounded corners at most `tolerance` more. Holes that close are gone."""
    return _offset(loops, distance + HAIR, tolerance)


def shrunk(loops: Sequence[Floats], distance: float, *, tolerance: float = CHORD) -> Loops:
    """Return loops shrunk by at least a distance [mm]; at rounded corners at most `tolerance` more; what vanishes is gone.

    A region whose corners lie on the polygon library's grid and whose edges lie along the axes is shrunk by the distance
    and no more, so that a part which exactly fits does fit.
    """
    if not loops:
        return ()
    every = np.vstack(loops)
    exact = all(_on_axes(p) for p in loops) and abs(distance * GRID - round(distance * GRID)) < 1e-6
    far = 2.0 * distance + 10.0
    (x0, y0), (x1, y1) = every.min(axis=0) - far, every.max(axis=0) + far
    frame = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    outside = _offset([frame, *(p[::-1] for p in loops)], distance + (0.0 if exact else HAIR), tolerance)
    return tuple(p[::-1] for p in outside if np.ptp(p[:, 0]) < x1 - x0 or loops_area((p,)) < 0)


def _on_axes(loop: Floats) -> bool:
    """Tell whether a loop has only edges along x and y and its corners on the grid."""
    edges = np.roll(loop, -1, axis=0) - loop
    return bool(
        (np.abs(edges).min(axis=1) < 1e-9).all()
        and (np.abs(loop * GRID - np.round(loop * GRID)) < 1e-5).all()
    )


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
