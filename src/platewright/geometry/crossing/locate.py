"""Points on, in and near shapes: at a distance along, nearest, inside."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from platewright.errors import InputError
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.arrange import turns
from platewright.geometry.crossing.pairs import box_pairs, fractions_on
from platewright.geometry.curves import Curves, gather
from platewright.geometry.measure import edge_lengths
from platewright.geometry.primitives import Point, Vec
from platewright.geometry.profile import Profile
from platewright.geometry.tolerance import WELD

__all__ = [
    "Nearest", "contains", "distances", "edge_and_fraction", "nearest", "point_at", "tangent_at",
]  # fmt: skip

_BLOCK = 1_000_000
"""Point and edge pairs worked on at once [-]: about 100 MB."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest point of a shape.

    Attributes
    ----------
    point : the point on the shape [mm]
    distance : how far it is [mm], 0 or more
    contour, edge : which contour (outer 0, then holes) and which of its edges [-]
    along : distance along that contour from its start [mm]
    """

    point: Point
    distance: float
    contour: int
    edge: int
    along: float


def edge_and_fraction(contour: Contour, distance: float) -> tuple[int, float]:
    """Return the edge [-] and the fraction of it [-] at a distance along a contour [mm], as in `point_at`."""
    if not math.isfinite(distance):
        raise InputError(f"A distance along a contour must be a finite number of mm, got {distance}.")
    sizes = edge_lengths(contour)
    total = float(sizes.sum())
    if contour.closed:
        distance = distance % total if total > 0 else 0.0
    elif not -WELD <= distance <= total + WELD:
        raise InputError(
            f"{distance:g} mm is not on an open contour of {total:g} mm.", allowed=f"0 to {total:g} mm"
        )
    ends = np.cumsum(sizes)
    edge = min(int(np.searchsorted(ends, distance, side="right")), len(contour) - 1)
    size = float(sizes[edge])
    fraction = (distance - (float(ends[edge]) - size)) / size if size > 0 else 0.0
    return edge, min(max(fraction, 0.0), 1.0)


def point_at(contour: Contour, distance: float) -> Point:
    """Return the point at a distance along the contour from its start [mm].

    A closed contour is run round as often as needed, backward for a negative distance; an open one refuses
    distances off its ends.
    """
    edge, fraction = edge_and_fraction(contour, distance)
    if fraction == 0.0:
        return Point(*map(float, contour.starts[edge]))
    return contour.edge(edge).at(fraction)


def tangent_at(contour: Contour, distance: float) -> Vec:
    """Return the unit direction of travel [-] at a distance along the contour from its start [mm].

    At a vertex it is that of the edge that begins there; at the end of an open contour that of its last edge.
    """
    edge, fraction = edge_and_fraction(contour, distance)
    return Vec.polar(1.0, contour.edge(edge).direction(fraction))


def _gathered(shape: Contour | Profile) -> Curves:
    return gather(shape.contours() if isinstance(shape, Profile) else [shape])


def _to_curves(curves: Curves, points: Floats) -> tuple[Floats, Floats]:
    """Return the distance of each point from each curve, and the fraction of the nearest place (M, N)."""
    p = points[:, None, :]
    chord = (curves.end - curves.start)[None]
    size = np.einsum("mnk,mnk->mn", chord, chord)
    along = np.einsum("mnk,mnk->mn", p - curves.start[None], chord) / np.where(size > 0, size, 1.0)
    along = np.clip(along, 0.0, 1.0)
    off = p - (curves.start[None] + along[..., None] * chord)
    gap = np.hypot(off[..., 0], off[..., 1])
    bent = np.flatnonzero(curves.curved)
    if len(bent):
        gap[:, bent], along[:, bent] = _to_arcs(curves.take(bent), points)
    return gap, along


def _to_arcs(arcs: Curves, points: Floats) -> tuple[Floats, Floats]:
    """Return distance and fraction of the nearest place of each arc (M, N)."""
    away = points[:, None, :] - arcs.centre[None]
    middle = arcs.start_angle + arcs.sweep / 2
    turned = np.mod(np.arctan2(away[..., 1], away[..., 0]) - middle[None] + math.pi, math.tau) - math.pi
    along = 0.5 + turned / arcs.sweep[None]
    gap = np.abs(np.hypot(away[..., 0], away[..., 1]) - arcs.radius[None])
    out = (along < 0) | (along > 1)
    first = np.hypot(*np.moveaxis(points[:, None, :] - arcs.start[None], 2, 0))
    last = np.hypot(*np.moveaxis(points[:, None, :] - arcs.end[None], 2, 0))
    gap = np.where(out, np.minimum(first, last), gap)
    return gap, np.where(out, np.where(first <= last, 0.0, 1.0), along)


def _points(points: ArrayLike) -> Floats:
    xy = np.asarray(points, dtype=np.float64)
    if xy.ndim == 1 and xy.size == 2:
        xy = xy[None]
    if xy.size == 0:
        xy = xy.reshape(0, 2)
    if xy.ndim != 2 or xy.shape[1] != 2:
        raise InputError(f"Points must be an (M, 2) array, got shape {xy.shape}.")
    if not np.isfinite(xy).all():
        raise InputError("A point is not finite.", allowed="finite numbers of mm")
    return xy


def distances(shape: Contour | Profile, points: ArrayLike) -> Floats:
    """Return the distance of each of (M, 2) points [mm] from the edges of a shape, (M,) [mm]; exact for arcs."""
    xy, curves = _points(points), _gathered(shape)
    result = np.empty(len(xy))
    block = max(1, _BLOCK // len(curves))
    for k in range(0, len(xy), block):
        result[k : k + block] = _to_curves(curves, xy[k : k + block])[0].min(axis=1)
    return result


def nearest(shape: Contour | Profile, point: ArrayLike | Point) -> Nearest:
    """Return the point of a shape's edges nearest to a point [mm]; the lowest edge if several are as near."""
    xy = _points((point.x, point.y) if isinstance(point, Point) else point)
    if len(xy) != 1:
        raise InputError(f"Give one point, not {len(xy)}.")
    contours = list(shape.contours()) if isinstance(shape, Profile) else [shape]
    curves = gather(contours)
    gap, along = _to_curves(curves, xy)
    best = int(np.argmin(gap[0]))
    fraction = float(along[0, best])
    spot = curves.take(np.array([best])).at(np.array([fraction]))[0]
    contour, edge = 0, best
    while edge >= len(contours[contour]):
        edge -= len(contours[contour])
        contour += 1
    sizes = edge_lengths(contours[contour])
    run = float(sizes[:edge].sum()) + fraction * float(sizes[edge])
    return Nearest(Point(float(spot[0]), float(spot[1])), float(gap[0, best]), contour, edge, run)


def contains(shape: Profile | Contour, points: ArrayLike, *, slack: float = WELD) -> NDArray[np.bool_]:
    """Tell which of (M, 2) points [mm] lie in the metal of a profile, or within a closed contour.

    Parameters
    ----------
    shape : profile, or closed contour of either direction
    points : (M, 2) points, or one point [mm]
    slack : a point this near an edge counts as inside [mm]; negative keeps this far from the edge

    Returns
    -------
    (M,) array of bool
    """
    if isinstance(shape, Contour) and not shape.closed:
        raise InputError("An open contour holds nothing.", do="Close it first.")
    xy, curves = _points(points), _gathered(shape)
    inside = np.zeros(len(xy), dtype=bool)
    block = max(1, _BLOCK // len(curves))
    for k in range(0, len(xy), block):
        inside[k : k + block] = turns(curves, xy[k : k + block]).sum(axis=1) != 0
    near = _near(curves, xy, abs(slack))
    return inside | near if slack >= 0 else inside & ~near


def _near(curves: Curves, points: Floats, reach: float) -> NDArray[np.bool_]:
    """Tell which points are within reach of a curve."""
    i, k = box_pairs(np.hstack([points - reach, points + reach]), curves.boxes())
    some = curves.take(k)
    foot = some.at(np.clip(fractions_on(some, points[i]), 0, 1))
    near = np.zeros(len(points), dtype=bool)
    close = np.hypot(*(foot - points[i]).T)
    ends = np.minimum(np.hypot(*(some.start - points[i]).T), np.hypot(*(some.end - points[i]).T))
    near[i[np.minimum(close, ends) <= reach]] = True
    return near
