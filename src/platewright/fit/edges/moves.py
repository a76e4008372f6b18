"""The shortest description of a traced outline: edges taken out, broken in two and read otherwise, fitted together.

The dynamic programme lets neighbouring edges end apart, prices every edge alone and knows no smooth joins. So
its cut is where a search begins. Tried are: two neighbours as one line or arc; an edge gone, its neighbours
carried on until they meet; a line for an arc and the other way; an edge broken in two, an arc in one of them.
Each is fitted together with the edges beside it, every join free or smooth, and what shortens the description
most is done first, until nothing does.

A description is the misfit over the noise, a price for every real number (a smooth join spares one) and every
edge, and the row of kinds: how often an arc follows a line and an arc, and where (T. Cover, "Enumerative source
encoding", 1973). So an edge is judged with its neighbours: among many roundings one bevel needs strong support.

Cost: a limit from moment sums (no joint fit has less misfit than its edges alone) spares most fits. Limits: a
search downhill; arcs and lines that hardly differ and come in numbers may be read all one way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.fit.chain import Chain, Normal, in_order, refine
from platewright.fit.edges import pieces
from platewright.fit.edges.kernels import ARC_LEAST, misfits
from platewright.fit.edges.segment import EDGE_NEWS, Price
from platewright.fit.solve import SETTLED, joined_smoothly

__all__ = ["kinds_news", "shortest"]

MOST_MOVES = 20
"""Moves done at most [-]."""

KINDS = 5.0
"""What the row of kinds may at most weigh in a change worth fitting [-]."""

PLACES = 40
"""Places at which an edge is tried in two, and a tenth of it [-]: a joint fit moves the place on."""


@dataclass(frozen=True, slots=True)
class _Move:
    """A piece read otherwise and what that shortens the description by [-]."""

    gain: float
    piece: pieces.Piece
    found: Chain


@dataclass(frozen=True, slots=True)
class _Ground:
    """A chain, each edge's samples in order, and their misfits as they are [mm²]."""

    chain: Chain
    price: Price
    runs: list[NDArray[np.int64]]
    now: list[float]

    def alone(self, *edges: int) -> tuple[float, float]:
        """Return the (line, arc) misfits of the samples of edges in a row [mm²]."""
        points = self.chain.points[np.concatenate([self.runs[e] for e in edges])]
        line, arc = misfits(np.ascontiguousarray(points), np.array([0]), np.array([len(points)]))[0]
        return float(line), float(arc)

    def worth(self, misfit: float, numbers: int, edges: int) -> bool:
        """Tell whether a misfit more [mm²] may pay for the `numbers` and `edges` it spares [-]."""
        spared = numbers * self.price.parameter + EDGE_NEWS * edges + KINDS
        return misfit * self.price.weight < spared


def kinds_news(arcs: NDArray[np.bool_]) -> float:
    """Return the length of the description of which edges round an outline are arcs [-].

    After lines, and after arcs, how many of the next are of the other kind, and which of them.
    """
    after = np.roll(arcs, -1)
    total = 0.0
    for kind in (False, True):
        count, change = int((arcs == kind).sum()), int(((arcs == kind) & (after != kind)).sum())
        total += math.log(count + 1) + math.log(math.comb(count, change))
    return total


def _cost(piece: Chain, total: float, price: Price, joins: int) -> float:
    """Return the length of a piece's description [-] but for its kinds; `joins` of its joins are smooth."""
    numbers = 2 * len(piece.arcs) + int(piece.arcs.sum()) - joins
    return total * price.weight + numbers * price.parameter + EDGE_NEWS * len(piece.arcs)


def _least(trial: Chain, price: Price, before: Chain, most: float = math.inf) -> tuple[float, Chain]:
    """Return the least cost of a piece [-] with its joins free or smooth, and the piece so fitted.

    What cannot cost less than `most` [-] is not fitted.
    """
    free, here = refine(trial, rounds=15)
    usable = pieces.sound(free, before)
    best, found = (_cost(free, here.total, price, 0), free) if usable else (math.inf, trial)
    begin = free if usable else trial
    may = pieces.smoothish(begin)
    tries = [(begin, may)] if may else []
    if len(may) > 1:
        tries += [(begin, (v,)) for v in may]
    round_one = pieces.rounded(trial) if len(trial.arcs) == 3 and trial.arcs[1] else None
    if round_one is not None:
        tries.append((round_one, pieces.smoothish(round_one)))
    for start, joins in tries:
        if _cost(free, here.total, price, len(joins)) >= min(best, most):
            continue
        solved = joined_smoothly(start, joins, rounds=12, still=SETTLED)
        if solved.unmet > 1e-6 or not pieces.sound(solved.chain, before):
            continue
        cost = _cost(solved.chain, solved.normal.total, price, len(joins))
        if cost < best:
            best, found = cost, solved.chain
    return best, found


def _gone(ground: _Ground, k: int) -> float:
    """Return about the least misfit of both neighbours of an edge with its samples shared out to them [mm²]."""
    n, points = len(ground.chain.arcs), ground.chain.points
    before, own, after = (ground.runs[(k + i) % n] for i in (-1, 0, 1))
    row = np.ascontiguousarray(points[np.concatenate([before, own, after])])
    at = len(before) + np.linspace(0, len(own), 9).astype(np.int64)
    kinds = [int(ground.chain.arcs[(k + i) % n]) for i in (-1, 1)]
    left = misfits(row, np.zeros(len(at), np.int64), at)[:, kinds[0]]
    right = misfits(row, at, np.full(len(at), len(row)))[:, kinds[1]]
    return float((left + right).min())


def _other_kind(ground: _Ground, k: int, piece: pieces.Piece) -> Iterator[Chain]:
    if not ground.chain.arcs[k]:
        if len(ground.runs[k]) >= ARC_LEAST:
            yield pieces.one(piece.chain, arc=True)
    elif ground.worth(ground.alone(k)[0] - ground.now[k], 1, 0):
        yield pieces.one(piece.chain, arc=False)


def _broken(ground: _Ground, k: int, piece: pieces.Piece) -> Iterator[Chain]:
    """Yield the piece with its edge in two where the misfit may pay for it."""
    own, arc = ground.runs[k], bool(ground.chain.arcs[k])
    n = len(own)
    if n <= 2 * ARC_LEAST + 1:
        return
    points = np.ascontiguousarray(ground.chain.points[own])
    at = np.unique(np.linspace(ARC_LEAST, n - ARC_LEAST, PLACES).astype(np.int64))
    left = misfits(points, np.zeros(len(at), np.int64), at)
    right = misfits(points, at, np.full(len(at), n))
    inner = np.flatnonzero(piece.chain.labels == 1)
    order = inner[np.searchsorted(piece.where[inner], own)]
    for kinds in ((True, False), (False, True), (True, True)):
        total = left[:, int(kinds[0])] + right[:, int(kinds[1])]
        best = int(np.argmin(total))
        # at the least one number more, and a sequence of kinds that supports it
        if ground.worth(float(total[best]) - ground.now[k], arc - sum(kinds) - 1, -1):
            yield pieces.broken(piece.chain, order, int(at[best]), kinds)


def _readings(ground: _Ground, k: int) -> Iterator[tuple[pieces.Piece, Chain]]:
    """Yield other readings of edge k, and of it and the next as one, that may be shorter."""
    chain, n = ground.chain, len(ground.chain.arcs)
    before, after = (k - 1) % n, (k + 1) % n
    pair, piece = pieces.piece_of(chain, k, 2), pieces.piece_of(chain, k, 1)
    if pair is not None:
        misfit = np.array(ground.alone(k, after)) - ground.now[k] - ground.now[after]
        numbers = 4 + int(chain.arcs[k]) + int(chain.arcs[after])
        for arc in (False, True):
            if ground.worth(float(misfit[int(arc)]), numbers - 2 + arc, 1):
                yield pair, pieces.one(pair.chain, arc=arc)
    if piece is not None:
        for trial in _other_kind(ground, k, piece):
            yield piece, trial
        misfit_gone = _gone(ground, k) - ground.now[before] - ground.now[k] - ground.now[after]
        if ground.worth(misfit_gone, 3 + int(chain.arcs[k]), 1):
            rows = piece.chain.rows
            for corner in (pieces.meeting(piece.chain), rows[1, :2], rows[2, :2]):
                if (gone := pieces.without(piece.chain, corner)) is not None:
                    yield piece, gone
        for trial in _broken(ground, k, piece):
            yield piece, trial


def _moves(chain: Chain, here: Normal, price: Price, touched: set[int]) -> list[_Move]:
    """Return what shortens the description about the touched edges, best first."""
    n = len(chain.arcs)
    runs = [in_order(chain, k) for k in range(n)]
    ground = _Ground(chain, price, runs, [float((here.misfit[own] ** 2).sum()) for own in runs])
    found = []
    for k in range(n):
        if not {(k - 1) % n, k, (k + 1) % n, (k + 2) % n} & touched:
            continue
        known: dict[int, float] = {}
        for piece, trial in _readings(ground, k):
            if piece.count not in known:
                known[piece.count] = _least(piece.chain, price, piece.chain)[0]
            rest = np.roll(chain.arcs, -piece.first)[piece.count :]
            news = kinds_news(np.concatenate([trial.arcs[1:-1], rest])) - kinds_news(chain.arcs)
            limit = known[piece.count] - news
            cost, read = _least(trial, price, piece.chain, limit)
            if cost < limit - 1e-6:
                found.append(_Move(limit - cost, piece, read))
    return sorted(found, key=lambda m: -m.gain)


def shortest(chain: Chain, here: Normal, price: Price) -> tuple[Chain, Normal]:
    """Return the chain changed edge by edge as long as its description gets shorter, refitted [mm]."""
    touched = set(range(len(chain.arcs)))
    for _ in range(MOST_MOVES):
        moves = _moves(chain, here, price, touched)
        if not moves:
            break
        best, n = moves[0], len(chain.arcs)
        turn, span = best.piece.first - 1, best.piece.count + 2
        more = len(best.found.arcs) - span
        chain, here = refine(pieces.put(chain, best.piece, best.found))
        left = {(m.piece.first - turn) % n for m in moves[1:]}
        touched = set(range(-1, span + more + 1)) | {k + more * (k >= span) for k in left}
        touched = {k % len(chain.arcs) for k in touched}
    return chain, here
