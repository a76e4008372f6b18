"""Errors that points share over long stretches: edges they may have bent or broken are read as the one they were.

A template that does not lie flat bends its straight sides in the photo. The noise of the points says nothing of
that: they lie on the bent side within a few hundredths. So after the shortest description has been found, two
neighbours are read as one, and flat arcs as lines, once more, with a bend of unknown size allowed for. Integrating
it out (a normal prior of variance s² over the one direction that the misfit grows in) turns the misfit's price
m / 2q into m / 2(q + n s²) + ln(1 + n s² / q) / 2, with q the noise's variance for n points that err together.

Limits: a side that is truly bent by as little is read as straight.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from platewright.fit.chain import Chain, Normal, refine
from platewright.fit.edges.kernels import misfits
from platewright.fit.edges.pieces import Piece, one, piece_of, put, sound
from platewright.fit.edges.segment import ARC_NEWS, EDGE_NEWS, Price
from platewright.geometry.contour import Floats

__all__ = ["bend_price", "eased"]

OVER = 150.0
"""Stretch over which slow errors reach their full size; over shorter ones they are less, as the square [mm]."""

MOST = 2.0
"""A bend larger than this many times its sd is shape [-]: what is stated to be uncertain is so at 95 %."""


def bend_price(misfit: float, points: Floats, price: Price, *, slow: float) -> float:
    """Return what a misfit more [mm²] costs where the points of an edge may share a bend of sd `slow` [mm]."""
    reach = 2 * float(np.hypot(*(points - points.mean(axis=0)).T).max())
    noise = 0.5 / price.weight
    bend = len(points) * (slow * min(1.0, (reach / OVER) ** 2)) ** 2
    if misfit > MOST**2 * bend:
        return misfit / (2 * noise)
    return max(misfit, 0.0) / (2 * (noise + bend)) + 0.5 * math.log1p(bend / noise)


def _trials(
    chain: Chain, here: Normal, price: Price, slow: float
) -> Iterator[tuple[float, float, Floats, Piece, bool]]:
    """Yield readings with an edge or a radius fewer: gain at best, what it spares [-], its points, piece and kind."""
    n = len(chain.arcs)
    runs = [np.flatnonzero((chain.labels == k) & (chain.weights > 0)) for k in range(n)]
    for k in range(n):
        for count in (1, 2):
            edges = [(k + i) % n for i in range(count)]
            arcs = int(chain.arcs[edges].sum())
            kinds = [False, True] if count == 2 and arcs else [False]
            if count == 1 and not arcs:
                continue
            own = np.concatenate([runs[e] for e in edges])
            points = np.ascontiguousarray(chain.points[own])
            apart = float((here.misfit[own] ** 2).sum())
            alone = misfits(points, np.array([0]), np.array([len(points)]))[0]
            for arc in kinds:
                # two neighbours may have been joined smoothly, which spared a number
                numbers = arcs - int(arc) + (1 if count == 2 else 0)
                spared = numbers * price.parameter + EDGE_NEWS * (count - 1) + ARC_NEWS * (arcs - int(arc))
                gain = spared - bend_price(float(alone[int(arc)]) - apart, points, price, slow=slow)
                if gain > 0 and (piece := piece_of(chain, k, count)) is not None:
                    yield gain, spared, points, piece, arc


def eased(chain: Chain, here: Normal, price: Price, *, slow: float) -> tuple[Chain, Normal]:
    """Return the chain without the bends and edges that slow errors of sd `slow` [mm] explain, refitted [mm]."""
    for _ in range(len(chain.arcs)):
        best: tuple[float, Chain, Normal] | None = None
        for _, spared, points, piece, arc in sorted(_trials(chain, here, price, slow), key=lambda t: -t[0]):
            trial = one(piece.chain, arc=arc)
            made, there = refine(put(chain, piece, trial))
            if not sound(trial, piece.chain):
                continue
            gain = spared - bend_price(there.total - here.total, points, price, slow=slow)
            if gain > 0:
                best = (gain, made, there)
                break
        if best is None:
            break
        _, chain, here = best
    return chain, here
