"""Distance between shapes, and the narrowest neck of metal in one.

Glossary
--------
neck : a shortest straight way through the metal from edge to edge, such that moving either end along its
    edge does not shorten it; the web between two holes, or between a hole and the outer edge, is one

Method
------
Distance: between two lines or arcs the nearest points are ends, feet of ends, or lie on the common normal
(through the centres), so a few closed forms give it exactly; boxes leave out pairs that are too far.
Neck: the same closed forms for every pair of edges of the profile; a pair of points is a neck if the way
between lies in the metal, crosses no other edge, and neither end can slide along an edge to shorten it.
Exact, no sampling. Cost: pairs of edges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.crossing.locate import contains
from platewright.geometry.crossing.pairs import box_pairs, fractions_on, meetings
from platewright.geometry.curves import Curves, Ints, gather
from platewright.geometry.primitives import Point
from platewright.geometry.profile import Profile
from platewright.geometry.tolerance import SNAP, WELD

__all__ = ["Gap", "Neck", "distance", "neck"]

_BATCH = 200
"""Candidates for a neck looked at together [-]."""


@dataclass(frozen=True, slots=True)
class Gap:
    """The nearest points of two profiles: `distance` [mm], 0 if they touch or overlap; `first`, `second` [mm]."""

    distance: float
    first: Point
    second: Point


@dataclass(frozen=True, slots=True)
class Neck:
    """The narrowest neck of metal: `width` [mm] between `first` and `second` [mm]."""

    width: float
    first: Point
    second: Point


@dataclass(frozen=True, slots=True)
class _Close:
    """Candidate near points of pairs of curves: pair numbers, points, distances."""

    first: Ints
    second: Ints
    a: Floats
    b: Floats

    def sizes(self) -> Floats:
        size: Floats = np.hypot(*(self.a - self.b).T)
        return size


def _candidates(curves: Curves, i: Ints, j: Ints) -> _Close:
    """Return the stationary near points of pairs of curves that do not cross."""
    one, two = curves.take(i), curves.take(j)
    parts: list[tuple[Ints, Floats, Floats]] = []
    every = np.arange(len(i))
    for here, there, flip in ((one, two, False), (two, one, True)):
        for spots in (here.start, here.end):
            foot = there.at(np.clip(fractions_on(there, spots), 0, 1))
            parts.append((every, foot, spots) if flip else (every, spots, foot))
    parts += [(every, a, b) for a in (one.start, one.end) for b in (two.start, two.end)]
    parts += _normals(one, two)
    index = np.concatenate([p[0] for p in parts])
    return _Close(i[index], j[index], np.vstack([p[1] for p in parts]), np.vstack([p[2] for p in parts]))


def _normals(one: Curves, two: Curves) -> list[tuple[Ints, Floats, Floats]]:
    """Return near points on a common normal through the arcs' centres, where both lie on their curves."""
    parts = []
    mixed = np.flatnonzero(one.curved != two.curved)
    if len(mixed):
        bent = one.curved[mixed][:, None]
        a, b = one.take(mixed), two.take(mixed)
        arc, line = _pick(bent, a, b), _pick(bent, b, a)
        foot = line.start + np.clip(fractions_on(line, arc.centre), 0, 1)[:, None] * (line.end - line.start)
        square = np.column_stack([line.start[:, 1] - line.end[:, 1], line.end[:, 0] - line.start[:, 0]])
        square = square / np.maximum(np.hypot(*square.T), 1e-300)[:, None]
        for sign in (1.0, -1.0):
            on = arc.centre + sign * arc.radius[:, None] * square
            good = _within(arc, on) & _within(line, arc.centre)
            p, q = np.where(bent, on, foot), np.where(bent, foot, on)
            parts.append((mixed[good], p[good], q[good]))
    flat = np.flatnonzero(~one.curved & ~two.curved)
    if len(flat):
        parts += _parallel(one.take(flat), two.take(flat), flat)
    both = np.flatnonzero(one.curved & two.curved)
    if len(both):
        a, b = one.take(both), two.take(both)
        way = b.centre - a.centre
        size = np.hypot(*way.T)
        way = np.where(size[:, None] > WELD, way / np.maximum(size, 1e-300)[:, None], [1.0, 0.0])
        for s in (1.0, -1.0):
            for t in (1.0, -1.0):
                p, q = a.centre + s * a.radius[:, None] * way, b.centre + t * b.radius[:, None] * way
                good = _within(a, p) & _within(b, q) & (size > WELD)
                parts.append((both[good], p[good], q[good]))
        parts += _concentric(a, b, both, size)
    return parts


def _parallel(a: Curves, b: Curves, index: Ints) -> list[tuple[Ints, Floats, Floats]]:
    """Return the points half way along where parallel lines face each other."""
    way, other = a.end - a.start, b.end - b.start
    size = np.hypot(*way.T)
    level = np.abs(way[:, 0] * other[:, 1] - way[:, 1] * other[:, 0]) <= 1e-9 * size * np.hypot(*other.T)
    ends = np.sort(np.column_stack([fractions_on(a, b.start), fractions_on(a, b.end)]), axis=1)
    low, high = np.maximum(ends[:, 0], 0), np.minimum(ends[:, 1], 1)
    good = np.flatnonzero(level & (high > low))
    p = a.take(good).at((low[good] + high[good]) / 2)
    q = b.take(good).at(np.clip(fractions_on(b.take(good), p), 0, 1))
    return [(index[good], p, q)]


def _concentric(a: Curves, b: Curves, both: Ints, size: Floats) -> list[tuple[Ints, Floats, Floats]]:
    """Return points of concentric arcs that face each other, at the middle of the shorter one."""
    parts = []
    ring = np.flatnonzero(size <= WELD)
    for here, there, flip in ((a, b, False), (b, a, True)):
        p = here.middles()[ring]
        q = there.take(ring).at(np.clip(fractions_on(there.take(ring), p), 0, 1))
        parts.append((both[ring], q, p) if flip else (both[ring], p, q))
    return parts


def _pick(bent: np.ndarray[tuple[int, int], np.dtype[np.bool_]], a: Curves, b: Curves) -> Curves:
    """Return a where bent, else b, pair by pair."""
    flat = bent[:, 0]
    return Curves(
        start=np.where(bent, a.start, b.start),
        end=np.where(bent, a.end, b.end),
        centre=np.where(bent, a.centre, b.centre),
        radius=np.where(flat, a.radius, b.radius),
        sweep=np.where(flat, a.sweep, b.sweep),
        tag=np.where(flat, a.tag, b.tag),
        group=np.where(flat, a.group, b.group),
    )


def _within(curves: Curves, points: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    along = fractions_on(curves, points)
    slack = WELD / np.maximum(curves.lengths(), 1e-300)
    inside: np.ndarray[tuple[int], np.dtype[np.bool_]] = (along >= -slack) & (along <= 1 + slack)
    return inside


def _point(xy: Floats) -> Point:
    return Point(float(xy[0]), float(xy[1]))


def distance(first: Profile, second: Profile) -> Gap:
    """Return how far apart two profiles are, with the nearest points [mm]; exact for arcs.

    0 where the metal touches or overlaps. A part lying free in the other's hole is measured to the hole.
    """
    a, b = gather(first.contours()), gather(second.contours())
    both = Curves.joined([a, b])
    for shape, curves in ((second, a), (first, b)):
        if contains(shape, curves.start[:1])[0]:
            return Gap(0.0, _point(curves.start[0]), _point(curves.start[0]))
    far = float(np.hypot(*(a.start[:, None, :] - b.start[None, :1, :]).reshape(-1, 2).T).min())
    half = far / 2 + WELD
    margin = half * np.array([-1, -1, 1, 1])
    i, j = box_pairs(a.boxes() + margin, b.boxes() + margin)
    j = j + len(a)
    met = meetings(both, (i, j))
    if len(met.point):
        return Gap(0.0, _point(met.point[0]), _point(met.point[0]))
    near = _candidates(both, i, j)
    best = int(np.argmin(near.sizes()))
    return Gap(float(near.sizes()[best]), _point(near.a[best]), _point(near.b[best]))


def neck(profile: Profile, *, below: float = np.inf) -> Neck | None:
    """Return the narrowest neck of metal in a profile, exact for arcs.

    Parameters
    ----------
    profile : the profile, valid (``validity.explain``)
    below : only necks narrower than this are looked for [mm]

    Returns
    -------
    the neck, of width 0 where edges touch, or None if there is none (a triangle has none: its width falls to
    nothing at the corners, and a disc has none: nothing in it is narrower than what is beside it)
    """
    contours = list(profile.contours())
    curves = gather(contours, range(len(contours)))
    curves = curves.take(curves.lengths() > WELD).halved()
    if len(curves) == 0:
        return None
    box = profile.bounds()
    most = min(below, float(np.hypot(box.width, box.height)) + WELD)
    reach = min(most, most / 32 if np.isinf(below) else below)
    while True:
        found = _neck_below(profile, curves, reach)
        if found is not None or reach >= most:
            return found
        reach = min(2 * reach, most)


def _neck_below(profile: Profile, curves: Curves, below: float) -> Neck | None:
    """Return the narrowest neck under a width, or None."""
    i, j = box_pairs(curves.boxes() + below / 2 * np.array([-1, -1, 1, 1]))
    near = _candidates(curves, i, j)
    size = near.sizes()
    touch = _touch(curves, near, size)
    if touch is not None:
        return touch
    keep = np.flatnonzero((size > WELD) & (size < below))
    still = ~(_runs(curves, near.first[keep], near.a[keep], near.b[keep]))
    still &= ~(_runs(curves, near.second[keep], near.b[keep], near.a[keep]))
    keep = keep[still]
    keep = keep[np.argsort(size[keep], kind="stable")]
    for some in np.split(keep, range(_BATCH, len(keep), _BATCH)):
        for k in some[_in_metal(profile, near.a[some], near.b[some])].tolist():
            a, b = near.a[k], near.b[k]
            if not (_slides(curves, a, b) or _slides(curves, b, a) or _crosses(curves, a, b)):
                return Neck(float(size[k]), _point(a), _point(b))
    return None


def _touch(curves: Curves, near: _Close, size: Floats) -> Neck | None:
    """Return a neck of no width: a place where edges that are not neighbours there touch."""
    for k in np.flatnonzero((size <= WELD) & (near.first != near.second)).tolist():
        i, j, spot = int(near.first[k]), int(near.second[k]), near.a[k]
        joints = ((curves.end[i], curves.start[j]), (curves.end[j], curves.start[i]))
        if all(max(np.hypot(*(p - q)), np.hypot(*(p - spot))) > 2 * WELD for p, q in joints):
            return Neck(0.0, _point(spot), _point(spot))
    return None


def _runs(
    curves: Curves, index: Ints, spots: Floats, others: Floats
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell for many spots on curves whether the way to their others is no neck.

    It is none if it leaves the curve on the side without metal (the right), or if moving the spot along its
    own curve, or at an end along the neighbour, brings it nearer.
    """
    own = curves.take(index)
    away = others - spots
    way = away / np.maximum(np.hypot(*away.T), 1e-300)[:, None]
    heading = _headings(own, spots)
    slope = np.einsum("ij,ij->i", heading, way)
    side = heading[:, 0] * way[:, 1] - heading[:, 1] * way[:, 0]
    first = np.hypot(*(spots - own.start).T) <= WELD
    last = np.hypot(*(spots - own.end).T) <= WELD
    before, after = _neighbours(curves)
    back = np.einsum("ij,ij->i", _headings(curves.take(before[index]), spots), way)
    ahead = np.einsum("ij,ij->i", _headings(curves.take(after[index]), spots), way)
    at_ends = (first & ((slope > 1e-6) | (back < -1e-6))) | (last & ((slope < -1e-6) | (ahead > 1e-6)))
    nearer: np.ndarray[tuple[int], np.dtype[np.bool_]] = np.where(first | last, at_ends, np.abs(slope) > 1e-6)
    nearer |= side < -1e-6
    return nearer


def _headings(curves: Curves, spots: Floats) -> Floats:
    """Return the direction of travel of each curve at its spot, (N, 2)."""
    arm = spots - curves.centre
    round_ = np.sign(curves.sweep)[:, None] * np.column_stack([-arm[:, 1], arm[:, 0]])
    way = np.where(curves.curved[:, None], round_, curves.end - curves.start)
    unit: Floats = way / np.maximum(np.hypot(*way.T), 1e-300)[:, None]
    return unit


def _neighbours(curves: Curves) -> tuple[Ints, Ints]:
    """Return the curve before and the curve after each, of curves in order, one group a contour."""
    count = len(curves)
    head = np.r_[True, curves.group[1:] != curves.group[:-1]]
    begin = np.maximum.accumulate(np.where(head, np.arange(count), 0))
    tail = np.r_[head[1:], True]
    finish = np.minimum.accumulate(np.where(tail, np.arange(count), count - 1)[::-1])[::-1]
    before = np.where(head, finish, np.arange(count) - 1)
    after = np.where(tail, begin, np.arange(count) + 1)
    return before, after


def _slides(curves: Curves, spot: Floats, other: Floats) -> bool:
    """Tell whether moving a spot along an edge it lies on would bring it nearer to the other."""
    size = float(np.hypot(*(other - spot)))
    way = (other - spot) / size
    for at, out in ((curves.start, 1.0), (curves.end, -1.0)):
        for k in np.flatnonzero(np.hypot(*(at - spot).T) <= WELD).tolist():
            if float(_heading(curves, k, spot) @ way) * out > 1e-6:
                return True
    # beyond the centre of an arc that bends toward it, the other end sees the spot as the farthest, not the nearest
    radius = np.where(curves.curved, curves.radius, 0.0)
    away = spot - curves.centre
    on = curves.curved & (np.abs(np.hypot(*away.T) - radius) <= WELD)
    on[on] &= _within(curves.take(on), np.broadcast_to(spot, (int(on.sum()), 2)))
    toward = (curves.centre - spot) @ way
    return bool((on & (toward > 0) & (size > radius + WELD)).any())


def _heading(curves: Curves, k: int, spot: Floats) -> Floats:
    if curves.sweep[k] == 0:
        way = curves.end[k] - curves.start[k]
    else:
        away = spot - curves.centre[k]
        way = np.sign(curves.sweep[k]) * np.array([-away[1], away[0]])
    unit: Floats = way / float(np.hypot(*way))
    return unit


def _in_metal(profile: Profile, a: Floats, b: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell whether straight ways begin, end and have their middle in the metal."""
    size = np.hypot(*(b - a).T)
    good = np.ones(len(a), dtype=bool)
    for fraction in (0.5, 0.01, 0.99):
        good[good] = contains(profile, a[good] + fraction * (b - a)[good], slack=-SNAP * 1e-3)
    good &= size > 0
    return good


def _crosses(curves: Curves, a: Floats, b: Floats) -> bool:
    """Tell whether a straight way meets an edge between its ends."""
    trim = (b - a) * min(0.01, 10 * WELD / float(np.hypot(*(b - a))))
    way = Curves.joined([curves, Curves.lines((a + trim)[None], (b - trim)[None])])
    every = np.arange(len(curves))
    return len(meetings(way, (every, np.full(len(curves), len(curves)))).point) > 0
