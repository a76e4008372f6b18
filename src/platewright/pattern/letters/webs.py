"""Webs the cut would burn away, gaps too narrow to cut, and the patches that mend them.

Glossary
--------
web : metal that joins two parts of the metal and is narrower than a limit
gap : the same of what is cut away: narrower than the kerf, no cut goes through it
patch : a strip with round ends laid along a web, as wide as the limit; added to the metal, or for a gap taken from it

Method: metal shrunk by half the limit and grown again lacks what is narrower than the limit. Of what is lacking,
a piece that lies between two parts of the shrunk metal is a web; one that lies beside a single part is a corner or
tip, which the cut only rounds. A piece that lies beside none is metal nowhere wide enough. Polygons find the places; the
patches are lines and arcs, joined to the exact shape by ``geometry.boolean``.

Limits: how wide a web must be (`least_web`) is common practice, not a published value.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.geometry import Contour, Floats, Profile

__all__ = ["Thin", "least_gap", "least_web", "patched", "polygons", "thin_places", "widened"]

FLAT = 0.01
"""Chord error of the polygons the places are found on [mm]."""
SLACK = 0.02
"""What is narrower than the limit by less than this is let pass [mm]: twice the chord error."""
ROUNDS = 4
"""Patches may make new thin places beside them; so many times they are looked for [-]."""
FACING = 1.7
"""Two points of the edge face each other across the metal if they are this many radii apart [-]; 2 is straight across."""
NECKS = 12
"""Most necks widened one after another in one turn [-]."""
ARCS = 16
"""Chords a quarter turn in the polygons' offsets [-]."""


def least_web(thickness: float, kerf: float) -> float:
    """Return how wide a web or bridge must be [mm] for a plate thickness and a kerf [mm].

    As wide as the plate is thick, and twice the kerf: common practice of plasma shops, no published value. Narrower
    ones take the heat of both cuts and warp or burn away.
    """
    return max(thickness, 2 * kerf)


def least_gap(kerf: float) -> float:
    """Return how wide what is cut away must be [mm]: the kerf and a tenth more, so that the cut goes in and out (common practice)."""
    return 1.1 * kerf


@dataclass(frozen=True, slots=True)
class Thin:
    """A thin place: where it is narrowest [mm], how wide it is there [mm], how many parts it joins [-], its middle line."""

    place: tuple[float, float]
    width: float
    joins: int
    line: Any


def polygons(profiles: Iterable[Profile]) -> Any:
    """Return profiles as one polygon or several of a polygon library, chords within 0.01 mm [mm]."""
    import shapely

    from platewright.geometry.regions.polygons import to_polygon

    return shapely.union_all([to_polygon(p, tolerance=FLAT) for p in profiles])


def thin_places(metal: Any, limit: float) -> list[Thin]:
    """Return the places of a polygon narrower than a limit [mm], corners and tips left out, the narrowest first."""
    import shapely

    half = limit / 2 - SLACK
    if half <= 0 or metal.is_empty:
        return []
    core = metal.buffer(-half, quad_segs=ARCS)
    lacking = metal.difference(core.buffer(half + SLACK, quad_segs=ARCS))
    found = []
    for piece in shapely.get_parts(lacking):
        if piece.geom_type != "Polygon" or piece.area < SLACK * SLACK:
            continue
        joins = _joined(piece, core, limit)
        if joins != 1:
            found.append(_thin(piece, joins, metal, limit))
    return sorted(found, key=lambda t: t.width)


def _joined(piece: Any, core: Any, limit: float) -> int:
    """Return how many parts of the metal's core a piece of thin metal lies between; near it they hang together or not."""
    import shapely

    near = shapely.get_parts(core.intersection(piece.buffer(1.2 * limit)))
    return int((shapely.distance(near, piece) <= limit / 2 + 3 * SLACK).sum()) if len(near) else 0


def _thin(piece: Any, joins: int, metal: Any, limit: float) -> Thin:
    """Return a thin place with its middle line and its least width across [mm]."""
    import shapely

    lines, widths = _middle_line(piece, metal, limit)
    if not len(widths):
        spot = piece.representative_point()
        width = 2 * float(shapely.distance(metal.boundary, spot))
        return Thin((float(spot.x), float(spot.y)), width, joins, spot)
    best = int(np.argmin(widths))
    x, y = lines[best].mean(axis=0)
    return Thin((float(x), float(y)), float(widths[best]), joins, shapely.multilinestrings(lines.tolist()))


def _middle_line(piece: Any, metal: Any, limit: float) -> tuple[Floats, Floats]:
    """Return the middle line of a thin place as short lines (N, 2, 2) and how wide the metal is across each [mm].

    The middle line is where the Voronoi cells of the metal's two sides meet; branches into corners are left out, as
    there the two nearest points of the edge do not face each other.
    """
    import shapely
    from scipy.spatial import QhullError, Voronoi

    nothing = np.zeros((0, 2, 2)), np.zeros(0)
    near = metal.boundary.intersection(piece.buffer(limit))
    points = shapely.get_coordinates(shapely.segmentize(shapely.line_merge(near), max(limit / 20, 0.05)))
    points = points[
        np.sort(np.unique(np.round(points, 6), axis=0, return_index=True)[1])
    ]  # in order along the edge
    try:
        cells = Voronoi(points) if len(points) > 4 else None
    except QhullError:
        cells = None
    if cells is None:
        return nothing
    ends = np.array(cells.ridge_vertices)
    pairs = np.asarray(cells.ridge_points)[(ends >= 0).all(axis=1)]
    ends = ends[(ends >= 0).all(axis=1)]
    lines = cells.vertices[ends]
    middles = lines.mean(axis=1)
    across = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    away = np.hypot(*(middles - points[pairs[:, 0]]).T)
    apart = np.abs(pairs[:, 0] - pairs[:, 1]) > 2  # neighbours on one side do not face each other
    facing = apart & (across >= FACING * away) & (across <= 1.2 * limit)
    facing[facing] = shapely.contains_xy(piece.buffer(SLACK), middles[facing])
    return lines[facing], across[facing]


def patched(metal: tuple[Profile, ...], limit: float) -> tuple[tuple[Profile, ...], list[Thin]]:
    """Return metal with its thin places made as wide as a limit [mm], and the places as they were before.

    A piece that is nowhere wide enough is made wider all along.
    """
    from platewright.geometry.regions.boolean import union

    before: list[Thin] = []
    for turn in range(ROUNDS):
        found = thin_places(polygons(metal), limit)
        if not found:
            break
        before += found if turn == 0 else []
        grown = limit * (1 + 0.02 * turn)
        metal = union(metal, [p for thin in found for p in patch(thin, grown)])
    return metal, before


def widened(metal: tuple[Profile, ...], limit: float) -> tuple[tuple[Profile, ...], list[Thin]]:
    """Return metal with its necks made as wide as a limit [mm], and where they were.

    What `thin_places` passes over as a tip may be a tongue with a neck of its own; ``geometry.neck`` finds it exactly.
    """
    from platewright.geometry.crossing.distance import neck
    from platewright.geometry.regions.boolean import union

    before: list[Thin] = []
    for turn in range(NECKS):
        strips = []
        for profile in metal:
            found = neck(profile, below=limit - SLACK)
            if found is None:
                continue
            a, b = found.first, found.second
            strips.append(
                _stadium(((a.x + b.x) / 2, (a.y + b.y) / 2), math.atan2(b.y - a.y, b.x - a.x), limit)
            )
            if turn == 0:
                before.append(Thin(((a.x + b.x) / 2, (a.y + b.y) / 2), found.width, 2, None))
        if not strips:
            break
        metal = union(list(metal), strips)
    return metal, before


def _stadium(at: tuple[float, float], across: float, limit: float) -> Profile:
    """Return a strip with round ends about a place [mm], as wide as a limit along `across` [rad] and twice as long."""
    c, s = -math.sin(across), math.cos(across)
    x, y, half = *at, limit / 2
    spots = [(-half, -half, 0.0), (half, -half, 1.0), (half, half, 0.0), (-half, half, 1.0)]
    return Profile(
        Contour(np.array([(x + a * c - b * s, y + a * s + b * c, bulge) for a, b, bulge in spots]))
    )


def patch(thin: Thin, limit: float) -> tuple[Profile, ...]:
    """Return a patch along a thin place, as wide as a limit [mm], of lines and arcs."""
    return rounded_off(thin.line.simplify(0.005).buffer(limit / 2, quad_segs=ARCS))


def rounded_off(polygon: Any) -> tuple[Profile, ...]:
    """Return a polygon of fine chords as profiles of lines and arcs within 0.02 mm [mm]."""
    import shapely

    from platewright.fit.arcs import arcs_from_points

    made = []
    for part in shapely.get_parts(polygon):
        if part.geom_type != "Polygon" or part.area < 1e-4:
            continue
        rings = [np.asarray(r.coords)[:-1] for r in (part.exterior, *part.interiors) if len(r.coords) > 3]
        outer, *holes = (_arcs(ring, 0.02, arcs_from_points) for ring in rings)
        made.append(Profile(outer, tuple(holes)))
    return tuple(made)


def _arcs(ring: Any, tolerance: float, fit: Any) -> Contour:
    fitted: Contour = fit(ring, tolerance=tolerance, closed=True)
    return fitted
