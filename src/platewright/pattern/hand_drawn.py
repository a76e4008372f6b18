"""Drawing by hand over the straightened picture: lines, arcs through three points, circles, snapping to edges.

A drawing is a start and strokes; each stroke begins where the one before ended. Everything is in the
coordinates of the capture [mm], y up. Snapping moves a place onto the outline that was found (its corners
first), or, where none was found, onto the strongest edge in the straightened picture near the place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.errors import InputError
from platewright.geometry.contour import Contour

__all__ = [
    "Stroke",
    "circle_through",
    "drawn",
]

Place = tuple[float, float]

FARTHEST_RADIUS = 1e5
"""Three places on a flatter arc than this are a line [mm]."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line to `end`, or an arc to `end` through `via` [mm]."""

    end: Place
    via: Place | None = None


def _finite(*places: Place) -> None:
    if not all(math.isfinite(v) for p in places for v in p):
        raise InputError("A place drawn is not finite.")


def circle_through(first: Place, second: Place, third: Place) -> tuple[Place, float]:
    """Return centre and radius of the circle through three places [mm].

    Raises
    ------
    InputError
        If two of them fall together or they lie on a line.
    """
    _finite(first, second, third)
    (ax, ay), (bx, by), (cx, cy) = first, second, third
    ux, uy, vx, vy = bx - ax, by - ay, cx - ax, cy - ay
    cross = 2 * (ux * vy - uy * vx)
    u2, v2 = ux * ux + uy * uy, vx * vx + vy * vy
    w2 = (cx - bx) ** 2 + (cy - by) ** 2
    # radius = product of the sides / (2 * cross of two of them)
    if min(u2, v2, w2) < 1e-12 or abs(cross) * FARTHEST_RADIUS < math.sqrt(u2 * v2 * w2):
        raise InputError(
            "The three places lie on a line or on top of each other.",
            do="Pick three places well apart on the arc.",
        )
    x, y = (vy * u2 - uy * v2) / cross, (ux * v2 - vx * u2) / cross
    return (ax + x, ay + y), math.hypot(x, y)


def _bulge(start: Place, via: Place, end: Place) -> float:
    """Return the bulge [-] of the arc from start through via to end; 0 if they lie on a line."""
    try:
        circle_through(start, via, end)
    except InputError:
        return 0.0
    # the angle at `via` is the supplement of half the sweep
    a = math.atan2(start[1] - via[1], start[0] - via[0])
    b = math.atan2(end[1] - via[1], end[0] - via[0])
    at_via = math.remainder(b - a, math.tau)
    half = math.pi - abs(at_via)
    return math.copysign(math.tan(half / 2), -at_via)


def drawn(start: Place, strokes: Sequence[Stroke], *, closed: bool = True) -> Contour:
    """Return the contour drawn from `start` by strokes [mm]; a closed one is closed by a line if it has to be.

    Raises
    ------
    InputError
        If there is nothing to draw, or a stroke has no length.
    """
    _finite(start, *(s.end for s in strokes), *(s.via for s in strokes if s.via is not None))
    if not strokes:
        raise InputError("Nothing was drawn.", do="Draw at least one line or arc.")
    rows: list[tuple[float, float, float]] = []
    at = start
    for k, stroke in enumerate(strokes):
        if math.dist(at, stroke.end) < 1e-6:
            raise InputError(
                f"Stroke {k + 1} ends where it begins.", do="For a whole circle pick three places on it."
            )
        rows.append((*at, 0.0 if stroke.via is None else _bulge(at, stroke.via, stroke.end)))
        at = stroke.end
    if not closed or math.dist(at, start) > 1e-6:
        rows.append((*at, 0.0))
    if closed and len(rows) < 2:
        raise InputError("A closed outline needs at least two strokes.")
    return Contour(np.array(rows), closed)
