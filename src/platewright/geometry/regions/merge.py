"""Neighbouring edges on one line or one circle joined into one."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.measure import arc_data
from platewright.geometry.profile import Profile
from platewright.geometry.tolerance import SNAP, WELD

__all__ = ["merged"]

Shape = TypeVar("Shape", Contour, Profile)
_MOST = 2 * math.pi - 0.1
"""An arc is not joined beyond this sweep [rad], where its bulge would run away."""


def merged(shape: Shape, *, tolerance: float = SNAP) -> Shape:
    """Return the shape with neighbouring edges that lie on one line or one circle joined.

    Parameters
    ----------
    shape : contour or profile; what has nothing to join comes back equal
    tolerance : how far a dropped vertex may lie from the joined edge, and how far the centres and radii of
        joined arcs may differ [mm]

    A full circle stays two arcs. Edges of no length (under ``WELD``) are dropped. An edge running back on
    the one before it is not joined.
    """
    if isinstance(shape, Profile):
        outer = merged(shape.outer, tolerance=tolerance)
        return Profile(outer, tuple(merged(h, tolerance=tolerance) for h in shape.holes))
    shape = _without_specks(shape)
    for _ in range(len(shape)):
        joined = _joined_once(shape, tolerance)
        if len(joined) == len(shape):
            break
        shape = joined
    return shape


def _without_specks(contour: Contour) -> Contour:
    """Return the contour without edges of no length; unchanged if fewer than two edges would stay."""
    away = contour.ends - contour.starts
    keep = np.hypot(away[:, 0], away[:, 1]) > WELD
    if keep.all() or keep.sum() < 2:
        return contour
    rows = contour.rows[: len(contour)][keep]
    return Contour(rows if contour.closed else np.vstack([rows, contour.rows[-1:]]), contour.closed)


def _joined_once(contour: Contour, tolerance: float) -> Contour:
    """Return the contour with runs of edges on one carrier joined where that is plain."""
    arcs = arc_data(contour)
    sweep = arcs.sweep
    start, end = contour.starts, contour.ends
    after = np.roll(np.arange(len(contour)), -1)
    both_lines = (sweep == 0) & (sweep[after] == 0)
    run = end[after] - start
    size = np.hypot(run[:, 0], run[:, 1])
    step = end - start
    off = np.abs(run[:, 0] * step[:, 1] - run[:, 1] * step[:, 0]) / np.where(size > 0, size, 1.0)
    forward = np.einsum("ij,ij->i", step, step[after]) > 0
    in_line = both_lines & (off <= tolerance) & forward & (size > 0)
    with np.errstate(invalid="ignore"):
        near = (np.hypot(*(arcs.centre - arcs.centre[after]).T) <= tolerance) & (
            np.abs(arcs.radius - arcs.radius[after]) <= tolerance
        )
    round_ = (sweep * sweep[after] > 0) & near & (np.abs(sweep + sweep[after]) < _MOST)
    joins = in_line | round_
    if not contour.closed:
        joins[-1] = False
    return _drop(contour, joins, sweep)


def _drop(contour: Contour, joins: np.ndarray[tuple[int], np.dtype[np.bool_]], sweep: Floats) -> Contour:
    """Return the contour with the vertex after each marked edge dropped, no two neighbours at once."""
    count = len(contour)
    rows = contour.rows.copy()
    gone = np.zeros(len(rows), dtype=bool)
    least = 2 if contour.closed else 1
    for k in np.flatnonzero(joins).tolist():
        vertex = (k + 1) % len(rows)
        if gone[k] or gone[vertex] or gone[(k + 2) % len(rows)] or count - int(gone.sum()) <= least:
            continue
        rows[k, 2] = math.tan((sweep[k] + sweep[(k + 1) % count]) / 4) if sweep[k] else 0.0
        gone[vertex] = True
    return Contour(rows[~gone], contour.closed)
