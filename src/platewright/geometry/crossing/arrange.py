"""Arrangement: directed lines and arcs cut at every meeting into nodes, edges and faces with winding numbers.

Glossary
--------
node : a place where curves start, end, meet or touch; places within ``WELD`` are one node
edge : a piece of curve between two neighbouring nodes; pieces that coincide are one edge
multiplicity : how often, net, the curves of a group run along an edge in its direction
half-edge : an edge seen in one direction; half-edges 2e and 2e+1 are edge e and its reverse
cycle : half-edges met by walking round a face with the face on the left
winding : how often, net, the curves of a group turn about the points of a face

Method
------
Cut all curves at all meetings, weld the points into nodes, merge coinciding pieces, sort the half-edges
round each node by angle, walk the cycles. Winding numbers are carried from face to face over edges
(crossing an edge changes a winding by the edge's multiplicity), so they can never disagree round a node;
only the outermost face of each connected piece is located by counting turns, about a point that no other
piece comes near. Whatever set of faces is then chosen, its border is a set of closed loops: no chain can
be left open by rounding.

Assumptions: each group's curves form closed loops (ends welded within ``WELD``).
Cost: O(n log n + meetings) numpy plus one pass of plain Python over the half-edges.
Limits: details thinner than ``WELD`` may vanish or merge; curves that miss each other by less than
``WELD`` may be drawn crossing by as much.

The planar subdivision is the doubly connected edge list of de Berg, Cheong, van Kreveld, Overmars,
"Computational Geometry", 3rd edition, chapter 2.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.pairs import box_pairs, fractions_on, meetings, weld
from platewright.geometry.curves import Curves, Ints
from platewright.geometry.tolerance import WELD

__all__ = [
    "Arrangement", "Flags", "Loop", "arrange", "clockwise", "cycles_of", "doubled", "swept_area", "turns",
]  # fmt: skip

Flags = NDArray[np.bool_]
_LEVELS = np.array([10.0, 100.0, 1e3, 1e4, 1e5]) * WELD
"""Windings are carried over edges longer than the last of these first, then than the one before ... [mm]."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed loop on an arrangement's border: the contour and the tag of each edge [-]."""

    contour: Contour
    tags: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """Nodes, edges and faces.

    Attributes
    ----------
    nodes : (V, 2) places [mm]
    pieces : the edges as curves, from lower node to higher; `tag` is the edge a piece comes from
    low, high : (E,) nodes of each edge [-]
    cycle : (2E,) cycle of each half-edge [-]
    windings : (C, K) winding of the face on each cycle's left, by group [-]
    back : (2E,) the half-edge next clockwise about the same start node [-]
    """

    nodes: Floats
    pieces: Curves
    low: Ints
    high: Ints
    cycle: Ints
    windings: Ints
    back: Ints

    def border(self, inside: Callable[[Ints], Flags]) -> list[Loop]:
        """Return the border loops of a set of faces, the set on their left [mm], each from its lowest tag on.

        Parameters
        ----------
        inside : tells for windings (C, K) which faces belong to the set
        """
        if len(self.low) == 0:
            return []
        within = inside(self.windings)[self.cycle]
        mate = np.arange(len(self.cycle)) ^ 1
        edge = within & ~within[mate]
        walks = _walks(
            edge, self.back, np.where(mate % 2 == 0, np.repeat(self.low, 2), np.repeat(self.high, 2))
        )
        loops = [self._loop(walk) for walk in walks]
        return [loop for loop in loops if loop is not None]

    def _loop(self, walk: list[int]) -> Loop | None:
        """Return the contour of a walk of half-edges, or None if it encloses nothing."""
        half = np.asarray(walk, dtype=np.int64)
        edge, backward = half >> 1, (half & 1) == 1
        points = self.nodes[np.where(backward, self.high[edge], self.low[edge])]
        sweep = np.where(backward, -1.0, 1.0) * self.pieces.sweep[edge]
        tags = self.pieces.tag[edge]
        points, sweep, tags = _rejoined(points, sweep, tags, self.pieces.centre[edge])
        if len(points) < 2:
            return None
        first = int(np.argmin(np.where(tags >= 0, tags, np.iinfo(np.int64).max)))
        rows = np.roll(np.column_stack([points, np.tan(sweep / 4)]) + 0.0, -first, axis=0)
        contour = Contour(rows)
        return None if _is_speck(contour) else Loop(contour, np.roll(tags, -first))


def _is_speck(contour: Contour) -> bool:
    """Tell whether a loop is thinner than the weld distance everywhere on average."""
    from platewright.geometry.measure import length, signed_area

    return abs(signed_area(contour)) <= WELD * length(contour)


def _rejoined(points: Floats, sweep: Floats, tags: Ints, centres: Floats) -> tuple[Floats, Floats, Ints]:
    """Return a loop with neighbouring pieces of one source edge joined."""
    before = np.roll(tags, 1)
    same = (tags >= 0) & (tags == before)
    near = np.hypot(*(centres - np.roll(centres, 1, axis=0)).T) <= WELD
    bend = (sweep != 0) & (np.roll(sweep, 1) != 0)
    straight = (sweep == 0) & (np.roll(sweep, 1) == 0)
    same &= straight | (bend & near & (np.sign(sweep) == np.sign(np.roll(sweep, 1))))
    if same.all():  # one full circle: keep two opposite nodes
        same[0] = False
        same[int(np.argmin(np.abs(np.cumsum(np.abs(sweep[:-1])) - math.pi))) + 1] = False
    if not same.any():
        return points, sweep, tags
    first = int(np.flatnonzero(~same)[0])
    points, sweep = np.roll(points, -first, axis=0), np.roll(sweep, -first)
    tags, same = np.roll(tags, -first), np.roll(same, -first)
    heads = np.flatnonzero(~same)
    total = np.add.reduceat(sweep, heads)
    return points[heads], total, tags[heads]


def _walks(edge: Flags, back: Ints, end: Ints) -> list[list[int]]:
    """Return the loops of the marked half-edges, each visiting a node once."""
    marked, turn, ends = edge.tolist(), back.tolist(), end.tolist()
    seen = [False] * len(marked)
    walks: list[list[int]] = []
    for first in np.flatnonzero(edge).tolist():
        if seen[first]:
            continue
        path: list[int] = []
        place: dict[int, int] = {ends[first ^ 1]: 0}
        half = first
        while not seen[half]:
            seen[half] = True
            path.append(half)
            node = ends[half]
            if node in place:  # the walk closed on itself: cut the loop off
                at = place[node]
                walks.append(path[at:])
                for gone in path[at + 1 :]:
                    place.pop(ends[gone ^ 1], None)
                del path[at:]
            place[node] = len(path)
            half = turn[half ^ 1]
            while not marked[half]:
                half = turn[half]
    return walks


def arrange(curves: Curves, *, groups: int = 1) -> Arrangement:
    """Cut curves at all their meetings into nodes, edges and faces [mm, rad].

    Parameters
    ----------
    curves : closed loops of directed lines and arcs, ends welded within ``WELD``
    groups : how many groups the curves' `group` counts [-]
    """
    cut = _cut(curves)
    pieces, low, high, many = _distinct(cut, groups)
    if len(low) == 0:
        nothing = np.zeros(0, dtype=np.int64)
        return Arrangement(
            nodes=cut.nodes, pieces=pieces, low=low, high=high, cycle=nothing,
            windings=np.zeros((0, groups), dtype=np.int64), back=nothing,
        )  # fmt: skip
    back = clockwise(cut.nodes, pieces, low, high)
    cycle = cycles_of(back[np.arange(len(back)) ^ 1])
    return Arrangement(
        nodes=cut.nodes, pieces=pieces, low=low, high=high, cycle=cycle,
        windings=_windings(pieces, many, cycle), back=back,
    )  # fmt: skip


def doubled(curves: Curves) -> Curves:
    """Return the parts of curves that lie on parts of others [mm, rad], each as often as it is repeated."""
    cut = _cut(curves)
    return cut.pieces.take(cut.first != np.arange(len(cut.first)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """Curves cut at all meetings; pieces run from the lower node to the higher.

    Attributes
    ----------
    nodes : (V, 2) places
    low, high : (P,) nodes of each piece
    forward : (P,) 1 if the source runs from low to high, else -1
    first : (P,) the first piece that each coincides with
    """

    nodes: Floats
    pieces: Curves
    low: Ints
    high: Ints
    forward: Ints
    first: Ints


def _cut(curves: Curves) -> _Cut:
    whole = curves.take(curves.lengths() > WELD).halved()
    met = meetings(whole, box_pairs(whole.boxes() + WELD * np.array([-1, -1, 1, 1])))
    count = len(whole)
    host = np.concatenate([np.arange(count), np.arange(count), met.curve])
    node, nodes = weld(np.vstack([whole.start, whole.end, met.point]), WELD)
    along = np.concatenate(
        [np.zeros(count), np.ones(count), np.clip(fractions_on(whole.take(met.curve), met.point), 0, 1)]
    )
    order = np.lexsort((along, host))
    host, node, along = host[order], node[order], along[order]
    link = (host[1:] == host[:-1]) & (node[1:] != node[:-1])
    begin, finish = node[:-1][link], node[1:][link]
    parts = whole.take(host[:-1][link])
    sweep = _sweep_between(parts, nodes[begin], nodes[finish], along[:-1][link], along[1:][link])
    forward = np.where(begin < finish, 1, -1)
    low, high = np.minimum(begin, finish), np.maximum(begin, finish)
    middle = np.where(parts.curved[:, None], parts.centre, (nodes[low] + nodes[high]) / 2)
    pieces = replace(parts, start=nodes[low], end=nodes[high], centre=middle, sweep=sweep * forward)
    return _Cut(
        nodes=nodes, pieces=pieces, low=low, high=high, forward=forward, first=_first_equal(pieces, low, high)
    )


def _distinct(cut: _Cut, groups: int) -> tuple[Curves, Ints, Ints, Ints]:
    """Return the distinct pieces that windings change across, their nodes and multiplicities (E, K)."""
    count = len(cut.low)
    many = np.zeros((count, groups), dtype=np.int64)
    many[np.arange(count), cut.pieces.group] = cut.forward
    total = np.zeros_like(many)
    np.add.at(total, cut.first, many)
    keep = (cut.first == np.arange(count)) & (total != 0).any(axis=1)
    return cut.pieces.take(keep), cut.low[keep], cut.high[keep], total[keep]


def _sweep_between(parts: Curves, begin: Floats, finish: Floats, t0: Floats, t1: Floats) -> Floats:
    """Return the sweep of the part of each curve between two nodes [rad], 0 for a line."""
    a, b = begin - parts.centre, finish - parts.centre
    turned = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.einsum("ij,ij->i", a, b))
    rough = parts.sweep * (t1 - t0)
    turned += math.tau * np.round((rough - turned) / math.tau)
    return np.where(parts.curved, turned, 0.0)


def _first_equal(pieces: Curves, low: Ints, high: Ints) -> Ints:
    """Return for each piece the first piece it coincides with (itself if none)."""
    count = len(low)
    first = np.arange(count)
    if count == 0:
        return first
    key = low * (int(high.max()) + 1) + high
    order = np.argsort(key, kind="stable")
    same = np.flatnonzero(key[order][1:] == key[order][:-1])
    if len(same) == 0:
        return first
    shared = np.unique(np.concatenate([order[same], order[same + 1]]))
    middles = dict(zip(shared.tolist(), pieces.take(shared).middles().tolist(), strict=True))
    runs: dict[int, list[int]] = {}
    for index in shared.tolist():
        heads = runs.setdefault(int(key[index]), [])
        x, y = middles[index]
        for head in heads:
            u, v = middles[head]
            if math.hypot(x - u, y - v) <= 4 * WELD:
                first[index] = head
                break
        else:
            heads.append(index)
    return first


def clockwise(nodes: Floats, pieces: Curves, low: Ints, high: Ints) -> Ints:
    """Return for each half-edge the next one clockwise about its start node [-]; pieces run from low to high [mm]."""
    count = len(low)
    origin = np.empty(2 * count, dtype=np.int64)
    origin[0::2], origin[1::2] = low, high
    chord = nodes[high] - nodes[low]
    size = np.repeat(np.hypot(*chord.T), 2)
    facing = np.arctan2(chord[:, 1], chord[:, 0])
    angle = np.empty(2 * count)
    angle[0::2] = facing - pieces.sweep / 2
    angle[1::2] = facing + math.pi + pieces.sweep / 2
    sign = np.empty(2 * count)
    sign[0::2], sign[1::2] = np.sign(pieces.sweep), -np.sign(pieces.sweep)
    reach = np.full(len(nodes), np.inf)
    np.minimum.at(reach, origin, size / 2)
    # directions are compared where the curves have come this far from the node, not at the node itself,
    # so that curves leaving it tangent to each other are told apart by how they bend
    angle += sign * np.arcsin(np.clip(reach[origin] / (2 * np.repeat(pieces.radius, 2)), 0, 1))
    order = np.lexsort((np.mod(angle, math.tau), origin))
    back = np.empty(2 * count, dtype=np.int64)
    back[order[1:]] = order[:-1]
    turn = np.flatnonzero(np.r_[True, origin[order][1:] != origin[order][:-1]])
    last = np.r_[turn[1:], 2 * count] - 1
    back[order[turn]] = order[last]
    return back


def cycles_of(follow: Ints) -> Ints:
    """Return the cycle number of each half-edge under the permutation `follow`."""
    after = follow.tolist()
    label = [-1] * len(after)
    number = 0
    for first in range(len(after)):
        if label[first] >= 0:
            continue
        half = first
        while label[half] < 0:
            label[half] = number
            half = after[half]
        number += 1
    return np.asarray(label, dtype=np.int64)


def _windings(pieces: Curves, many: Ints, cycle: Ints) -> Ints:
    """Return the winding of the face left of each cycle, by group (C, K)."""
    left, right = cycle[0::2], cycle[1::2]
    count = int(cycle.max()) + 1
    component = _components(left, right, count)
    area = np.zeros(count)
    swept = swept_area(pieces)
    np.add.at(area, left, swept)
    np.add.at(area, right, -swept)
    order = np.lexsort((area, component))
    outer = order[np.r_[True, component[order][1:] != component[order][:-1]]]
    base = _bases(pieces, many, component[left], len(outer))
    return _carried(left, right, many, pieces.lengths(), outer, base)


def _components(left: Ints, right: Ints, count: int) -> Ints:
    """Return the connected piece of each cycle, numbered from 0."""
    label = np.arange(count)
    while True:
        low = np.minimum(label[left], label[right])
        new = label.copy()
        np.minimum.at(new, left, low)
        np.minimum.at(new, right, low)
        new = new[new]
        if np.array_equal(new, label):
            return np.unique(label, return_inverse=True)[1].astype(np.int64)
        label = new


def swept_area(pieces: Curves) -> Floats:
    """Return what each piece adds to the signed area of a loop it is part of [mm²]."""
    origin = pieces.start.mean(axis=0)
    a, b = pieces.start - origin, pieces.end - origin
    radius = np.where(pieces.curved, pieces.radius, 0.0)
    bow = radius**2 * (pieces.sweep - np.sin(pieces.sweep))
    result: Floats = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] + bow) / 2
    return result


def _bases(pieces: Curves, many: Ints, component: Ints, count: int) -> Ints:
    """Return the winding just outside each connected piece, from all the other pieces (count, K)."""
    if count == 1:
        return np.zeros((1, many.shape[1]), dtype=np.int64)
    size = np.hypot(*(pieces.end - pieces.start).T)
    order = np.lexsort((-size, component))
    longest = order[np.r_[True, component[order][1:] != component[order][:-1]]]
    result = np.zeros((count, many.shape[1]), dtype=np.int64)
    spots = pieces.take(longest).middles()
    block = max(1, 2_000_000 // len(pieces))
    for k in range(0, count, block):
        once = turns(pieces, spots[k : k + block])
        once[component[None, :] == np.arange(k, min(k + block, count))[:, None]] = 0
        result[k : k + block] = once @ many
    return result


def turns(curves: Curves, points: Floats) -> Ints:
    """Return how each curve counts in the winding about each point, (M, N) of -1, 0, 1 [-].

    The sum over the curves of closed loops is the winding number: chords by the crossing rule, plus one
    for each arc whose segment (between chord and arc) holds the point. Points are in [mm].
    """
    x, y = points[:, None, 0], points[:, None, 1]
    ax, ay = curves.start[None, :, 0], curves.start[None, :, 1]
    bx, by = curves.end[None, :, 0], curves.end[None, :, 1]
    side = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
    up = (ay <= y) & (by > y) & (side > 0)
    down = (ay > y) & (by <= y) & (side < 0)
    count = up.astype(np.int64) - down
    bent = np.flatnonzero(curves.curved)
    if len(bent):
        centre, radius = curves.centre[bent], curves.radius[bent]
        near = (x - centre[None, :, 0]) ** 2 + (y - centre[None, :, 1]) ** 2 < radius[None, :] ** 2
        turn = np.sign(curves.sweep[bent])[None, :]
        # the segment lies right of the chord for a counterclockwise arc; ties go as in the crossing rule
        beyond = np.where(turn > 0, side[:, bent] <= 0, side[:, bent] >= 0)
        count[:, bent] += np.where(near & beyond, turn, 0).astype(np.int64)
    return count


def _carried(left: Ints, right: Ints, many: Ints, size: Floats, outer: Ints, base: Ints) -> Ints:
    """Return windings carried from each connected piece's outer face, always over long edges first.

    Should rounding have tied a knot among edges hardly longer than the weld distance, only faces as small
    can be told wrong by it.
    """
    count = max(int(left.max()), int(right.max())) + 1
    result = np.zeros((count, many.shape[1]), dtype=np.int64)
    result[outer] = base
    known = np.zeros(count, dtype=bool)
    known[outer] = True
    rank = np.searchsorted(_LEVELS, size)
    level = len(_LEVELS)
    while level >= 0:
        fit = rank >= level
        forth = fit & known[right] & ~known[left]
        if not forth.any():
            forth = fit & known[left] & ~known[right]
            if not forth.any():
                level -= 1
                continue
            result[right[forth]] = result[left[forth]] - many[forth]
            known[right[forth]] = True
        else:
            result[left[forth]] = result[right[forth]] + many[forth]
            known[left[forth]] = True
        level = len(_LEVELS)
    return result
