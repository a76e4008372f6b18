"""Travel round what may stand in the way: pieces cut loose that may have tipped up, and tall keep-outs.

A piece may stand up if it is small enough to fall between slats and long enough to reach the travel height. A rapid whose
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

from platewright.burn.model import Cut, called
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats, flatten
from platewright.layout.model import KeepOut, Layout
from platewright.table.model import Arm, TableProfile

__all__ = ["led_round", "routed", "tall_keepouts"]

Spot = tuple[float, float]
AWAY = 8.0
"""How far round a piece travel is led [mm]: half a small torch's nozzle and some."""
LONGEST = 250.0
"""A detour longer than this is not worth it [mm]; the piece is reported instead."""
TRIES = 6


@dataclass(frozen=True, slots=True)
class _Piece:
    """Something travel should not pass over: shape, the cut after which it is there, name and height for keep-outs."""

    shape: Any
    core: Any
    after: int
    name: str = ""
    height: float = 0.0


CLEAR = 2.0
"""Travel must clear what stands on the plate by this much [mm]."""


def tall_keepouts(layout: Layout, table: TableProfile) -> list[tuple[KeepOut, Any]]:
    """Return the keep-outs that travel height [mm] does not clear, each with its polygon."""
    import shapely

    tall = [k for k in layout.keepouts if k.height + CLEAR > table.safe_height]
    return [(k, shapely.Polygon(flatten(k.contour, tolerance=0.05))) for k in tall]


def _tips(box: tuple[float, ...], table: TableProfile, slats: float) -> bool:
    """Tell whether a loose piece with a bounding box [mm] may stand up into the travel."""
    sides = sorted((box[2] - box[0], box[3] - box[1]))
    return sides[1] > table.safe_height and sides[0] < 2 * slats


def _pieces(cuts: Sequence[Cut], layout: Layout, table: TableProfile, slats: float | None) -> list[_Piece]:
    import shapely

    found = []
    if isinstance(table.reach, Arm):
        disc = shapely.Point(table.reach.x, table.reach.y).buffer(table.reach.inner)
        found.append(_Piece(disc, disc, -1, "the arm's base", table.safe_height))
    found += [_Piece(shape, shape, -1, k.name, k.height) for k, shape in tall_keepouts(layout, table)]
    for number, cut in enumerate(() if slats is None else cuts):
        if cut.kind == "mark" or cut.tabs:
            continue
        rows = cut.path.rows[cut.lead_edges : len(cut.path) - cut.exit_edges + 1]
        if len(rows) < 3:
            continue
        shape = shapely.Polygon(flatten(Contour(rows, closed=False), tolerance=0.05))
        if slats is not None and _tips(shape.bounds, table, slats):
            found.append(_Piece(shape, shape.buffer(-0.05 - cut.kerf / 2), number))
    return found


def routed(
    cuts: Sequence[Cut],
    layout: Layout,
    table: TableProfile,
    *,
    home: Spot,
    slats: float | None,
    marker: Spot,
    reaches: Callable[[Floats], NDArray[np.bool_]],
) -> tuple[list[Cut], list[Finding]]:
    """Return the cuts with places to travel over where a straight rapid would not do, and findings.

    Parameters
    ----------
    cuts : in order
    layout : its keep-outs
    table : travel height [mm]; an arm's base in plate coordinates
    home : where the torch starts [mm]
    slats : distance between slats [mm]; None to take no heed of pieces cut loose
    marker : marking tool's place from the torch [mm]; the torch stands that far off while it marks
    reaches : tells which points (N, 2) the torch can be over
    """
    import shapely

    pieces = _pieces(cuts, layout, table, slats)
    if not pieces:
        return [replace(c, via=()) for c in cuts], []
    tree = shapely.STRtree([p.core for p in pieces])
    here, made, over = home, [], []
    findings: list[Finding] = []
    for number, cut in enumerate(cuts):
        there = [p for p in pieces if p.after < number]
        start, end = cut.torch_ends(marker)
        begin = cut.beside[0] if cut.beside else start

        def hit(a: Spot, b: Spot, now: int = number) -> list[int]:
            line = shapely.LineString([a, b])
            return [int(i) for i in tree.query(line, predicate="intersects") if pieces[int(i)].after < now]

        way: list[Spot] | None = [here, begin]
        if there and here != begin and hit(here, begin):
            way = _around(here, begin, pieces, hit, reaches)
        if way is None or (begin != start and hit(begin, start)):
            tall = [pieces[i] for i in {*hit(here, begin), *hit(begin, start)} if pieces[i].after < 0]
            findings += [
                finding(
                    "B018",
                    place=cut.start,
                    cut=called(cuts, number),
                    name=p.name,
                    height_mm=table.safe_height,
                )
                for p in tall
            ]
            over.append(cut.start)
        made.append(replace(cut, via=() if way is None else tuple(way[1:-1])))
        here = end
    if over:
        findings.append(finding("B017", place=over[0], count=len(over), height_mm=table.safe_height))
    return made, findings


def led_round(
    spots: Sequence[Spot],
    layout: Layout,
    table: TableProfile,
    *,
    reaches: Callable[[Floats], NDArray[np.bool_]],
) -> list[Spot] | None:
    """Return a way through spots [mm] at travel height, led round what stands taller; None if there is none.

    Parameters
    ----------
    spots : corners of the way
    layout : its keep-outs
    table : travel height [mm]; an arm's base in plate coordinates
    reaches : tells which points (N, 2) the torch can be over
    """
    import shapely

    pieces = _pieces((), layout, table, None)
    tree = shapely.STRtree([p.core for p in pieces])

    def hit(a: Spot, b: Spot) -> list[int]:
        return [int(i) for i in tree.query(shapely.LineString([a, b]), predicate="intersects")]

    way = list(spots[:1])
    for goal in spots[1:]:
        leg = _around(way[-1], goal, pieces, hit, reaches) if hit(way[-1], goal) else [way[-1], goal]
        if leg is None:
            return None
        way += leg[1:]
    return way


def _around(
    start: Spot,
    goal: Spot,
    pieces: Sequence[_Piece],
    hit: Any,
    reaches: Callable[[Floats], NDArray[np.bool_]],
) -> list[Spot] | None:
    """Return the shortest way [mm] round the pieces met, or None if there is none worth taking."""
    import shapely

    known = set(hit(start, goal))
    for _ in range(TRIES):
        nodes: list[Spot] = [start, goal]
        for i in sorted(known):
            ring = pieces[i].shape.convex_hull.buffer(AWAY, join_style="mitre").simplify(2.0).exterior
            nodes += [(float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1]]
        nodes = [
            start,
            goal,
            *(n for n, ok in zip(nodes[2:], reaches(np.array(nodes[2:])), strict=True) if ok),
        ]
        way = _shortest(nodes, [pieces[i].core for i in sorted(known)])
        if way is None:
            return None
        met = {i for a, b in pairwise(way) for i in hit(a, b)}
        if not met:
            extra = sum(math.dist(a, b) for a, b in pairwise(way)) - math.dist(start, goal)
            hard = any(pieces[i].after < 0 for i in known)
            return way if hard or extra <= LONGEST else None
        if met <= known:
            return None
        known |= met
    return None


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
