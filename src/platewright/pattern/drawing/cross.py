"""Edges that cross without a common end (lines drawn past the corner), cut where they cross.

Method: every crossing and touching of two edges (``geometry.pairs``) cuts both there; the chainer then sets
the overshooting ends aside as loose. Cost: n log n + crossings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from platewright.geometry import Arc, Line, Point
from platewright.geometry.tolerance import WELD

__all__ = ["Cut", "cut_at_crossings"]

Edge = Line | Arc
MOST, CROSSINGS = 1_500, 5_000
"""Edges and crossings beyond this are not cut [-]: such a drawing is no sketch with lines drawn past corners."""


@dataclass(frozen=True, slots=True)
class Cut:
    """Edges after cutting, how many crossings there were [-], and one of the places [mm]."""

    edges: list[Edge]
    count: int
    place: tuple[float, float] | None


def cut_at_crossings(edges: Sequence[Edge]) -> Cut:
    """Return edges cut wherever two of them cross or one ends on another [mm]."""
    from platewright.geometry.crossing.pairs import box_pairs, fractions_on, meetings
    from platewright.geometry.curves import curves_of

    if not 2 <= len(edges) <= MOST:
        return Cut(list(edges), 0, None)
    curves = curves_of(edges)
    met = meetings(curves, box_pairs(curves.boxes()))
    along = fractions_on(curves.take(met.curve), met.point)
    slack = 10 * WELD / np.maximum(curves.lengths()[met.curve], WELD)
    inner = (along > slack) & (along < 1 - slack)
    if not 0 < inner.sum() <= 2 * CROSSINGS:
        return Cut(list(edges), 0, None)
    cuts: dict[int, list[tuple[float, Point]]] = {}
    for k, t, (x, y) in zip(
        met.curve[inner].tolist(), along[inner].tolist(), met.point[inner].tolist(), strict=True
    ):
        cuts.setdefault(k, []).append((t, Point(x, y)))
    pieces = [piece for k, edge in enumerate(edges) for piece in _split(edge, cuts.get(k, []))]
    first = met.point[inner][0]
    return Cut(
        pieces,
        len({(round(x, 3), round(y, 3)) for x, y in met.point[inner].tolist()}),
        (float(first[0]), float(first[1])),
    )


def _split(edge: Edge, cuts: list[tuple[float, Point]]) -> list[Edge]:
    """Return an edge in pieces between fractions."""
    if not cuts:
        return [edge]
    least = 10 * WELD / max(edge.length(), WELD)
    stops: list[tuple[float, Point]] = [(0.0, edge.start)]
    for t, point in sorted(cuts, key=lambda cut: cut[0]):
        if t - stops[-1][0] > least:
            stops.append((t, point))
    stops.append((1.0, edge.end))
    if isinstance(edge, Line):
        return [Line(p, q) for (_, p), (_, q) in pairwise(stops) if p != q]
    return [
        Arc(
            edge.centre,
            edge.radius,
            math.remainder(edge.start_angle + edge.sweep * a, math.tau),
            edge.sweep * (b - a),
        )
        for (a, _), (b, _) in pairwise(stops)
    ]
