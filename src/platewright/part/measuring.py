"""Measuring a part: between two features, angles, radii, area, weight, centre of gravity, envelope."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Floats, Line
from platewright.materials import grade
from platewright.part.model import Part
from platewright.part.refs import EdgeRef, Said, edge_refs

__all__ = ["Between", "Whole", "between", "radius_of", "whole"]

Feature = tuple[float, float] | Said | EdgeRef
Spot = tuple[float, float]
Piece = Line | Arc | Spot


@dataclass(frozen=True, slots=True)
class Between:
    """What lies between two features.

    Attributes
    ----------
    distance : nearest distance [mm]
    centres : distance between centres where both are arcs or circles, else None [mm]
    angle : angle between two straight edges in [0, pi/2], else None [rad]
    first, second : the nearest points [mm]
    """

    distance: float
    centres: float | None
    angle: float | None
    first: tuple[float, float]
    second: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """What a part measures as a whole.

    Attributes
    ----------
    width, height : of the upright box [mm]
    area : of metal [mm²]
    weight : [kg]
    cut_length : all contours together [mm]
    centre : centre of gravity [mm]
    across : largest distance over the part [mm]
    envelope : length and width of the smallest box round it, turned as need be [mm]
    turned : direction of that box's length [rad]
    """

    width: float
    height: float
    area: float
    weight: float
    cut_length: float
    centre: tuple[float, float]
    across: float
    envelope: tuple[float, float]
    turned: float

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values with units in the names [mm, mm², kg]."""
        return {
            "width_mm": self.width, "height_mm": self.height, "area_mm2": self.area, "weight_kg": self.weight,
            "cut_length_mm": self.cut_length, "centre_mm": list(self.centre), "across_mm": self.across,
            "envelope_mm": list(self.envelope), "turned_rad": self.turned,
        }  # fmt: skip


def whole(part: Part) -> Whole:
    """Return a part's size, area, weight and centre of gravity [mm, mm², kg]."""
    from platewright.geometry import length
    from platewright.geometry.moments import centroid

    box, area = part.profile.bounds(), part.profile.area()
    middle = centroid(part.profile)
    hull = _hull(part.profile.outer)
    envelope, turned = _envelope(hull)
    return Whole(
        width=box.width, height=box.height, area=area,
        weight=area * part.thickness * grade(part.grade).density,
        cut_length=sum(length(c) for c in part.profile.contours()), centre=(middle.x, middle.y),
        across=_across(hull), envelope=envelope, turned=turned,
    )  # fmt: skip


def _hull(contour: Contour) -> Floats:
    """Return the convex hull's corners of a fine tessellation (within 0.001 mm)."""
    from scipy.spatial import ConvexHull

    from platewright.geometry import flatten

    points = flatten(contour, tolerance=0.001)
    hull: Floats = points[ConvexHull(points).vertices]
    return hull


def _across(hull: Floats) -> float:
    from scipy.spatial.distance import pdist

    return float(pdist(hull).max())


def _envelope(hull: Floats) -> tuple[tuple[float, float], float]:
    """Return the smallest box round a convex polygon: one of its sides lies on a side of the polygon."""
    way = np.roll(hull, -1, axis=0) - hull
    turn = np.arctan2(way[:, 1], way[:, 0])
    along = hull @ np.array([np.cos(turn), np.sin(turn)])
    over = hull @ np.array([-np.sin(turn), np.cos(turn)])
    long, wide = np.ptp(along, axis=0), np.ptp(over, axis=0)
    best = int(np.argmin(long * wide))
    a, b, angle = float(long[best]), float(wide[best]), float(turn[best])
    if b > a:
        a, b, angle = b, a, angle + math.pi / 2
    return (a, b), math.remainder(angle, math.pi)


def _piece(part: Part, feature: Feature) -> Piece:
    """Return a feature as an edge or a point: (contour, edge) whole numbers, a reference, or a point [mm]."""
    if isinstance(feature, (EdgeRef, Mapping)) or all(isinstance(v, int) for v in feature):
        ref = edge_refs(part.profile, [feature])[0]
        return list(part.profile.contours())[ref.contour].edge(ref.edge)
    x, y = feature
    return float(x), float(y)


def between(part: Part, first: Feature, second: Feature) -> Between:
    """Measure between two features of a part.

    Parameters
    ----------
    part : the part
    first, second : (contour, edge) of whole numbers, a reference, or a point of two decimals [mm]
    """
    a, b = _piece(part, first), _piece(part, second)
    distance, p, q = _nearest(a, b)
    centres = a.centre.distance(b.centre) if isinstance(a, Arc) and isinstance(b, Arc) else None
    angle = None
    if isinstance(a, Line) and isinstance(b, Line):
        angle = abs(math.remainder(a.direction() - b.direction(), math.pi))
    return Between(distance, centres, angle, p, q)


def _nearest(a: Piece, b: Piece) -> tuple[float, Spot, Spot]:
    """Return the nearest distance and points of two pieces that do not cross.

    The nearest points of two lines or arcs are an end of one and its foot on the other, or lie on a normal
    common to both, which passes through the centre of an arc. All such pairs are tried.
    """
    if isinstance(a, tuple) and isinstance(b, tuple):
        return math.dist(a, b), a, b
    if isinstance(a, tuple):
        assert not isinstance(b, tuple)
        spot = _foot(b, a)
        return math.dist(a, spot), a, spot
    if isinstance(b, tuple):
        spot = _foot(a, b)
        return math.dist(spot, b), spot, b
    pairs = [((p.x, p.y), _foot(b, (p.x, p.y))) for p in (a.start, a.end)]
    pairs += [(_foot(a, (q.x, q.y)), (q.x, q.y)) for q in (b.start, b.end)]
    pairs += [(p, _foot(b, p)) for p in _along_normals(a, b)]
    pairs += [(_foot(a, q), q) for q in _along_normals(b, a)]
    p, q = min(pairs, key=lambda pair: math.dist(*pair))
    return math.dist(p, q), p, q


def _along_normals(a: Line | Arc, b: Line | Arc) -> list[Spot]:
    """Return points of `a` on lines through the centre of `b`, if it has one, that stand square on `a`."""
    if not isinstance(b, Arc):
        return []
    centre = (b.centre.x, b.centre.y)
    if isinstance(a, Line):
        return [_foot(a, centre)]
    away = math.atan2(centre[1] - a.centre.y, centre[0] - a.centre.x)
    near, far = (away, away + math.pi)
    return [p for turn in (near, far) if (p := _on_arc(a, turn)) is not None]


def _on_arc(arc: Arc, turn: float) -> Spot | None:
    """Return the arc's point in a direction from its centre [rad], None if it does not reach there."""
    turned = math.remainder(turn - arc.start_angle, math.tau) * math.copysign(1.0, arc.sweep) % math.tau
    if turned > abs(arc.sweep):
        return None
    return arc.centre.x + arc.radius * math.cos(turn), arc.centre.y + arc.radius * math.sin(turn)


def _foot(edge: Line | Arc, spot: Spot) -> Spot:
    """Return the nearest point of an edge to a point [mm]."""
    if isinstance(edge, Arc):
        found = _on_arc(edge, math.atan2(spot[1] - edge.centre.y, spot[0] - edge.centre.x))
        if found is not None:
            return found
        ends = ((edge.start.x, edge.start.y), (edge.end.x, edge.end.y))
        return min(ends, key=lambda end: math.dist(end, spot))
    run = edge.end - edge.start
    along = ((spot[0] - edge.start.x) * run.x + (spot[1] - edge.start.y) * run.y) / run.dot(run)
    at = edge.at(min(1.0, max(0.0, along)))
    return at.x, at.y


def radius_of(part: Part, edge: Said | EdgeRef) -> float:
    """Return the radius of a curved edge [mm].

    Raises
    ------
    InputError
        If it is straight.
    """
    one = _piece(part, edge)
    if not isinstance(one, Arc):
        raise InputError("A straight edge has no radius.", do="Choose a curved one.")
    return one.radius
