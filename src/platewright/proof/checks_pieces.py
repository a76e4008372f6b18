"""Checks of the pieces: what is missing, what nobody asked for, and how far each edge is off."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from platewright.findings import Finding
from platewright.geometry import Contour, Floats
from platewright.proof.align import fit_pose
from platewright.proof.compare import Asked, Match, densified, judged, only_inside_corners, summed
from platewright.proof.edges import Edges, nearest
from platewright.proof.faces import flattened
from platewright.proof.model import Deviation
from platewright.proof.scene import Scene, contours_of, told

__all__ = ["check_pieces", "held_deviation", "tabs_of", "uncut_lengths"]

_NEAR_KERF = 0.35
"""A median this close to a whole or half kerf, as a part of the kerf, is an offset to the wrong side or none [-]."""

_TAB, _TABS = 6.0, 0.1
"""Bridges up to this wide [mm] (or two thicknesses), and this part of the outline in all [-], count as tabs."""

_SCRAP = 2000.0
"""Scrap that a part's own cut frees beside it (a corner loop, say) is only noted up to this area [mm²]."""


def check_pieces(scene: Scene) -> Iterator[Finding]:
    """Yield what is wrong with the pieces [mm]; a program that moves and never lights the torch is told as such only."""
    if not scene.torch.burns and len(scene.travels):
        return
    job = list(_whole_job(scene))
    yield from job
    for match in scene.matches:
        part = scene.asked[match.asked]
        if match.face is None:
            if not job:
                yield from _absent(scene, part)
                yield from _held(scene, match, part)
            continue
        yield from _holes(scene, match, part)
        if not job:
            yield from _deviations(scene, match, part)
    yield from _unasked(scene)


# -- the whole job off ---------------------------------------------------------------------------


def _asked_box(scene: Scene) -> Floats:
    return np.array(shapely.total_bounds([a.polygon for a in scene.asked]))


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
    if scene.layout is None or not scene.asked or not len(scene.strands.burn):
        return
    if scene.unread:
        yield from _units_so_far(scene)
        return
    if scene.deviations or any(m.face is not None for m in scene.matches):
        return
    asked, cut = _asked_box(scene), _cut_box(scene)
    want, got = asked[2:] - asked[:2], cut[2:] - cut[:2]
    if not ((want > 0).all() and (got > 0).all()):
        return
    ratio = got / want
    paths = np.array(shapely.total_bounds(scene.strands.lines))
    if not 0.6 < float(np.hypot(*(paths[2:] - paths[:2])) / np.hypot(*got)) < 1.6:
        return
    mean = float(math.sqrt(ratio[0] * ratio[1]))
    for unit in (25.4, 1 / 25.4):
        if abs(mean / unit - 1) < 0.2:
            yield told("P021", (cut[0], cut[1]), factor=mean)
            return
    if abs(mean - 1) > 0.01 and abs(ratio[0] / ratio[1] - 1) < 0.02:
        yield told("P050", (cut[0], cut[1]), factor=mean)
        return
    shift = (cut[:2] + cut[2:] - asked[:2] - asked[2:]) / 2
    if abs(mean - 1) <= 0.03 and np.hypot(*shift) > 2 * scene.kerf:
        yield told("P051", (cut[0], cut[1]), x_mm=float(shift[0]), y_mm=float(shift[1]))


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
        yield told("P021", (float(burned[0, 0]), float(burned[0, 1])), factor=25.4)


# -- parts that are not there ----------------------------------------------------------------------


def _cover(scene: Scene, contour: Contour) -> tuple[Floats, Floats, Floats]:
    """Return points along a contour, the length each stands for, and the gap between kerf and edge there [mm]."""
    points, owner = flattened(Edges.of(contour), 0.02)
    points, weights = densified(points, 2.0)
    del owner
    if not len(scene.torch.edges):
        return points, weights, np.full(len(points), np.inf)
    edges, half = _torch_near(scene, points)
    if not len(edges):
        return points, weights, np.full(len(points), np.inf)
    near = nearest(points, edges, slack=half)
    return points, weights, near.distance - half[near.edge]


def _torch_near(scene: Scene, points: Floats) -> tuple[Edges, Floats]:
    """Return the torch edges whose boxes come near some points [mm], and half their kerf."""
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    index = scene.edges_near((float(x0), float(y0), float(x1), float(y1)), scene.kerf * 2)
    return scene.torch.edges.taken(index), scene.torch.kerf[index] / 2


def uncut_lengths(scene: Scene) -> list[tuple[str, float, tuple[float, float] | None]]:
    """Return label, length never parted [mm] and its middle, for each asked part that did not come loose."""
    found = []
    for match in scene.matches:
        if match.face is not None:
            continue
        part = scene.asked[match.asked]
        points, weights, gap = _cover(scene, part.profile.outer)
        whole = gap > scene.options.stop
        length = float(weights[whole].sum())
        spot = None
        if whole.any():
            run = np.flatnonzero(whole)
            middle = points[run[len(run) // 2]]
            spot = (float(middle[0]), float(middle[1]))
        found.append((part.label, length, spot))
    return found


def _absent(scene: Scene, part: Asked) -> Iterator[Finding]:
    points, weights, gap = _cover(scene, part.profile.outer)
    parted = gap <= scene.options.stop
    share = float(weights[parted].sum() / weights.sum())
    left = float(weights[~parted].sum())
    middle = points[np.flatnonzero(~parted)[(~parted).sum() // 2]] if (~parted).any() else points[0]
    if _mirror_overlap(scene, part):
        yield told("P049", points[0], subject=part.label)
    elif share < 0.5:
        yield told("P038", points[0], subject=part.label)
    elif left > 0 and (tabs := tabs_of(scene, part)):
        yield told("P074", middle, subject=part.label, count=len(tabs), widest_mm=max(tabs))
    elif left > 0:
        yield told("P011", middle, subject=part.label, left_mm=left)
    else:
        yield told("P062", middle, subject=part.label)


def tabs_of(scene: Scene, part: Asked) -> list[float]:
    """Return the widths of the bridges that hold a part [mm]; none if what is uncut is too long to be a tab."""
    _, weights, gap = _cover(scene, part.profile.outer)
    whole = gap > scene.options.stop
    if not whole.any() or whole.all():
        return []
    turn = int(np.flatnonzero(~whole)[0])
    runs = np.concatenate([[False], np.roll(whole, -turn), [False]]).astype(np.int8)
    weights = np.roll(weights, -turn)
    starts, ends = np.flatnonzero(np.diff(runs) == 1), np.flatnonzero(np.diff(runs) == -1)
    widths = [float(weights[a:b].sum()) for a, b in zip(starts, ends, strict=True)]
    most = max(_TAB, 2 * (scene.thickness or 0.0))
    return widths if max(widths) <= most and sum(widths) <= _TABS * float(weights.sum()) else []


def held_deviation(scene: Scene, contour: Contour, number: int) -> Deviation | None:
    """Return how a contour that did not come loose lies off what was asked, along what was parted [mm]."""
    points, weights, gap = _cover(scene, contour)
    edges, half = _torch_near(scene, points)
    whole = gap > scene.options.stop
    beside = (
        int(scene.kerf / 2) + 2
    )  # points lie 2 mm apart or less; a kerf's round end shows beside each tab
    parted = ~np.logical_or.reduce([np.roll(whole, k) for k in range(-beside, beside + 1)])
    if not len(edges) or not parted.any():
        return None
    near = nearest(points[parted], edges, slack=half)
    side = nearest(near.foot, Edges.of(contour)).side
    reach = half[near.edge]
    values = np.where(side < 0, near.distance - reach, -near.distance - reach)
    return summed(points[parted], values, weights[parted], number=number)


# -- holes -------------------------------------------------------------------------------------------


def _holes(scene: Scene, match: Match, part: Asked) -> Iterator[Finding]:
    assert match.face is not None
    rings = scene.faces[match.face].polygon.interiors
    for number, (pair, ring) in enumerate(zip(match.holes, part.polygon.interiors, strict=True), 1):
        spot = shapely.get_coordinates(shapely.polygons(ring).centroid)[0]
        if pair is None:
            yield _hole_absent(scene, part, number, spot)
        elif match.holes.count(pair) > 1 and match.holes.index(pair) == number - 1:
            yield told("P034", spot, subject=part.label, hole=number)
    asked = [shapely.polygons(r).buffer(scene.kerf) for r in part.polygon.interiors]
    for number in match.extra:
        polygon = shapely.polygons(rings[number])
        known = any(hole.covers(polygon) for hole in asked)
        if not known and polygon.area > scene.kerf**2 / 4:
            at = shapely.get_coordinates(polygon.centroid)[0]
            yield told("P041", at, subject=part.label, area_mm2=float(polygon.area))


def _hole_absent(scene: Scene, part: Asked, number: int, spot: Floats) -> Finding:
    """Say whether a hole was begun and left open, or never cut."""
    points, weights, gap = _cover(scene, part.profile.holes[number - 1])
    open_ = gap > scene.options.stop
    left = float(weights[open_].sum())
    if open_.any() and left < 0.5 * float(weights.sum()):
        middle = points[np.flatnonzero(open_)[int(open_.sum()) // 2]]
        return told("P011", middle, subject=f"{part.label}, hole {number},", left_mm=left)
    return told("P040", spot, subject=part.label, hole=number)


def _held(scene: Scene, match: Match, part: Asked) -> Iterator[Finding]:
    """Yield what is wrong with a part that hangs on tabs: its holes and its edges."""
    if match.asked not in scene.deviations:
        return
    for number, hole in enumerate(part.profile.holes, 1):
        points, weights, gap = _cover(scene, hole)
        if float(weights[gap > scene.options.stop].sum()) > 0.02 * float(weights.sum()):
            yield _hole_absent(scene, part, number, points.mean(axis=0))
    yield from _deviations(scene, match, part)


# -- edges ---------------------------------------------------------------------------------------------


def _deviations(scene: Scene, match: Match, part: Asked) -> Iterator[Finding]:
    contours = contours_of(part.profile)
    told_hand = False
    for deviation in scene.deviations.get(match.asked, ()):
        contour = contours[deviation.contour]
        values = judged(deviation, contour, scene.kerf / 2)
        worst = int(np.abs(values).argmax())
        if abs(values[worst]) <= scene.options.look:
            continue
        if not told_hand and deviation.contour == 0 and abs(values[worst]) > scene.options.stop:
            told_hand = _mirror_overlap(scene, part)
            if told_hand:
                yield told("P049", deviation.points[worst], subject=part.label)
                return
        if only_inside_corners(deviation, values, contour, half_kerf=scene.kerf / 2, look=scene.options.look):
            off, least = float(deviation.values[worst]), float(deviation.values[worst] - values[worst])
            what = _named(deviation)
            yield told(
                "P076", deviation.points[worst], subject=part.label, what=what, off_mm=off, kerf_mm=least
            )
            continue
        yield _one_deviation(scene, part, deviation, float(values[worst]), deviation.points[worst])


def _named(deviation: Deviation) -> str:
    return "outside" if deviation.contour == 0 else f"hole {deviation.contour}"


def _one_deviation(scene: Scene, part: Asked, deviation: Deviation, value: float, at: Floats) -> Finding:
    kerf, what = scene.kerf, _named(deviation)
    severity = "stop" if abs(value) > scene.options.stop else "look"
    off_whole = abs(deviation.median + kerf) < _NEAR_KERF * kerf and kerf > scene.options.look
    off_half = abs(deviation.median + kerf / 2) < _NEAR_KERF * kerf / 2 and kerf / 2 > scene.options.look
    if off_whole:
        return told("P010", at, subject=part.label, what=what, off_mm=deviation.median)
    if off_half:
        return told("P035", at, subject=part.label, what=what, off_mm=deviation.median)
    if value > 0:
        return told("P044", at, subject=part.label, what=what, off_mm=value, severity=severity)
    return _gouge(scene, part, what=what, value=value, at=at, severity=severity)


def _gouge(scene: Scene, part: Asked, *, what: str, value: float, at: Floats, severity: str) -> Finding:
    """Say whose doing a gouge is: another cut's, the lead's, or the contour's own."""
    edges = scene.torch.edges
    near = nearest(at[None, :], edges, slack=scene.torch.kerf / 2)
    edge = int(near.edge[0])
    burn, line = int(scene.torch.burn[edge]), int(scene.torch.line[edge])
    own = {
        b
        for n in (scene.matches)
        if n.face is not None and scene.asked[n.asked] is part
        for b in _own(scene, n.face)
    }
    values = {"what": what, "off_mm": -value, "line": line, "subject": part.label, "severity": severity}
    if burn not in own:
        return told("P053", at, cut=burn + 1, **values)
    if _is_lead(scene, part, burn, edge):
        return told("P008", at, **values)
    return told("P009", at, **values)


def _is_lead(scene: Scene, part: Asked, burn: int, edge: int) -> bool:
    """Tell whether an edge is a lead: it does not follow the part's edge at half a kerf, as most of its burn does."""
    torch = scene.torch
    first, last = torch.burns[burn].edge_first, torch.burns[burn].edge_last
    edges = torch.edges.taken(slice(first, last))
    every = Edges.joined([Edges.of(c) for c in contours_of(part.profile)])
    follows = np.abs(nearest(edges.middles(), every).distance - scene.kerf / 2) <= scene.options.look
    share = float(torch.length[first:last][follows].sum() / torch.length[first:last].sum())
    return share > 0.5 and not bool(follows[edge - first])


def _own(scene: Scene, face: int) -> set[int]:
    """Return the burns that follow a face's rings: the one that frees it, and those of its holes."""
    shape = scene.faces[face].polygon
    own: set[int] = set()
    for ring in (shape.exterior, *shape.interiors):
        points = shapely.get_coordinates(ring)
        edges = scene.torch.edges
        near = nearest(points[:: max(1, len(points) // 40)], edges, slack=scene.torch.kerf / 2)
        burns = scene.torch.burn[near.edge]
        own.add(int(np.bincount(burns).argmax()))
    return own


def _mirror_overlap(scene: Scene, part: Asked) -> bool:
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


def _unasked(scene: Scene) -> Iterator[Finding]:
    taken = {m.face for m in scene.matches}
    if scene.layout is None:
        return
    holes = [shapely.polygons(r) for a in scene.asked for r in a.polygon.interiors]
    parts = [shapely.polygons(a.polygon.exterior) for a in scene.asked]
    tree, solid = shapely.STRtree(holes), shapely.STRtree(parts)
    freeing = {scene.faces[m.face].loose_after for m in scene.matches if m.face is not None}
    for number, face in enumerate(scene.faces):
        if number in taken or face.loose_after is None:
            continue
        spot = face.polygon.point_on_surface()
        at = shapely.get_coordinates(spot)[0]
        area = float(face.polygon.area)
        if len(tree.query(spot, predicate="within")):
            continue
        if area < 2 * scene.kerf**2:
            yield told("P064", at, area_mm2=area)
        elif len(solid.query(spot, predicate="within")) == 0 and not face.on_void:
            severity = "look" if face.loose_after in freeing else "stop"
            if severity == "look" and area < _SCRAP:
                yield told("P064", at, area_mm2=area)
            else:
                yield told("P039", at, area_mm2=area, cut=face.loose_after + 1, severity=severity)
        elif face.on_void and len(scene.faces) > 1:
            yield told("P065", at, area_mm2=area, cut=face.loose_after + 1)
