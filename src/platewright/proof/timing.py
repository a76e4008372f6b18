"""How long the program takes on this table, and when the arc burns.

Method: moves between stops form chains (a dwell, a torch word, a change of height or of rapid to feed ends one); each
chain is timed by the table's own look-ahead model, which knows nothing of plans, only of lines, arcs and feeds. Rapids,
lifts and touch-offs are counted by ``table.clock``, as the planner counts them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError
from platewright.geometry import Contour, Floats
from platewright.program.run import Kind, Moves, Run
from platewright.proof.burns import Torch
from platewright.table.clock import own_touch_offs, rapid_time, rise_time
from platewright.table.model import Arm, Gantry, TableProfile
from platewright.table.motion import Timed, move_time, timed

__all__ = ["Timing", "timed_run"]


@dataclass(frozen=True, slots=True, eq=False)
class Timing:
    """Of each move (N,) its seconds and the speed half of it is run at or above [mm/s] (0: not on the run); whole time, arc time [s], and (start, end) of each burn on the clock [s]."""

    seconds: Floats
    speeds: Floats
    total: float
    arc: float
    clock: tuple[tuple[float, float], ...]


def _chains(moves: Moves, cuts: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return ranges of moves the controller runs through without a stop."""
    flat = np.hypot(*(moves.end - moves.start)[:, :2].T) > 0
    run = ((moves.kind == Kind.FEED) & flat) | ((moves.kind == Kind.ARC) & (moves.plane == 0))
    starts = run & ~np.concatenate([[False], run[:-1] & ~cuts[1:]])
    ends = run & ~np.concatenate([run[1:] & ~cuts[1:], [False]])
    return list(zip(np.flatnonzero(starts).tolist(), (np.flatnonzero(ends) + 1).tolist(), strict=True))


def _rows(moves: Moves, first: int, last: int) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Return chain rows (x, y, bulge), feeds and owners of moves; full circles as two halves."""
    sweep = np.where(moves.kind[first:last] == Kind.ARC, moves.sweep[first:last], 0.0)
    start, end = moves.start[first:last, :2], moves.end[first:last, :2]
    pieces = np.where(np.abs(sweep) > math.pi * 1.5, 2, 1)
    owner = np.repeat(np.arange(last - first), pieces)
    turn = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    bulge = np.tan(sweep / pieces / 4)[owner]
    spots = start[owner].copy()
    second = turn == 1
    if second.any():
        away = start[owner[second]] - moves.centre[first:last][owner[second]]
        half = sweep[owner[second]] / 2
        c, s = np.cos(half), np.sin(half)
        turned = np.column_stack([c * away[:, 0] - s * away[:, 1], s * away[:, 0] + c * away[:, 1]])
        spots[second] = moves.centre[first:last][owner[second]] + turned
    rows = np.column_stack([np.vstack([spots, end[-1:]]), np.append(bulge, 0.0)])
    return rows, moves.feed[first:last][owner], owner


def timed_run(run: Run, torch: Torch, table: TableProfile, *, struck: int = 0) -> Timing:
    """Return how long each move takes [s] on a table [mm/s, mm/s²], with the arc's times; so many dimples are struck first [-]."""
    moves = run.moves
    seconds, speeds = np.zeros(len(moves)), np.zeros(len(moves))
    cuts = np.zeros(len(moves) + 1, dtype=bool)
    for event in run.events:
        # a torch put out on the run stops nothing; where it stands still or lifts, the next move ends the chain
        if event.what not in ("follow", "hold", "message", "units", "torch-off", "both-off"):
            cuts[event.move] = True
    delta = moves.end - moves.start
    for first, last in _chains(moves, cuts[:-1]):
        rows, feeds, owner = _rows(moves, first, last)
        run_ = _chain_time(rows, feeds, table)
        np.add.at(seconds, owner + first, run_.edge_time)
        halves = np.bincount(owner)  # a full circle is two edges of one length
        speeds[first:last] = np.bincount(owner, run_.edge_usual) / halves
        seconds[last - 1] += run_.plan.smoothing
    other = np.flatnonzero(seconds == 0)
    for i in other.tolist():
        seconds[i] = _single(moves, i, delta[i], table)
    probes = int((moves.kind == Kind.PROBE).sum())
    seconds[moves.kind == Kind.PROBE] = table.probe_time
    touch = own_touch_offs(table, probes=probes, lights=len(torch.burns) + struck)
    return _summed(seconds, speeds, torch, touch, struck)


def _chain_time(rows: Floats, feeds: Floats, table: TableProfile) -> Timed:
    """Return how the table runs a chain [mm, mm/s]; what lies beyond an arm is timed as on a gantry."""
    path = Contour(rows, closed=False)
    try:
        return timed(path, feeds, table)
    except InputError:
        if not isinstance(table.reach, Arm):
            raise
        return timed(path, feeds, replace(table, reach=Gantry(0, 0, 0, 0)))


def _single(moves: Moves, i: int, delta: Floats, table: TableProfile) -> float:
    """Return the time of a move run on its own: rapid, height, dwell, arc in another plane [s]."""
    kind = moves.kind[i]
    if kind in (Kind.DWELL, Kind.STOP):
        return float(moves.seconds[i])
    flat, feed = math.hypot(delta[0], delta[1]), max(float(moves.feed[i]), 1e-6)
    if kind == Kind.RAPID:
        spots = moves.start[i, :2], moves.end[i, :2]
        across = rapid_time(table, *((float(x), float(y)) for x, y in spots))
        return max(across, rise_time(table, float(delta[2])))
    across = (
        move_time(flat, speed=feed, acceleration=table.acceleration, jerk=table.jerk) if flat > 0 else 0.0
    )
    return max(across, rise_time(table, float(delta[2]), feed=feed))


def _summed(seconds: Floats, speeds: Floats, torch: Torch, touch: float, struck: int) -> Timing:
    clock, each = list[tuple[float, float]](), touch / max(1, len(torch.burns) + struck)
    before = np.concatenate([[0.0], np.cumsum(seconds)])
    for number, burn in enumerate(torch.burns, 1):
        wait = (number + struck) * each
        clock.append((float(before[burn.first]) + wait, float(before[burn.last]) + wait))
    arc = sum(end - start for start, end in clock)
    return Timing(seconds, speeds, float(seconds.sum()) + touch, float(arc), tuple(clock))
