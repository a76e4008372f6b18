"""Reconsider single edges (line, arc or none) by a joint fit with their neighbours.

The dynamic programme judges each edge alone. With shared vertices and tangency in the count of numbers the
judgement sharpens: a rounding that runs on smoothly at both ends costs one number more than a sharp corner,
a bevel two, a free arc three. For every doubtful edge (a short line turning the same way at both ends, an
arc that may as well be a line) the readings are fitted with their neighbours, and the shortest description
is kept. Repeated until nothing changes.

Cost: a few small least-squares problems a doubtful edge. Limits: neighbours' kinds are taken as they are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from platewright.fit.chain import Chain, Normal, bulge_through, refine
from platewright.fit.edges.pieces import meeting, one, piece_of, rounded, sound, without
from platewright.fit.edges.segment import ARC_NEWS, EDGE_NEWS, Price
from platewright.fit.relations.rules import heading
from platewright.fit.solve import Solved, joined_smoothly

__all__ = ["settle"]

SURE = 6.0
"""An arc whose bulge exceeds 0 by this many sd is kept as an arc [-]."""

MOST_LEAN = 2.0
"""Largest change of a bevel's cost by what the other corners are [-]."""

NEAR = 150
"""Samples of a neighbour used on each side [-]; its far part carries little information about the edge."""


@dataclass(frozen=True, slots=True)
class _Reading:
    """One hypothesis for an edge: the piece fitted under it, and its cost [-]; edges None: the edge is dropped."""

    kind: str
    piece: Chain
    cost: float

    @property
    def means(self) -> str:
        """Line, arc or none."""
        if self.kind == "none":
            return "none"
        return "line" if self.kind.startswith("line") else "arc"


def _cost(piece: Chain, total: float, price: Price, smooth: int) -> float:
    """Return the description length of a piece [-], `smooth` tangencies in it."""
    arcs = int(piece.arcs.sum())
    numbers = 2 * len(piece.arcs) + arcs - smooth
    return total * price.weight + numbers * price.parameter + EDGE_NEWS * len(piece.arcs) + ARC_NEWS * arcs


def _as_arc(piece: Chain) -> Chain:
    own = piece.points[piece.labels == 1]
    rows = piece.rows.copy()
    if rows[1, 2] == 0.0 and len(own):
        rows[1, 2] = bulge_through(rows[1, :2], own[len(own) // 2], rows[2, :2])
    return replace(piece, rows=rows, arcs=np.array([piece.arcs[0], True, piece.arcs[2]]))


def _fit(
    trial: Chain | None, kind: str, price: Price, *, joins: tuple[int, ...], before: Chain
) -> _Reading | None:  # fmt: skip
    if trial is None:
        return None
    if joins:
        solved: Solved = joined_smoothly(trial, joins)
        if solved.unmet > 1e-6:
            return None
        piece, total = solved.chain, solved.normal.total
    else:
        piece, here = refine(trial, rounds=15)
        total = here.total
    if not sound(piece, before):
        return None
    return _Reading(kind, piece, _cost(piece, total, price, len(joins)))


def _doubtful(chain: Chain, here: Normal, price: Price) -> list[int]:
    """Return the edges to reconsider, in order of their number [-]."""
    n = len(chain.arcs)
    rows = chain.rows
    ends = np.column_stack([rows[:n], np.roll(rows, -1, axis=0)[:n, :2]])
    start = np.column_stack(heading(ends, end=False))
    end = np.column_stack(heading(ends, end=True))
    previous = np.roll(end, 1, axis=0)
    turn = np.arctan2(
        previous[:, 0] * start[:, 1] - previous[:, 1] * start[:, 0], (previous * start).sum(axis=1)
    )
    size = np.hypot(ends[:, 3] - ends[:, 0], ends[:, 4] - ends[:, 1])
    free = np.flatnonzero(chain.free)
    h = 2 * price.weight * here.hessian[np.ix_(free, free)]
    spread = np.zeros(len(chain.free))
    spread[free] = np.sqrt(np.maximum(np.diag(np.linalg.pinv(h, hermitian=True)), 0))
    sd = spread.reshape(-1, 3)[:n, 2]
    after = np.roll(turn, -1)
    shorter = size < 0.75 * np.minimum(np.roll(size, 1), np.roll(size, -1))
    bevel = ~chain.arcs & shorter & (turn * after > 0) & (np.minimum(abs(turn), abs(after)) > 0.05)
    bevel &= abs(np.abs(turn) - np.abs(after)) < 0.8 * np.maximum(abs(turn), abs(after)) + 0.2
    if chain.anchors is not None:  # clicked: an empty stretch is straight
        few = np.bincount(chain.labels, minlength=n) < size / 4.0 + 2
        bevel &= ~few
    weak = chain.arcs & (np.abs(rows[:n, 2]) < SURE * np.maximum(sd, 1e-12))
    return [int(k) for k in np.flatnonzero(bevel | weak)]


def _readings(piece: Chain, price: Price) -> list[_Reading]:
    line, arc, rounding = one(piece, arc=False), _as_arc(piece), rounded(piece)
    smooth_line = tuple(v for v, arc_there in ((1, piece.arcs[0]), (2, piece.arcs[2])) if arc_there)
    tries = [
        (line, "line", ()),
        (line, "line smooth", smooth_line),
        (arc, "arc", ()),
        (arc, "arc smooth at its start", (1,)),
        (arc, "arc smooth at its end", (2,)),
        (rounding, "rounding", (1, 2)),
        (without(piece, meeting(piece)), "none", ()),
    ]
    found = [_fit(t, kind, price, joins=joins, before=piece) for t, kind, joins in tries]
    return [f for f in found if f is not None]


def _put_back(chain: Chain, k: int, where: np.ndarray, reading: _Reading) -> Chain:
    """Return the whole chain with a piece replaced."""
    n = len(chain.arcs)
    rows, arcs, labels = chain.rows.copy(), chain.arcs.copy(), chain.labels.copy()
    after = (k + 1) % n
    if reading.kind == "none":
        rows[after, :2] = reading.piece.rows[1, :2]
        own = labels == k
        mine = np.full(len(labels), -1)
        mine[where] = reading.piece.labels
        labels[own] = np.where(mine[own] == 0, (k - 1) % n, after)
        labels[labels > k] -= 1
        if k == 0:
            labels[labels < 0] = n - 2
        return replace(
            chain,
            rows=np.delete(rows, k, axis=0),
            arcs=np.delete(arcs, k),
            labels=labels,
            anchors=None if chain.anchors is None else np.delete(rows[:, :2], k, axis=0),
        )
    rows[k] = reading.piece.rows[1]
    rows[(k + 1) % len(rows), :2] = reading.piece.rows[2, :2]
    arcs[k] = reading.piece.arcs[1]
    return replace(chain, rows=rows, arcs=arcs, anchors=None if chain.anchors is None else rows[:, :2].copy())


def _in_company(reading: _Reading, chain: Chain, k: int, doubtful: list[int]) -> _Reading:
    """Return a reading of a bevel with the odds the other corners show: rounded ones make it likelier rounded [-]."""
    if reading.means == "none":
        return reading
    bevels = sum(not chain.arcs[d] for d in doubtful if d != k)
    odds = math.log((1 + int(chain.arcs.sum())) / (1 + bevels))
    lean = max(-MOST_LEAN, min(MOST_LEAN, odds))
    return replace(reading, cost=reading.cost + (lean if reading.means == "line" else 0.0))


def _clicked_cost(reading: _Reading, price: Price) -> _Reading:
    """Return a reading of clicks with the odds of so many clicks along its straights: a person clicks their ends [-]."""
    count = np.bincount(reading.piece.labels, minlength=len(reading.piece.arcs))
    along = np.maximum(count[~reading.piece.arcs] - 2, 0)
    return replace(reading, cost=reading.cost + float(np.minimum(price.clicks, price.click * along).sum()))


def settle(chain: Chain, here: Normal, price: Price) -> tuple[Chain, Normal]:
    """Return the chain with each doubtful edge under its cheapest hypothesis, refitted [mm]."""
    for _ in range(3):
        best: list[tuple[float, int, np.ndarray, _Reading]] = []
        doubtful = _doubtful(chain, here, price)
        for k in doubtful:
            cut = piece_of(chain, k, 1, near=NEAR)
            if cut is None:
                continue
            piece, where = cut.chain, cut.where
            readings = _readings(piece, price)
            if not chain.arcs[k]:
                readings = [_in_company(r, chain, k, doubtful) for r in readings]
            if chain.anchors is not None:
                readings = [_clicked_cost(r, price) for r in readings]
            if not readings:
                continue
            winner = min(readings, key=lambda r: r.cost)
            now = "arc" if chain.arcs[k] else "line"
            same = [r.cost for r in readings if r.means == now]
            means = winner.means
            if means != now and (not same or winner.cost < min(same) - 1e-6):
                best.append(((min(same) if same else 1e9) - winner.cost, k, where, winner))
        if not best:
            break
        chain = _apply(chain, best)
        chain, here = refine(chain)
    return chain, here


def _apply(chain: Chain, best: list[tuple[float, int, np.ndarray, _Reading]]) -> Chain:
    """Return the chain with the best hypotheses applied, no two of them adjacent, dropped edges last."""
    n = len(chain.arcs)
    taken: set[int] = set()
    chosen = []
    for gain, k, where, reading in sorted(best, key=lambda b: -b[0]):
        if taken & {(k - 1) % n, k, (k + 1) % n}:
            continue
        taken.add(k)
        chosen.append((gain, k, where, reading))
    for _, k, where, reading in sorted(chosen, key=lambda c: -c[1]):
        chain = _put_back(chain, k, where, reading)
    return chain
