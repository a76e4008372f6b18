"""How far an edge as cut lies off the edge asked for: both ways, all along, signed.

Method
------
The edge as cut (``rings``) is measured against the contour asked for, and the contour asked for against the edge as
cut (``spans``): what is missing or left on anywhere shows in one of the two. Positive is metal standing proud, negative
is metal gone. A round kerf cannot reach into inside corners: the least metal it leaves is what remains of the free side
when a disc of half a kerf is rolled through it (a morphological opening). Metal proud is measured from that shape, metal
missing from the contour itself, so that nothing is excused but what no torch can cut, or what was asked to be
rounded; how much that is, is kept beside it.

Cost: edges as cut times edges asked for, some rounds. Limits: an edge is compared with one contour only.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from platewright.geometry import Contour, Floats, Profile, flatten
from platewright.proof.edges import Edges, nearest
from platewright.proof.faces import flat_profile
from platewright.proof.model import Deviation
from platewright.proof.spans import Spans, measured

__all__ = ["Requested", "compare_contour", "densified", "turned_out"]

_PROUD = 0.02
"""Metal proud by less than this is not asked for its reason [mm]."""

_BLUNT = 0.5
"""Radius to which a plasma torch may blunt a sharp outside corner before it counts as metal gone [mm] (common practice)."""

_WORN = 0.1
"""Metal missing by less than this is not asked for its reason [mm]."""

_CHORD = 0.002
"""Chord error of the shape a round kerf leaves [mm]."""

_QUADRANT = 48
"""Chords in a quarter of a disc that is rolled through a free side [-]: 0.03 % of its radius."""


@dataclass(frozen=True, slots=True, eq=False)
class Requested:
    """A shape asked for, in plate coordinates [mm]: label, profile, its polygon, its index in the layout (None: a drawing), whether a drawing is laid turned over."""

    label: str
    profile: Profile
    polygon: Any
    placement: int | None
    turned_over: bool = False

    @staticmethod
    def of(label: str, profile: Profile, placement: int | None, *, turned_over: bool = False) -> Requested:
        """Make one from a profile [mm]."""
        return Requested(label, profile, flat_profile(profile, 0.01), placement, turned_over)


def densified(ring: Floats, step: float) -> tuple[Floats, Floats]:
    """Return ring points no more than `step` apart and the length each stands for [mm]."""
    following = np.roll(ring, -1, axis=0)
    length = np.hypot(*(following - ring).T)
    count = np.maximum(1, np.ceil(length / step)).astype(np.intp)
    owner = np.repeat(np.arange(len(ring)), count)
    part = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)) / count[owner]
    points = ring[owner] + part[:, None] * (following - ring)[owner]
    gap = length[owner] / count[owner]
    return points, (gap + np.roll(gap, 1)) / 2


def turned_out(contour: Contour, radius: float, *, number: int) -> Edges | None:
    """Return the contour as a disc of a radius [mm] leaves it, rolled through its free side; None if nothing of it is left.

    Parameters
    ----------
    contour : outer contour or hole [mm]
    radius : [mm]
    number : 0 for an outer contour, whose free side is outside; above 0 for a hole

    A radius below 0 [mm] rolls the disc through the metal instead: it blunts sharp outside corners.
    """
    shape = shapely.polygons(flatten(contour, tolerance=_CHORD))
    out = radius if number == 0 else -radius
    shape = shapely.buffer(shapely.buffer(shape, out, quad_segs=_QUADRANT), -out, quad_segs=_QUADRANT)
    rings = [
        r
        for p in shapely.get_parts(shape)
        if p.geom_type == "Polygon" and not p.is_empty
        for r in (p.exterior, *p.interiors)
    ]
    loops = []
    for k, ring in enumerate(rings):
        points = shapely.get_coordinates(ring)[:-1]
        loop = Contour.from_points(points)
        ccw = number == 0 and k == 0
        loops.append(Edges.of(loop.counterclockwise() if ccw else loop.counterclockwise().reversed()))
    return Edges.joined(loops) if loops else None


def _signed(spans: Spans, *, metal_left_is_proud: bool) -> Floats:
    """Return the distances signed: positive where the source point stands outside the target's metal, or inside it."""
    inside = spans.side >= 0
    return np.where(inside == metal_left_is_proud, spans.distance, -spans.distance)


def compare_contour(
    cut: Edges, requested: Contour, *, number: int, half_kerf: float, rounded: float = 0.0
) -> Deviation:
    """Return how an edge as cut lies off an asked contour (outer counterclockwise, hole clockwise) [mm].

    Parameters
    ----------
    cut : the edge as cut, metal on its left [mm]
    requested : the contour asked for, metal on its left
    number : 0 for the outer, 1… for holes
    half_kerf : half the width of the kerf that cut it [mm]
    rounded : radius to which inside corners were asked to be rounded [mm]
    """
    want = Edges.of(requested)
    along, back = measured(cut, want), measured(want, cut)
    here = _signed(along, metal_left_is_proud=False)
    there = _signed(back, metal_left_is_proud=True)
    parts = [(along.points, here, along.weights), (back.points, there, back.weights)]
    kept, kept_at = 0.0, (float(back.points[0, 0]), float(back.points[0, 1]))
    if (
        max(here.max(), there.max()) > _PROUD
        and (left := _left(requested, half_kerf, rounded, number)) is not None
    ):
        proud = np.flatnonzero(there > _PROUD)
        if len(proud):
            reached = np.minimum(there[proud], nearest(back.points[proud], left).distance)
            kept = float(reached.max())
            x, y = back.points[proud[int(reached.argmax())]]
            kept_at = (float(x), float(y))
        beyond = measured(left, cut)
        over = np.maximum(_signed(beyond, metal_left_is_proud=True), 0.0)
        parts = [
            (along.points, np.where(here > 0, _outside(along.points, here, left), here), along.weights),
            (back.points, np.minimum(there, 0.0), np.where(there > 0, 0.0, back.weights)),
            (beyond.points, over, np.where(over > 0, beyond.weights, 0.0)),
        ]
    points, values, weights = (np.concatenate(each) for each in zip(*parts, strict=True))
    found = _summed(points, values, weights, number=number, edge=len(along.points), kept=(kept, kept_at))
    if found.low > -_WORN or (blunt := turned_out(requested, -_BLUNT, number=number)) is None:
        return found
    gone = _signed(measured(blunt, cut), metal_left_is_proud=True)
    return replace(found, gone=min(0.0, float(here.min()), float(gone.min())))


def _left(requested: Contour, half_kerf: float, rounded: float, number: int) -> Edges | None:
    """Return what a round kerf, or the rounding asked for, leaves of a contour; the kerf alone if a rounding leaves nothing."""
    if rounded > half_kerf and (left := turned_out(requested, rounded, number=number)) is not None:
        return left
    return turned_out(requested, half_kerf, number=number)


def _outside(points: Floats, values: Floats, left: Edges) -> Floats:
    """Return how far proud points stand outside what a round kerf leaves [mm], never more than from what was asked."""
    near = nearest(points, left)
    return np.minimum(values, np.where(near.side >= 0, 0.0, near.distance))


def _summed(
    points: Floats, every: Floats, heavy: Floats, *, number: int, edge: int, kept: tuple[float, tuple[float, float]]
) -> Deviation:  # fmt: skip
    """Return signed deviations [mm] as a `Deviation`; points of no weight count for the worst only."""
    size = np.abs(every)
    at = int(size.argmax())
    order = np.argsort(size, kind="stable")
    reached = np.cumsum(heavy[order])
    p95 = float(size[order][min(np.searchsorted(reached, 0.95 * reached[-1]), len(order) - 1)])
    middle = np.argsort(every[:edge], kind="stable")
    half = np.cumsum(heavy[:edge][middle])
    median = float(every[middle][min(np.searchsorted(half, 0.5 * half[-1]), len(middle) - 1)])
    low = min(0.0, float(every.min()))
    return Deviation(
        contour=number,
        points=points,
        values=every,
        weights=heavy,
        edge=edge,
        high=max(0.0, float(every.max())),
        low=low,
        worst=float(size[at]),
        p95=p95,
        median=median,
        worst_at=(float(points[at, 0]), float(points[at, 1])),
        kept=kept[0],
        kept_at=kept[1],
        gone=low,
    )
