"""How far one chain of lines and arcs lies from another, all along it, to a stated tolerance.

Words
-----
source : the chain walked along; target : the chain measured to; span : a stretch of one source edge between two
measured points; bound : a distance that no point of a span exceeds.

Method: branch and bound. Each span is measured at its ends. Its bound is worked out from the target edges nearest its
ends: the distance to a straight edge is a convex function, so along a chord it is greatest at an end; to an arc it may
bow by the sagitta of the chord over the arc's radius; an arc beside a nearly concentric arc is off by the difference of
radii and the distance of the centres at most. A source arc adds its own sagitta over the chord. Spans whose
bound exceeds both ends by more than the tolerance are cut in four until none is left.

Cost: a few nearest-edge look-ups for edges that run alike, logarithmic in the tolerance where they part.
Limits: target arcs are split at a quarter turn, so that a chord between two feet stays beside its arc.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Floats
from platewright.proof.edges import Edges, nearest

__all__ = ["Spans", "measured", "to_edge"]

_LINE, _TURN = 25.0, math.pi / 8
"""Longest straight span [mm] and widest arc span [rad] to start from."""

_COARSER = 0.01
"""The tolerance grows by this part of the distance itself [-]: a deviation of 30 mm need not be known exactly."""

_PARTS = 4
"""A span whose bound is too wide is cut into so many [-]: fewer rounds than halving, each dearer by little."""

_ROUNDS = 20
"""Most rounds [-]: 25 mm becomes far less than a tolerance; only a bound that never closes reaches it."""


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Measured points along a source chain, in order, two for each span (its ends).

    Attributes
    ----------
    points : (M, 2) [mm]
    distance : to the target [mm]
    side : which side of the target they lie on [mm], positive left
    weights : length each stands for [mm]
    """

    points: Floats
    distance: Floats
    side: Floats
    weights: Floats


def to_edge(points: Floats, edges: Edges, index: NDArray[np.intp]) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the distance of each point to its own edge [mm], and whether its foot lies within the edge."""
    start, end = edges.start[index], edges.end[index]
    along = end - start
    square = np.einsum("ij,ij->i", along, along)
    share = np.einsum("ij,ij->i", points - start, along) / np.where(square > 0, square, 1.0)
    inside = (share >= 0) & (share <= 1)
    foot = start + np.clip(share, 0.0, 1.0)[:, None] * along
    distance = np.hypot(*(points - foot).T)
    sweep = edges.sweep[index]
    round_ = np.flatnonzero(sweep != 0)
    if len(round_):
        mine = index[round_]
        away = points[round_] - edges.centre[mine]
        turn = np.mod(
            (np.arctan2(away[:, 1], away[:, 0]) - edges.angle[mine]) * np.sign(sweep[round_]), 2 * math.pi
        )
        within = turn <= np.abs(sweep[round_])
        ends = np.minimum(
            np.hypot(*(points[round_] - start[round_]).T), np.hypot(*(points[round_] - end[round_]).T)
        )
        radial = np.abs(np.hypot(*away.T) - edges.radius[mine])
        distance[round_], inside[round_] = np.where(within, radial, ends), within
    return distance, inside


def _bowed(first: Floats, last: Floats, edges: Edges, index: NDArray[np.intp]) -> Floats:
    """Return how much farther from its arc the middle of a chord may lie than the chord's ends do [mm]; 0 for straight edges.

    A chord bows towards the arc's centre. Where its ends lie outside the arc it first comes nearer to the arc, then passes it: only
    what goes beyond as far again counts.
    """
    half = np.hypot(*(last - first).T) / 2
    away = np.minimum(np.hypot(*(first - edges.centre[index]).T), np.hypot(*(last - edges.centre[index]).T))
    bow = np.where(away > half, away - np.sqrt(np.maximum(away**2 - half**2, 0.0)), half)
    round_ = edges.sweep[index] != 0
    outside = np.maximum(0.0, away - np.where(round_, edges.radius[index], away))
    return np.where(round_, np.maximum(0.0, bow - 2 * outside), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Ends:
    """Measured points [mm]: fraction along the source edge [-], place, distance, side, nearest target edge."""

    t: Floats
    point: Floats
    distance: Floats
    side: Floats
    near: NDArray[np.intp]

    def taken(self, index: NDArray[np.bool_]) -> _Ends:
        return _Ends(*(getattr(self, name)[index] for name in _Ends.__slots__))

    def followed(self, more: _Ends) -> _Ends:
        return _Ends(*(np.concatenate([getattr(self, n), getattr(more, n)]) for n in _Ends.__slots__))


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """Spans under way: their source edges, first and last points."""

    edge: NDArray[np.intp]
    first: _Ends
    last: _Ends

    def taken(self, index: NDArray[np.bool_]) -> _Work:
        return _Work(self.edge[index], self.first.taken(index), self.last.taken(index))


def _ends(source: Edges, edge: NDArray[np.intp], t: Floats, target: Edges) -> _Ends:
    point = source.at(edge, t)
    close = nearest(point, target)
    return _Ends(t, point, close.distance, close.side, close.edge)


def _bound(work: _Work, source: Edges, target: Edges) -> Floats:
    """Return a distance that no point of each span exceeds [mm]."""
    a, b = work.first, work.last
    sweep = np.abs(source.sweep[work.edge]) * (b.t - a.t)
    round_ = sweep > 0
    radius = np.where(round_, source.radius[work.edge], 0.0)
    sagitta = radius * (1 - np.cos(np.minimum(sweep, math.pi) / 2))
    best: Floats = (a.distance + b.distance + np.hypot(*(b.point - a.point).T)) / 2 + sagitta
    for pick in (a.near, b.near):
        near0, in0 = to_edge(a.point, target, pick)
        near1, in1 = to_edge(b.point, target, pick)
        arc = target.sweep[pick] != 0
        chord = np.maximum(near0, near1) + _bowed(a.point, b.point, target, pick) + sagitta
        best = np.where(~arc | (in0 & in1), np.minimum(best, chord), best)
        apart = np.hypot(*(source.centre[work.edge] - target.centre[pick]).T)
        concentric = round_ & arc & in0 & in1 & (apart < radius / 2)
        around = np.abs(radius - np.where(arc, target.radius[pick], 0.0)) + apart
        best = np.where(concentric, np.minimum(best, around), best)
    return best


def measured(source: Edges, target: Edges, *, tolerance: float = 0.005, least: float = 0.01) -> Spans:
    """Measure a chain against another, all along it.

    Parameters
    ----------
    source, target : at least one edge each [mm, rad]
    tolerance : no point of the source lies farther off than the farthest of the points given, a hundredth more, and this [mm]
    least : distances below this need not be told apart [mm]
    """
    target = target.split(math.pi / 2)
    length = source.lengths()
    count = np.maximum(
        1, np.ceil(np.where(source.sweep != 0, np.abs(source.sweep) / _TURN, length / _LINE))
    ).astype(np.intp)
    edge = np.repeat(np.arange(len(source)), count)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    work = _Work(
        edge, _ends(source, edge, step / count[edge], target), _ends(source, edge, (step + 1) / count[edge], target)
    )  # fmt: skip
    done: list[_Work] = []
    for _ in range(_ROUNDS):
        size = length[work.edge] * (work.last.t - work.first.t)
        far = np.maximum(work.first.distance, work.last.distance)
        bound = _bound(work, source, target)
        open_ = (bound > far * (1 + _COARSER) + tolerance) & (bound > least) & (size > tolerance)
        done.append(work.taken(~open_))
        work = work.taken(open_)
        if not len(work.edge):
            break
        work = _cut(work, source, target)
    else:
        done.append(work)
    return _gathered(done, length)


def _cut(work: _Work, source: Edges, target: Edges) -> _Work:
    """Return spans cut into `_PARTS` equal ones, measured at their new ends."""
    share = np.repeat(np.arange(1, _PARTS) / _PARTS, len(work.edge))
    first, last = np.tile(work.first.t, _PARTS - 1), np.tile(work.last.t, _PARTS - 1)
    inner = _ends(source, np.tile(work.edge, _PARTS - 1), first + share * (last - first), target)
    return _Work(np.tile(work.edge, _PARTS), work.first.followed(inner), inner.followed(work.last))


def _gathered(done: list[_Work], length: Floats) -> Spans:
    """Return the spans in order along the source."""
    edge = np.concatenate([w.edge for w in done])
    first, last = done[0].first, done[0].last
    for work in done[1:]:
        first, last = first.followed(work.first), last.followed(work.last)
    order = np.lexsort((first.t, edge))

    def paired(name: str) -> Floats:
        both = np.stack([getattr(first, name)[order], getattr(last, name)[order]], axis=1)
        return both.reshape(2 * len(order), *both.shape[2:])

    weights = np.repeat(length[edge[order]] * (last.t - first.t)[order] / 2, 2)
    return Spans(paired("point"), paired("distance"), paired("side"), weights)
