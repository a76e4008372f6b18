"""Drawing by hand over the straightened picture: lines, arcs through three points, circles, snapping to edges.

A drawing is a start and strokes; each stroke begins where the one before ended. Everything is in the
coordinates of the capture [mm], y up. Snapping moves a place onto the outline that was found (its corners
first), or, where none was found, onto the strongest edge in the straightened picture near the place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.errors import InputError
from platewright.geometry.contour import Contour, Floats
from platewright.pattern.model import Outline, Straightened

__all__ = ["Stroke", "circle_through", "drawn", "snap_to_outline", "snap_to_picture", "strokes_from"]

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


def strokes_from(document: Sequence[dict[str, Any]]) -> list[Stroke]:
    """Read strokes as a page sends them: ``{"end": [x, y]}`` or with ``"via": [x, y]`` [mm]."""
    found = []
    for k, item in enumerate(document):
        try:
            end = (float(item["end"][0]), float(item["end"][1]))
            via = item.get("via")
            middle = None if via is None else (float(via[0]), float(via[1]))
        except (KeyError, TypeError, ValueError, IndexError, AttributeError):
            raise InputError(
                f"Stroke {k + 1} cannot be read.", do='Write {"end": [x, y]}, and "via" for an arc.'
            ) from None
        found.append(Stroke(end, middle))
    return found


def _corners(points: Floats) -> Floats:
    """Return the places of a loop where it turns by more than 30 degrees within 3 mm each way [mm]."""
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    k = max(1, round(3.0 / max(step, 1e-6)))
    if len(points) < 4 * k:
        return points
    back, on = points - np.roll(points, k, axis=0), np.roll(points, -k, axis=0) - points
    turn = np.abs(np.arctan2(back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0], (back * on).sum(axis=1)))
    near = np.max([np.roll(turn, s) for s in range(-k, k + 1)], axis=0)
    return np.asarray(points[(turn > math.radians(30)) & (turn == near)])


def snap_to_outline(place: Place, outlines: Sequence[Outline], *, reach: float = 3.0) -> Place:
    """Return the nearest corner within `reach`, else the nearest place on an outline within it, else the place [mm]."""
    _finite(place)
    best, spot = reach, place
    corner_best, corner = reach, None
    here = np.array(place)
    for outline in outlines:
        for x, y in _corners(outline.points):
            if math.hypot(x - place[0], y - place[1]) < corner_best:
                corner_best, corner = math.hypot(x - place[0], y - place[1]), (float(x), float(y))
        a = outline.points
        along = np.roll(a, -1, axis=0) - a
        square = np.maximum((along**2).sum(axis=1), 1e-18)
        t = np.clip(((here - a) * along).sum(axis=1) / square, 0, 1)
        foot = a + t[:, None] * along
        off = np.hypot(*(foot - here).T)
        k = int(np.argmin(off))
        if off[k] < best:
            best, spot = float(off[k]), (float(foot[k, 0]), float(foot[k, 1]))
    return corner if corner is not None else spot


def snap_to_picture(place: Place, picture: Straightened, *, reach: float = 3.0) -> Place:
    """Return the strongest edge in the straightened picture within `reach` of a place, to a fraction of a pixel [mm].

    The place is moved along the direction in which brightness changes most around it; where nothing changes it
    is returned as it is.
    """
    _finite(place)
    import cv2

    grey = cv2.imdecode(np.frombuffer(picture.data, np.uint8), cv2.IMREAD_GRAYSCALE)
    if grey is None:
        raise InputError("The straightened picture cannot be read.")
    high = picture.size[1]
    u = (place[0] - picture.origin[0]) / picture.pitch
    v = high - 1 - (place[1] - picture.origin[1]) / picture.pitch
    r = math.ceil(reach / picture.pitch)
    if not (r + 2 <= u < grey.shape[1] - r - 2 and r + 2 <= v < grey.shape[0] - r - 2):
        return place
    x0, y0 = round(u) - r, round(v) - r
    part = cv2.GaussianBlur(grey[y0 : y0 + 2 * r + 1, x0 : x0 + 2 * r + 1], (0, 0), 1.2).astype(np.float64)
    dy, dx = np.gradient(part)
    # structure tensor: its strongest direction is across the edge
    angle = 0.5 * math.atan2(2 * float((dx * dy).sum()), float((dx**2 - dy**2).sum()))
    across = np.array([math.cos(angle), math.sin(angle)])
    span = np.arange(-r + 1.0, r - 0.99, 0.25)
    line = np.array([u - x0, v - y0]) + span[:, None] * across
    xs, ys = line.T.astype(np.float32)
    profile = cv2.remap(part.astype(np.float32), xs[None], ys[None], cv2.INTER_LINEAR).ravel()
    slope = np.abs(np.gradient(profile, 0.25))
    k = int(np.argmax(slope[1:-1])) + 1 if len(slope) > 4 else 0
    if k == 0 or slope[k] < 2.0:
        return place
    near = np.abs(span - span[k]) <= 3.0
    shift = float((span * slope)[near].sum() / slope[near].sum())
    return (place[0] + shift * picture.pitch * across[0], place[1] - shift * picture.pitch * across[1])
