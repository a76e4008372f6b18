"""Checks of the order: what is cut after it came loose, what the torch travels over, and what it crosses."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.findings import Finding
from platewright.proof.faces import Face
from platewright.proof.scene import Scene, finding_at

__all__ = ["check_order"]

_ALONG = 0.2
"""Paths this close run along one another [mm]."""

_BESIDE = 0.6
"""Paths closer than this share of the kerf run half over one another's kerf [-]."""

_AGAIN = 0.75
"""A burn that runs along an older one for this part of its length is that burn again [-]; less is a shared edge."""

_BESIDE_KERF = 0.05
"""A place this near a burn's kerf lies along it [mm]: only rounding parts them."""

_TWICE_LEAST, _TWICE, _WHOLE = 8.0, 0.3, 0.4
"""A burn may run over its own kerf for so long [mm], or this share of its length [-] (overburn); from the last share on it went round twice."""

_OVERBURN = 25.0
"""Longest stretch of a contour that overburn may cut twice [mm]."""

_SAME = 0.01
"""Places this near each other are one [mm]."""

_ROUND = 0.9
"""Share of a circle's area, at equal length of edge, from which a hole counts as round [-]; a square has 0.785."""


def check_order(scene: Scene) -> Iterator[Finding]:
    """Yield what is wrong with the order [mm]."""
    yield from _cut_when_loose(scene)
    yield from _travel(scene)
    yield from _crossings(scene)
    yield from _made_again(scene)
    yield from _own_twice(scene)
    yield from _small_holes(scene)
    yield from _direction(scene)


def _cut_when_loose(scene: Scene) -> Iterator[Finding]:
    """Yield burns lit or run inside a piece that an earlier burn had freed, of this program or of one run before it."""
    loose = [i for i, f in enumerate(scene.faces) if f.before or f.loose_after is not None]
    burns = scene.torch.burns
    if not loose or not burns:
        return
    owner = {m.face: scene.requested[m.requested].label for m in scene.matches if m.face is not None}
    shells = np.array([shapely.polygons(scene.faces[i].polygon.exterior) for i in loose], dtype=object)
    spots = np.array([*(_middle(scene, n) for n in range(len(burns))), *(b.pierce for b in burns)])
    points = shapely.points(spots)
    # the burn's own kerf parts the place it was lit at from the piece; an older kerf, or none, was there before
    room = np.repeat([0.0, scene.kerf / 2 + _BESIDE_KERF], len(burns))
    spot, shell = shapely.STRtree(shells).query(points, predicate="dwithin", distance=room)
    number = spot % len(burns)
    open_ = np.concatenate([np.ones(len(burns), dtype=bool), scene.lit_in_the_open])
    inside = shapely.contains(shells[shell], points[spot]) | ~open_[spot]
    reported: set[tuple[int, int]] = set()
    for k in np.lexsort((spot, shell, number)).tolist():
        at, face = int(number[k]), loose[int(shell[k])]
        if not inside[k] or (at, face) in reported or scene.rest[at]:
            continue
        if not scene.face_loose_before(at, scene.faces[face]):
            continue
        reported.add((at, face))
        first, before = scene.faces[face].loose_after or 0, scene.faces[face].before
        yield finding_at(
            "P013" if face in owner else "P015", spots[spot[k]], line=scene.line_of(at), cut=at + 1,
            first="the program before" if before else f"cut {first + 1}", subject=owner.get(face, ""),
        )  # fmt: skip


def _middle(scene: Scene, number: int) -> tuple[float, float]:
    """Return a point halfway along a burn's edges, which lies on its contour rather than its lead [mm]."""
    burn = scene.torch.burns[number]
    if burn.edge_first == burn.edge_last:
        return burn.pierce
    edge = (burn.edge_first + burn.edge_last) // 2
    x, y = scene.torch.edges.start[edge]
    return float(x), float(y)


def _sides(polygon: Any) -> tuple[float, float]:
    """Return the shorter and the longer side of the smallest box about a polygon [mm]."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon))
    if len(corners) < 4:
        return 0.0, 0.0
    one, two = np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[2] - corners[1]))
    return float(min(one, two)), float(max(one, two))


def _travel(scene: Scene) -> Iterator[Finding]:
    """Yield low travel over loose pieces, ways down onto them where nothing is lit, and travel over small ones that may have tipped up."""
    if not scene.heights_known:
        return
    moves = scene.run.moves
    loose = [
        f
        for f in scene.faces
        if (f.before or f.loose_after is not None) and f.polygon.area > 4 * scene.kerf**2
    ]
    if not loose:
        return
    tree = shapely.STRtree([f.polygon for f in loose])
    moves_over, ways = _ways_over(scene)
    line, piece = tree.query(ways, predicate="intersects")
    ends = np.array([0 if f.before else scene.torch.burns[f.loose_after or 0].last for f in loose])
    move = moves_over[line]
    later = move >= ends[piece]
    height = np.minimum(moves.start[move, 2], moves.end[move, 2])
    reported_faces: set[int] = set()
    for k in np.flatnonzero(later).tolist():
        face = loose[int(piece[k])]
        if int(piece[k]) in reported_faces:
            continue
        found = _over_loose(scene, face, float(height[k]), int(moves.line[move[k]]))
        if found is not None:
            reported_faces.add(int(piece[k]))
            yield found


def _ways_over(scene: Scene) -> tuple[NDArray[np.intp], Any]:
    """Return travels, and moves straight down to a place where no torch is lit, with their ways over the plate [mm]."""
    down = shapely.points(scene.run.moves.end[scene.plunges, :2])
    lit = shapely.STRtree(shapely.points([b.pierce for b in scene.torch.burns]))
    idle = np.setdiff1d(np.arange(len(down)), lit.query(down, predicate="dwithin", distance=_SAME)[0])
    return np.concatenate([scene.travels, scene.plunges[idle]]), np.concatenate(
        [scene.travel_lines, down[idle]]
    )


def _over_loose(scene: Scene, face: Face, height: float, line: int) -> Finding | None:
    at = shapely.get_coordinates(face.polygon.point_on_surface())[0]
    if height < scene.options.least_travel:
        return finding_at("P014", at, line=line, height_mm=height)
    side = _sides(face.polygon)[0]
    tips = side < scene.options.slat_pitch and face.polygon.area > 400 and not _of_the_rest(scene, face)
    if tips and height < side / 2:
        return finding_at("P032", at, line=line, height_mm=height, side_mm=side)
    return None


def _of_the_rest(scene: Scene, face: Face) -> bool:
    """Tell whether a face is a piece of the rest that lies over several slats."""
    long = _sides(face.polygon)[1] > 2 * scene.options.slat_pitch
    return long and face.loose_after is not None and bool(scene.rest[face.loose_after])


def _crossings(scene: Scene) -> Iterator[Finding]:
    """Yield later burns that run along or across an earlier kerf."""
    strands, torch = scene.strands, scene.torch
    if len(strands.burn) < 2:
        return
    a, b = scene.tree.query(strands.polygons, predicate="intersects")
    pairs: dict[tuple[int, int], tuple[set[int], set[int]]] = {}
    for i, j in zip(a.tolist(), b.tolist(), strict=True):
        if strands.burn[i] < strands.burn[j]:
            older, newer = pairs.setdefault((int(strands.burn[i]), int(strands.burn[j])), (set(), set()))
            older.add(i)
            newer.add(j)
    live_known = bool(torch.follow.any())
    for (first, second), (older, newer) in sorted(pairs.items()):
        paths = [shapely.union_all(strands.lines[sorted(some)]) for some in (older, newer)]
        along, beside = (
            shapely.intersection(paths[1], shapely.buffer(paths[0], room))
            for room in (_ALONG, _BESIDE * scene.kerf)
        )
        burn = torch.burns[second]
        whole = float(torch.length[burn.edge_first : burn.edge_last].sum())
        again = along.length > max(_AGAIN * whole, _TWICE_LEAST)
        if again or beside.length > max(_OVERBURN, 5 * scene.kerf):
            at = shapely.get_coordinates(beside)[0]
            yield finding_at(
                "P012",
                at,
                severity="stop" if again else "look",
                line=scene.line_of(second),
                cut=second + 1,
                first=f"cut {first + 1}",
                length_mm=float((along if again else beside).length),
            )
        elif live_known:
            for i in sorted(older):
                yield from _live_over(scene, second, i)


def _live_over(scene: Scene, second: int, first_strand: int) -> Iterator[Finding]:
    """Yield one finding if height control follows where a burn crosses an earlier kerf."""
    torch, burn = scene.torch, scene.torch.burns[second]
    index = np.arange(burn.edge_first, burn.edge_last)
    live = index[torch.follow[index]]
    if not len(live):
        return
    ends = np.stack([torch.edges.start[live], torch.edges.end[live]], axis=1)
    hit = shapely.intersects(shapely.linestrings(ends), scene.strands.polygons[first_strand])
    if hit.any():
        edge = int(live[np.flatnonzero(hit)[0]])
        yield finding_at("P016", torch.edges.start[edge], line=torch.line[edge], cut=second + 1)


def _made_again(scene: Scene) -> Iterator[Finding]:
    """Yield burns that the program before has made already; one whose arc was lost may be run again."""
    if not scene.made:
        return
    room = shapely.buffer(shapely.union_all(scene.made), _ALONG - scene.kerf / 2)
    strands, torch = scene.strands, scene.torch
    along = np.bincount(
        strands.burn, shapely.length(shapely.intersection(strands.lines, room)), minlength=len(torch.burns)
    )
    for number, burn in enumerate(torch.burns):
        whole = float(torch.length[burn.edge_first : burn.edge_last].sum())
        if along[number] > max(_AGAIN * whole, _TWICE_LEAST):
            yield finding_at(
                "P012", burn.pierce, line=burn.line, cut=number + 1, first="the program before",
                length_mm=float(along[number]),
            )  # fmt: skip


def _own_twice(scene: Scene) -> Iterator[Finding]:
    """Yield burns that run over their own kerf: the area they sweep is less than their length and width would part."""
    strands, torch = scene.strands, scene.torch
    order = np.argsort(strands.burn, kind="stable")
    ends = np.searchsorted(strands.burn[order], np.arange(len(torch.burns) + 1))
    for number, burn in enumerate(torch.burns):
        mine = slice(burn.edge_first, burn.edge_last)
        length = float(torch.length[mine].sum())
        if length < _TWICE_LEAST:
            continue
        own = strands.polygons[order[ends[number] : ends[number + 1]]]
        swept = float((own[0] if len(own) == 1 else shapely.union_all(own)).area)
        kerf = float((torch.length[mine] * torch.kerf[mine]).sum()) / length
        again = length - (swept - math.pi * kerf**2 / 4) / kerf
        if again > max(_TWICE_LEAST, _TWICE * length):
            yield finding_at(
                "P012", burn.pierce, line=burn.line, cut=number + 1, first=f"cut {number + 1}", length_mm=again,
                severity="stop" if again > _WHOLE * length else "look",
            )  # fmt: skip


def _small_holes(scene: Scene) -> Iterator[Finding]:
    """Yield holes too small for the chart, and small ones cut with height control live."""
    thickness = scene.thickness
    if thickness is None:
        return
    for match in scene.matches:
        if match.face is None:
            continue
        for number, ring in enumerate(scene.faces[match.face].polygon.interiors, 1):
            hole = shapely.polygons(ring)
            across, longest = _sides(hole)
            at = shapely.get_coordinates(hole.centroid)[0]
            subject = scene.requested[match.requested].label
            if scene.row is not None and across < scene.row.smallest_hole - 0.1:
                yield finding_at(
                    "P042", at, subject=subject, across_mm=across, least_mm=scene.row.smallest_hole
                )
            if longest <= scene.options.small_hole * thickness and _round(hole) and _followed(scene, hole):
                yield finding_at("P017", at, subject=subject, across_mm=longest, hole=number)


def _round(hole: Any) -> bool:
    """Tell whether a hole is about as round as a circle (a square is not)."""
    return bool(4 * math.pi * hole.area > _ROUND * hole.length**2)


def _followed(scene: Scene, hole: Any) -> bool:
    torch = scene.torch
    if not torch.follow.any():
        return False
    near = scene.edges_near(hole.bounds, 0.0)
    near = near[torch.follow[near]]
    spots = torch.edges.taken(near).middles()
    return bool(shapely.contains_xy(hole, spots[:, 0], spots[:, 1]).any())


def _direction(scene: Scene) -> Iterator[Finding]:
    """Yield part outlines and holes run so that the bevelled side of the kerf falls on the part."""
    if scene.table is None or not scene.contours or not len(scene.torch.edges):
        return
    clockwise = scene.table.swirl == "clockwise"
    which, follows = scene.followed
    burns = [
        set(which[b.edge_first : b.edge_last][follows[b.edge_first : b.edge_last]]) for b in scene.torch.burns
    ]
    wrong: list[tuple[int, str]] = []
    for k, (requested, number, _) in enumerate(scene.contours):
        mine = [n for n, along in enumerate(burns) if k in along]
        if len(mine) != 1 or len(burns[mine[0]]) != 1:
            continue  # in stretches, or of one burn with others: no way round of its own
        area = _turned(scene, mine[0])
        about = scene.deliberate.turned_about(requested.placement, number)
        if area != 0 and (((area > 0) == clockwise) == (number == 0)) != about:
            wrong.append((mine[0], requested.label if number == 0 else f"{requested.label}, hole {number},"))
    if wrong:
        burn, subject = wrong[0]
        place, line = scene.torch.burns[burn].pierce, scene.line_of(burn)
        yield finding_at("P063", place, line=line, count=len(wrong), subject=subject)


def _turned(scene: Scene, number: int) -> float:
    """Return the area a burn encloses, positive counterclockwise [mm²]."""
    burn = scene.torch.burns[number]
    edges = scene.torch.edges.taken(slice(burn.edge_first, burn.edge_last))
    x, y = (edges.start - edges.start[0]).T
    far = edges.end - edges.start[0]
    middle = float(np.dot(x, far[:, 1]) - np.dot(y, far[:, 0])) / 2
    round_ = edges.sweep != 0
    sweep, radius = edges.sweep[round_], edges.radius[round_]
    return middle + float((radius**2 * (sweep - np.sin(sweep))).sum()) / 2
