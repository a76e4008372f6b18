"""Which piece as cut is which part, by shape and place; parts that still hang on tabs included.

Words
-----
stretch : a length of an asked contour that no kerf runs along; tab : a stretch short enough to be broken by hand;
severed : a part with its tabs taken off along the contour asked for, so that it can be measured like any other.

A piece is a part if it covers most of the part's place and its outer edge runs along the part's. A ring held by tabs is
therefore not mistaken for its own slug, nor a part for the scrap beside it. A contour that has tabs is parted there,
at exactly the edge asked for, and measured by the one rule of ``compare``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from platewright.proof.compare import Requested
from platewright.proof.faces import Face

__all__ = ["Match", "Swept", "Tab", "match_parts"]

_SAME = 0.5
"""A piece is a part if their common area is at least this share of both together [-]."""

_MATCHED_SHARE = 0.5
"""And if at least this share of the part's outer edge has the piece's beside it [-]."""

_BESIDE = 0.03
"""Beside: within one and a half kerfs, or this share of the part's size [-]."""

_TAB = 6.0
"""Widest stretch that counts as a tab [mm], or two thicknesses if that is more."""

_ACROSS = 1.05
"""Metal that reaches so many kerfs from a contour has crossed the kerf [-]."""

_TABS = 0.35
"""Most of a contour that tabs may take up [-]; more is a contour that was not cut."""


@dataclass(frozen=True, slots=True)
class Tab:
    """One bridge: contour it stands on (0 the outer), width of its metal [mm], where [mm]."""

    contour: int
    width: float
    at: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Match:
    """An asked part and the piece that is it.

    Attributes
    ----------
    requested : index of the part [-]
    face : the loose piece that is it, or None
    polygon : its shape as cut [mm], tabs severed; None if it is neither loose nor held by tabs
    tabs : bridges it hangs on, and those that hold a slug in one of its holes
    holes : for each hole of the part the ring of `polygon` that is it, or None
    extra : rings of `polygon` nobody asked for
    """

    requested: int
    face: int | None
    polygon: Any = None
    tabs: tuple[Tab, ...] = ()
    holes: tuple[int | None, ...] = ()
    extra: tuple[int, ...] = ()

    @property
    def held(self) -> bool:
        """Whether the part itself still hangs on tabs."""
        return self.face is None and self.polygon is not None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Swept:
    """What severing a part needs: the plate's polygon, every kerf with its search tree, kerf [mm], thickness [mm], tolerance [mm]."""

    plate: Any
    kerfs: Any
    tree: Any
    kerf: float
    thickness: float
    tolerance: float

    def near(self, shape: Any) -> Any:
        """Return the kerfs near a shape, joined [mm]."""
        found = self.tree.query(shapely.box(*shape.buffer(2 * self.kerf).bounds)) if len(self.kerfs) else []
        return shapely.union_all(self.kerfs[found]) if len(found) else shapely.Polygon()


def match_parts(requested: list[Requested], faces: list[Face], swept: Swept) -> list[Match]:
    """Return for each asked part the piece that is it, loose or on its tabs."""
    if not requested:
        return []
    chosen = _loose(requested, faces, swept.kerf)
    return [_matched(i, part, chosen[i], faces, swept) for i, part in enumerate(requested)]


def _loose(requested: list[Requested], faces: list[Face], kerf: float) -> list[int | None]:
    """Return the loose piece that lies where each part should and has its outline, or None."""
    pieces = list(
        range(1 if faces and faces[0].on_void else 0, len(faces))
    )  # the skeleton, where there is one, is first
    answer: list[int | None] = [None] * len(requested)
    if not pieces:
        return answer
    outers = np.array([shapely.polygons(faces[n].polygon.exterior) for n in pieces], dtype=object)
    wanted = np.array([shapely.polygons(a.polygon.exterior) for a in requested], dtype=object)
    want, piece = shapely.STRtree(outers).query(wanted, predicate="intersects")
    sizes, own = shapely.area(outers), shapely.area(wanted)
    near = np.minimum(sizes[piece], own[want]) / np.maximum(sizes[piece], own[want]) >= _SAME
    want, piece = want[near], piece[near]
    common = shapely.area(shapely.intersection(outers[piece], wanted[want]))
    share = common / (sizes[piece] + own[want] - common)
    best: dict[int, float] = {}
    for w, p, s in zip(want.tolist(), piece.tolist(), share.tolist(), strict=True):
        if s >= _SAME and s > best.get(w, 0.0) and _beside(wanted[w], outers[p], kerf) >= _MATCHED_SHARE:
            best[w], answer[w] = s, pieces[p]
    return answer


def _beside(wanted: Any, piece: Any, kerf: float) -> float:
    """Return the share of an asked outline that has a piece's outline beside it [-]."""
    within = max(1.5 * kerf, _BESIDE * math.sqrt(wanted.area))
    spots = shapely.line_interpolate_point(
        wanted.exterior, np.linspace(0, 1, 200, endpoint=False), normalized=True
    )
    return float((shapely.distance(spots, piece.exterior) <= within).mean())


def _matched(number: int, part: Requested, face: int | None, faces: list[Face], swept: Swept) -> Match:
    polygon = None if face is None else faces[face].polygon
    tabs: tuple[Tab, ...] = ()
    holes: tuple[int | None, ...] = ()
    extra: tuple[int, ...] = ()
    if polygon is not None:
        holes, extra = _pair_holes(part, polygon)
    if polygon is None or None in holes:
        severed = _severed(part, swept, outer_too=polygon is None)
        if severed is not None:
            polygon, tabs = severed
            holes, extra = _pair_holes(part, polygon)
    return Match(requested=number, face=face, polygon=polygon, tabs=tabs, holes=holes, extra=extra)


def _severed(part: Requested, swept: Swept, *, outer_too: bool) -> tuple[Any, tuple[Tab, ...]] | None:
    """Return a part's shape as cut with its tabs taken off along the contour asked for, and the tabs; None if it has none."""
    kerfs = swept.near(part.polygon)
    solid = shapely.polygons(part.polygon.exterior)
    tabs: list[Tab] = []
    gone: list[Any] = [kerfs]
    for contour, ring in enumerate((part.polygon.exterior, *part.polygon.interiors)):
        if contour == 0 and not outer_too:
            continue
        stretches = [s for s in _stretches(ring, kerfs, swept) if _bridges(s[0], ring, contour, kerfs, swept)]
        if not stretches:
            continue
        band = shapely.union_all(
            shapely.buffer(np.array([s for s, _ in stretches], dtype=object), 1.2 * swept.kerf)
        )
        gone.append(band.difference(solid) if contour == 0 else band.intersection(shapely.polygons(ring)))
        tabs += [Tab(contour, width, _middle(stretch)) for stretch, width in stretches]
    if not tabs:
        return None
    place = shapely.box(*solid.buffer(2 * swept.kerf).bounds)
    metal = shapely.difference(shapely.intersection(swept.plate, place), shapely.union_all(gone))
    pieces = [
        p for p in shapely.get_parts(metal) if p.geom_type == "Polygon" and p.area > _SAME * part.polygon.area
    ]
    alike = [p for p in pieces if _beside(solid, shapely.polygons(p.exterior), swept.kerf) >= _MATCHED_SHARE]
    if not alike:
        return None
    return max(alike, key=lambda p: float(p.intersection(part.polygon).area)), tuple(tabs)


def _stretches(ring: Any, kerfs: Any, swept: Swept) -> list[tuple[Any, float]]:
    """Return the stretches of a ring that no kerf parts, with the width of metal left; none if they are no tabs [mm]."""
    line = shapely.linestrings(shapely.get_coordinates(ring))
    rest = shapely.line_merge(shapely.difference(line, shapely.buffer(kerfs, swept.tolerance)))
    found = [g for g in shapely.get_parts(rest) if g.geom_type == "LineString" and g.length > 1e-6]
    found = _rejoined(found)
    half = swept.kerf / 2
    # a kerf's round end comes within the tolerance of the contour this far beyond its middle
    beyond = math.sqrt((half + swept.tolerance) ** 2 - half**2)
    widths = [max(0.0, float(g.length) + 2 * beyond - 2 * half) for g in found]
    if not found or sum(widths) > _TABS * line.length or max(widths) > max(_TAB, 2 * swept.thickness):
        return []
    return list(zip(found, widths, strict=True))


def _bridges(stretch: Any, ring: Any, contour: int, kerfs: Any, swept: Swept) -> bool:
    """Tell whether metal runs from a stretch across where the kerf should be; in an inside corner it only stays in the corner."""
    inner = shapely.polygons(ring)
    beyond = shapely.buffer(inner, (1 if contour == 0 else -1) * _ACROSS * swept.kerf)
    band = shapely.buffer(stretch, 2 * _ACROSS * swept.kerf)
    side = band.difference(inner) if contour == 0 else band.intersection(inner)
    metal = shapely.get_parts(side.difference(kerfs))
    middle = shapely.line_interpolate_point(stretch, 0.5, normalized=True)
    far = side.difference(beyond) if contour == 0 else side.intersection(beyond)
    near = shapely.distance(metal, middle) < 1e-3
    return bool((near & shapely.intersects(metal, far)).any())


def _rejoined(lines: list[Any]) -> list[Any]:
    """Return stretches with the two that meet at the ring's own start joined."""
    if len(lines) < 2:
        return lines
    merged = shapely.line_merge(shapely.multilinestrings(lines))
    return [g for g in shapely.get_parts(merged) if g.geom_type == "LineString"]


def _middle(line: Any) -> tuple[float, float]:
    spot = shapely.line_interpolate_point(line, 0.5, normalized=True)
    return float(spot.x), float(spot.y)


def _pair_holes(part: Requested, polygon: Any) -> tuple[tuple[int | None, ...], tuple[int, ...]]:
    """Pair the holes asked for with the rings cut, by common area."""
    cut = [shapely.polygons(r) for r in polygon.interiors]
    pairs: list[int | None] = []
    for ring in part.polygon.interiors:
        hole = shapely.polygons(ring)
        common = [float(hole.intersection(c).area) for c in cut]
        best = int(np.argmax(common)) if common else -1
        good = best >= 0 and common[best] > 0.4 * hole.area
        pairs.append(best if good else None)
    return tuple(pairs), tuple(i for i in range(len(cut)) if i not in pairs)
