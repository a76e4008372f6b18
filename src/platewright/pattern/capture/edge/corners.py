"""Sharp corners and unseen stretches of a measured outline, from the straight edges beside them.

Within a millimetre or two of a sharp corner every line across the edge sees the other edge too, and the outline is
softened along itself besides, so a corner is measured round. Where the two sides next to it are straight, or plainly
one wide arc over a longer stretch, the corner is put where they meet, if it is measured no rounder than a sharp corner
is. Short stretches where no edge was seen, under a crumb or a hair, are bridged where both sides lie on one line or
wide arc. Where they don't, the edge stays where it was followed, and how far that strays is its error.

Limits: a corner rounded by less than about `ROUND` comes out sharp, by up to half of that too far at 90 degrees.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.loops import grown, runs

__all__ = ["UNSEEN", "Line", "line_of", "met", "sharpened", "sides_of", "turning"]

TURN = 0.35
"""Least turn within 1.2 mm either side that may be a corner, and the largest that a smooth curve goes on over [rad]."""
UNSEEN, WIDEST = 0.5, 12.0
"""Least sd of a place where no edge was seen, and the longest stretch that is bridged, affected places included [mm]."""
SPOILT, DRAWN = 4, 3
"""Points either side of an unseen one that are affected by it, and how many more where a crumb pulls the edge far [-]."""
FOLLOWED = 1.2
"""Stated error of a crumb that was followed, over its apparent distance from the edge [-]: it pulls its sides out too."""
SIDE, LEAST = 14, 6
"""Points of a straight side that are used, and the fewest that suffice [-]."""
LONG, CURVED = 60, 40
"""Points used to tell a curved side from a straight one, and the fewest that suffice [-]."""
PLAINLY = 5.0
"""A side is curved if its rise exceeds this many times the scatter of its points [-]: fray bends sides too."""
SMOOTH, SMOOTH_SHARE = 0.4, 0.08
"""Largest distance of two sides from one line or arc for them to be bridged [mm], and as a share of the gap [-]."""
STRAIGHT = 0.08
"""How far a side's points may lie from its line (RMS) [mm]."""
CORNER = 0.15
"""Least standard deviation of points at a corner, seen or laid there [mm]."""
WIDEST_GRAIN, STRAIGHT_GRAIN, GUESSED = 16.0, 0.2, 0.4
"""`WIDEST`, `STRAIGHT` and `CORNER` where the bench's grain hid the corner itself [mm]."""
NIB, NIB_TURN = 8.0, 0.5
"""A protrusion on a shorter stretch [mm] between straight sides that turn by less [rad] is grain, not board."""
ROUNDED = 0.15
"""Sides that lie nearer than this to one circle may be round: no corner is put between them [mm]."""
ROUND = 2.4
"""Largest radius that a sharp corner is measured with [mm]."""
DOUBT, EITHER = 0.85, 0.75
"""Among grain a corner measured rounder than this share of the roundest sharp one may be sharp or rounded, as may one that was not seen; its error is the second share of that (sd) [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A side: a place on it, its direction there, how far its points lie off (RMS) and what it rises by a square [mm]."""

    place: Floats
    along: Floats
    off: float
    bend: float = 0.0

    def at(self, far: Floats) -> Floats:
        """Return the places (N, 2) `far` along the side [mm]."""
        left = np.array([-self.along[1], self.along[0]])
        return np.asarray(self.place + far[:, None] * self.along + self.bend * (far**2)[:, None] * left)

    def tangent(self, far: float) -> Line:
        """Return the straight that touches the side `far` along it [mm]."""
        left = np.array([-self.along[1], self.along[0]])
        along = self.along + 2 * self.bend * far * left
        return Line(self.at(np.array([far]))[0], along / np.hypot(*along), self.off)


def turning(points: Floats, step: float) -> Floats:
    """Return how much the loop (N, 2) of points `step` [mm] apart turns within 1.2 mm either side of each [rad]."""
    k = max(1, round(1.2 / step))
    a, b = points - np.roll(points, k, axis=0), np.roll(points, -k, axis=0) - points
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    return np.asarray(np.abs(turn), dtype=np.float64)


def line_of(points: Floats) -> Line:
    """Return the straight of least squared distance to points (N, 2), in their direction of travel [mm]."""
    middle = points.mean(axis=0)
    _, size, axes = np.linalg.svd(points - middle)
    along = axes[0] * np.sign((points[-1] - points[0]) @ axes[0])
    return Line(middle, along, float(size[1] / np.sqrt(len(points))))


def _side(points: Floats, near: slice) -> Line:
    """Return a side: the line or shallow parabola all its points plainly lie on, else the line of those `near` [mm]."""
    line = line_of(points[near])
    if len(points) < CURVED:
        return line
    long = line_of(points)
    usual = max(2 * line.off, 0.7 * STRAIGHT)
    rel = points - long.place
    u, v = rel @ long.along, rel @ np.array([-long.along[1], long.along[0]])
    base = np.column_stack([np.ones(len(u)), u, u * u])
    level, slope, bend = np.linalg.lstsq(base, v, rcond=None)[0]
    off = float(np.sqrt(np.mean((v - base @ (level, slope, bend)) ** 2)))
    rise = abs(float(bend)) * float(np.ptp(u)) ** 2 / 4
    if off > usual or rise < PLAINLY * max(off, STRAIGHT / 4):
        return long if long.off <= usual else line
    left = np.array([-long.along[1], long.along[0]])
    along = long.along + slope * left
    return Line(long.place + level * left, along / np.hypot(*along), off, float(bend))


def met(first: Line, second: Line) -> Floats | None:
    """Return where two lines meet [mm], None if they hardly turn."""
    cross = float(first.along[0] * second.along[1] - first.along[1] * second.along[0])
    if abs(cross) < np.sin(TURN):
        return None
    gap = second.place - first.place
    reach = (gap[0] * second.along[1] - gap[1] * second.along[0]) / cross
    return np.asarray(first.place + reach * first.along, dtype=np.float64)


def _off_circle(points: Floats) -> float:
    """Return how far points (N, 2) lie from the circle through them (RMS, algebraic fit) [mm]."""
    rel = points - points.mean(axis=0)
    system = np.column_stack([2 * rel, np.ones(len(rel))])
    x, y, c = np.linalg.lstsq(system, (rel**2).sum(axis=1), rcond=None)[0]
    radius = np.sqrt(max(c + x * x + y * y, 1e-9))
    return float(np.sqrt(((np.hypot(*(rel - (x, y)).T) - radius) ** 2).mean()))


def _tangents(first: Line, second: Line) -> tuple[Line, Line, Floats | None]:
    """Return the straights along both sides where they meet, and that place [mm], None if they hardly turn."""
    a, b = first, second
    corner = met(a, b)
    for _ in range(4 if first.bend or second.bend else 0):
        if corner is None:
            break
        a, b = (s.tangent(float((corner - s.place) @ s.along)) for s in (first, second))
        corner = met(a, b)
    return a, b, corner


def _legs(first: Line, second: Line, corner: Floats, *, ends: Floats) -> Floats | None:
    """Return as many places as `ends` has, from its first along both sides over the corner to its last [mm]."""
    starts = float((corner - ends[0]) @ first.along), float((ends[-1] - corner) @ second.along)
    if min(starts) <= 0:
        return None
    before = min(max(round((len(ends) - 1) * starts[0] / sum(starts)), 1), len(ends) - 2)
    down = np.linspace(starts[0], 0, before, endpoint=False)
    up = np.linspace(0, starts[1], len(ends) - before)
    here = [float((corner - side.place) @ side.along) for side in (first, second)]
    return np.vstack([first.at(here[0] - down), second.at(here[1] + up)])


def sides_of(
    busy: NDArray[np.bool_], at: int, length: int, *, most: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the indices of the points before and after a corner, in order of travel; at `most` so many [-]."""
    count = len(busy)
    most = min(most, count // 4)
    before, after = [], []
    for k in range(1, most + 1):
        if busy[(at - k) % count]:
            break
        before.append((at - k) % count)
    for k in range(most):
        if busy[(at + length + k) % count]:
            break
        after.append((at + length + k) % count)
    return np.array(before[::-1], dtype=np.int64), np.array(after, dtype=np.int64)


def sharpened(points: Floats, *, step: float, sd: Floats, among_grain: bool = False) -> tuple[Floats, Floats]:
    """Return the loop with its sharp corners where their sides meet, and unseen stretches of straight edges bridged.

    Parameters
    ----------
    points : (N, 2) closed loop, points about `step` apart [mm]
    step : [mm]
    sd : (N,) standard deviation of each point [mm]; corners laid anew get their own, bridges stay unseen
    among_grain : whether the edge is rough and has long gaps, in which what was measured says nothing

    Returns
    -------
    points, sd [mm]
    """
    unseen = sd >= UNSEEN
    mask = grown(turning(points, step) > TURN, 1) | grown(unseen, SPOILT)
    made, error = points.copy(), sd.copy()
    for at, length in runs(mask):
        index = np.arange(at - 1, at + length + 1) % len(points)
        hidden = bool(unseen[index].any())
        if among_grain and hidden:
            _guess(made, error, points, index=index, sides=sides_of(mask, at, length, most=SIDE), step=step)
            continue
        sides = sides_of(mask, at, length, most=SIDE if among_grain else LONG)
        laid = _laid(points, index, sides=sides, hidden=hidden, among_grain=among_grain)
        if laid is None and hidden:  # a crumb may draw more of the edge than was marked
            index = np.arange(at - 1 - DRAWN, at + length + 1 + DRAWN) % len(points)
            sides = sides[0][:-DRAWN], sides[1][DRAWN:]
            laid = _laid(points, index, sides=sides, hidden=hidden)
        if laid is not None:
            made[index], corner = laid
            error[index] = np.maximum(error[index], CORNER) if corner is None else corner
        elif among_grain and (bend := _protrusion(points, index, sides)) is not None:
            # its whole extent counts as error
            made[index], error[index] = bend, np.maximum(error[index], _astray(points, index, sides).max())
        elif hidden:
            astray = FOLLOWED * np.hypot(error[index], _astray(points, index, sides))
            error[index] = np.where(unseen[index], astray, error[index])
    return made, error


def _laid(
    points: Floats,
    index: NDArray[np.int64],
    *,
    sides: tuple[NDArray[np.int64], NDArray[np.int64]],
    hidden: bool,
    among_grain: bool = False,
) -> tuple[Floats, float | None] | None:
    """Return places for a stretch and a corner's standard deviation, None if they bridge it [mm]; None if neither fits."""
    around = points[index]
    # the hidden length is that of the gap, not of the way round the crumb
    gap = float(np.hypot(*(around[-1] - around[0])))
    if (hidden and gap > WIDEST) or min(len(s) for s in sides) < LEAST:
        return None
    first, second = _side(points[sides[0]], slice(-SIDE, None)), _side(points[sides[1]], slice(0, SIDE))
    if max(first.off, second.off) > STRAIGHT:
        return None
    before, after, corner = _tangents(first, second)
    near, most = (0.0, 0.0) if corner is None else _roundness(corner, (before, after), around)
    if corner is not None and near < most:
        if (legs := _legs(first, second, corner, ends=around)) is not None:
            return legs, EITHER * most if among_grain and near > DOUBT * most else CORNER
    elif hidden and (bend := _bridge(first, second, around)) is not None:
        return bend, None
    return None


def _guess(
    made: Floats,
    error: Floats,
    points: Floats,
    *,
    index: NDArray[np.int64],
    sides: tuple[NDArray[np.int64], NDArray[np.int64]],
    step: float,
) -> None:
    """Lay a corner anew where grain hid it, between sides that are straight [mm]."""
    long = (len(index) - 2) * step
    if long > WIDEST_GRAIN or min(len(s) for s in sides) < LEAST:
        return
    first, second = (line_of(points[s]) for s in sides)
    if max(first.off, second.off) > STRAIGHT_GRAIN or (corner := met(first, second)) is None:
        return
    legs = _legs(first, second, corner, ends=points[index])
    far = np.hypot(*(points[index[[0, -1]]] - corner).T).max()
    turned = _off_circle(points[np.concatenate(sides)]) > max(ROUNDED, 2 * max(first.off, second.off))
    if legs is not None and far < long and turned:
        _, most = _roundness(corner, (first, second), points[index])
        made[index], error[index] = legs, max(GUESSED, EITHER * most)


def _protrusion(
    points: Floats, index: NDArray[np.int64], sides: tuple[NDArray[np.int64], NDArray[np.int64]]
) -> Floats | None:
    """Return a bend that cuts off a protrusion between sides that are nearly in line [mm]: grain does so, a cut hardly."""
    around = points[index]
    if min(len(s) for s in sides) < LEAST or np.hypot(*(around[-1] - around[0])) > NIB:
        return None
    first, second = (line_of(points[s]) for s in sides)
    ahead = float(first.along @ second.along) > np.cos(NIB_TURN)
    if max(first.off, second.off) > STRAIGHT_GRAIN or not ahead:
        return None
    return _bend(first, second, around)[0]


def _astray(
    points: Floats, index: NDArray[np.int64], sides: tuple[NDArray[np.int64], NDArray[np.int64]]
) -> Floats:
    """Return the error of an unseen stretch [mm]: half of how far it strays from the bend that carries its sides on."""
    around = points[index]
    likely = np.linspace(around[0], around[-1], len(around))
    if min(len(s) for s in sides) >= LEAST:
        first, second = _side(points[sides[0]], slice(-SIDE, None)), _side(points[sides[1]], slice(0, SIDE))
        likely = _bend(first, second, around)[0]
    far = np.hypot(*np.moveaxis(around[:, None] - likely[None], -1, 0)).min(axis=1)
    return np.asarray(0.5 * far, dtype=np.float64)


def _bend(first: Line, second: Line, around: Floats) -> tuple[Floats, list[float]]:
    """Return places in a smooth bend from one side to the other, and how far each leads past the other's end [mm]."""
    first, second = (
        side.tangent(float((p - side.place) @ side.along))
        for side, p in ((first, around[0]), (second, around[-1]))
    )
    start, end = first.place, second.place
    across = end - start
    past = [float(d[0] * across[1] - d[1] * across[0]) for d in (first.along, second.along)]
    size = float(np.hypot(*across))
    t = np.linspace(0, 1, len(around))[:, None]
    a, b = start + size / 3 * first.along, end - size / 3 * second.along
    places = (1 - t) ** 3 * start + 3 * (1 - t) ** 2 * t * a + 3 * (1 - t) * t**2 * b + t**3 * end
    return np.asarray(places, dtype=np.float64), past


def _bridge(first: Line, second: Line, around: Floats) -> Floats | None:
    """Return places in a smooth bend from one side to the other [mm], None if they don't lie on one line or wide arc."""
    places, past = _bend(first, second, around)
    # both ends of an arc see the other by as much to the same side of the chord
    gap = float(np.hypot(*(around[-1] - around[0])))
    smooth = max(SMOOTH, SMOOTH_SHARE * gap)
    if abs(sum(past)) > smooth or max(abs(v) for v in past) > 2 * smooth:
        return None
    return places


def _roundness(corner: Floats, lines: tuple[Line, Line], around: Floats) -> tuple[float, float]:
    """Return how far the points around a corner stay from it, and how far at most those of a sharp one do [mm]."""
    turn = float(np.arccos(np.clip(lines[0].along @ lines[1].along, -1, 1)))
    near = float(np.hypot(*(around - corner).T).min())
    return near, ROUND * (1 / float(np.cos(turn / 2)) - 1) + 0.1
