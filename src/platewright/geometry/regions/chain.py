"""Unordered lines and arcs, as a drawing holds them, joined into closed and open contours.

Method: edges of no length, edges drawn twice and edges lying on longer ones are dropped; ends that meet
are joined; loose ends are paired nearest first up to the gap allowed. What hangs off by a loose end is set
aside as an open chain; of what is left, the outermost way round each connected piece becomes a closed
contour, and so on inward until nothing is left. A gap is closed at the meeting of the two edges' own lines
or circles if that is near, else by a short straight edge, so arcs keep their centres.
Cost: n log n. Limits: edges that cross without a common end are not cut there (see ``validity``).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.arrange import clockwise, cycles_of, swept_area
from platewright.geometry.crossing.intersect import carriers_meet
from platewright.geometry.crossing.pairs import box_pairs, fractions_on, weld
from platewright.geometry.curves import Curves, Ints, curves_of
from platewright.geometry.primitives import Arc, Line
from platewright.geometry.regions.nesting import nest
from platewright.geometry.tolerance import TOPOLOGY

__all__ = ["Chained", "chain", "nest"]

Way = tuple[int, bool]
"""An edge number, and whether it is run backward."""


@dataclass(frozen=True, slots=True)
class Chained:
    """What `chain` made.

    Attributes
    ----------
    closed : closed contours, counterclockwise, in order of their first edge [mm]
    open : open contours, running the way their first edge was drawn [mm]
    findings : what was dropped, closed, or is in doubt
    """

    closed: tuple[Contour, ...]
    open: tuple[Contour, ...]
    findings: tuple[Finding, ...]


def chain(edges: Iterable[Line | Arc], *, gap: float = 0.05) -> Chained:
    """Join unordered edges into contours.

    Parameters
    ----------
    edges : lines and arcs in any order and direction [mm]; a full circle may be one arc
    gap : loose ends up to this far apart are joined [mm], 0 or more

    Returns
    -------
    closed and open contours, and findings. No edges give no contours.
    """
    if not (math.isfinite(gap) and gap >= 0):
        raise InputError(f"A gap must be a finite number of mm, 0 or more, got {gap}.")
    found: list[Finding] = []
    given = list(edges)
    if not given:
        return Chained((), (), ())
    circles = [e for e in given if isinstance(e, Arc) and abs(e.sweep) >= math.tau - 1e-9]
    rest = [e for e in given if not (isinstance(e, Arc) and abs(e.sweep) >= math.tau - 1e-9)]
    curves = _cleaned(curves_of(rest), found)
    rings = _rings(circles, found)
    graph = _Graph.of(curves, gap)
    closed, loose = graph.decomposed(found)
    shut = [_contour(curves, ways, gap, closed=True, found=found).counterclockwise() for ways in closed]
    open_ = [_contour(curves, ways, gap, closed=False, found=found) for ways in loose]
    for contour in open_:
        a, b = contour.points[0], contour.points[-1]
        found.append(finding("G001", place=(a[0], a[1]), edges=len(contour), gap=float(math.hypot(*(b - a)))))
    return Chained((*shut, *rings), tuple(open_), tuple(found))


def _rings(circles: Sequence[Arc], found: list[Finding]) -> list[Contour]:
    """Return full circles, each once."""
    kept: list[Arc] = []
    for arc in circles:
        if not any(
            arc.centre.distance(k.centre) <= TOPOLOGY and abs(arc.radius - k.radius) <= TOPOLOGY for k in kept
        ):
            kept.append(arc)
    if len(kept) < len(circles):
        found.append(finding("G003", count=len(circles) - len(kept)))
    return [Contour.circle(a.centre.x, a.centre.y, a.radius) for a in kept]


# -- cleaning -----------------------------------------------------------------------------------------


def _cleaned(curves: Curves, found: list[Finding]) -> Curves:
    """Return curves without those of no length, drawn twice, or lying on longer ones; retagged by place."""
    none = curves.lengths() <= TOPOLOGY
    if none.any():
        x, y = curves.start[none][0]
        found.append(finding("G004", place=(x, y), count=int(none.sum())))
    curves = curves.take(~none)
    twice, within = _covered(curves)
    for code, drop in (("G003", twice), ("G016", within & ~twice)):
        if drop.any():
            x, y = curves.middles()[drop][0]
            found.append(finding(code, place=(x, y), count=int(drop.sum())))
    curves = curves.take(~(twice | within))
    return replace(curves, tag=np.arange(len(curves)))


def _covered(
    curves: Curves,
) -> tuple[np.ndarray[tuple[int], np.dtype[np.bool_]], np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Tell which curves repeat an earlier one, and which lie on a longer one."""
    count = len(curves)
    twice, within = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    if count < 2:
        return twice, within
    i, j = box_pairs(curves.boxes() + TOPOLOGY * np.array([-1, -1, 1, 1]))
    i, j = np.r_[i, j], np.r_[j, i]
    a, b = curves.take(i), curves.take(j)
    like = a.curved == b.curved
    on = like.copy()
    for spots in (a.start, a.end, a.middles()):
        along = np.clip(fractions_on(b, spots), 0, 1)
        on &= np.hypot(*(b.at(along) - spots).T) <= TOPOLOGY
    size = curves.lengths()
    same = on & (np.abs(size[i] - size[j]) <= 2 * TOPOLOGY)
    twice[i[same & (i > j)]] = True
    within[i[on & ~same & (size[i] < size[j])]] = True
    return twice, within


# -- the graph of ends --------------------------------------------------------------------------------


@dataclass(slots=True)
class _Graph:
    """Edges between welded ends."""

    curves: Curves
    nodes: Floats
    low: Ints
    high: Ints

    @staticmethod
    def of(curves: Curves, gap: float) -> _Graph:
        count = len(curves)
        group, nodes = weld(np.vstack([curves.start, curves.end]), TOPOLOGY)
        low, high = group[:count], group[count:]
        merged = _paired(nodes, low, high, curves.lengths(), gap)
        return _Graph(curves, nodes, merged[low], merged[high])

    def decomposed(self, found: list[Finding]) -> tuple[list[list[Way]], list[list[Way]]]:
        """Return closed ways and open ways through all edges."""
        left = np.ones(len(self.curves), dtype=bool)
        hanging = np.zeros(len(self.curves), dtype=bool)
        closed = [[(edge, False)] for edge in np.flatnonzero(self.low == self.high).tolist()]
        left[[edge for ((edge, _),) in closed]] = False
        self._tell_branches(found)
        while left.any():
            loose = self._pruned(left)
            hanging |= loose
            left &= ~loose
            if not left.any():
                break
            rounds, bridges = self._outermost(left)
            closed += rounds
            for ways in rounds:
                left[[edge for edge, _ in ways]] = False
            hanging[bridges] = True
            left[bridges] = False
            if not (rounds or bridges):  # nothing closed is left after all
                hanging |= left
                break
        closed = [_from_first(ways) for ways in closed]
        return sorted(closed, key=lambda w: w[0][0]), self._paths(hanging)

    def _tell_branches(self, found: list[Finding]) -> None:
        if len(self.curves) == 0:
            return
        many = np.bincount(np.r_[self.low, self.high], minlength=len(self.nodes))
        for node in np.flatnonzero(many > 2).tolist():
            x, y = self.nodes[node]
            found.append(finding("G005", place=(x, y), count=int(many[node])))

    def _pruned(
        self, left: np.ndarray[tuple[int], np.dtype[np.bool_]]
    ) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Tell which edges hang off by a loose end, one after another."""
        at: dict[int, set[int]] = defaultdict(set)
        for edge in np.flatnonzero(left).tolist():
            at[int(self.low[edge])].add(edge)
            at[int(self.high[edge])].add(edge)
        loose = np.zeros(len(left), dtype=bool)
        queue = [node for node, edges in at.items() if len(edges) == 1]
        while queue:
            node = queue.pop()
            if len(at[node]) != 1:
                continue
            edge = at[node].pop()
            loose[edge] = True
            other = int(self.high[edge]) if int(self.low[edge]) == node else int(self.low[edge])
            at[other].discard(edge)
            if len(at[other]) == 1:
                queue.append(other)
        return loose

    def _outermost(
        self, left: np.ndarray[tuple[int], np.dtype[np.bool_]]
    ) -> tuple[list[list[Way]], list[int]]:
        """Return the outermost ways round each connected piece, counterclockwise, and the bridges in them."""
        which = np.flatnonzero(left)
        pieces = self.curves.take(which)
        back = clockwise(self.nodes, pieces, self.low[which], self.high[which])
        follow = back[np.arange(len(back)) ^ 1]
        cycle = cycles_of(follow)
        heads = np.unique(cycle, return_index=True)[1]
        area = np.zeros(len(heads))
        np.add.at(area, cycle[0::2], swept_area(pieces))
        np.add.at(area, cycle[1::2], -swept_area(pieces))
        component = _components(self.low[which], self.high[which], len(self.nodes))[
            self.low[which[heads >> 1]]
        ]
        order = np.lexsort((area, component))
        outer = order[np.r_[True, component[order][1:] != component[order][:-1]]]
        rounds: list[list[Way]] = []
        bridges: list[int] = []
        onward = follow.tolist()
        for number in outer.tolist():
            walk = self._walk(int(heads[number]), onward)
            seen = set(walk)
            both = {h >> 1 for h in walk if h ^ 1 in seen}
            bridges += [int(which[e]) for e in both]
            ways = [(int(which[h >> 1]), h & 1 == 0) for h in reversed(walk) if h >> 1 not in both]
            rounds += self._simple(ways)
        return rounds, bridges

    @staticmethod
    def _walk(first: int, follow: list[int]) -> list[int]:
        walk, half = [first], follow[first]
        while half != first:
            walk.append(half)
            half = follow[half]
        return walk

    def _ends(self, way: Way) -> tuple[int, int]:
        a, b = int(self.low[way[0]]), int(self.high[way[0]])
        return (b, a) if way[1] else (a, b)

    def _simple(self, ways: Sequence[Way]) -> list[list[Way]]:
        """Return a closed way cut wherever it comes back to a node."""
        result: list[list[Way]] = []
        path: list[Way] = []
        begun: dict[int, int] = {}  # where in the path the way out of a node stands
        for way in ways:
            start, node = self._ends(way)
            begun.setdefault(start, len(path))
            path.append(way)
            k = begun.get(node)
            if k is not None:
                result.append(path[k:])
                for gone in path[k:]:
                    begun.pop(self._ends(gone)[0], None)
                del path[k:]
        return result

    def _paths(self, hanging: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[list[Way]]:
        """Return the set-aside edges as open ways, from branch to branch or end to end."""
        at: dict[int, list[int]] = defaultdict(list)
        todo = np.flatnonzero(hanging).tolist()
        for edge in todo:
            at[int(self.low[edge])].append(edge)
            at[int(self.high[edge])].append(edge)
        used: set[int] = set()
        paths = []
        for edge in todo:
            if edge in used:
                continue
            used.add(edge)
            ahead = self._follow((edge, False), at, used)
            behind = self._follow((edge, True), at, used)
            paths.append([(e, not b) for e, b in reversed(behind)] + [(edge, False)] + ahead)
        return [_as_drawn(p) for p in paths]

    def _follow(self, way: Way, at: dict[int, list[int]], used: set[int]) -> list[Way]:
        path: list[Way] = []
        while True:
            node = self._ends(way)[1]
            more = [e for e in at[node] if e not in used]
            if len(at[node]) != 2 or not more:
                return path
            edge = more[0]
            used.add(edge)
            way = (edge, int(self.low[edge]) != node)
            path.append(way)


def _components(low: Ints, high: Ints, count: int) -> Ints:
    """Return for each node the lowest node it is connected to."""
    label = np.arange(count)
    while True:
        new = label.copy()
        least = np.minimum(label[low], label[high])
        np.minimum.at(new, low, least)
        np.minimum.at(new, high, least)
        new = new[new]
        if np.array_equal(new, label):
            return label
        label = new


def _as_drawn(ways: list[Way]) -> list[Way]:
    """Return an open way run so that its lowest edge runs as drawn."""
    first = min(ways)
    return [(e, not b) for e, b in reversed(ways)] if first[1] else ways


def _from_first(ways: list[Way]) -> list[Way]:
    """Return a closed way begun at its lowest edge."""
    at = ways.index(min(ways))
    return ways[at:] + ways[:at]


def _paired(nodes: Floats, low: Ints, high: Ints, reach: Floats, gap: float) -> Ints:
    """Return for each node the node it is merged into: loose ends paired nearest first."""
    merged = np.arange(len(nodes))
    if len(low) == 0 or gap <= TOPOLOGY:
        return merged
    many = np.bincount(np.r_[low, high], minlength=len(nodes))
    loose = np.flatnonzero(many == 1)
    spots = nodes[loose]
    half = gap / 2
    i, j = box_pairs(np.hstack([spots - half, spots + half]))
    far = np.hypot(*(spots[i] - spots[j]).T)
    size = np.full(len(nodes), np.inf)
    np.minimum.at(size, low, reach)
    np.minimum.at(size, high, reach)
    free = np.ones(len(loose), dtype=bool)
    for k in np.lexsort((j, i, far)).tolist():
        a, b = int(i[k]), int(j[k])
        shortest = min(size[loose[a]], size[loose[b]])
        if free[a] and free[b] and far[k] <= min(gap, shortest / 2):
            free[a] = free[b] = False
            merged[loose[b]] = loose[a]
    return merged


# -- contours from ways ------------------------------------------------------------------------------


@dataclass(slots=True)
class _Run:
    """One edge on its way into a contour; its ends may still be moved along its own carrier."""

    start: Floats
    end: Floats
    centre: Floats
    radius: float
    sweep: float

    def carrier(self, *, at_end: bool) -> tuple[Floats, Floats, float]:
        way = self.end - self.start
        if self.sweep == 0:
            return self.start, way / max(float(np.hypot(*way)), 1e-300), math.inf
        return self.centre, way, self.radius

    def halves(self) -> list[tuple[float, ...]]:
        """Return the rows of a closed contour of this one arc, nearly a full circle, cut at its middle."""
        middle = 2 * self.centre - self.start
        return [(*self.start, math.copysign(1.0, self.sweep)), (*middle, math.copysign(1.0, self.sweep))]

    def bulge(self) -> float:
        if self.sweep == 0:
            return 0.0
        a, b = self.start - self.centre, self.end - self.centre
        turned = math.atan2(float(a[0] * b[1] - a[1] * b[0]), float(a @ b))
        turned += math.tau * round((self.sweep - turned) / math.tau)
        return math.tan(turned / 4)


def _contour(
    curves: Curves, ways: Sequence[Way], gap: float, *, closed: bool, found: list[Finding]
) -> Contour:
    """Return the contour of a way, gaps closed."""
    runs = [_run(curves, edge, backward) for edge, backward in ways]
    bridges: dict[int, Floats] = {}
    for k, run in enumerate(runs):
        if k + 1 == len(runs) and not closed:
            break
        after = runs[(k + 1) % len(runs)]
        apart = float(np.hypot(*(after.start - run.end)))
        if apart <= TOPOLOGY:
            continue
        middle = (run.end + after.start) / 2
        found.append(finding("G002", place=(middle[0], middle[1]), gap=apart))
        tip = _tip(run, after, 3 * gap)
        if tip is None:
            bridges[k] = run.end
        else:
            run.end, after.start = tip, tip
    rows: list[tuple[float, ...]] = []
    for k, run in enumerate(runs):
        rows.append((*run.start, run.bulge()))
        if k in bridges:
            rows.append((*bridges[k], 0.0))
    if not closed:
        rows.append((*runs[-1].end, 0.0))
    if len(rows) == 1:
        rows = runs[0].halves()
    return Contour(np.array(rows) + 0.0, closed)


def _run(curves: Curves, edge: int, backward: bool) -> _Run:
    start, end, sweep = curves.start[edge], curves.end[edge], float(curves.sweep[edge])
    if backward:
        start, end, sweep = end, start, -sweep
    return _Run(start, end, curves.centre[edge], float(curves.radius[edge]), sweep)


def _tip(run: _Run, after: _Run, reach: float) -> Floats | None:
    """Return where two edges' carriers meet near both their loose ends, or None."""
    best, size = None, reach
    for x, y in carriers_meet(*run.carrier(at_end=True), *after.carrier(at_end=False)):
        spot = np.array([x, y])
        far = max(float(np.hypot(*(spot - run.end))), float(np.hypot(*(spot - after.start))))
        if far <= size:
            best, size = spot, far
    return best
