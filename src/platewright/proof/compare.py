"""Each piece as cut against the part asked for: which piece is which part, and how far each edge is off.

Method
------
A part is the face that covers most of it. Its edge as cut is a ring of the face; each point of that ring is first put
back on the true edge (at exactly half a kerf from the nearest torch path, or on the plate's own edge), then measured to
the nearest true line or arc of the contour asked for: positive outside the metal asked for (metal stands proud),
negative inside it (metal is gone). Corners of the asked contour are measured the other way too, so that a lost corner
is seen. Inner corners keep a fillet of half a kerf that no torch can avoid; ``judged`` leaves it out.

Cost: points of the piece times edges near it. Limits: a piece is compared with one part only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.geometry import Contour, Floats, Profile
from platewright.proof.burns import Torch
from platewright.proof.edges import Edges, nearest
from platewright.proof.faces import Face, flat_profile
from platewright.proof.model import Deviation

__all__ = [
    "Asked",
    "Match",
    "compare_contour",
    "corner_room",
    "judged",
    "match_faces",
    "only_inside_corners",
    "summed",
    "true_ring",
]

_STEP = 10.0
"""Longest stretch of edge one measured point stands for [mm]."""

_SAME = 0.5
"""A face is a part if their common area is at least this share of both together [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """A shape asked for, in plate coordinates [mm]: label, profile, its polygon, its index in the layout (None: a drawing)."""

    label: str
    profile: Profile
    polygon: Any
    placement: int | None

    @staticmethod
    def of(label: str, profile: Profile, placement: int | None) -> Asked:
        """Make one from a profile [mm]."""
        return Asked(label, profile, flat_profile(profile, 0.01), placement)


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """An asked part and the face that is it, with holes paired: hole of the part -> ring of the face, or None."""

    asked: int
    face: int | None
    overlap: float
    holes: tuple[int | None, ...] = ()
    extra: tuple[int, ...] = ()


def match_faces(asked: list[Asked], faces: list[Face]) -> list[Match]:
    """Return for each asked part the face that covers most of it, if they are alike enough [-]."""
    if not asked:
        return []
    outers = np.array([shapely.polygons(f.polygon.exterior) for f in faces], dtype=object)
    wanted = np.array([shapely.polygons(a.polygon.exterior) for a in asked], dtype=object)
    want, face = shapely.STRtree(outers).query(wanted, predicate="intersects")
    sizes, own = shapely.area(outers), shapely.area(wanted)
    near = np.minimum(sizes[face], own[want]) / np.maximum(sizes[face], own[want]) >= _SAME
    want, face = want[near], face[near]
    common = shapely.area(shapely.intersection(outers[face], wanted[want]))
    share = common / (sizes[face] + own[want] - common)
    best: dict[int, tuple[float, int]] = {}
    for w, f, s in zip(want.tolist(), face.tolist(), share.tolist(), strict=True):
        if s >= _SAME and s > best.get(w, (0.0, -1))[0]:
            best[w] = (s, f)
    found = []
    for i, part in enumerate(asked):
        if i not in best:
            found.append(Match(i, None, 0.0))
            continue
        overlap, number = best[i]
        holes, extra = _pair_holes(part, faces[number])
        found.append(Match(i, number, overlap, holes, extra))
    return found


def _pair_holes(part: Asked, face: Face) -> tuple[tuple[int | None, ...], tuple[int, ...]]:
    """Pair the holes asked for with the rings cut, by common area."""
    cut = [shapely.polygons(r) for r in face.polygon.interiors]
    pairs: list[int | None] = []
    for ring in part.polygon.interiors:
        hole = shapely.polygons(ring)
        common = [float(hole.intersection(c).area) for c in cut]
        best = int(np.argmax(common)) if common else -1
        good = best >= 0 and common[best] > 0.4 * hole.area
        pairs.append(best if good else None)
    return tuple(pairs), tuple(i for i in range(len(cut)) if i not in pairs)


def true_ring(ring: Floats, torch: Torch, *, near: NDArray[np.intp], plate: Edges) -> Floats:
    """Return ring points put back on the true edge of the kerf or of the plate [mm].

    Parameters
    ----------
    ring : (M, 2) points of a face's ring [mm]
    torch : what was cut
    near : edges of the torch path that can border it
    plate : the plate's own edges
    """
    edges = torch.edges.taken(near)
    half = torch.kerf[near] / 2
    if not len(edges):
        return ring
    close = nearest(ring, edges, slack=half)
    gap = close.distance - half[close.edge]
    away = ring - close.foot
    size = np.hypot(away[:, 0], away[:, 1])
    usable = (np.abs(gap) < 0.2) & (size > 1e-9)
    scale = np.where(usable, half[close.edge] / np.where(size > 1e-9, size, 1.0), 1.0)
    moved = np.where(usable[:, None], close.foot + away * scale[:, None], ring)
    to_plate = nearest(ring, plate)
    on_plate = to_plate.distance < np.abs(gap)
    return np.where(on_plate[:, None], to_plate.foot, moved)


def densified(ring: Floats, step: float = _STEP) -> tuple[Floats, Floats]:
    """Return ring points no more than `step` apart and the length each stands for [mm]."""
    following = np.roll(ring, -1, axis=0)
    length = np.hypot(*(following - ring).T)
    count = np.maximum(1, np.ceil(length / step)).astype(np.intp)
    owner = np.repeat(np.arange(len(ring)), count)
    part = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)) / count[owner]
    points = ring[owner] + part[:, None] * (following - ring)[owner]
    gap = length[owner] / count[owner]
    return points, (gap + np.roll(gap, 1)) / 2


def compare_contour(ring: Floats, weights: Floats, asked: Contour, *, number: int) -> Deviation:
    """Return how a ring as cut lies off an asked contour (outer counterclockwise, hole clockwise) [mm].

    Parameters
    ----------
    ring : (M, 2) true points of the ring [mm]
    weights : length each stands for [mm]
    asked : the contour asked for
    number : 0 for the outer, 1… for holes
    """
    near = nearest(ring, Edges.of(asked))
    values = np.where(near.side >= 0, -near.distance, near.distance)
    corners, lost = _corner_values(ring, asked)
    points, every = np.vstack([ring, corners]), np.concatenate([values, lost])
    return summed(points, every, np.concatenate([weights, np.zeros(len(lost))]), number=number)


def summed(points: Floats, every: Floats, heavy: Floats, *, number: int) -> Deviation:
    """Return signed deviations [mm] at points as a `Deviation`; points of no weight count for the worst only."""
    size = np.abs(every)
    at = int(size.argmax())
    order = np.argsort(size, kind="stable")
    reached = np.cumsum(heavy[order])
    p95 = float(size[order][min(np.searchsorted(reached, 0.95 * reached[-1]), len(order) - 1)])
    middle = np.argsort(every, kind="stable")
    half = np.cumsum(heavy[middle])
    median = float(every[middle][min(np.searchsorted(half, 0.5 * half[-1]), len(middle) - 1)])
    return Deviation(
        number, points, every, heavy, max(0.0, float(every.max())), min(0.0, float(every.min())),
        float(size[at]), p95, median, (float(points[at, 0]), float(points[at, 1])),
    )  # fmt: skip


def _corner_values(ring: Floats, asked: Contour) -> tuple[Floats, Floats]:
    """Return the asked vertices and how far the ring passes them by, signed [mm]."""
    loop = Edges.of(Contour.from_points(ring))
    near = nearest(asked.points, loop)
    return np.asarray(asked.points), np.where(near.side >= 0, near.distance, -near.distance)


def corner_room(asked: Contour, half_kerf: float) -> tuple[Floats, Floats, Floats]:
    """Return inner corners of the metal: places, how far a round kerf must leave metal standing, and how far round [mm].

    A corner whose free side opens by the angle phi keeps ``r/sin(phi/2) - r`` of metal, from ``r/tan(phi/2)`` before it
    (r half the kerf); corners nearly straight keep next to nothing.
    """
    edges = Edges.of(asked)
    heading_in = np.arctan2(*(edges.end - edges.start).T[::-1]) + edges.sweep / 2
    heading_out = np.arctan2(*(edges.end - edges.start).T[::-1]) - edges.sweep / 2
    turn = np.mod(np.roll(heading_out, -1) - heading_in + math.pi, 2 * math.pi) - math.pi
    inner = np.flatnonzero(turn < -1e-3)
    opening = math.pi + turn[inner]
    half = np.maximum(opening, 1e-3) / 2
    room = half_kerf / np.sin(half) - half_kerf
    reach = np.maximum(half_kerf / np.tan(half), 0.0) + half_kerf
    places = edges.end[inner]
    tight = np.flatnonzero((edges.sweep < 0) & (edges.radius < half_kerf))
    if len(tight):
        places = np.vstack([places, edges.start[tight], edges.end[tight]])
        reach = np.concatenate([reach, np.full(2 * len(tight), 3 * half_kerf)])
        room = np.concatenate([room, np.full(2 * len(tight), 3 * half_kerf)])
    return places, room, reach


def only_inside_corners(
    deviation: Deviation, values: Floats, asked: Contour, *, half_kerf: float, look: float
) -> bool:
    """Tell whether all that is off by more than `look` is metal left in inside corners, as a fillet leaves it [mm]."""
    off = np.flatnonzero(np.abs(values) > look)
    places, room, reach = corner_room(asked, half_kerf)
    if not len(places) or (values[off] < 0).any():
        return False
    scale = np.where(room > 0, np.maximum(reach - half_kerf, half_kerf) / np.maximum(room, 1e-9), 0.0)
    gap = np.hypot(
        deviation.points[off, 0, None] - places[:, 0], deviation.points[off, 1, None] - places[:, 1]
    )
    return bool((gap <= reach + scale * deviation.high).any(axis=1).all())


def judged(deviation: Deviation, asked: Contour, half_kerf: float) -> Floats:
    """Return the deviations with what a round kerf must leave in inner corners taken off [mm]."""
    places, room, reach = corner_room(asked, half_kerf)
    if not len(places):
        return deviation.values
    values = deviation.values.copy()
    proud = np.flatnonzero(values > 0)
    if not len(proud):
        return values
    gap = np.hypot(
        deviation.points[proud, 0, None] - places[:, 0], deviation.points[proud, 1, None] - places[:, 1]
    )
    spare = np.where(gap <= reach + 0.05, room, 0.0).max(axis=1)
    values[proud] = np.maximum(0.0, values[proud] - spare - 0.01)
    return values
