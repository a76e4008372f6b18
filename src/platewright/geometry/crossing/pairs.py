"""Where many pairs of lines and arcs meet, all pairs at once.

Method: closed forms for line/line, line/circle and circle/circle, then a test that the point lies on
both curves. Ends lying on another curve count as meetings too, so that overlapping curves (collinear,
cocircular) are cut at the ends of their overlap. A near miss or a near tangency under ``TOUCH`` is one
tangent point.

Cost: candidate pairs by boxes, all against all for a few hundred curves, a packed tree above that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.curves import Curves, Ints
from platewright.geometry.tolerance import TOUCH, WELD

__all__ = ["Meetings", "box_pairs", "fractions_on", "meetings", "weld"]

_ALL_AGAINST_ALL = 500
"""Above this many curves a tree finds the pairs [-]."""


@dataclass(frozen=True, slots=True)
class Meetings:
    """Points on curves: `curve` is cut at `point` [mm] by `mate`; a crossing gives two entries."""

    curve: Ints
    point: Floats
    mate: Ints


def box_pairs(first: Floats, second: Floats | None = None) -> tuple[Ints, Ints]:
    """Return the index pairs of boxes (x0, y0, x1, y1) [mm] that meet; within one set each pair once, i < j."""
    other = first if second is None else second
    if len(first) * len(other) <= _ALL_AGAINST_ALL**2:
        meet = (
            (first[:, None, 0] <= other[None, :, 2])
            & (first[:, None, 2] >= other[None, :, 0])
            & (first[:, None, 1] <= other[None, :, 3])
            & (first[:, None, 3] >= other[None, :, 1])
        )
        i, j = np.nonzero(meet)
    else:
        import shapely

        tree = shapely.STRtree(shapely.box(*other.T))
        i, j = tree.query(shapely.box(*first.T))
    if second is None:
        keep = i < j
        i, j = i[keep], j[keep]
    return i.astype(np.int64), j.astype(np.int64)


def fractions_on(curves: Curves, points: Floats) -> Floats:
    """Return how far along each curve its point lies, 0 at start and 1 at end [-]; unclipped.

    An arc's fraction is taken by angle, on the turn nearest the arc's own middle.
    """
    chord = curves.end - curves.start
    size = np.einsum("ij,ij->i", chord, chord)
    straight = np.einsum("ij,ij->i", points - curves.start, chord) / np.where(size > 0, size, 1.0)
    away = points - curves.centre
    sweep = np.where(curves.curved, curves.sweep, 1.0)
    middle = curves.start_angle + sweep / 2
    turned = np.mod(np.arctan2(away[:, 1], away[:, 0]) - middle + math.pi, math.tau) - math.pi
    return np.where(curves.curved, 0.5 + turned / sweep, straight)


def _slack(curves: Curves, tolerance: float) -> Floats:
    """Return the tolerance as a fraction of each curve's length [-]."""
    slack: Floats = tolerance / np.maximum(curves.lengths(), 1e-300)
    return slack


def _on(curves: Curves, points: Floats, tolerance: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell whether each point is within reach of its curve's ends, measured along the curve."""
    along, slack = fractions_on(curves, points), _slack(curves, tolerance)
    return (along >= -slack) & (along <= 1 + slack)


def _off(curves: Curves, points: Floats) -> Floats:
    """Return the distance of each point from its curve's carrier [mm]."""
    chord = curves.end - curves.start
    size = np.hypot(chord[:, 0], chord[:, 1])
    away = points - curves.start
    straight = np.abs(chord[:, 0] * away[:, 1] - chord[:, 1] * away[:, 0]) / np.where(size > 0, size, 1.0)
    straight = np.where(size > 0, straight, np.hypot(away[:, 0], away[:, 1]))
    radius = np.where(curves.curved, curves.radius, 0.0)
    round_ = np.abs(np.hypot(*(points - curves.centre).T) - radius)
    return np.where(curves.curved, round_, straight)


def _lines(a: Curves, b: Curves) -> Floats:
    """Return the crossing of each pair of carrier lines, (N, 1, 2) [mm]; nan where parallel."""
    r, s = a.end - a.start, b.end - b.start
    den = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
    scale = np.hypot(*r.T) * np.hypot(*s.T)
    level = np.abs(den) <= 1e-13 * scale
    gap = b.start - a.start
    t = (gap[:, 0] * s[:, 1] - gap[:, 1] * s[:, 0]) / np.where(level, 1.0, den)
    points = a.start + t[:, None] * r
    points[level] = np.nan
    return points[:, None, :]


def _line_circle(line: Curves, arc: Curves) -> Floats:
    """Return the crossings of carrier line and circle, (N, 2, 2) [mm]; nan where they miss."""
    way = line.end - line.start
    way = way / np.maximum(np.hypot(*way.T), 1e-300)[:, None]
    away = arc.centre - line.start
    foot = line.start + np.einsum("ij,ij->i", away, way)[:, None] * way
    off = np.abs(way[:, 0] * away[:, 1] - way[:, 1] * away[:, 0])
    return _spread(foot, way, arc.radius, off)


def _circles(a: Curves, b: Curves) -> Floats:
    """Return the crossings of carrier circles, (N, 2, 2) [mm]; nan where they miss or are concentric."""
    between = b.centre - a.centre
    apart = np.hypot(*between.T)
    way = between / np.maximum(apart, 1e-300)[:, None]
    with np.errstate(over="ignore", invalid="ignore"):
        along = (apart + (a.radius - b.radius) * ((a.radius + b.radius) / np.maximum(apart, 1e-300))) / 2
        points = _spread(
            a.centre + along[:, None] * way,
            np.column_stack([-way[:, 1], way[:, 0]]),
            a.radius,
            np.abs(along),
        )
    # two circles that miss by under TOUCH touch at one point on the line of centres
    near = (
        np.minimum(np.abs(apart - (a.radius + b.radius)), np.abs(apart - np.abs(a.radius - b.radius)))
        <= TOUCH
    )
    side = np.where(along >= 0, 1.0, -1.0)[:, None]
    touch = a.centre + side * a.radius[:, None] * way
    points[near] = touch[near, None, :]
    points[apart <= WELD] = np.nan
    return points


def _spread(foot: Floats, way: Floats, radius: Floats, off: Floats) -> Floats:
    """Return the two points half a chord either side of its foot, one (twice) when under TOUCH of tangent [mm]."""
    inside = radius - off
    with np.errstate(invalid="ignore"):
        half = np.sqrt(np.where(inside > TOUCH, inside * (radius + off), 0.0))
    half = np.where(inside < -TOUCH, np.nan, half)[:, None]
    return np.stack([foot - half * way, foot + half * way], axis=1)


def meetings(curves: Curves, pairs: tuple[Ints, Ints], *, tolerance: float = WELD) -> Meetings:
    """Return every point where the curves of a pair meet within a tolerance [mm].

    Parameters
    ----------
    pairs : two index arrays, as from `box_pairs`
    tolerance : an end this near another curve lies on it [mm]
    """
    i, j = pairs
    on: list[Ints] = []
    by: list[Ints] = []
    at: list[Floats] = []
    bent_i, bent_j = curves.curved[i], curves.curved[j]
    swap = bent_i & ~bent_j
    i, j = np.where(swap, j, i), np.where(swap, i, j)
    bent_i, bent_j = curves.curved[i], curves.curved[j]
    for kind, carriers in ((~bent_j, _lines), (bent_j & ~bent_i, _line_circle), (bent_i & bent_j, _circles)):
        if not kind.any():
            continue
        p, q = i[kind], j[kind]
        a, b = curves.take(p), curves.take(q)
        spots = carriers(a, b)
        for k in range(spots.shape[1]):
            fine = np.isfinite(spots[:, k, 0])
            c, d, point = a.take(fine), b.take(fine), spots[fine, k]
            good = _on(c, point, tolerance) & _on(d, point, tolerance)
            on += [p[fine][good], q[fine][good]]
            by += [q[fine][good], p[fine][good]]
            at += [point[good], point[good]]
    for p, q in ((i, j), (j, i)):
        host = curves.take(q)
        for point in (curves.start[p], curves.end[p]):
            good = (_off(host, point) <= tolerance) & _on(host, point, tolerance)
            on.append(q[good])
            by.append(p[good])
            at.append(point[good])
    return Meetings(np.concatenate(on), np.vstack(at), np.concatenate(by))


def weld(points: Floats, tolerance: float) -> tuple[Ints, Floats]:
    """Group points that are near each other.

    Parameters
    ----------
    points : (N, 2) places [mm]
    tolerance : points this near are one [mm]; chains of near points are one group

    Returns
    -------
    the group of each point (N,) [-], and the place of each group, that of its first point [mm]
    """
    along = points @ np.array([0.8011526357, 0.5984600691])  # no drawing has many points on one such line
    order = np.argsort(along, kind="stable")
    line, spots = along[order], points[order]
    label = np.arange(len(points))
    step, left, right = 1, [], []
    while step < len(points):
        near = np.flatnonzero(line[step:] - line[:-step] <= tolerance)
        if len(near) == 0:
            break
        gap = spots[near + step] - spots[near]
        hit = near[np.einsum("ij,ij->i", gap, gap) <= tolerance**2]
        left.append(order[hit])
        right.append(order[hit + step])
        step += 1
    if left:
        a, b = np.concatenate(left), np.concatenate(right)
        while True:
            low = np.minimum(label[a], label[b])
            new = label.copy()
            np.minimum.at(new, a, low)
            np.minimum.at(new, b, low)
            if np.array_equal(new, label):
                break
            label = new
    heads, group = np.unique(label, return_inverse=True)
    return group.astype(np.int64), points[heads]
