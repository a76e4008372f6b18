"""A program read back as geometry: what the torch runs round, without leads and overburn.

Each burn is one chain of moves. Where the chain comes back to a place it has been, the longest such loop is the
contour; what runs up to it and past it is lead-in, overburn and lead-out. No kerf is taken off: the loop is the
torch's path.
"""

from __future__ import annotations

import math

import numpy as np

from platewright.geometry import Arc, Floats, Line, Point
from platewright.program.run import Kind, Run

__all__ = ["burning_edges"]

SAME = 0.01
"""Two places closer than this are the same place in a program's text [mm] (its last decimal, twice over)."""


def burning_edges(run: Run) -> list[Line | Arc]:
    """Return the lines and arcs the torch or the marking tool runs along, leads and overburn left out [mm]."""
    moves = run.moves
    working = (moves.torch | moves.marking) & np.isin(moves.kind, (Kind.FEED, Kind.ARC)) & (moves.plane == 0)
    flat = np.hypot(*(moves.end - moves.start)[:, :2].T) + np.abs(moves.sweep) > 1e-9
    indices = np.flatnonzero(working & flat)
    found: list[Line | Arc] = []
    for burn in _burns(indices, moves.torch | moves.marking):
        found += [
            edge for i in _loop(burn, moves.start[:, :2], moves.end[:, :2]) for edge in _edges(run, int(i))
        ]
    return found


def _burns(
    indices: np.ndarray[tuple[int], np.dtype[np.int64]], on: np.ndarray[tuple[int], np.dtype[np.bool_]]
) -> list[list[int]]:
    """Split working moves where the tool goes off between them."""
    off = np.cumsum(~on)
    burns: list[list[int]] = []
    for i in indices.tolist():
        if burns and off[i] == off[burns[-1][-1]]:
            burns[-1].append(i)
        else:
            burns.append([i])
    return burns


def _loop(burn: list[int], starts: Floats, ends: Floats) -> list[int]:
    """Return the moves of the longest closed run of a burn, or all of them if it never comes back."""
    spots = np.vstack([starts[burn], ends[burn[-1:]]])
    apart = np.hypot(spots[:, None, 0] - spots[None, :, 0], spots[:, None, 1] - spots[None, :, 1])
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*(ends[burn] - starts[burn]).T) + 1e-9)])
    rows, columns = np.nonzero(np.triu(apart <= SAME, 1))
    if len(rows) == 0:
        return burn
    best = int(np.argmax(lengths[columns] - lengths[rows]))
    return burn[rows[best] : columns[best]]


def _edges(run: Run, i: int) -> list[Line | Arc]:
    """Return one move as edges; a full circle as two half circles."""
    moves = run.moves
    start, end = Point(*map(float, moves.start[i, :2])), Point(*map(float, moves.end[i, :2]))
    if moves.kind[i] != Kind.ARC:
        return [Line(start, end)]
    centre, sweep = Point(*map(float, moves.centre[i])), float(moves.sweep[i])
    away = start - centre
    pieces = 2 if abs(sweep) > 1.5 * math.pi else 1
    return [
        Arc(centre, away.length(), away.angle() + k * sweep / pieces, sweep / pieces) for k in range(pieces)
    ]
