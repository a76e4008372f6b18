"""An arc that burns on after the word that puts it out: a run as it really goes on a table whose delay is known.

The table's profile says how long the arc takes to die (``off_delay``). Where the program moves on in the plane, at the height of
the cut, the torch counts as lit for that long; a move it dies on is split there. A torch that lifts or stands is out at once.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from platewright.program.run import Event, Kind, Moves, Run

__all__ = ["burning_on"]

SHORT = 0.002
"""A move is not parted for less than this [s]."""
_OUT = ("torch-off", "both-off")


def burning_on(run: Run, seconds: float) -> Run:
    """Return a run in which every arc dies so long after it is put out [s]."""
    if seconds <= 0:
        return run
    ends: dict[int, tuple[int, float]] = {}
    for n, event in enumerate(run.events):
        if event.what in _OUT and event.move and run.moves.torch[event.move - 1]:
            ends[n] = _dies(run, n, seconds)
    cut = {move: share for move, share in ends.values() if share > 0}
    moves = _split(run.moves, cut)
    shift = np.cumsum(np.isin(np.arange(len(run.moves) + 1), list(cut)))
    before = np.concatenate([[0], shift])
    torch = moves.torch.copy()
    events = list[Event]()
    for n, event in enumerate(run.events):
        at = event.move + int(before[event.move])
        if n in ends:
            move, share = ends[n]
            end = move + int(before[move]) + (share > 0)
            torch[at:end] = True
            at = end
        events.append(event._replace(move=at))
    x, y, z = (None if m is None else m + int(before[m]) for m in run.stated_from)
    return replace(
        run, moves=replace(moves, torch=torch), events=tuple(sorted(events, key=lambda e: e.move)),
        stated_from=(x, y, z),
    )  # fmt: skip


def _dies(run: Run, number: int, seconds: float) -> tuple[int, float]:
    """Return the move an arc dies on and the share of it that it burns [-]; a share of 0 is the end of the move before."""
    moves, first = run.moves, run.events[number].move
    lengths, left, move = moves.lengths(), seconds, first
    while move < len(moves):
        flat = moves.kind[move] == Kind.FEED or (moves.kind[move] == Kind.ARC and moves.plane[move] == 0)
        if (
            not flat
            or moves.start[move, 2] != moves.end[move, 2]
            or moves.torch[move]
            or moves.feed[move] <= 0
        ):
            return move, 0.0
        takes = float(lengths[move] / moves.feed[move])
        if takes > left + SHORT:
            return (move, left / takes) if left > SHORT else (move, 0.0)
        left, move = left - takes, move + 1
    return move, 0.0


def _split(moves: Moves, cut: dict[int, float]) -> Moves:
    """Return the moves, those named parted at a share of each [-]."""
    if not cut:
        return moves
    count = np.ones(len(moves), dtype=np.intp)
    count[list(cut)] = 2
    owner: NDArray[np.intp] = np.repeat(np.arange(len(moves)), count)
    made = {f.name: getattr(moves, f.name)[owner].copy() for f in fields(Moves)}
    for move, share in cut.items():
        at = int(np.searchsorted(owner, move))
        spot = moves.start[move] + share * (moves.end[move] - moves.start[move])
        if moves.kind[move] == Kind.ARC:
            turn = share * float(moves.sweep[move])
            away = moves.start[move, :2] - moves.centre[move]
            c, s = np.cos(turn), np.sin(turn)
            spot[:2] = moves.centre[move] + np.array([c * away[0] - s * away[1], s * away[0] + c * away[1]])
            made["sweep"][at], made["sweep"][at + 1] = turn, float(moves.sweep[move]) - turn
        made["end"][at] = made["start"][at + 1] = spot
    return Moves(**made)
