"""Edges of a clicked outline: breaks on the clicks themselves.

A person clicks both ends of a straight edge, and every millimetre or so round a curve; so a click may be
the end of two edges, and a long step cannot be part of an arc. If the last click falls near the first,
both readings are tried: two clicks of one place, or two places.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from platewright.fit.chain import Chain, bulge_through
from platewright.fit.edges import kernels
from platewright.fit.edges.segment import Cut, Price, firmness, turned_back, walked
from platewright.fit.prepare import steps_of
from platewright.geometry.contour import Floats

__all__ = ["chain_of_clicks", "cut_clicks", "cut_from", "priced", "widest_step"]

FEW = 150
"""Up to this many clicks a closed outline is solved from every click [-]."""

FIRM = 4
"""Breaks of a longer outline it is solved from [-]."""

WIDE = 4.0
"""A step longer than this between clicks is straight [mm], unless the clicks are all that far apart."""

A_CLICK = 1.0
"""Price of a click along a straight [-]: people click where an edge ends or bends."""

MOST_CLICKS = 5.0
"""All such clicks on one edge cost no more than this [-], from a person seen to click only the ends of straights."""

SURE_STRAIGHT = 3.0
"""If neither habit is seen, clicks along a line leave it at least this much cheaper than an arc [-]."""

STRAIGHT_ON = 1.0
"""A click less than this off the line from the one before to the one after leads straight on [mm]."""

HOLD = 0.1
"""Weight of a click along its edges at their join [-]: about three times as loosely set as across them."""


def widest_step(points: Floats) -> float:
    """Return the longest step between clicks [mm] an arc may hold whatever its radius."""
    usual = float(np.median(steps_of(np.vstack([points, points[:1]]))))
    return max(WIDE, 2.5 * usual) if usual < WIDE else WIDE


def _habit(points: Floats) -> tuple[bool, bool]:
    """Tell whether long empty steps [mm] were seen, and whether one led straight on to another."""
    a = np.roll(points, -1, axis=0) - points
    b = np.roll(a, -1, axis=0)
    long = np.hypot(a[:, 0], a[:, 1]) > WIDE
    both = long & np.roll(long, -1)
    off = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / np.maximum(np.hypot(*(a + b).T), 1e-12)
    on = both & ((a * b).sum(axis=1) > 0) & (off < STRAIGHT_ON)
    return bool(long.sum() >= 2), bool(on.any())


def priced(points: Floats, price: Price) -> Price:
    """Return the price with what clicks [mm] along a line cost [-]: nothing if straights were clicked along."""
    empty, along = _habit(points)
    unsure = max(price.arc - price.line - SURE_STRAIGHT, 0.0)
    most = 0.0 if along else MOST_CLICKS if empty else unsure
    return replace(price, click=A_CLICK, clicks=most)


def cut_from(points: Floats, price: Price, start: int) -> Cut:
    """Return the best cut of a closed outline of clicks [mm] that has a break on click `start`."""
    turned = np.roll(points, -start, axis=0)
    lap = np.ascontiguousarray(np.vstack([turned, turned[:1]]))
    total, came, kind = kernels.partition_clicks(lap, price.prices, widest_step(points))
    starts, arcs = walked(came, kind, len(points))
    cost = float(total[-1])
    return turned_back(Cut(tuple(starts), tuple(arcs), cost, cost), start, len(points))


def cut_clicks(points: Floats, price: Price) -> Cut:
    """Return the best cut of clicks [mm]; edge k runs from click starts[k] to click starts[k + 1], both included.

    An outline of few clicks is solved from every click, a longer one from the firmest breaks of a first
    solution and the clicks beside them: from any break of the best cut the best cut is found.
    """
    n = len(points)
    if n <= FEW:
        return min((cut_from(points, price, s) for s in range(n)), key=lambda c: c.cost)
    first = cut_from(points, price, 0)
    firm = np.argsort(-firmness(points, first), kind="stable")[:FIRM]
    again = {(first.starts[int(k)] + d) % n for k in firm for d in (-1, 0, 1)}
    best = min((cut_from(points, price, s) for s in sorted(again)), key=lambda c: c.cost)
    return replace(best, bound=min(best.cost, best.cost - price.arc))


def _joined(points: Floats, k: int, starts: tuple[int, ...], n: int) -> float:
    """Return the weight of a click that ends two edges, on each of them [-]: 1 at a right angle, 1/2 if smooth."""
    here = starts[k]
    a = points[here] - points[(here - 1) % n]
    b = points[(here + 1) % n] - points[here]
    cos = float(a @ b) / max(float(np.hypot(*a) * np.hypot(*b)), 1e-12)
    return 1.0 / (1.0 + cos * cos)


def chain_of_clicks(points: Floats, cut: Cut) -> Chain:
    """Return the first chain of a cut through clicks [mm]: vertices on clicks, end clicks on both their edges."""
    n, count = len(points), len(cut.starts)
    rows = np.zeros((count, 3))
    rows[:, :2] = points[list(cut.starts)]
    where: list[int] = []
    label: list[int] = []
    weight: list[float] = []
    sharp: list[bool] = []
    for k in range(count):
        stop = cut.starts[0] + n if k + 1 == count else cut.starts[k + 1]
        span = np.arange(cut.starts[k], stop + 1) % n
        if cut.arcs[k]:
            rows[k, 2] = bulge_through(points[span[0]], points[span[len(span) // 2]], points[span[-1]])
        w = np.ones(len(span))
        w[0] = _joined(points, k, cut.starts, n)
        w[-1] = _joined(points, (k + 1) % count, cut.starts, n)
        where += span.tolist()
        label += [k] * len(span)
        weight += w.tolist()
        sharp += ((w > 0.6) & (w < 1.0)).tolist()
    return Chain(
        points=np.ascontiguousarray(points[where]), weights=np.array(weight), labels=np.array(label, dtype=np.int64),
        rows=rows, arcs=np.array(cut.arcs), closed=True, frozen=np.array(sharp), anchors=rows[:, :2].copy(), hold=HOLD,
    )  # fmt: skip
