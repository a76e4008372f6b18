"""Sharp corners and unseen stretches of a measured outline, from the straight edges beside them.

Within a millimetre or two of a sharp corner every line across the edge sees the other edge too, and the outline is
softened along itself besides, so a corner is measured round. Where the two sides next to it are straight, the corner
is put where they meet, if it is measured no rounder than a sharp corner is. Short stretches where no edge was seen, under a
crumb or a hair, are bridged where both sides lie on one line or wide arc.

Limits: a corner rounded by less than about `ROUND` comes out sharp, by up to half of that too far at 90 degrees.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats

__all__ = ["UNSEEN", "sharpened", "turning"]

TURN = 0.35
"""Least turn within 1.2 mm either side that may be a corner [rad]."""
LONGEST = 4.8
"""A sharp corner is measured no longer than this [mm]."""
UNSEEN, WIDEST = 0.5, 9.0
"""Standard deviation of a place where no edge was seen, and the longest stretch of them that is bridged [mm]."""
SPOILT = 4
"""Points either side of an unseen one that lean on it [-]."""
SIDE, LEAST = 14, 6
"""Points of a straight side that are used, and fewest that do [-]."""
SMOOTH = 0.4
"""How far two sides may be off one line or one arc where they are bridged [mm]."""
STRAIGHT = 0.08
"""How far a side's points may lie from its line (RMS) [mm]."""
CORNER = 0.15
"""Standard deviation of points laid at a corner [mm]."""
WIDEST_GRAIN, STRAIGHT_GRAIN, GUESSED = 16.0, 0.2, 0.4
"""`WIDEST`, `STRAIGHT` and `CORNER` where the bench's grain hid the corner itself [mm]."""
ROUNDED = 0.15
"""Sides that lie nearer than this to one circle may be round: no corner is put between them [mm]."""
ROUND = 2.4
"""Largest radius that a sharp corner is measured with [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    place: Floats
    along: Floats
    off: float


def turning(points: Floats, step: float) -> Floats:
    """Return how much the loop (N, 2) of points `step` [mm] apart turns within 1.2 mm either side of each [rad]."""
    k = max(1, round(1.2 / step))
    a, b = points - np.roll(points, k, axis=0), np.roll(points, -k, axis=0) - points
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    return np.asarray(np.abs(turn), dtype=np.float64)


def _grown(mask: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    return np.asarray(np.any([np.roll(mask, k) for k in range(-by, by + 1)], axis=0), dtype=np.bool_)


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first index and length of each run of True round a closed loop."""
    if mask.all() or not mask.any():
        return []
    first = np.flatnonzero(mask & ~np.roll(mask, 1))
    last = np.flatnonzero(mask & ~np.roll(mask, -1))
    if last[0] < first[0]:
        last = np.roll(last, -1)
    return [(int(a), int((b - a) % len(mask)) + 1) for a, b in zip(first, last, strict=True)]


def _line(points: Floats) -> _Line:
    middle = points.mean(axis=0)
    _, size, axes = np.linalg.svd(points - middle)
    along = axes[0] * np.sign((points[-1] - points[0]) @ axes[0])
    return _Line(middle, along, float(size[1] / np.sqrt(len(points))))


def _met(first: _Line, second: _Line) -> Floats | None:
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


def _legs(first: _Line, second: _Line, corner: Floats, *, ends: Floats) -> Floats | None:
    """Return as many places as `ends` has, from its first along both lines over the corner to its last [mm]."""
    starts = float((corner - ends[0]) @ first.along), float((ends[-1] - corner) @ second.along)
    if min(starts) <= 0:
        return None
    before = min(max(round((len(ends) - 1) * starts[0] / sum(starts)), 1), len(ends) - 2)
    down = np.linspace(starts[0], 0, before, endpoint=False)
    up = np.linspace(0, starts[1], len(ends) - before)
    return np.vstack([corner - down[:, None] * first.along, corner + up[:, None] * second.along])


def _sides(busy: NDArray[np.bool_], at: int, length: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the indices of the straight points before and after a corner, in order of travel."""
    count = len(busy)
    before, after = [], []
    for k in range(1, SIDE + 1):
        if busy[(at - k) % count]:
            break
        before.append((at - k) % count)
    for k in range(SIDE):
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
    mask = _grown(turning(points, step) > TURN, 1) | _grown(unseen, SPOILT)
    made, error = points.copy(), sd.copy()
    for at, length in _runs(mask):
        index = np.arange(at - 1, at + length + 1) % len(points)
        hidden = bool(unseen[index].any())
        sides = _sides(mask, at, length)
        blank = among_grain and hidden
        widest = (WIDEST_GRAIN if blank else WIDEST) if hidden else LONGEST
        if length * step > widest or min(len(s) for s in sides) < LEAST:
            continue
        first, second = (_line(points[s]) for s in sides)
        if max(first.off, second.off) > (STRAIGHT_GRAIN if blank else STRAIGHT):
            continue
        corner = _met(first, second)
        if blank and corner is not None:
            legs = _legs(first, second, corner, ends=points[index])
            far = np.hypot(*(points[index[[0, -1]]] - corner).T).max()
            turned = _off_circle(points[np.concatenate(sides)]) > max(ROUNDED, 2 * max(first.off, second.off))
            if legs is not None and far < length * step and turned:
                made[index], error[index] = legs, GUESSED
            continue
        if corner is not None and _sharp(corner, (first, second), points[index]):
            if (legs := _legs(first, second, corner, ends=points[index])) is not None:
                made[index], error[index] = legs, CORNER
        elif hidden and (bend := _bridge(first, second, points[index])) is not None:
            made[index] = bend
    return made, error


def _bridge(first: _Line, second: _Line, around: Floats) -> Floats | None:
    """Return places in a smooth bend from one side to the other [mm], None if they don't lie on one line or wide arc."""
    start, end = (
        line.place + ((p - line.place) @ line.along) * line.along
        for line, p in ((first, around[0]), (second, around[-1]))
    )
    across = end - start
    bends = [float(d[0] * across[1] - d[1] * across[0]) for d in (first.along, second.along)]
    # both ends of an arc see the other by as much to the same side of the chord
    if abs(sum(bends)) > SMOOTH or max(abs(v) for v in bends) > 2 * SMOOTH:
        return None
    size = float(np.hypot(*across))
    t = np.linspace(0, 1, len(around))[:, None]
    a, b = start + size / 3 * first.along, end - size / 3 * second.along
    return np.asarray((1 - t) ** 3 * start + 3 * (1 - t) ** 2 * t * a + 3 * (1 - t) * t**2 * b + t**3 * end)


def _sharp(corner: Floats, lines: tuple[_Line, _Line], around: Floats) -> bool:
    """Tell whether the points around a corner lie no farther from it than those of a sharp one do."""
    turn = float(np.arccos(np.clip(lines[0].along @ lines[1].along, -1, 1)))
    near = float(np.hypot(*(around - corner).T).min())
    return bool(near < ROUND * (1 / np.cos(turn / 2) - 1) + 0.1)
