"""What the kerf leaves: the plate minus every kerf, as faces, and when each comes loose.

Words
-----
strand : a stretch of one burn with one kerf width; void : everything that is not plate (outside it, and its old
holes); cluster : strands and voids that touch one another; face : a piece of metal closed in by a cluster.

Method
------
Each strand is flattened within a stated chord error and swept by a polygon library (round ends). Strands that touch
are joined; a cluster's inner rings are what it cuts out, less the clusters lying inside. The plate's outside is a
cluster like any other, so a plate cut in two falls out of the same rule. A face comes loose with the burn that closes
its ring, found by joining the cluster's strands in burning order. Polygons decide topology only: edges are put back
on exact offsets of the true torch path by ``compare``.

Cost: near linear in the number of points for separate cuts; quadratic in the strands of one cluster.
Limits: cuts that leave less than a hundredth of a millimetre between them may be taken as joined.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.geometry import Contour, Floats, Profile, flatten
from platewright.proof.burns import Torch
from platewright.proof.edges import Edges

__all__ = [
    "Face", "Strands", "begun_of", "faces_of", "flat_profile", "flattened", "is_tangled", "sweep_strands",
]  # fmt: skip

_QUADRANT = 8
"""Chords in a quarter of a swept round end [-]: 0.5 % of half the kerf, and put back on truth later."""

_SAMPLE, _MEETINGS, _MOST = 200, 12.0, 30_000.0
"""Lit moves looked at, and meetings with other moves each [-] and in all [-] from which cuts count as tangled.

A cut meets its two neighbours and now and then a kerf it crosses; a torch that is never put out meets hundreds.
"""

_AT_EDGE = 0.001
"""A piece nearer to the outside of the plate than this reaches the plate's edge [mm]: rounding only, as a kerf parts the others from it."""

_MARGIN = 50.0
"""How far the void reaches beyond everything [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Strands:
    """Swept stretches of torch path.

    Attributes
    ----------
    polygons : shapely polygons [mm]
    lines : the paths as shapely lines [mm]
    burn : burn of each
    """

    polygons: NDArray[np.object_]
    lines: NDArray[np.object_]
    burn: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """A piece of metal [mm]: polygon, the burn that freed it (None: none of this program), burns whose kerf it borders, whether it was loose before."""

    polygon: Any
    loose_after: int | None
    burns: tuple[int, ...]
    on_void: bool
    before: bool = False


def flattened(edges: Edges, tolerance: float) -> tuple[Floats, NDArray[np.intp]]:
    """Return chord points (edge starts and points within, not the ends) within a tolerance [mm], and their edges."""
    round_ = edges.sweep != 0
    radius = np.where(round_, edges.radius, 1.0)
    most = 2 * np.arccos(np.clip(1 - tolerance / np.maximum(radius, tolerance), -1, 1))
    most = np.clip(most, 1e-4, math.pi / 4)
    count = np.where(round_, np.ceil(np.abs(edges.sweep) / most), 1).astype(np.intp)
    count = np.maximum(count, 1)
    owner = np.repeat(np.arange(len(edges)), count)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    angle = edges.angle[owner] + edges.sweep[owner] * step / count[owner]
    points = edges.centre[owner] + np.where(round_[owner], radius[owner], 0.0)[:, None] * np.column_stack(
        [np.cos(angle), np.sin(angle)]
    )
    points[step == 0] = edges.start[owner[step == 0]]
    return points, owner


def _strand_numbers(torch: Torch) -> NDArray[np.intp]:
    """Return the number of the stretch each edge belongs to: those of one burn, one kerf and joined ends."""
    burn, kerf, edges = torch.burn, torch.kerf, torch.edges
    gap = np.hypot(*(edges.start[1:] - edges.end[:-1]).T) > 1e-6
    fresh = (burn[1:] != burn[:-1]) | (kerf[1:] != kerf[:-1]) | gap
    return np.concatenate([[0], np.cumsum(fresh)]).astype(np.intp)


def is_tangled(torch: Torch) -> bool:
    """Tell whether cuts run over one another so often that pieces cannot be told in reasonable time [-].

    Crossings are counted for an even sample of the lit moves.
    """
    count = len(torch.edges)
    if count < _SAMPLE:
        return False
    moves = shapely.linestrings(np.stack([torch.edges.start, torch.edges.end], axis=1))
    sample = moves[np.linspace(0, count - 1, _SAMPLE).astype(np.intp)]
    met = len(shapely.STRtree(moves).query(sample, predicate="intersects")[0]) / _SAMPLE
    return met > _MEETINGS and met * count > _MOST


def sweep_strands(torch: Torch, *, tolerance: float, pierce_kerf: float) -> Strands:
    """Return the kerf of every strand as a polygon, paths flattened within `tolerance` [mm].

    A burn that never moves leaves a round hole of `pierce_kerf` [mm].
    """
    lines, radii, burns = list[Any](), list[Floats](), list[NDArray[np.intp]]()
    if len(torch.edges):
        number = _strand_numbers(torch)
        points, owner = flattened(torch.edges, tolerance)
        last = np.flatnonzero(np.diff(number, append=-1))
        points = np.concatenate([points, torch.edges.end[last]])
        belongs = np.concatenate([number[owner], number[last]])
        order = np.argsort(belongs, kind="stable")
        lines.append(shapely.linestrings(points[order], indices=belongs[order]))
        radii.append(torch.kerf[last] / 2)
        burns.append(torch.burn[last])
    still = [n for n, b in enumerate(torch.burns) if b.edge_first == b.edge_last]
    if still:
        lines.append(shapely.points([torch.burns[n].pierce for n in still]))
        radii.append(np.full(len(still), pierce_kerf / 2))
        burns.append(np.array(still, dtype=np.intp))
    if not lines:
        nothing = np.empty(0, dtype=object)
        return Strands(nothing, nothing, np.empty(0, dtype=np.intp))
    path, radius = np.concatenate(lines), np.concatenate(radii)
    return Strands(shapely.buffer(path, radius, quad_segs=_QUADRANT), path, np.concatenate(burns))


def begun_of(strands: Strands, burn: int, lost: tuple[float, float], *, kerf: float) -> list[Any]:
    """Return the kerf of one burn [-] from its pierce to where its arc went out [mm], strand by strand, as polygons."""
    from shapely.ops import substring

    mine = [
        i for i in np.flatnonzero(strands.burn == burn).tolist() if strands.lines[i].geom_type == "LineString"
    ]
    if not mine:
        return []
    spot = shapely.Point(lost)
    last = min(range(len(mine)), key=lambda k: strands.lines[mine[k]].distance(spot))
    line = strands.lines[mine[last]]
    part = substring(line, 0.0, line.project(spot))
    return [*(strands.polygons[i] for i in mine[:last]), part.buffer(kerf / 2, quad_segs=_QUADRANT)]


def flat_profile(profile: Profile, tolerance: float) -> Any:
    """Return a profile as a shapely polygon with chords within `tolerance` [mm]."""
    return shapely.polygons(
        shapely.linearrings(_ring(profile.outer, tolerance)),
        holes=[shapely.linearrings(_ring(h, tolerance)) for h in profile.holes] or None,
    )


def _ring(contour: Contour, tolerance: float) -> Floats:
    return flatten(contour, tolerance=tolerance)


def _voids(plate: Profile, extra: Any, tolerance: float) -> list[Any]:
    """Return the outside of the plate and its old holes as polygons."""
    outer = shapely.polygons(_ring(plate.outer, tolerance))
    x0, y0, x1, y1 = shapely.total_bounds([outer, *([extra] if extra is not None else [])])
    frame = shapely.box(x0 - _MARGIN, y0 - _MARGIN, x1 + _MARGIN, y1 + _MARGIN)
    holes = [shapely.polygons(_ring(h, tolerance)) for h in plate.holes]
    return [frame.difference(outer), *holes]


def _clusters(polygons: NDArray[np.object_]) -> NDArray[np.intp]:
    """Return the cluster number of each polygon: those that touch, directly or through others."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    tree = shapely.STRtree(polygons)
    a, b = tree.query(polygons, predicate="intersects")
    graph = coo_array((np.ones(len(a), dtype=np.int8), (a, b)), shape=(len(polygons), len(polygons)))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.intp)


def _polygon_parts(shape: Any) -> list[Any]:
    return [g for g in shapely.get_parts(shape) if g.geom_type == "Polygon" and not g.is_empty]


def _rings(shape: Any) -> list[Any]:
    """Return the inner rings of a polygon or multipolygon as polygons."""
    return [shapely.polygons(ring) for part in _polygon_parts(shape) for ring in part.interiors]


def _inside(rings: list[Any], spots: Floats) -> NDArray[np.intp]:
    """Return for each spot the smallest ring it lies in, or -1."""
    answer = np.full(len(spots), -1, dtype=np.intp)
    if not rings or not len(spots):
        return answer
    tree = shapely.STRtree(rings)
    spot, ring = tree.query(shapely.points(spots), predicate="within")
    area = shapely.area(np.array(rings, dtype=object))
    for k in np.argsort(-area[ring], kind="stable"):
        answer[spot[k]] = ring[k]
    return answer


def _loosened(
    polygons: NDArray[np.object_], burn: NDArray[np.intp], spots: Floats, anchor: Floats | None
) -> list[int | None]:
    """Return for each spot in one cluster the burn that frees it.

    A spot is free once a ring of the kerf burned so far holds it. Where the cluster has voids (burn -1) the plate itself
    is such a ring: there a spot is free once it no longer shares its ring with `anchor`, the middle of the skeleton.
    """
    moments = sorted({int(b) for b in burn if b >= 0})
    if len(moments) <= 1 and anchor is None:
        return [moments[0] if moments else None] * len(spots)
    answer: list[int | None] = [None] * len(spots)
    grown: Any = shapely.union_all(polygons[burn < 0]) if (burn < 0).any() else None
    for moment in moments:
        added = list(polygons[burn == moment])
        grown = shapely.union_all(added if grown is None else [grown, *added])
        open_ = [i for i, a in enumerate(answer) if a is None]
        if not open_:
            break
        rings = _rings(grown)
        held = _inside(rings, spots[open_])
        base = -1 if anchor is None else int(_inside(rings, anchor[None, :])[0])
        for i, ring in zip(open_, held, strict=True):
            if ring != base and ring >= 0:
                answer[i] = moment
    return answer


def _free_before(voids: NDArray[np.object_], spots: Floats, anchor: Floats | None) -> NDArray[np.bool_]:
    """Tell which spots of a cluster [mm] its voids alone part from `anchor`: a program before this one freed them."""
    if anchor is None:
        return np.zeros(len(spots), dtype=bool)
    rings = _rings(shapely.union_all(voids))
    held = _inside(rings, spots)
    return np.asarray((held >= 0) & (held != _inside(rings, anchor[None, :])[0]), dtype=np.bool_)


@dataclass(frozen=True, slots=True, eq=False)
class _Cluster:
    shape: Any
    members: NDArray[np.intp]
    has_void: bool


def _joined(polygons: NDArray[np.object_], burn: NDArray[np.intp]) -> list[_Cluster]:
    number = _clusters(polygons)
    order = np.argsort(number, kind="stable")
    found = []
    for members in np.split(order, np.flatnonzero(np.diff(number[order])) + 1):
        shape = polygons[members[0]] if len(members) == 1 else shapely.union_all(polygons[members])
        found.append(_Cluster(shape, members, bool((burn[members] < 0).any())))
    return found


def faces_of(plate: Profile, strands: Strands, *, tolerance: float, gone: Sequence[Any] = ()) -> list[Face]:
    """Return every piece of metal the kerfs leave of a plate [mm], the largest untouched one (the skeleton) first.

    Parameters
    ----------
    plate : outline and old holes [mm]
    strands : every kerf
    tolerance : chord error of the plate's outline [mm]
    gone : polygons of what was burned away before
    """
    cut = [*strands.polygons, *gone]
    extra = shapely.box(*shapely.total_bounds(cut)) if cut else None
    voids = [*_voids(plate, extra, tolerance), *gone]
    polygons = np.concatenate([np.array(voids, dtype=object), strands.polygons])
    burn = np.concatenate([np.full(len(voids), -1, dtype=np.intp), strands.burn])
    clusters = _joined(polygons, burn)
    shells, owner = list[Any](), list[int]()
    for number, cluster in enumerate(clusters):
        rings = _rings(cluster.shape)
        shells += rings
        owner += [number] * len(rings)
    within = _parents(clusters, shells, owner)
    return _built(clusters, shells, owner, within, polygons, burn)


def _parents(clusters: list[_Cluster], shells: list[Any], owner: list[int]) -> dict[int, list[Any]]:
    """Return for each shell the outer rings of the clusters lying right inside it."""
    tree = shapely.STRtree(shells)
    area = shapely.area(np.array(shells, dtype=object))
    found: dict[int, list[Any]] = {}
    parts = [(n, part) for n, c in enumerate(clusters) for part in _polygon_parts(c.shape)]
    spots = shapely.points([part.exterior.coords[0] for _, part in parts])
    spot, shell = tree.query(spots, predicate="within")
    best: dict[int, int] = {}
    for k, s in zip(spot, shell, strict=True):
        if owner[s] != parts[k][0] and (k not in best or area[s] < area[best[k]]):
            best[int(k)] = int(s)
    for k, s in best.items():
        found.setdefault(s, []).append(parts[k][1].exterior)
    return found


def _built(
    clusters: list[_Cluster], shells: list[Any], owner: list[int], within: dict[int, list[Any]],
    polygons: NDArray[np.object_], burn: NDArray[np.intp],
) -> list[Face]:  # fmt: skip
    shapes = [shapely.polygons(s.exterior, holes=within.get(i)) for i, s in enumerate(shells)]
    spots = shapely.get_coordinates(shapely.point_on_surface(np.array(shapes, dtype=object)))
    area = shapely.area(np.array(shapes, dtype=object))
    on_void = [clusters[n].has_void for n in owner]
    # a part may be larger than what is left of the plate, or than any piece that is cut into: only that lies at the plate's outside
    edge = next(n for n, cluster in enumerate(clusters) if 0 in cluster.members)
    bordering = shapely.distance(np.array(shells, dtype=object), polygons[0]) < _AT_EDGE
    skeleton = max(
        (i for i, number in enumerate(owner) if number == edge),
        key=lambda i: (bool(bordering[i]), float(area[i])),
        default=None,
    )
    faces: list[Face | None] = [None] * len(shapes)
    by_owner: dict[int, list[int]] = {}
    for i, number in enumerate(owner):
        by_owner.setdefault(number, []).append(i)
    for number, cluster in enumerate(clusters):
        mine = by_owner.get(number, [])
        if not mine:
            continue
        anchor = spots[skeleton] if cluster.has_void and skeleton is not None else None
        loose = _loosened(polygons[cluster.members], burn[cluster.members], spots[mine], anchor)
        before = _free_before(polygons[cluster.members][burn[cluster.members] < 0], spots[mine], anchor)
        touching = tuple(sorted({int(b) for b in burn[cluster.members] if b >= 0}))
        for i, when, was in zip(mine, loose, before.tolist(), strict=True):
            faces[i] = Face(shapes[i], None if i == skeleton else when, touching, on_void[i], was)
    ordered = [f for f in faces if f is not None]
    if skeleton is not None and faces[skeleton] is not None:
        first = faces[skeleton]
        ordered = [f for f in (first, *(f for f in ordered if f is not first)) if f is not None]
    return ordered
