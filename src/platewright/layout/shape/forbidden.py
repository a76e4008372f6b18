"""Places a shape's origin may not take: Minkowski differences of loops with holes.

Glossary
--------
overlapping_shifts(A, B) : for still loops A and moving loops B at a fixed turn, the shifts at which B shares a point with A
within(H, B) : the shifts at which B lies wholly inside loop H
pieces : a loop cut into convex polygons (constrained triangles, then merged while convex)

Method: solids are cut into convex pieces; the difference of two convex pieces is convex and found by merging their
edges by direction; the union of all piece pairs is the forbidden region of the solids. A hole of A that can hold B
takes ``within`` back out (and a hole of B that can hold A likewise). ``within`` of a convex loop is a cut of half
planes pushed in by B's reach along each normal; of any other loop, that of its hull less the pockets' differences.
(Minkowski sums of convex polygons: Guibas and Seidel 1987; the rest is bookkeeping.)

Cost: pieces of A times pieces of B times their edges, unioned by the integer polygon library on a 0.1 micrometre
grid. A shift on the edge of a forbidden region touches; callers keep ``problem``'s slack.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.shape.convex_kernels import (
    convex_difference,
    convex_erosion,
    hull,
    is_convex,
    merged_convex,
)
from platewright.layout.shape.loops import GRID, Loops, joined, loops_area

__all__ = ["Solid", "outside_of", "overlapping_shifts", "pieces", "solid_of", "within"]


def pieces(loop: Floats) -> tuple[Floats, ...]:
    """Return a counterclockwise loop cut into convex counterclockwise polygons [mm]."""
    if is_convex(loop):
        return (loop,)
    import shapely

    polygon = shapely.Polygon(loop)
    if not polygon.is_valid:
        polygon = polygon.buffer(0)
    triangles = shapely.constrained_delaunay_triangles(polygon)
    corners = [np.asarray(t.exterior.coords)[:-1] for t in triangles.geoms]
    corners = [np.ascontiguousarray(c if loops_area((c,)) > 0 else c[::-1]) for c in corners]
    return _merged(corners)


def _merged(polygons: list[Floats]) -> tuple[Floats, ...]:
    """Merge neighbours over shared edges while the result stays convex (Hertel and Mehlhorn 1983), longest edge first."""
    live: dict[int, Floats] = dict(enumerate(polygons))
    owner: dict[tuple[float, ...], list[int]] = {}
    for key, polygon in live.items():
        for edge in _edge_keys(polygon):
            owner.setdefault(edge, []).append(key)
    parent = list(range(len(polygons)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    shared = [(e, o) for e, o in owner.items() if len(o) == 2]
    shared.sort(key=lambda p: -((p[0][0] - p[0][2]) ** 2 + (p[0][1] - p[0][3]) ** 2))
    for edge, (i, j) in shared:
        a, b = root(i), root(j)
        if a == b:
            continue
        one = merged_convex(live[a], live[b], edge[0], edge[1], edge[2], edge[3])
        if len(one):
            live[a] = one
            del live[b]
            parent[b] = a
    return tuple(live.values())


def _edge_keys(polygon: Floats) -> list[tuple[float, ...]]:
    ends = np.roll(polygon, -1, axis=0)
    return [
        (*a, *b) if a <= b else (*b, *a)
        for a, b in zip(map(tuple, polygon.tolist()), map(tuple, ends.tolist()), strict=True)
    ]


class Solid:
    """Loops with their convex pieces and hull, made once for each shape and turn."""

    __slots__ = ("high", "holes", "hull", "loops", "low", "pieces")

    def __init__(self, loops: Loops, parts: tuple[Floats, ...], hull: Floats) -> None:
        self.loops, self.pieces, self.hull = loops, parts, hull
        self.holes = tuple(np.ascontiguousarray(p[::-1]) for p in loops if loops_area((p,)) < 0)
        self.low, self.high = hull.min(axis=0), hull.max(axis=0)

    def turned(self, c: float, s: float) -> Solid:
        """Return the solid turned by an angle of cosine c and sine s [-]."""
        turn = np.array([[c, s], [-s, c]])
        return Solid(
            tuple(p @ turn for p in self.loops), tuple(p @ turn for p in self.pieces), self.hull @ turn
        )


def solid_of(loops: Loops) -> Solid:
    """Return loops made ready for differences [mm]."""
    outers = [p for p in loops if loops_area((p,)) > 0]
    parts = tuple(np.ascontiguousarray(q) for p in outers for q in pieces(np.ascontiguousarray(p)))
    return Solid(loops, parts, hull(np.vstack(outers)))


def _paths(polygons: Sequence[Floats]) -> list[Any]:
    return [np.round(p * GRID).astype(np.int64).tolist() for p in polygons]


def _clip(subject: Sequence[Floats], clip: Sequence[Floats], kind: str) -> Loops:
    import pyclipper

    if not subject:
        return ()
    box = pyclipper.Pyclipper()
    box.AddPaths(_paths(subject), pyclipper.PT_SUBJECT, True)
    if clip:
        box.AddPaths(_paths(clip), pyclipper.PT_CLIP, True)
    action = pyclipper.CT_UNION if kind == "union" else pyclipper.CT_DIFFERENCE
    paths = box.Execute(action, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    return tuple(np.array(p, dtype=np.float64) / GRID for p in paths if len(p) > 2)


def overlapping_shifts(still: Solid, moving: Solid) -> Loops:
    """Return the loops of shifts at which `moving` would share a point with `still` [mm]."""
    sums = [convex_difference(a, b) for a in still.pieces for b in moving.pieces]
    region = tuple(sums) if len(sums) == 1 else _clip(sums, (), "union")
    free: list[Floats] = [loop for hole in still.holes for loop in within(hole, moving)]
    for hole in moving.holes:
        free += [-loop for loop in within(hole, still)]
    return _clip(region, free, "difference") if free else region


def within(loop: Floats, moving: Solid) -> Loops:
    """Return the loops of shifts at which `moving` lies wholly inside a counterclockwise loop [mm]."""
    size = moving.high - moving.low
    if (np.ptp(loop, axis=0) < size).any():
        return ()
    convex = is_convex(loop)
    around = loop if convex else hull(loop)
    room = convex_erosion(around, moving.hull)
    if len(room) < 3:
        return ()
    if convex:
        return (room,)
    pockets = [p for p in joined((around,), (loop,)) if loops_area((p,)) > 1e-6]
    taken = [q for p in pockets for q in overlapping_shifts(solid_of((p,)), moving)]
    return _clip((room,), taken, "difference")


def outside_of(room: Loops, moving: Solid) -> Loops:
    """Return the loops of shifts at which `moving` would leave the room [mm], within a wide frame."""
    every = np.vstack(room) if room else moving.hull
    far = 5.0 * float(np.ptp(every, axis=0).max() + np.abs(moving.hull).max()) + 10.0
    low, high = every.min(axis=0) - far, every.max(axis=0) + far
    frame = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    free: list[Floats] = []
    for outer in (p for p in room if loops_area((p,)) > 0):
        free += within(np.ascontiguousarray(outer), moving)
    taken = [np.ascontiguousarray(p[::-1]) for p in room if loops_area((p,)) < 0]
    blocked = [q for p in taken for q in overlapping_shifts(solid_of((p,)), moving)]
    return joined((*_clip((frame,), free, "difference"), *blocked))
