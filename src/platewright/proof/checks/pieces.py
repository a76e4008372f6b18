"""Checks of the pieces: what is missing, what nobody asked for, and how far each edge is off."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from platewright.findings import Finding
from platewright.geometry import Floats
from platewright.geometry.holes import hydraulic_diameter
from platewright.proof.align import fit_pose
from platewright.proof.checks.cutoff import cutting_off, parting
from platewright.proof.checks.wishes import is_marked
from platewright.proof.compare import Requested
from platewright.proof.edges import Edges, nearest
from platewright.proof.match import Match
from platewright.proof.model import Deviation
from platewright.proof.scene import Scene, contours_of, finding_at

__all__ = ["check_pieces", "uncut_lengths"]

_NEAR_KERF = 0.35
"""A median this close to a whole or half kerf, as a part of the kerf, is an offset to the wrong side or none [-]."""

_OWN = 0.15
"""A burn along this share of a ring is the ring's own [-]; tabs part a contour into several."""

_BESIDE = 0.05
"""A piece this near a kerf lies along it [mm]: they are cut out of one plate, so only rounding parts them."""

_DAB = 3.0
"""A cut no larger than so many kerfs burns its own slug away, or is a dab to drill out [-]."""

_SCRAP = 2000.0
"""Scrap that a part's own cut frees beside it (a corner loop, say) is only noted up to this area [mm²]."""


def check_pieces(scene: Scene) -> Iterator[Finding]:
    """Yield what is wrong with the pieces [mm]; a program that moves and never lights the torch is told as such only."""
    if not scene.torch.burns and len(scene.travels):
        return
    job = list(_whole_job(scene))
    yield from job
    for match in scene.matches:
        part = scene.requested[match.requested]
        if match.polygon is None:
            if not job:
                yield from _absent(scene, part)
            continue
        yield from _holes(scene, match, part)
        if part.turned_over:
            at = shapely.get_coordinates(part.polygon.exterior)[0]
            yield finding_at("P049", at, subject=part.label, severity="look")
        if not job:
            yield from _deviations(scene, match, part)
    yield from _unasked(scene)
    yield from _stray(scene)
    yield from _not_mine(scene)


# -- the whole job off ---------------------------------------------------------------------------


def _cut_box(scene: Scene) -> Floats:
    """Return the box of all that comes loose, or of all that was burned if nothing does [mm]."""
    least = 4 * scene.kerf**2
    loose = [
        f.polygon
        for f in scene.faces
        if f.loose_after is not None and not f.on_void and f.polygon.area > least
    ]
    return np.array(shapely.total_bounds(loose if loose else scene.strands.lines))


def _whole_job(scene: Scene) -> Iterator[Finding]:
    """Tell wrong units, a scaled or a shifted job from the boxes of all that was cut and all that was asked."""
    if scene.layout is None or not scene.requested or not len(scene.strands.burn):
        return
    if scene.unread:
        yield from _units_so_far(scene)
        return
    if any(m.polygon is not None for m in scene.matches):
        return
    requested, cut = np.array(shapely.total_bounds([a.polygon for a in scene.requested])), _cut_box(scene)
    want, got = requested[2:] - requested[:2], cut[2:] - cut[:2]
    if not ((want > 0).all() and (got > 0).all()):
        return
    ratio = got / want
    paths = np.array(shapely.total_bounds(scene.strands.lines))
    if not 0.6 < float(np.hypot(*(paths[2:] - paths[:2])) / np.hypot(*got)) < 1.6:
        return
    mean = float(math.sqrt(ratio[0] * ratio[1]))
    for unit in (25.4, 1 / 25.4):
        if abs(mean / unit - 1) < 0.2:
            yield finding_at("P021", (cut[0], cut[1]), factor=mean)
            return
    if abs(mean - 1) > 0.01 and abs(ratio[0] / ratio[1] - 1) < 0.02:
        yield finding_at("P050", (cut[0], cut[1]), factor=mean)
        return
    shift = (cut[:2] + cut[2:] - requested[:2] - requested[2:]) / 2
    if abs(mean - 1) <= 0.03 and np.hypot(*shift) > 2 * scene.kerf:
        yield finding_at("P051", (cut[0], cut[1]), x_mm=float(shift[0]), y_mm=float(shift[1]))


def _units_so_far(scene: Scene) -> Iterator[Finding]:
    """Tell wrong units of a program that could only be read in part: off the plate as it stands, on it in the other unit."""
    burned = np.array(shapely.total_bounds(scene.strands.lines)).reshape(2, 2)
    box = scene.plate.bounds()
    low, high = np.array([box.x0, box.y0]), np.array([box.x1, box.y1])
    if (
        (burned[1] > high + (high - low)).any()
        and (burned / 25.4 > low).all()
        and (burned / 25.4 < high).all()
    ):
        yield finding_at("P021", (float(burned[0, 0]), float(burned[0, 1])), factor=25.4)


# -- parts that are not there ----------------------------------------------------------------------


def _parted(scene: Scene, ring: Any) -> tuple[float, Any]:
    """Return the share of a contour's length that a kerf parts [-], and what is left of it as lines [mm]."""
    line = shapely.linestrings(shapely.get_coordinates(ring))
    near = scene.swept.near(ring)
    rest = shapely.difference(line, shapely.buffer(near, scene.options.stop))
    return 1.0 - float(rest.length / line.length), rest


def uncut_lengths(scene: Scene) -> list[tuple[str, float]]:
    """Return label and length never parted [mm] for each asked part that did not come loose."""
    return [
        (part.label, float(_parted(scene, part.polygon.exterior)[1].length))
        for match in scene.matches
        if match.face is None
        for part in (scene.requested[match.requested],)
    ]


def _spot(line: Any, ring: Any) -> Floats:
    """Return a place on what is left of a contour, or on the contour itself [mm]."""
    longest = max(
        (g for g in shapely.get_parts(line) if g.length > 0), key=lambda g: float(g.length), default=ring
    )
    return np.asarray(
        shapely.get_coordinates(shapely.line_interpolate_point(longest, 0.5, normalized=True))[0]
    )


def _absent(scene: Scene, part: Requested) -> Iterator[Finding]:
    share, rest = _parted(scene, part.polygon.exterior)
    at = _spot(rest, part.polygon.exterior)
    if share < 0.05 and scene.deliberate.left_out(part.placement, 0):
        how = "as asked; what else is cut of it is not proven"
        yield finding_at("P077", at, subject=part.label, what="its outside", how=how)
    elif _mirror_overlap(scene, part):
        yield finding_at("P049", at, subject=part.label)
    elif share < 0.5:
        yield finding_at("P038", at, subject=part.label)
    elif rest.length > 0:
        yield finding_at("P011", at, subject=part.label, left_mm=float(rest.length))
    else:
        yield finding_at("P062", at, subject=part.label)


# -- holes -------------------------------------------------------------------------------------------


def _holes(scene: Scene, match: Match, part: Requested) -> Iterator[Finding]:
    rings = match.polygon.interiors
    for number, (pair, ring) in enumerate(zip(match.holes, part.polygon.interiors, strict=True), 1):
        spot = shapely.get_coordinates(shapely.polygons(ring).centroid)[0]
        if pair is None:
            yield _hole_absent(scene, part, number, spot)
        elif match.holes.count(pair) > 1 and match.holes.index(pair) == number - 1:
            yield finding_at("P034", spot, subject=part.label, hole=number)
    requested = [shapely.polygons(r).buffer(scene.kerf) for r in part.polygon.interiors]
    for number in match.extra:
        polygon = shapely.polygons(rings[number])
        known = any(hole.covers(polygon) for hole in requested)
        if not known and polygon.area > scene.kerf**2 / 4:
            at = shapely.get_coordinates(polygon.centroid)[0]
            yield finding_at("P041", at, subject=part.label, area_mm2=float(polygon.area))


def _hole_absent(scene: Scene, part: Requested, number: int, spot: Floats) -> Finding:
    """Say whether a hole was begun and left open, left to be drilled, or forgotten."""
    ring, contour = part.polygon.interiors[number - 1], part.profile.holes[number - 1]
    share, rest = _parted(scene, ring)
    if share > 0.5 and rest.length > 0:
        subject = f"{part.label}, hole {number},"
        return finding_at("P011", _spot(rest, ring), subject=subject, left_mm=float(rest.length))
    size = hydraulic_diameter(contour)
    wished = scene.deliberate.drilled(contour) or scene.deliberate.left_out(part.placement, number)
    marked = is_marked(scene, spot)
    if share < 0.05 and (wished or marked):
        how = "as asked" if wished else "nobody asked for that"
        how += "; its centre is marked" if marked else "; nothing marks its centre"
        severity = "note" if wished and (marked or not scene.dialect.controller.marks) else None
        what = f"hole {number} ({size:.3g} mm)"
        return finding_at("P077", spot, subject=part.label, what=what, how=how, severity=severity)
    return finding_at("P040", spot, subject=part.label, hole=number)


# -- edges ---------------------------------------------------------------------------------------------


def _deviations(scene: Scene, match: Match, part: Requested) -> Iterator[Finding]:
    for deviation in scene.deviations[match.requested]:
        what = _named(deviation)
        if deviation.worst > scene.options.stop and deviation.contour == 0 and _mirror_overlap(scene, part):
            yield finding_at("P049", deviation.worst_at, subject=part.label)
            return
        if deviation.worst > scene.options.look:
            yield _one_deviation(scene, part, deviation)
        most = max(scene.kerf / 2, 0.5 * scene.deliberate.round_inside) + scene.options.look
        if deviation.kept > most:
            yield finding_at(
                "P076", deviation.kept_at, subject=part.label, what=what, off_mm=deviation.kept,
                kerf_mm=scene.kerf / 2, severity="stop" if deviation.kept > most + 2 * scene.kerf else None,
            )  # fmt: skip


def _named(deviation: Deviation) -> str:
    return "outside" if deviation.contour == 0 else f"hole {deviation.contour}"


def _one_deviation(scene: Scene, part: Requested, deviation: Deviation) -> Finding:
    kerf, what = scene.kerf, _named(deviation)
    at, value = np.array(deviation.worst_at), max(deviation.high, -deviation.low)
    value = value if deviation.high >= -deviation.low else -value
    severity = "stop" if deviation.grave > scene.options.stop else "look"
    off_whole = abs(deviation.median + kerf) < _NEAR_KERF * kerf and kerf > scene.options.look
    off_half = abs(deviation.median + kerf / 2) < _NEAR_KERF * kerf / 2 and kerf / 2 > scene.options.look
    if off_whole:
        return finding_at("P010", at, subject=part.label, what=what, off_mm=deviation.median)
    if off_half:
        return finding_at("P035", at, subject=part.label, what=what, off_mm=deviation.median)
    if value > 0:
        return finding_at("P044", at, subject=part.label, what=what, off_mm=value, severity=severity)
    return _gouge(scene, part, deviation, what=what, severity=severity)


def _gouge(scene: Scene, part: Requested, deviation: Deviation, *, what: str, severity: str) -> Finding:
    """Say whose doing a gouge is: another cut's, the lead's if all else is as asked, or the contour's own.

    Only the contour's own cut may blunt the tip of a sharp corner.
    """
    at, value = np.array(deviation.worst_at), deviation.low
    edges = scene.torch.edges
    near = nearest(at[None, :], edges, slack=scene.torch.kerf / 2)
    edge = int(near.edge[0])
    burn, line = int(scene.torch.burn[edge]), int(scene.torch.line[edge])
    own = next(_own(scene, m.polygon) for m in scene.matches if scene.requested[m.requested] is part)
    values = {"what": what, "off_mm": -value, "line": line, "subject": part.label, "severity": severity}
    if -deviation.gone <= scene.options.look:
        return finding_at("P089", at, **values | {"severity": None})
    whole = values | {"severity": "stop" if -value > scene.options.stop else "look"}
    if burn not in own:
        return finding_at("P053", at, cut=burn + 1, **whole)
    if deviation.p95 <= scene.options.look and _is_lead(scene, part, burn, edge):
        return finding_at("P008", at, **whole)
    return finding_at("P009", at, **values)


def _is_lead(scene: Scene, part: Requested, burn: int, edge: int) -> bool:
    """Tell whether an edge is a lead: first or last of its burn, it does not follow the part's edge at half a kerf as most of the burn does."""
    torch = scene.torch
    first, last = torch.burns[burn].edge_first, torch.burns[burn].edge_last
    edges = torch.edges.taken(slice(first, last))
    every = Edges.joined([Edges.of(c) for c in contours_of(part.profile)])
    follows = np.abs(nearest(edges.middles(), every).distance - scene.kerf / 2) <= scene.options.look
    share = float(torch.length[first:last][follows].sum() / torch.length[first:last].sum())
    at = edge - first
    return share > 0.5 and not follows[at] and not (follows[:at].any() and follows[at + 1 :].any())


def _own(scene: Scene, shape: Any) -> set[int]:
    """Return the burns that follow a piece's rings: the one that frees it, and those of its holes."""
    own: set[int] = set()
    for ring in (shape.exterior, *shape.interiors):
        points = shapely.get_coordinates(ring)
        edges = scene.torch.edges
        near = nearest(points[:: max(1, len(points) // 40)], edges, slack=scene.torch.kerf / 2)
        burns = scene.torch.burn[near.edge]
        shares = np.bincount(burns) / len(burns)
        own |= set(np.flatnonzero(shares >= min(_OWN, float(shares.max()))).tolist())
    return own


def _mirror_overlap(scene: Scene, part: Requested) -> bool:
    """Tell whether the other hand of a part lies where the part should."""
    size = float(part.polygon.area)
    for face in scene.faces:
        shape = face.polygon
        apart = float(shape.centroid.distance(part.polygon.centroid))
        if face.loose_after is None or abs(shape.area / size - 1) > 0.1 or apart > math.sqrt(size):
            continue
        ring = shapely.get_coordinates(shapely.orient_polygons(shape).exterior)[:-1]
        pose, rms = fit_pose(ring, part.profile)
        if pose.mirrored and rms < scene.options.stop:
            return True
    return False


# -- what nobody asked for -------------------------------------------------------------------------------


def _open(scene: Scene) -> Iterator[Finding]:
    """Yield cuts that part nothing where no shape was asked for: the same piece lies on both their sides. Dabs are let be."""
    torch, kerf = scene.torch, scene.kerf
    pieces = shapely.STRtree([f.polygon for f in scene.faces])
    strand, piece = pieces.query(scene.strands.polygons, predicate="dwithin", distance=_BESIDE)
    beside = np.unique(np.column_stack([scene.strands.burn[strand], piece]), axis=0)
    found = []
    for n in np.flatnonzero(np.bincount(beside[:, 0], minlength=len(torch.burns)) < 2).tolist():
        ends = torch.edges.end[torch.burns[n].edge_first : torch.burns[n].edge_last]
        if len(ends) and np.ptp(np.vstack([ends, torch.burns[n].pierce]), axis=0).max() > _DAB * kerf:
            found.append(n)
    if found:
        burn = torch.burns[found[0]]
        yield finding_at("P105", burn.pierce, line=burn.line, cut=found[0] + 1, count=len(found))


def _stray(scene: Scene) -> Iterator[Finding]:
    """Yield cuts that run along no contour of the layout and free nothing: slits in the scrap, or in the drop to be kept."""
    burns = scene.torch.burns
    if not scene.requested:
        yield from _open(scene)
    if scene.layout is None or not scene.contours or len(scene.requested) < len(scene.layout.placements):
        return
    along = np.bincount(scene.torch.burn, scene.followed[1], minlength=len(burns)) > 0
    freeing = {f.loose_after for f in scene.faces}
    stray = [
        n
        for n, b in enumerate(burns)
        if b.edge_last > b.edge_first
        and not (along[n] or scene.rest[n])
        and n not in freeing
        and n not in cutting_off(scene)
    ]
    if stray:
        burn = burns[stray[0]]
        yield finding_at("P094", burn.pierce, line=burn.line, cut=stray[0] + 1, count=len(stray))


def _not_mine(scene: Scene) -> Iterator[Finding]:
    """Yield cuts that run into parts of the layout that this program is not to cut [mm]."""
    layout, mine = scene.layout, {a.placement for a in scene.requested}
    if layout is None:
        return
    others = [
        Requested.of(layout.label(i), p, i) for i, (_, _, p) in enumerate(layout.placed()) if i not in mine
    ]
    whole = [shapely.buffer(o.polygon, -scene.options.look) for o in others]
    strand, part = shapely.STRtree(whole).query(scene.strands.polygons, predicate="intersects")
    for number in np.unique(part).tolist():
        hit = strand[part == number]
        first = hit[scene.strands.burn[hit].argmin()]
        burn = int(scene.strands.burn[first])
        common = shapely.intersection(scene.strands.polygons[first], whole[number])
        at = shapely.get_coordinates(common.representative_point())[0]
        yield finding_at("P107", at, line=scene.line_of(burn), cut=burn + 1, subject=others[number].label)


def _unlike(scene: Scene) -> Iterator[Finding]:
    """Yield pieces that fit none of the drawings given where there is no layout; slugs of their holes and slivers are let be."""
    taken = {m.face for m in scene.matches}
    holes = shapely.STRtree([shapely.polygons(r) for a in scene.requested for r in a.polygon.interiors])
    for number, face in enumerate(scene.faces):
        area, spot = float(face.polygon.area), face.polygon.point_on_surface()
        if number in taken or face.loose_after is None or face.on_void or area < 2 * scene.kerf**2:
            continue
        if not len(holes.query(spot, predicate="within")):
            at = shapely.get_coordinates(spot)[0]
            yield finding_at("P106", at, area_mm2=area, cut=face.loose_after + 1)


def _unasked(scene: Scene) -> Iterator[Finding]:
    taken = {m.face for m in scene.matches}
    if scene.layout is None:
        if scene.requested:
            yield from _unlike(scene)
        return
    holes = [shapely.polygons(r) for a in scene.requested for r in a.polygon.interiors]
    parts = [shapely.polygons(a.polygon.exterior) for a in scene.requested]
    tree, solid = shapely.STRtree(holes), shapely.STRtree(parts)
    freeing = {scene.faces[m.face].loose_after for m in scene.matches if m.face is not None}
    for number, face in enumerate(scene.faces):
        if number in taken or face.loose_after is None or scene.rest[face.loose_after]:
            continue
        spot = face.polygon.point_on_surface()
        at = shapely.get_coordinates(spot)[0]
        area = float(face.polygon.area)
        if len(tree.query(spot, predicate="within")):
            continue
        if area < 2 * scene.kerf**2:
            yield finding_at("P064", at, area_mm2=area)
        elif len(solid.query(spot, predicate="within")) == 0 and not face.on_void:
            severity = "look" if face.loose_after in freeing else "stop"
            if severity == "look" and area < _SCRAP:
                yield finding_at("P064", at, area_mm2=area)
            else:
                yield finding_at("P039", at, area_mm2=area, cut=face.loose_after + 1, severity=severity)
        elif face.on_void and len(scene.faces) > 1:
            yield finding_at(parting(scene, face.loose_after), at, area_mm2=area, cut=face.loose_after + 1)
