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

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from platewright.geometry import Contour, Profile

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["Thin", "least_gap", "least_web", "patched", "polygons", "thin_places"]

FLAT = 0.01
"""Chord error of the polygons the places are found on [mm]."""
SLACK = 0.02
"""What is narrower than the limit by less than this is let pass [mm]: twice the chord error."""
ROUNDS = 4
"""Patches may make new thin places beside them; so many times they are looked for [-]."""
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
    """A thin place: where it is [mm], how wide it is there [mm], how many parts it joins [-], and its polygon."""

    place: tuple[float, float]
    width: float
    joins: int
    polygon: Polygon


def polygons(profiles: Iterable[Profile]) -> Any:
    """Return profiles as one polygon or several of a polygon library, chords within 0.01 mm [mm]."""
    import shapely

    from platewright.geometry.polygons import to_polygon

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
            found.append(_thin(piece, joins))
    return sorted(found, key=lambda t: t.width)


def _joined(piece: Any, core: Any, limit: float) -> int:
    """Return how many parts of the metal's core a piece of thin metal lies between; near it they hang together or not."""
    import shapely

    near = shapely.get_parts(core.intersection(piece.buffer(1.2 * limit)))
    return int((shapely.distance(near, piece) <= limit / 2 + 3 * SLACK).sum()) if len(near) else 0


def _thin(piece: Any, joins: int) -> Thin:
    """Return a thin place with its least width across."""
    import shapely

    across = shapely.maximum_inscribed_circle(piece, tolerance=0.01)
    (x, y), _ = across.coords
    return Thin((float(x), float(y)), float(_width(piece)), joins, piece)


def _width(piece: Any) -> float:
    """Return about how wide a long thin piece is at its narrowest [mm]: how far it may shrink and still hang together."""
    low, high = 0.0, float(np.sqrt(piece.area))
    for _ in range(12):
        middle = (low + high) / 2
        left = piece.buffer(-middle / 2)
        if left.is_empty or left.geom_type != "Polygon":
            high = middle
        else:
            low = middle
    return high


def patched(metal: tuple[Profile, ...], limit: float) -> tuple[tuple[Profile, ...], list[Thin]]:
    """Return metal with its thin places made as wide as a limit [mm], and the places as they were before.

    A piece that is nowhere wide enough is made wider all along.
    """
    from platewright.geometry.boolean import union

    before: list[Thin] = []
    for turn in range(ROUNDS):
        found = thin_places(polygons(metal), limit)
        if not found:
            break
        before += found if turn == 0 else []
        grown = limit * (1 + 0.02 * turn)
        metal = union(metal, [p for thin in found for p in patch(thin.polygon, grown)])
    return metal, before


def patch(piece: Any, limit: float) -> tuple[Profile, ...]:
    """Return a patch along a thin place, as wide as a limit [mm], of lines and arcs."""
    spine = _spine(piece)
    return rounded_off(spine.buffer(limit / 2, quad_segs=ARCS))


def _spine(piece: Any) -> Any:
    """Return the piece shrunk until only its middle line is left, as the thinnest polygon or points that still tell it."""
    import shapely

    shrunk, step = piece, float(np.sqrt(piece.area)) / 2
    while step > 0.005:
        less = shrunk.buffer(-step)
        same = not less.is_empty and len(shapely.get_parts(less)) == 1
        if same and _long(less) > 0.6 * _long(piece):
            shrunk = less
        else:
            step /= 2
    return shapely.union_all([shrunk, piece.representative_point()])


def _long(piece: Any) -> float:
    x0, y0, x1, y1 = piece.bounds
    return float(np.hypot(x1 - x0, y1 - y0))


def rounded_off(polygon: Any, tolerance: float = 0.02) -> tuple[Profile, ...]:
    """Return a polygon of fine chords as profiles of lines and arcs within a tolerance [mm]."""
    import shapely

    from platewright.geometry.fit_soup import arcs_from_points

    made = []
    for part in shapely.get_parts(polygon):
        if part.geom_type != "Polygon" or part.area < 1e-4:
            continue
        rings = [np.asarray(r.coords)[:-1] for r in (part.exterior, *part.interiors) if len(r.coords) > 3]
        outer, *holes = (_arcs(ring, tolerance, arcs_from_points) for ring in rings)
        made.append(Profile(outer, tuple(holes)))
    return tuple(made)


def _arcs(ring: Any, tolerance: float, fit: Any) -> Contour:
    fitted: Contour = fit(ring, tolerance=tolerance, closed=True)
    return fitted
