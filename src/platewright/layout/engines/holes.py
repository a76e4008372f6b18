"""Holes are plates too: what goes into the holes of what is laid is searched there, in a room of its own.

Method: each hole of a placed piece that takes something is made a room with the host where it lies. Candidates are what
lies in it already, what found no place at all, and what lies outside, farthest along the plate first; the knapsack
search (``search.crowd``) puts the most value in. Pieces of one shape stand for one another, so a piece that moves in is
one that freed room farthest out. What is thrown out of a hole goes to what came free outside. If in the end less is
placed than before, all stays as it was. What lies in a hole rides along with its host from then on (``ours.grouped``).

Cost: one small set of tables for each hole. Limits: outermost hosts only; pieces that carry others do not move in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from platewright.geometry import Floats
from platewright.layout.problem import FILLER, Budget, Packed, Piece, Problem, Spot
from platewright.layout.search.crowd import worth_of
from platewright.layout.search.squeeze import Search
from platewright.layout.search.tables import make_tables
from platewright.layout.shape.loops import loops_area

__all__ = ["with_holes_filled"]

FEWEST = 400
"""Fewest moves for one hole, if the budget is in steps [-]."""

MOST_CANDIDATES = 120
"""Most pieces that one hole chooses among [-]."""


def with_holes_filled(
    problem: Problem, packed: Packed, budget: Budget, *, hosts: Callable[[Sequence[Spot]], Mapping[int, int]],
    used: Callable[[], float], added: Callable[[Packed, Sequence[int]], Packed],
) -> Packed:  # fmt: skip
    """Return the packing with its holes as full as the search finds, or as it was.

    Parameters
    ----------
    problem, packed : what is laid [mm, rad]
    budget : seed, steps and threads
    hosts : gives host by rider, as positions among spots
    used : the share of the time for this used up [-]
    added : lays more pieces on the raster where there is room
    """
    spots, steps = list(packed.spots), packed.steps
    rooms = _rooms(problem, spots, hosts(spots))
    if not rooms:
        return packed
    limit = None if budget.steps is None else max(FEWEST, budget.steps // (8 * len(rooms)))
    whole = sum(-loops_area((r,)) for _, r in rooms)
    share = 0.0
    for host, hole in sorted(rooms, key=lambda r: loops_area((r[1],))):
        share += -loops_area((hole,)) / max(whole, 1.0)
        until = share
        if used() >= until:
            continue
        spots, moves = _filled(
            problem,
            spots,
            (host, hole),
            replace(budget, steps=limit),
            used=partial(_share, used, until),
            hosts=hosts,
        )
        steps += moves
    placed = {s.piece for s in spots}
    lost = [i for i, p in enumerate(problem.pieces) if i not in placed and p.rank < FILLER]
    after = added(Packed(tuple(spots), steps), lost) if lost else Packed(tuple(spots), steps)
    better = worth_of(problem, [s.piece for s in after.spots]) >= worth_of(
        problem, [s.piece for s in packed.spots]
    )
    return after if better else replace(packed, steps=steps)


def _share(used: Callable[[], float], until: float) -> float:
    return used() / until


def _rooms(problem: Problem, spots: Sequence[Spot], host: Mapping[int, int]) -> list[tuple[int, Floats]]:
    """Return the holes (clockwise) with their host's piece that could take the smallest other piece [mm]."""
    least = min(s.area() for s in problem.shapes)
    return [
        (spot.piece, loop)
        for k, spot in enumerate(spots)
        if k not in host
        for loop in problem.placed(spot, grown=True)[1:]
        if -loops_area((loop,)) > least
    ]


def _filled(
    problem: Problem, spots: list[Spot], room: tuple[int, Floats], budget: Budget, *,
    used: Callable[[], float], hosts: Callable[[Sequence[Spot]], Mapping[int, int]],
) -> tuple[list[Spot], int]:  # fmt: skip
    """Return the spots with one hole filled better if it can be, and the moves made [-]."""
    host, hole = room
    inside, chosen = _candidates(problem, spots, room, hosts(spots))
    if len(chosen) == len(inside):
        return spots, 0
    kinds = list(dict.fromkeys(problem.pieces[i].shape for i in chosen))
    pieces = tuple(
        Piece(kinds.index(problem.pieces[i].shape), problem.pieces[i].rank, problem.value(i)) for i in chosen
    )
    held = {s.piece for s in problem.fixed}
    local = tuple(replace(s, piece=chosen.index(s.piece)) for s in inside)
    small = Problem(
        shapes=tuple(problem.shapes[k] for k in kinds), pieces=pieces, room=(np.ascontiguousarray(hole[::-1]),),
        fixed=tuple(s for s in local if chosen[s.piece] in held), frame=problem.frame, any_turn=problem.any_turn,
    )  # fmt: skip
    tables = make_tables(small, stop=lambda: used() >= 1.0)
    if tables is None:
        return spots, 0
    search = Search(
        small, tables, seed=budget.seed + host, steps=budget.steps, used=used, workers=budget.workers
    )
    found = search.filled(local)
    if worth_of(small, [s.piece for s in found]) <= worth_of(small, [s.piece for s in local]):
        return spots, search.moves
    moved = {chosen[s.piece] for s in found} | {s.piece for s in inside}
    rest = [s for s in spots if s.piece not in moved]
    return [*rest, *(replace(s, piece=chosen[s.piece]) for s in found)], search.moves


def _candidates(
    problem: Problem, spots: Sequence[Spot], room: tuple[int, Floats], host: Mapping[int, int]
) -> tuple[list[Spot], list[int]]:
    """Return what lies in a hole, and the pieces that may: those, then what is missing, then what lies farthest out."""
    owner, hole = room
    low, high = hole.min(axis=0), hole.max(axis=0)
    inside: list[Spot] = []
    outside: list[tuple[float, int]] = []
    loaded, held = {spots[h].piece for h in host.values()}, {s.piece for s in problem.fixed}
    for k, spot in enumerate(spots):
        box = problem.placed(spot)[0]
        if (
            k in host
            and spots[host[k]].piece == owner
            and (box.min(axis=0) >= low).all()
            and (box.max(axis=0) <= high).all()
        ):
            inside.append(spot)
        elif k not in host and spot.piece not in loaded | held | {owner}:
            outside.append((-float(box[:, 0].max()), spot.piece))
    placed = {s.piece for s in spots}
    missing = [i for i, p in enumerate(problem.pieces) if i not in placed and p.rank < FILLER]
    area = -loops_area((hole,))
    size = float((high - low).max()) * 2**0.5
    may = [
        i
        for i in (*missing, *(p for _, p in sorted(outside)))
        if problem.shapes[problem.pieces[i].shape].area() < area
        and problem.shapes[problem.pieces[i].shape].reach() < size
        and problem.pieces[i].rank < FILLER
        and problem.shapes[problem.pieces[i].shape].more <= problem.shapes[problem.pieces[owner].shape].more
    ]
    return inside, [s.piece for s in inside] + may[:MOST_CANDIDATES]
