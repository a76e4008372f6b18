"""Corners of a contour rounded or cut off."""

from __future__ import annotations

import math

import numpy as np

from platewright.errors import InputError
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.intersect import carriers_meet
from platewright.geometry.measure import arc_data, edge_lengths
from platewright.geometry.primitives import Arc, Line, Point, Vec
from platewright.geometry.tolerance import WELD

__all__ = ["chamfered", "filleted"]


def _corner(contour: Contour, vertex: int) -> tuple[int, int, int]:
    """Return the vertex, the edge into it and the edge out of it."""
    rows = len(contour.points)
    if not -rows <= vertex < rows:
        raise InputError(f"There is no vertex {vertex}.", allowed=f"0 to {rows - 1}")
    vertex %= rows
    if not contour.closed and vertex in (0, rows - 1):
        raise InputError(f"Vertex {vertex} is an end of an open contour, not a corner.")
    into, out = (vertex - 1) % len(contour), vertex
    for edge in (into, out):
        if np.hypot(*(contour.ends[edge] - contour.starts[edge])) <= WELD:
            raise InputError(
                f"Edge {edge} beside vertex {vertex} has no length.", do="Drop it first (`merged`)."
            )
    return vertex, into, out


def filleted(contour: Contour, vertex: int, radius: float) -> Contour:
    """Return the contour with a corner rounded by an arc tangent to both its edges.

    Parameters
    ----------
    contour : closed or open
    vertex : which corner [-]; negative counts from the end
    radius : radius of the arc [mm], above 0

    Raises
    ------
    InputError
        If the corner is smooth already or the arc does not fit; the largest that fits is named.
    """
    vertex, into, out = _corner(contour, vertex)
    if not (math.isfinite(radius) and radius > 0):
        raise InputError(f"A fillet needs a radius above 0 mm, got {radius}.")
    a, b = contour.edge(into), contour.edge(out)
    turn = math.remainder(b.direction(0.0) - a.direction(1.0), math.tau)
    if abs(turn) < 1e-9 or abs(turn) > math.pi - 1e-9:
        raise InputError(f"Vertex {vertex} is not a corner that can be rounded: it turns by {turn:.4g} rad.")
    found = _fillet(a, b, radius, turn)
    if found is None:
        most = _largest(a, b, turn, radius)
        raise InputError(
            f"A fillet of {radius:g} mm does not fit at vertex {vertex}.",
            allowed=f"up to {math.floor(most * 1000) / 1000:g} mm",
        )
    p, q, centre = found
    bulge = math.tan(_swept(centre, p, q, turn) / 4)
    return _with_corner(contour, vertex, p, q, bulge)


def chamfered(contour: Contour, vertex: int, distance: float, *, second: float | None = None) -> Contour:
    """Return the contour with a corner cut off straight.

    Parameters
    ----------
    contour : closed or open
    vertex : which corner [-]; negative counts from the end
    distance : how far before the corner the cut begins, along the edge [mm], above 0
    second : how far after the corner it ends [mm]; as `distance` if None

    Raises
    ------
    InputError
        If an edge is too short; its length is named.
    """
    vertex, into, out = _corner(contour, vertex)
    after = distance if second is None else second
    sizes = edge_lengths(contour)
    for size, reach in ((sizes[into], distance), (sizes[out], after)):
        if not (math.isfinite(reach) and 0 < reach < float(size)):
            raise InputError(
                f"A chamfer of {reach:g} mm does not fit at vertex {vertex}.",
                allowed=f"above 0 and below {float(size):g} mm",
            )
    if into == out or (into == (out + 1) % len(contour) and distance + after >= float(sizes.sum()) / 2):
        raise InputError("The contour has too few edges for a chamfer.")
    p = contour.edge(into).at(1 - distance / float(sizes[into]))
    q = contour.edge(out).at(after / float(sizes[out]))
    return _with_corner(contour, vertex, p, q, 0.0)


def _with_corner(contour: Contour, vertex: int, p: Point, q: Point, bulge: float) -> Contour:
    """Return the contour with a vertex replaced by an edge from p to q; its edges keep their carriers."""
    rows = contour.rows.copy()
    into = (vertex - 1) % len(rows)
    arcs = arc_data(contour)
    before = _shortened(contour, arcs.centre[into], into, Point(*map(float, rows[into, :2])), p)
    after_end = Point(*map(float, rows[(vertex + 1) % len(rows), :2]))
    if (vertex + 1) % len(rows) == into and len(rows) == 2:
        raise InputError("A contour of two edges has no single corner to change.", do="Split an edge first.")
    after = _shortened(contour, arcs.centre[vertex], vertex, q, after_end)
    rows[into, 2] = before
    new = np.array([(p.x, p.y, bulge), (q.x, q.y, after)])
    out = np.vstack([rows[:vertex], new, rows[vertex + 1 :]])
    away = np.roll(out[:, :2], -1, axis=0) - out[:, :2]
    keep = np.hypot(away[:, 0], away[:, 1]) > WELD
    if not contour.closed:
        keep[-1] = True
    return Contour(out[keep], contour.closed)


def _shortened(contour: Contour, centre: Floats, edge: int, start: Point, end: Point) -> float:
    """Return the bulge of an edge between new ends on its own carrier."""
    bulge = float(contour.bulges[edge])
    if bulge == 0.0:
        return 0.0
    return math.tan(_swept(Point(float(centre[0]), float(centre[1])), start, end, bulge) / 4)


def _swept(centre: Point, p: Point, q: Point, sign: float) -> float:
    """Return the sweep from p to q about a centre in the direction of a sign [rad]."""
    turned = (q - centre).angle() - (p - centre).angle()
    if sign > 0:
        return turned % math.tau
    return -((-turned) % math.tau)


def _offset_carrier(edge: Line | Arc, side: float, radius: float) -> tuple[Floats, Floats, float] | None:
    """Return where the centre of a tangent circle can be: the edge's carrier moved toward its side."""
    if isinstance(edge, Line):
        way = Vec.polar(1.0, edge.direction())
        spot = edge.start + way.left() * (side * radius)
        return np.array([spot.x, spot.y]), np.array([way.x, way.y]), math.inf
    moved = edge.radius - math.copysign(1.0, edge.sweep) * side * radius
    if moved <= 0:
        return None
    return np.array([edge.centre.x, edge.centre.y]), np.zeros(2), moved


def _fillet(a: Line | Arc, b: Line | Arc, radius: float, turn: float) -> tuple[Point, Point, Point] | None:
    """Return where the fillet leaves a, where it joins b, and its centre; None if it does not fit."""
    side = math.copysign(1.0, turn)
    one, two = _offset_carrier(a, side, radius), _offset_carrier(b, side, radius)
    if one is None or two is None:
        return None
    best, size = None, math.inf
    for x, y in carriers_meet(*one, *two):
        centre = Point(x, y)
        p, q = _foot(a, centre), _foot(b, centre)
        if p is None or q is None:
            continue
        far = centre.distance(b.start)
        if far < size:
            best, size = (p, q, centre), far
    return best


def _foot(edge: Line | Arc, centre: Point) -> Point | None:
    """Return where a circle about a centre touches an edge, None if off its ends."""
    if isinstance(edge, Line):
        chord = edge.end - edge.start
        along = (centre - edge.start).dot(chord) / chord.dot(chord)
        slack = WELD / chord.length()
        return edge.at(min(max(along, 0.0), 1.0)) if -slack <= along <= 1 + slack else None
    angle = (centre - edge.centre).angle()
    middle = edge.start_angle + edge.sweep / 2
    along = 0.5 + math.remainder(angle - middle, math.tau) / edge.sweep
    slack = WELD / edge.length()
    return edge.at(min(max(along, 0.0), 1.0)) if -slack <= along <= 1 + slack else None


def _largest(a: Line | Arc, b: Line | Arc, turn: float, radius: float) -> float:
    """Return about the largest radius that fits [mm], by halving."""
    low, high = 0.0, radius
    for _ in range(50):
        middle = (low + high) / 2
        if _fillet(a, b, middle, turn) is None:
            high = middle
        else:
            low = middle
    return low
