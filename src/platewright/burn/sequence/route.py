"""Travel round what may stand in the way: pieces cut loose that may have tipped up, and keep-outs.

A keep-out stands in the way where the program's travel does not clear it; a program without heights clears none.
A piece may stand up if it is small enough to fall between slats and long enough to reach the table's travel height. A rapid whose
straight line would pass over such a piece, cut before, is led round it: shortest path over the corners of
the pieces in the way, grown by `AWAY` (visibility graph, Dijkstra), pieces being added as the path meets them. A detour that
would cost too much, or that does not exist, is left straight and reported.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.burn.model import BurnPlan, Cut, called
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats, flatten
from platewright.layout.model import KeepOut, Layout
from platewright.table.arm import seated
from platewright.table.clock import travel_height
from platewright.table.controller import Controller
from platewright.table.model import Arm, TableProfile

__all__ = ["led_round", "routed", "tall_keepouts"]

Spot = tuple[float, float]
AWAY = 8.0
"""How far round a piece travel is led [mm]: half a small torch's nozzle and some."""
BESIDE = 5.0
"""How near travel may pass to what stands [mm], but for a cut that begins or ends nearer."""
LONGEST_DETOUR = 250.0
"""A detour longer than this is not worth it [mm]; the piece is reported instead."""
TRIES = 6


@dataclass(frozen=True, slots=True)
class _Piece:
    """Something travel should not pass over: shape, what a way may not cross, the cut after which it is there, name."""

    shape: Any
    core: Any
    after: int
    name: str = ""

    def core_for(self, *ends: Spot) -> Any:
        """Return what a way between two ends [mm] may not cross: less room round what stands where an end lies in it."""
        import shapely

        if self.after >= 0:
            return self.core
        near = min(float(self.shape.distance(shapely.Point(end))) for end in ends)
        return self.core if near > BESIDE else self.shape.buffer(0.9 * near)


CLEAR = 2.0
"""Travel must clear what stands on the plate by this much [mm]."""


def tall_keepouts(layout: Layout, height: float) -> list[tuple[KeepOut, Any]]:
    """Return the keep-outs that travel at a height [mm] does not clear, each with its polygon."""
    import shapely

    tall = [k for k in layout.keepouts if k.height > 0 and k.height + CLEAR > height]
    return [(k, shapely.Polygon(flatten(k.contour, tolerance=0.05))) for k in tall]


def _standing(plan: BurnPlan, controller: Controller) -> list[_Piece]:
    """Return what stands on the table from the start."""
    import shapely

    table = seated(plan.table, plan.layout.seat)
    stand = [(k.name, shape) for k, shape in tall_keepouts(plan.layout, travel_height(table, controller))]
    if isinstance(table.reach, Arm):
        disc = shapely.Point(table.reach.x, table.reach.y).buffer(table.reach.inner)
        stand.append(("the arm's base", disc))
    return [_Piece(shape, shape.buffer(BESIDE), -1, name) for name, shape in stand]


def _loose(cuts: Sequence[Cut], table: TableProfile, slats: float) -> list[_Piece]:
    """Return the pieces cut loose that may stand up between slats [mm]."""
    import shapely

    found = []
    for number, cut in enumerate(cuts):
        if cut.kind == "mark" or cut.tabs:
            continue
        rows = cut.path.rows[cut.lead_edges : len(cut.path) - cut.exit_edges + 1]
        if len(rows) < 3:
            continue
        shape = shapely.Polygon(flatten(Contour(rows, closed=False), tolerance=0.05))
        x0, y0, x1, y1 = shape.bounds
        sides = sorted((x1 - x0, y1 - y0))
        if sides[1] > table.safe_height and sides[0] < 2 * slats:
            found.append(_Piece(shape, shape.buffer(-0.05 - cut.kerf / 2), number))
    return found


@dataclass(frozen=True, slots=True)
class _Ways:
    """What stands or may stand in travel's way, and which points (N, 2) [mm] the torch can be over."""

    pieces: Sequence[_Piece]
    tree: Any
    reaches: Callable[[Floats], NDArray[np.bool_]]

    @staticmethod
    def among(pieces: Sequence[_Piece], reaches: Callable[[Floats], NDArray[np.bool_]]) -> _Ways:
        import shapely

        return _Ways(pieces, shapely.STRtree([p.core for p in pieces]), reaches)

    def hit(self, start: Spot, end: Spot, ends: tuple[Spot, Spot], now: float) -> set[int]:
        """Return the pieces that a straight leg [mm] of the way between two ends meets before cut `now`."""
        import shapely

        line = shapely.LineString([start, end])
        met = self.tree.query(line, predicate="intersects")
        there = {int(i) for i in met if self.pieces[int(i)].after < now}
        return {i for i in there if self.pieces[i].core_for(*ends).intersects(line)}

    def between(self, start: Spot, goal: Spot, now: float) -> list[Spot] | None:
        """Return the shortest way [mm] round the pieces met before cut `now`; None if there is none worth taking."""
        import shapely

        ends = (start, goal)
        known = self.hit(start, goal, ends, now)
        if not known or start == goal:
            return [start, goal]
        for _ in range(TRIES):
            nodes = list[Spot]()
            for i in sorted(known):
                ring = (
                    self.pieces[i].shape.convex_hull.buffer(AWAY, join_style="mitre").simplify(2.0).exterior
                )
                nodes += [(float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1]]
            free = self.reaches(np.array(nodes))
            nodes = [start, goal, *(n for n, ok in zip(nodes, free, strict=True) if ok)]
            way = _shortest(nodes, [self.pieces[i].core_for(*ends) for i in sorted(known)])
            if way is None:
                return None
            met = set[int]().union(*(self.hit(a, b, ends, now) for a, b in pairwise(way)))
            if not met:
                extra = sum(math.dist(a, b) for a, b in pairwise(way)) - math.dist(start, goal)
                hard = any(self.pieces[i].after < 0 for i in known)
                return way if hard or extra <= LONGEST_DETOUR else None
            if met <= known:
                return None
            known |= met
        return None


def routed(plan: BurnPlan, controller: Controller) -> tuple[list[Cut], list[Finding]]:
    """Return a plan's cuts with places to travel over where a straight rapid would not do, and findings [mm].

    Parameters
    ----------
    plan : cuts in order, keep-outs, the table's travel height, where the torch starts, the distance between slats
    controller : whether the program lifts; its marking tool, whose offset the torch stands off by while it marks
    """
    cuts, options = plan.cuts, plan.options
    table = seated(plan.table, plan.layout.seat)
    pieces = _standing(plan, controller)
    if options.route and options.slats is not None:
        pieces += _loose(cuts, table, options.slats)
    if not pieces:
        return [replace(c, via=()) for c in cuts], []
    ways = _Ways.among(pieces, plan.reaches)
    here, made, over = options.home, [], []
    findings: list[Finding] = []
    for number, cut in enumerate(cuts):
        start, end = cut.torch_ends(controller.marker)
        begin = cut.beside[0] if cut.beside else start
        way = ways.between(here, begin, number)
        aside = ways.hit(begin, start, (begin, start), number)
        if way is None or aside:
            met = {*ways.hit(here, begin, (here, begin), number), *aside}
            names = sorted(pieces[i].name for i in met if pieces[i].after < 0)
            high = travel_height(table, controller)
            say = called(cuts, number)
            findings += [finding("B018", place=cut.start, cut=say, name=n, height_mm=high) for n in names]
            over.append(cut.start)
        made.append(replace(cut, via=() if way is None else tuple(way[1:-1])))
        here = end
    if over:
        findings.append(finding("B017", place=over[0], count=len(over), height_mm=table.safe_height))
    return made, findings


def led_round(plan: BurnPlan, spots: Sequence[Spot], controller: Controller) -> list[Spot] | None:
    """Return a way through spots [mm] at a plan's travel height, led round what stands taller; None if there is none.

    Parameters
    ----------
    plan : keep-outs, the table's travel height, an arm's base
    spots : corners of the way
    controller : whether the program lifts
    """
    ways = _Ways.among(_standing(plan, controller), plan.reaches)
    way = list(spots[:1])
    for goal in spots[1:]:
        leg = ways.between(way[-1], goal, math.inf)
        if leg is None:
            return None
        way += leg[1:]
    return way


def _shortest(nodes: list[Spot], cores: list[Any]) -> list[Spot] | None:
    """Return the shortest path from node 0 to node 1 over straight legs that cross no core."""
    import shapely

    xy = np.array(nodes)
    count = len(nodes)
    a, b = np.triu_indices(count, 1)
    lines = shapely.linestrings(np.stack([xy[a], xy[b]], axis=1))
    free = np.ones(len(lines), dtype=bool)
    for core in cores:
        shapely.prepare(core)
        free &= ~shapely.intersects(core, lines)
    length = np.hypot(*(xy[a] - xy[b]).T)
    graph: list[list[tuple[int, float]]] = [[] for _ in range(count)]
    for i, j, d in zip(a[free], b[free], length[free], strict=True):
        graph[int(i)].append((int(j), float(d)))
        graph[int(j)].append((int(i), float(d)))
    best, came = [math.inf] * count, [-1] * count
    best[0] = 0.0
    queue = [(0.0, 0)]
    while queue:
        d, i = heapq.heappop(queue)
        if i == 1:
            break
        if d > best[i]:
            continue
        for j, step in graph[i]:
            if d + step < best[j]:
                best[j], came[j] = d + step, i
                heapq.heappush(queue, (d + step, j))
    if math.isinf(best[1]):
        return None
    way, i = [nodes[1]], 1
    while i:
        i = came[i]
        way.append(nodes[i])
    return way[::-1]
