"""A path as the digits of a program carry it: what the table really runs, and so what is timed.

Rounded ends bend short edges a little, and a table slows at bends; a hundredth of an inch too few in the text may cost a
per cent of the time. So the planner times the path that the text will say, not the one it drew.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Contour, Floats, arc_data, flatten
from platewright.table.controller import Controller

__all__ = ["as_written", "written_as_arc"]


def written_as_arc(radius: Floats, sweep: Floats, *, grid: float) -> NDArray[np.bool_]:
    """Tell of which edges (N,) [mm, rad] the digits of a program can say an arc; a shorter or flatter one is said as straights."""
    bent = np.isfinite(radius)
    size, turn = np.where(bent, radius, 0.0), np.abs(sweep)
    rise = size * (1 - np.cos(np.minimum(turn, np.pi) / 2))
    as_arc: NDArray[np.bool_] = bent & (rise >= grid) & (size * turn >= 4 * grid)
    return as_arc


def as_written(
    path: Contour, speeds: Sequence[float] | Floats, controller: Controller
) -> tuple[Contour, Floats]:
    """Return an open path [mm] and its feeds [mm/s] as a program carries them: arcs as it says them, ends and feeds rounded.

    Parameters
    ----------
    path : as planned [mm]
    speeds : feed of each edge [mm/s]
    controller : its digits, and how far chords may lie off the arcs they are said by
    """
    rows, feeds = path.rows, np.array(speeds, dtype=np.float64)
    if controller.chord:
        rows, feeds = _chords(path, feeds, max(controller.chord, controller.grid))
    if controller.grid:
        rows, feeds = _rounded(Contour(rows, closed=False), feeds, controller.grid)
    if controller.feed_grid:
        feeds = np.maximum(np.rint(feeds / controller.feed_grid), 1.0) * controller.feed_grid
    return Contour(rows, closed=False), feeds


def _rounded(path: Contour, feeds: Floats, grid: float) -> tuple[Floats, Floats]:
    """Return rows and feeds with ends on a grid [mm]; edges that vanish are gone."""
    arcs = arc_data(path)
    rows = path.rows.copy()
    rows[:, :2] = np.rint(rows[:, :2] / grid) * grid
    rows[:-1, 2] = np.where(written_as_arc(arcs.radius, arcs.sweep, grid=grid), rows[:-1, 2], 0.0)
    moves = (rows[1:, :2] != rows[:-1, :2]).any(axis=1)
    if not moves.any():
        return path.rows, feeds
    return np.vstack([rows[:-1][moves], rows[-1:]]), feeds[moves]


def _chords(path: Contour, feeds: Floats, tolerance: float) -> tuple[Floats, Floats]:
    """Return rows and feeds with arcs as chords that lie within a distance of them [mm]."""
    spots, each = [path.rows[:1, :2]], list[Floats]()
    for edge, feed in zip(path.edges(), feeds, strict=True):
        points = flatten(Contour.from_edges([edge], closed=False), tolerance=tolerance)[1:]
        spots.append(points)
        each.append(np.full(len(points), feed))
    flat = np.vstack(spots)
    return np.column_stack([flat, np.zeros(len(flat))]), np.concatenate(each)
