"""A few edges of a chain as an open chain of their own, read in other ways, and put back."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.fit.chain import Chain, bulge_through
from platewright.fit.relations.rules import heading
from platewright.geometry.contour import Floats

__all__ = [
    "Piece", "broken", "meeting", "one", "piece_of", "put", "rounded", "smoothish", "sound", "without",
]  # fmt: skip

SMOOTHISH = 0.7
"""A join that turns by less than this may be smooth [rad]."""

SHORTEST = 0.05
"""An edge shorter than this is no edge [mm]: a twentieth of any torch's cut."""

LONGER = 1.5
"""Most the chords of a piece may grow together [-]; a square corner over a bevel makes them grow by less than that."""

FULLEST = 2.5
"""An arc whose bulge is larger has run round [-]: a sweep over 270 degrees."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Edges of a chain between two neighbours.

    Attributes
    ----------
    chain : both neighbours and the edges between, open
    where : which samples of the whole it took [-]
    first, count : the edges between [-]
    """

    chain: Chain
    where: NDArray[np.int64]
    first: int
    count: int


def piece_of(chain: Chain, first: int, count: int, *, near: int | None = None) -> Piece | None:
    """Return `count` edges from `first` on with a neighbour at each end; None if there are too few.

    Of the neighbours the `near` samples nearest to the edges are taken [-], None for all.
    """
    n = len(chain.arcs)
    if n < count + 2:
        return None
    edges = [(first - 1 + i) % n for i in range(count + 2)]
    rows = chain.rows[[(first - 1 + i) % n for i in range(count + 3)]].copy()
    rows[-1, 2] = 0.0
    taken, labels = [], []
    for i, edge in enumerate(edges):
        own = np.flatnonzero((chain.labels == edge) & (chain.weights > 0))
        if near is not None and i in (0, count + 1) and len(own) > near:
            vertex = rows[1 if i == 0 else count + 1, :2]
            away = ((chain.points[own] - vertex) ** 2).sum(axis=1)
            own = np.sort(own[np.argpartition(away, near)[:near]])
        taken.append(own)
        labels.append(np.full(len(own), i, dtype=np.int64))
    where = np.concatenate(taken)
    return Piece(
        Chain(
            points=np.ascontiguousarray(chain.points[where]), weights=chain.weights[where], labels=np.concatenate(labels), rows=rows,
            arcs=chain.arcs[edges], closed=False, frozen=chain.frozen[where],
        ), where, first, count,
    )  # fmt: skip


def put(chain: Chain, piece: Piece, found: Chain) -> Chain:
    """Return the whole chain with a piece read as `found`, numbered from the edge before the piece."""
    n, kept = len(chain.arcs), len(found.arcs) - 2
    turn = piece.first - 1
    rows = np.roll(chain.rows, -turn, axis=0)
    arcs = np.roll(chain.arcs, -turn)
    labels = (chain.labels - turn) % n
    own = (labels > 0) & (labels <= piece.count)
    mine = np.zeros(len(labels), dtype=np.int64)
    mine[piece.where] = found.labels
    new = np.where(own, mine, np.where(labels > piece.count, labels + kept - piece.count, labels))
    rows = np.vstack([rows[:1], found.rows[1 : kept + 1], rows[piece.count + 1 :]])
    rows[0, 2] = found.rows[0, 2]
    rows[kept + 1] = found.rows[kept + 1]
    arcs = np.concatenate([arcs[:1], found.arcs[1 : kept + 1], arcs[piece.count + 1 :]])
    return replace(chain, rows=np.ascontiguousarray(rows), arcs=arcs, labels=new % len(arcs))


def _headings(rows: Floats) -> tuple[Floats, Floats]:
    """Return the directions of travel at every edge's start and end [-]."""
    ends = np.column_stack([rows[:-1], rows[1:, :2]])
    return np.column_stack(heading(ends, end=False)), np.column_stack(heading(ends, end=True))


def smoothish(piece: Chain) -> tuple[int, ...]:
    """Return the inner vertices with an arc beside them that may be smooth joins [-]."""
    start, end = _headings(piece.rows)
    straight = (end[:-1] * start[1:]).sum(axis=1) > math.cos(SMOOTHISH)
    return tuple(int(v) + 1 for v in np.flatnonzero(straight & (piece.arcs[:-1] | piece.arcs[1:])))


def sound(piece: Chain, before: Chain) -> bool:
    """Tell whether no edge has turned back, shrunk to nothing [mm] or run round, and no vertex slid along a neighbour.

    Two arcs that come to lie on one circle leave their vertex free to slide, to and fro over what was traced once.
    """
    step = np.diff(piece.rows[:, :2], axis=0)
    long = np.hypot(step[:, 0], step[:, 1])
    if long.min() < SHORTEST or np.abs(piece.rows[:, 2]).max() > FULLEST:
        return False
    if long.sum() > LONGER * np.hypot(*np.diff(before.rows[:, :2], axis=0).T).sum():
        return False
    first = before.rows[1, :2] - before.rows[0, :2], before.rows[-1, :2] - before.rows[-2, :2]
    return bool(step[0] @ first[0] > 0 and step[-1] @ first[1] > 0)


def meeting(piece: Chain) -> Floats | None:
    """Return where the lines along both neighbours' near ends meet [mm]; None if they hardly cross."""
    start, end = _headings(piece.rows)
    a, b = end[0], start[-1]
    cross = float(a[0] * b[1] - a[1] * b[0])
    if abs(cross) < 0.02:
        return None
    gap = piece.rows[-2, :2] - piece.rows[1, :2]
    return np.asarray(piece.rows[1, :2] + float(gap[0] * b[1] - gap[1] * b[0]) / cross * a)


def rounded(piece: Chain) -> Chain | None:
    """Return a piece of three edges with its middle one an arc smooth at both ends, through the middle of its samples."""
    corner = meeting(piece)
    if corner is None:
        return None
    start, end = _headings(piece.rows)
    a, b = end[0], start[-1]
    turn = float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))
    own = piece.points[piece.labels == 1]
    middle = own.mean(axis=0) if len(own) else 0.5 * (piece.rows[1, :2] + piece.rows[2, :2])
    height, half = float(np.hypot(*(middle - corner))), abs(turn) / 2
    radius = height * math.cos(half) / max(1 - math.cos(half), 1e-6)
    cut = min(
        radius * math.tan(half), *(0.9 * float(np.hypot(*(corner - piece.rows[i, :2]))) for i in (0, 3))
    )
    rows = piece.rows.copy()
    rows[1, :2], rows[2, :2], rows[1, 2] = corner - cut * a, corner + cut * b, math.tan(turn / 4)
    return replace(piece, rows=rows, arcs=np.array([piece.arcs[0], True, piece.arcs[2]]))


def one(piece: Chain, *, arc: bool) -> Chain:
    """Return the piece with its inner edges as one line or arc."""
    last = len(piece.arcs) - 1
    rows = piece.rows[[0, 1, last, last + 1]].copy()
    labels = np.where(piece.labels == 0, 0, np.where(piece.labels == last, 2, 1)).astype(np.int64)
    own = piece.points[labels == 1]
    rows[1, 2] = bulge_through(rows[1, :2], own[len(own) // 2], rows[2, :2]) if arc and len(own) else 0.0
    return replace(piece, rows=rows, arcs=np.array([piece.arcs[0], arc, piece.arcs[-1]]), labels=labels)


def without(piece: Chain, corner: Floats | None) -> Chain | None:
    """Return a piece of three edges without its middle one, the others carried on to a corner [mm]; None if that is far off."""
    start, stop = piece.rows[1, :2], piece.rows[2, :2]
    reach = 3 * float(np.hypot(*(stop - start))) + 1.0
    if corner is None or np.hypot(*(corner - 0.5 * (start + stop))) > reach:
        return None
    nearer = ((piece.points - start) ** 2).sum(axis=1) <= ((piece.points - stop) ** 2).sum(axis=1)
    labels = np.where(piece.labels == 1, np.where(nearer, 0, 1), np.where(piece.labels == 2, 1, 0))
    rows = piece.rows[[0, 2, 3]].copy()
    rows[1, :2] = corner
    return replace(piece, rows=rows, arcs=piece.arcs[[0, 2]], labels=labels.astype(np.int64))


def broken(piece: Chain, order: NDArray[np.int64], at: int, kinds: tuple[bool, bool]) -> Chain:
    """Return a piece of three edges with its middle one in two, before sample `at` of its samples in `order` [-]."""
    points = piece.points[order]
    rows = np.insert(piece.rows, 2, [*(0.5 * (points[at - 1] + points[at])), 0.0], axis=0)
    for k, run in enumerate((points[:at], points[at:])):
        bulge = bulge_through(rows[k + 1, :2], run[len(run) // 2], rows[k + 2, :2]) if kinds[k] else 0.0
        rows[k + 1, 2] = bulge
    labels = np.where(piece.labels > 1, piece.labels + 1, piece.labels)
    labels[order[at:]] = 2
    arcs = np.array([piece.arcs[0], *kinds, piece.arcs[2]])
    return replace(piece, rows=np.ascontiguousarray(rows), arcs=arcs, labels=labels)
