"""Outlines families are built from: rounded polygons, slots, belts round circles, ring sectors, rows of holes.

All closed contours run counterclockwise and are exact: arcs are arcs, tangent where they should be.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Contour, Floats, Pose

__all__ = [
    "belt", "bolt_circle_points", "circles", "cut_corners", "grid_points", "rounded", "sector", "slot",
    "spread", "square_hole",
]  # fmt: skip

XY = tuple[float, float]


def rounded(points: Sequence[XY], radii: float | Sequence[float], *, scallop: bool = False) -> Contour:
    """Return a polygon [mm] with corners rounded to radii [mm] (0 keeps the corner sharp).

    Parameters
    ----------
    points : corners in order [mm]
    radii : one radius for all, or one a corner [mm]
    scallop : bite the corner out with an arc about the corner itself instead

    Raises
    ------
    InputError
        If an edge is too short for the roundings at its ends.
    """
    pts = np.asarray(points, dtype=np.float64)
    n = len(pts)
    rs = np.broadcast_to(np.asarray(radii, dtype=np.float64), (n,))
    if not scallop:
        _refuse_overlap(pts, rs, math.tan)
    rows: list[tuple[float, float, float]] = []
    for i in range(n):
        rows += _corner(pts[i - 1], pts[i], pts[(i + 1) % n], float(rs[i]), scallop=scallop)
    return _without_empty_edges(rows)


def cut_corners(points: Sequence[XY], cuts: float | Sequence[float]) -> Contour:
    """Return a polygon [mm] with corners chamfered: `cuts` [mm] taken off each of the two edges.

    Raises
    ------
    InputError
        If an edge is too short for the chamfers at its ends.
    """
    pts = np.asarray(points, dtype=np.float64)
    n = len(pts)
    each = np.broadcast_to(np.asarray(cuts, dtype=np.float64), (n,))
    _refuse_overlap(pts, each, lambda _: 1.0)
    rows: list[tuple[float, float, float]] = []
    for i in range(n):
        p, q, r = pts[i - 1], pts[i], pts[(i + 1) % n]
        back, on = (p - q) / np.hypot(*(p - q)), (r - q) / np.hypot(*(r - q))
        first, second = q + back * each[i], q + on * each[i]
        rows += [(first[0], first[1], 0.0)] + ([(second[0], second[1], 0.0)] if each[i] > 0 else [])
    return _without_empty_edges(rows)


def _refuse_overlap(pts: Floats, sizes: Floats, taken_by: Callable[[float], float]) -> None:
    """Refuse corner sizes that overlap along an edge; `taken_by` half a turn [rad] gives the length a size of 1 takes [mm]."""
    n = len(pts)
    takes = []
    for i in range(n):
        before, after = pts[i] - pts[i - 1], pts[(i + 1) % n] - pts[i]
        turn = abs(math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after)))
        takes.append(float(sizes[i]) * taken_by(turn / 2))
    for i in range(n):
        j = (i + 1) % n
        run = float(np.hypot(*(pts[j] - pts[i])))
        if takes[i] + takes[j] > run + 1e-9:
            raise InputError(
                f"The corners need {takes[i] + takes[j]:.4g} mm of an edge that is {run:.4g} mm long.",
                do="Make the corner size smaller or the edge longer.",
            )


def _corner(
    p: Floats,
    q: Floats,
    r: Floats,
    radius: float,
    *,
    scallop: bool,
) -> list[tuple[float, float, float]]:
    before, after = q - p, r - q
    turn = math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))
    if radius == 0 or abs(turn) < 1e-12:
        return [(float(q[0]), float(q[1]), 0.0)]
    take = radius if scallop else radius * math.tan(abs(turn) / 2)
    a, b = q - before / np.hypot(*before) * take, q + after / np.hypot(*after) * take
    sweep = -math.copysign(math.pi - abs(turn), turn) if scallop else turn
    return [(float(a[0]), float(a[1]), math.tan(sweep / 4)), (float(b[0]), float(b[1]), 0.0)]


def _without_empty_edges(rows: Iterable[tuple[float, float, float]]) -> Contour:
    """Drop edges of no length."""
    array = np.array(list(rows), dtype=np.float64)
    gap = np.hypot(*(np.roll(array, -1, axis=0) - array)[:, :2].T)
    return Contour(array[gap > 1e-9])


def slot(x: float, y: float, *, between: float, width: float, angle: float = 0.0) -> Contour:
    """Return a slot about (x, y) [mm] by the distance of its end centres and its width [mm], turned by an angle [rad]."""
    if between <= 1e-9:
        return Contour.circle(x, y, width / 2)
    h, r = between / 2, width / 2
    rows = np.array([(-h, -r, 0.0), (h, -r, 1.0), (h, r, 0.0), (-h, r, 1.0)])
    return Pose(x, y, angle).apply(Contour(rows))


def square_hole(x: float, y: float, *, side: float, radius: float = 0.0, angle: float = 0.0) -> Contour:
    """Return a square hole about (x, y) [mm] with corner radius [mm], turned by an angle [rad]."""
    box = Contour.rectangle(side, side, x=-side / 2, y=-side / 2, radius=radius)
    return Pose(x, y, angle).apply(box)


def belt(rounds: Sequence[tuple[float, float, float]]) -> Contour:
    """Return the outline of a belt drawn tight round circles (x, y, radius) [mm], given counterclockwise.

    Raises
    ------
    InputError
        If one circle lies inside its neighbour so that no tangent exists.
    """
    n = len(rounds)
    outs: list[XY] = []
    ins: list[XY] = []
    for i in range(n):
        (x1, y1, r1), (x2, y2, r2) = rounds[i], rounds[(i + 1) % n]
        away = math.hypot(x2 - x1, y2 - y1)
        if away <= abs(r1 - r2):
            raise InputError(
                f"A round of radius {min(r1, r2):g} mm lies inside one of {max(r1, r2):g} mm.",
                do="Move the centres further apart or bring the radii closer.",
            )
        normal = math.atan2(y2 - y1, x2 - x1) - math.pi / 2
        normal += math.asin((r2 - r1) / away) * -1.0
        outs.append((x1 + r1 * math.cos(normal), y1 + r1 * math.sin(normal)))
        ins.append((x2 + r2 * math.cos(normal), y2 + r2 * math.sin(normal)))
    rows: list[tuple[float, float, float]] = []
    for i in range(n):
        x, y, _ = rounds[i]
        a, b = ins[i - 1], outs[i]
        sweep = (math.atan2(b[1] - y, b[0] - x) - math.atan2(a[1] - y, a[0] - x)) % math.tau
        rows += [(a[0], a[1], math.tan(sweep / 4)), (b[0], b[1], 0.0)]
    return _without_empty_edges(rows)


def sector(inner: float, outer: float, *, start: float, sweep: float) -> Contour:
    """Return a ring sector about the origin between two radii [mm], from an angle over a sweep below a full turn [rad]."""
    a, b, bulge = start, start + sweep, math.tan(sweep / 4)
    rows = [
        (outer * math.cos(a), outer * math.sin(a), bulge),
        (outer * math.cos(b), outer * math.sin(b), 0.0),
        (inner * math.cos(b), inner * math.sin(b), -bulge),
        (inner * math.cos(a), inner * math.sin(a), 0.0),
    ]
    return _without_empty_edges(rows)


def arc_slot(radius: float, *, width: float, start: float, sweep: float) -> Contour:
    """Return a curved slot about the origin: centre-line radius and width [mm], end centres from `start` over `sweep` [rad]."""
    a, b, bulge, h = start, start + sweep, math.tan(sweep / 4), width / 2
    rows = [
        ((radius + h) * math.cos(a), (radius + h) * math.sin(a), bulge),
        ((radius + h) * math.cos(b), (radius + h) * math.sin(b), 1.0),
        ((radius - h) * math.cos(b), (radius - h) * math.sin(b), -bulge),
        ((radius - h) * math.cos(a), (radius - h) * math.sin(a), 1.0),
    ]
    return _without_empty_edges(rows)


def circles(centres: Iterable[XY], diameter: float) -> tuple[Contour, ...]:
    """Return round holes of a diameter [mm] at centres [mm]; none for diameter 0."""
    return tuple(Contour.circle(x, y, diameter / 2) for x, y in centres) if diameter > 0 else ()


def spread(count: int, pitch: float) -> list[float]:
    """Return `count` [-] places at a pitch [mm], centred on 0 [mm]."""
    return [(i - (count - 1) / 2) * pitch for i in range(count)]


def grid_points(
    columns: int, rows: int, *, pitch_x: float, pitch_y: float, x: float = 0.0, y: float = 0.0
) -> list[XY]:
    """Return a grid of places about (x, y) with pitches [mm], row by row from the lower left."""
    return [(x + dx, y + dy) for dy in spread(rows, pitch_y) for dx in spread(columns, pitch_x)]


def bolt_circle_points(
    diameter: float,
    count: int,
    *,
    start: float = 0.0,
    skip: Sequence[int] = (),
    x: float = 0.0,
    y: float = 0.0,
) -> list[XY]:
    """Return places on a bolt circle [mm]: `count` equal steps from an angle [rad], leaving out the numbers in `skip` (1 is first)."""
    turn = [start + math.tau * i / count for i in range(count) if i + 1 not in skip]
    return [(x + diameter / 2 * math.cos(a), y + diameter / 2 * math.sin(a)) for a in turn]
