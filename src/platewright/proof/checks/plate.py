"""Checks against the plate: its edge, its old holes, its keep-outs, how far it may lie off, and thin webs."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from platewright.findings import Finding
from platewright.proof.edges import Edges, nearest
from platewright.proof.scene import Scene, finding_at

__all__ = ["check_plate"]

CLEAR = 2.0
"""Travel must pass this far above a keep-out [mm]."""

NEAR, SCARRED = 0.75, 0.6
"""Pierces nearer to a part's edge than these shares of the kerf may scar it, and do [-] (common practice)."""


def check_plate(scene: Scene) -> Iterator[Finding]:
    """Yield what is wrong between the program and the plate [mm]."""
    if scene.plate_known:
        yield from _off_plate(scene)
        yield from _pierces_on_metal(scene)
    yield from _keepouts(scene)
    yield from _pierces_on_parts(scene)
    if scene.layout is not None:
        yield from _slack(scene)
    yield from _webs(scene)


def _off_plate(scene: Scene) -> Iterator[Finding]:
    polygons, burn = scene.strands.polygons, scene.strands.burn
    outline = shapely.polygons(scene.plate_polygon.exterior)
    shapely.prepare(outline)
    crossing = np.flatnonzero(~shapely.contains(outline, polygons))
    reported_burns: set[int] = set()
    for i in crossing.tolist():
        number = int(burn[i])
        if number in reported_burns:
            continue
        reported_burns.add(number)
        points = shapely.get_coordinates(scene.strands.lines[i])
        outside = ~shapely.contains_xy(outline, points[:, 0], points[:, 1])
        depth = nearest(points, scene.plate_edges).distance * outside
        worst = int(depth.argmax())
        if depth[worst] > scene.options.edge_slack:
            yield finding_at(
                "P002", points[worst], line=scene.line_of(number), cut=number + 1, over_mm=float(depth[worst])
            )
        else:
            yield finding_at("P070", points[worst], line=scene.line_of(number), cut=number + 1)


def _pierces_on_metal(scene: Scene) -> Iterator[Finding]:
    if not scene.torch.burns:
        return
    spots = np.array([b.pierce for b in scene.torch.burns])
    outline = shapely.polygons(scene.plate_polygon.exterior)
    on = shapely.contains_xy(outline, spots[:, 0], spots[:, 1])
    for hole in scene.plate_polygon.interiors:
        inside = shapely.contains_xy(shapely.polygons(hole), spots[:, 0], spots[:, 1])
        for number in np.flatnonzero(inside).tolist():
            yield finding_at("P052", spots[number], line=scene.line_of(number), cut=number + 1)
    for number in np.flatnonzero(~on).tolist():
        if nearest(spots[number][None, :], scene.plate_edges).distance[0] > scene.kerf / 2:
            severity = "note" if scene.rest[number] else None
            yield finding_at(
                "P071", spots[number], line=scene.line_of(number), cut=number + 1, severity=severity
            )
    yield from _pierces_in_cuts(scene)


def _pierces_in_cuts(scene: Scene) -> Iterator[Finding]:
    """Yield pierces in a place an earlier cut has already burned away."""
    for number in np.flatnonzero(scene.lit_in_kerf).tolist():
        burn = scene.torch.burns[number]
        if burn.edge_last > burn.edge_first:
            severity = "note" if scene.deliberate.common_line or scene.rest[number] else None
            yield finding_at("P072", burn.pierce, line=burn.line, cut=number + 1, severity=severity)


def _keepouts(scene: Scene) -> Iterator[Finding]:
    if scene.layout is None:
        return
    moves, carried = scene.run.moves, scene.ways(scene.carried)
    for keepout, polygon in zip(scene.layout.keepouts, scene.keepouts, strict=True):
        hit = scene.tree.query(polygon, predicate="intersects")
        if len(hit):
            first = int(hit[scene.strands.burn[hit].argmin()])
            at = shapely.get_coordinates(
                shapely.intersection(scene.strands.polygons[first], polygon).centroid
            )[0]
            number = int(scene.strands.burn[first])
            yield finding_at("P005", at, line=scene.line_of(number), cut=number + 1, subject=keepout.name)
        if keepout.height <= 0:
            continue
        over = np.concatenate([
            scene.travels[shapely.intersects(scene.travel_lines, polygon)],
            scene.carried[shapely.intersects(carried, polygon)],
        ])  # fmt: skip
        if scene.heights_known:
            onto = scene.plunges[shapely.intersects_xy(polygon, moves.end[scene.plunges, :2])]
            over = np.union1d(over, onto)
            over = over[np.minimum(moves.start[over, 2], moves.end[over, 2]) < keepout.height + CLEAR]
        if len(over):
            at = shapely.get_coordinates(polygon.centroid)[0]
            yield finding_at(
                "P006", at, line=moves.line[over[0]], subject=keepout.name, height_mm=keepout.height
            )


def _pierces_on_parts(scene: Scene) -> Iterator[Finding]:
    """Yield pierces inside a part, or so near its edge that the pierce scars it."""
    if not scene.requested or not scene.torch.burns:
        return
    spots = np.array([b.pierce for b in scene.torch.burns])
    polygons = np.array([a.polygon for a in scene.requested], dtype=object)
    near, part = shapely.STRtree(polygons).query(
        shapely.points(spots), predicate="dwithin", distance=scene.kerf
    )
    for number, index in zip(near.tolist(), part.tolist(), strict=True):
        requested = scene.requested[index]
        edges = Edges.joined([Edges.of(c) for c in requested.profile.contours()])
        close = nearest(spots[number][None, :], edges)
        inside = bool(shapely.contains_xy(requested.polygon, *spots[number]))
        values = {"line": scene.line_of(number), "cut": number + 1, "subject": requested.label}
        if inside:
            yield finding_at("P007", spots[number], **values)
        elif close.distance[0] < NEAR * scene.kerf and not scene.lit_in_kerf[number]:
            severity = "stop" if close.distance[0] < SCARRED * scene.kerf else None
            yield finding_at(
                "P058", spots[number], off_mm=float(close.distance[0]), severity=severity, **values
            )


def _slack(scene: Scene) -> Iterator[Finding]:
    """Tell parts that would hang off if the plate lies off by what is allowed."""
    if not scene.requested:
        return
    x0, y0, x1, y1 = scene.plate_polygon.bounds
    room = scene.options.plate_shift + scene.options.plate_turn * float(np.hypot(x1 - x0, y1 - y0)) / 2
    border = scene.plate_polygon.boundary
    gaps = shapely.distance(np.array([a.polygon for a in scene.requested], dtype=object), border)
    for index in np.flatnonzero(gaps < room).tolist():
        requested = scene.requested[index]
        at = shapely.get_coordinates(shapely.shortest_line(requested.polygon, border))[0]
        if not shapely.covers(scene.plate_polygon, requested.polygon):
            yield finding_at("P073", at, subject=requested.label)
        else:
            yield finding_at("P025", at, subject=requested.label, gap_mm=float(gaps[index]), room_mm=room)


def _webs(scene: Scene) -> Iterator[Finding]:
    """Tell strips of metal inside a part that are too thin to survive the heat."""
    thickness = scene.thickness
    if thickness is None:
        return
    least = scene.options.least_web * thickness
    for match in scene.matches:
        if match.face is None:
            continue
        shape = scene.faces[match.face].polygon
        rings = [shape.exterior, *shape.interiors]
        if len(rings) < 2:
            continue
        tree = shapely.STRtree(rings)
        a, b = tree.query(np.array(rings, dtype=object), predicate="dwithin", distance=least)
        for i, j in zip(a.tolist(), b.tolist(), strict=True):
            if i < j:
                line = shapely.shortest_line(rings[i], rings[j])
                at = shapely.get_coordinates(line)[0]
                yield finding_at(
                    "P033",
                    at,
                    subject=scene.requested[match.requested].label,
                    web_mm=float(line.length),
                    least_mm=least,
                )
