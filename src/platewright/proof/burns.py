"""From moves to burns: what the torch does while it is lit, as edges.

Words: a burn is one stretch from torch on to torch off; an edge is one torch-on move over the plate (a full circle is
two); kerf is the width the torch parts at that edge's speed.

The kerf at a speed is the table's one law (``table.law``). Cost: linear in the moves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Floats
from platewright.program.run import Kind, Run
from platewright.proof.edges import Edges
from platewright.table.law import kerf_at
from platewright.table.model import ChartRow

__all__ = ["Burn", "Torch", "at_real_speed", "edges_of", "read_torch"]


_KERF_DIGITS = 2
"""Decimals of a kerf that follows the real speed [-]: a hundredth of a millimetre keeps stretches of one width long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Burn:
    """One stretch of torch on.

    Attributes
    ----------
    first, last : range of moves, last not included
    edge_first, edge_last : range of edges, last not included
    line, last_line : lines of the program
    pierce : where it was lit [mm]
    delay : pause at the pierce before the first move over the plate [s]
    still : pause before the first move of any kind, down to the plate included [s]
    stood : how long it stands lit before the first move over the plate, the way down at its feed included [s]
    later : how long it stands lit after that, ways up and down included [s]
    pierce_height : height it was lit at [mm]
    stops : whether the program waits for a person while it is lit
    """

    first: int
    last: int
    edge_first: int
    edge_last: int
    line: int
    last_line: int
    pierce: tuple[float, float]
    delay: float
    still: float
    stood: float
    later: float
    pierce_height: float
    stops: bool = False


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Torch:
    """Everything cut, edge by edge; arrays of length E.

    Attributes
    ----------
    edges : exact edges [mm, rad]
    burn : which burn each edge belongs to
    move : which move
    line : line of the program
    length : [mm]
    feed : [mm/s]; 0 for a rapid with the torch on
    kerf : [mm]
    height : torch height over each edge [mm] (the lower end)
    left : torch height each edge is left at [mm]; the last of a burn may be raised out of the cut, and counts its lower end
    follow : height control live
    burns : the burns
    relit : lines that light a torch already lit
    doused : lines that put out a torch already out
    """

    edges: Edges
    burn: NDArray[np.intp]
    move: NDArray[np.intp]
    line: NDArray[np.int32]
    length: Floats
    feed: Floats
    kerf: Floats
    height: Floats
    left: Floats
    follow: NDArray[np.bool_]
    burns: tuple[Burn, ...]
    relit: tuple[int, ...]
    doused: tuple[int, ...]

    def unlit(self) -> Torch:
        """Return a torch that cut nothing."""
        none = np.zeros(0, dtype=np.intp)
        arrays = {
            n: getattr(self, n)[none]
            for n in ("burn", "move", "line", "length", "feed", "kerf", "height", "left", "follow")
        }
        return replace(self, edges=self.edges.taken(none), burns=(), **arrays)


def at_real_speed(torch: Torch, row: ChartRow, speeds: Floats) -> Torch:
    """Return the torch with its kerf taken from the speed the table really reaches on each move.

    Parameters
    ----------
    torch : kerfs at the feeds asked for [mm]
    row : the chart row; where it has one kerf for every speed nothing changes
    speeds : speed half of each move of the program is run at or above [mm/s]; 0 where it is not known
    """
    speed = np.where(speeds[torch.move] > 0, speeds[torch.move], torch.feed)
    return replace(torch, kerf=np.round(kerf_at(row, np.minimum(torch.feed, speed)), _KERF_DIGITS))


def _spans(run: Run) -> tuple[list[tuple[int, int, int, int]], list[int], list[int]]:
    """Return (first move, last move, line on, line off) of each burn, and lines that said nothing new."""
    spans, relit, doused = list[tuple[int, int, int, int]](), list[int](), list[int]()
    lit: tuple[int, int] | None = None
    for event in run.events:
        if event.what == "torch-on":
            if lit is None:
                lit = (event.move, event.line)
            else:
                relit.append(event.line)
        elif event.what in ("torch-off", "both-off") or (event.what == "end" and lit):
            if lit is not None:
                spans.append((lit[0], event.move, lit[1], event.line))
            elif event.what == "torch-off":
                doused.append(event.line)
            lit = None
    if lit is not None:
        spans.append((lit[0], len(run.moves), lit[1], run.lines))
    return spans, relit, doused


def edges_of(run: Run, index: NDArray[np.intp]) -> tuple[Edges, NDArray[np.intp]]:
    """Return the exact edges of moves over the plate [mm, rad], full circles as two, and which move each came from."""
    moves = run.moves
    flat = (moves.kind[index] == Kind.ARC) & (moves.plane[index] == 0)
    pieces = np.where(flat & (np.abs(moves.sweep[index]) > math.pi * 1.5), 2, 1)
    owner = np.repeat(np.arange(len(index)), pieces)
    turn = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    move = index[owner]
    start, end, centre = moves.start[move, :2].copy(), moves.end[move, :2].copy(), moves.centre[move].copy()
    sweep = np.where(flat[owner], moves.sweep[move] / pieces[owner], 0.0)
    away = start - centre
    angle = np.arctan2(away[:, 1], away[:, 0])
    radius = np.hypot(away[:, 0], away[:, 1])
    split = np.flatnonzero(pieces[owner] == 2)
    first, second = split[turn[split] == 0], split[turn[split] == 1]
    middle = centre[first] + radius[first, None] * np.column_stack(
        [np.cos(angle[first] + sweep[first]), np.sin(angle[first] + sweep[first])]
    )
    end[first], start[second] = middle, middle
    angle[second] += sweep[second]
    line = ~flat[owner]
    centre[line] = (start[line] + end[line]) / 2
    radius = np.where(line, np.inf, radius)
    return Edges(
        start=start, end=end, centre=centre, radius=radius, angle=np.where(line, 0.0, angle), sweep=sweep
    ), move


def read_torch(run: Run, row: ChartRow | float) -> Torch:
    """Return what the torch does while lit [mm, mm/s], from the program as read and the chart's kerf [mm]."""
    spans, relit, doused = _spans(run)
    moves = run.moves
    owner = np.full(len(moves), -1, dtype=np.intp)
    for number, (first, last, _, _) in enumerate(spans):
        owner[first:last] = number
    flat = np.hypot(*(moves.end - moves.start)[:, :2].T)
    whole = (moves.kind == Kind.ARC) & (moves.plane == 0)
    index = np.flatnonzero((owner >= 0) & ((flat > 0) | whole))
    edges, move = edges_of(run, index)
    burn = owner[move]
    feed = moves.feed[move]
    ends = np.searchsorted(burn, np.arange(len(spans) + 1))
    burns = tuple(_burn(run, span, int(ends[n]), int(ends[n + 1])) for n, span in enumerate(spans))
    height = np.minimum(moves.start[move, 2], moves.end[move, 2])
    leaving = np.append(burn[1:] != burn[:-1], True)[: len(burn)]
    return Torch(
        edges=edges,
        burn=burn,
        move=move,
        line=moves.line[move],
        length=edges.lengths(),
        feed=feed,
        kerf=np.round(kerf_at(row, feed), 3) if isinstance(row, ChartRow) else np.full(len(feed), float(row)),
        height=height,
        left=np.where(leaving, height, moves.end[move, 2]),
        follow=moves.follow[move],
        burns=burns,
        relit=tuple(relit),
        doused=tuple(doused),
    )


def _burn(run: Run, span: tuple[int, int, int, int], edge_first: int, edge_last: int) -> Burn:
    first, last, line, last_line = span
    moves = run.moves
    before = moves.end[first - 1] if first else np.zeros(3)
    own = slice(first, last)
    across = np.hypot(*(moves.end[own] - moves.start[own])[:, :2].T) > 0
    away = np.flatnonzero(across | (moves.kind[own] == Kind.ARC))
    begins = int(away[0]) if len(away) else last - first
    rise = np.abs(moves.end[own, 2] - moves.start[own, 2])
    rising = np.where(~across & (moves.kind[own] == Kind.FEED), rise / np.maximum(moves.feed[own], 1e-6), 0.0)
    waits = moves.seconds[own]
    moved = np.flatnonzero(~np.isin(moves.kind[own], (Kind.DWELL, Kind.STOP)))
    still = float(waits[: int(moved[0]) if len(moved) else None].sum())
    delay, height = float(waits[:begins].sum()), float(before[2])
    stood = delay + float(rising[:begins].sum())
    later = float((waits + rising)[begins:].sum())
    return Burn(
        first=first,
        last=last,
        edge_first=edge_first,
        edge_last=edge_last,
        line=line,
        last_line=last_line,
        pierce=(float(before[0]), float(before[1])),
        delay=delay,
        still=still,
        stood=stood,
        later=later,
        pierce_height=height,
        stops=bool((moves.kind[own] == Kind.STOP).any()),
    )
