"""Everything the search looks up: forms, forbidden regions of every pair of forms, and their rasters.

A region is made once for each pair of shapes and difference of turns, then turned to every pair of forms that needs
it. Memory: regions x raster nodes x 2 bytes; the raster's step is chosen so that a usual region has some twenty-five
nodes across and a room at most ``NODES``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.problem import Problem
from platewright.layout.search import kernels
from platewright.layout.search.kernels import row_length
from platewright.layout.search.lanes import LANES
from platewright.layout.shape.forbidden import Solid, outside_of, overlapping_shifts, solid_of
from platewright.layout.shape.loops import Loops, loops_area

__all__ = ["Tables", "edge_rows", "make_tables", "sides_of"]

ACROSS = 12
"""Raster steps across a middling part [-]."""

NODES = 60_000
"""Most raster nodes of a room [-]."""

UNITS = 65_000
"""Units in the greatest depth on a raster [-]: two bytes a node, since fetching rasters is what a move waits for."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Tables:
    """Flat arrays for the kernels; the last form is the room's outside.

    Attributes
    ----------
    angles : turn of each form [rad]; first : first form of each shape
    lows, highs : box of each form about its origin [mm]
    table : region of (still, moving) forms, -1 for none
    sides : ax, ay, bx - ax, by - ay [mm], 1 / length² [1/mm²], by [mm], a column each ; at : first column of each region
    boxes : box of each region [mm]; rasters : depths at nodes from the box's corner, step h, in units [mm]
    area : of the room [mm²]
    """

    angles: Floats
    first: tuple[int, ...]
    lows: Floats
    highs: Floats
    table: Any
    sides: Floats
    at: Any
    boxes: Floats
    rasters: Any
    raster_at: Any
    raster_size: Any
    h: float
    room: tuple[float, float, float, float]
    rectangular: bool
    area: float = 0.0
    unit: float = 1.0

    def look(self) -> kernels.Look:
        """Return what the kernels look up [mm]."""
        return kernels.Look(
            self.table,
            self.at,
            self.boxes,
            self.sides,
            self.rasters,
            self.raster_at,
            self.raster_size,
            self.h,
            self.unit,
        )

    def scratch(self) -> int:
        """Return how many raster nodes the largest field needs [-]."""
        spans = np.maximum(
            (np.array(self.room[2:]) - self.room[:2]) - (self.highs - self.lows).min(axis=0), 0
        )
        nx, ny = (int(n) + 2 for n in spans / self.h)
        return LANES + nx * int(row_length(ny))


def edge_rows(loops: Loops) -> Floats:
    """Return edges of loops as rows ax, ay, bx, by [mm], 1 / length² [1/mm²]."""
    starts = np.vstack(loops)
    ends = np.vstack([np.roll(p, -1, axis=0) for p in loops])
    long = np.sum((ends - starts) ** 2, axis=1)
    keep = long > 1e-18
    rows: Floats = np.column_stack([starts, ends, 1.0 / np.where(keep, long, 1.0)])[keep]
    return rows


def sides_of(rows: Floats) -> Floats:
    """Return edge rows as the kernels take them: ax, ay, bx - ax, by - ay [mm], 1 / length² [1/mm²], by [mm], a column each.

    The end's own by stays beside the difference: edges that meet must agree on which side of a point they meet.
    """
    ax, ay, bx, by, inverse = rows.T
    return np.ascontiguousarray(np.vstack([ax, ay, bx - ax, by - ay, inverse, by]))


def _cs(angle: float) -> tuple[float, float]:
    c, s = math.cos(angle), math.sin(angle)
    return (round(c) if abs(c - round(c)) < 1e-12 else c), (round(s) if abs(s - round(s)) < 1e-12 else s)


def _step(problem: Problem, room: tuple[float, float, float, float]) -> float:
    spans = [np.ptp(problem.shapes[p.shape].raw[0], axis=0).mean() for p in problem.pieces]
    wanted = float(np.median(spans)) / ACROSS
    return max(wanted, math.sqrt((room[2] - room[0]) * (room[3] - room[1]) / NODES))


class _Regions:
    """Collects regions as edges with boxes and rasters."""

    def __init__(self, h: float) -> None:
        self.h = h
        self.edges: list[Floats] = []
        self.boxes: list[Floats] = []
        self.minus: list[int] = []

    def add(self, edges: Floats, box: Floats | None = None, *, minus: int = -1) -> int:
        """Add a region; `minus` names the one it is the point reflection of, whose raster it then shares."""
        if box is None:
            ends = np.vstack([edges[:, :2], edges[:, 2:4]])
            low = ends.min(axis=0)
            nodes = np.ceil((ends.max(axis=0) - low) / self.h)
            box = np.concatenate([low, low + nodes * self.h])
        self.edges.append(edges)
        self.boxes.append(box if minus < 0 else -self.boxes[minus][[2, 3, 0, 1]])
        self.minus.append(minus)
        return len(self.edges) - 1

    def rasters(self) -> tuple[Any, float, Any, Any]:
        """Return all rasters in one array, their unit [mm], the start of each, and their sizes; depths are rounded up.

        Nodes past a region's box fill its last lane in every row.
        """
        boxes = np.array(self.boxes).reshape(-1, 4)
        sizes = np.floor((boxes[:, 2:] - boxes[:, :2]) / self.h + 1e-6).astype(np.int64) + 1
        across = sizes[:, 1].copy()
        sizes[:, 1] += -across % LANES
        at = np.zeros(len(sizes) + 1, dtype=np.int64)
        at[1:] = np.cumsum(sizes[:, 0] * sizes[:, 1])
        out = np.zeros(int(at[-1]), dtype=np.float32)
        for k, e in enumerate(self.edges):
            view = out[at[k] : at[k + 1]].reshape(sizes[k])
            if (of := self.minus[k]) < 0:
                kernels.raster_depths(e, boxes[k, 0], boxes[k, 1], self.h, view)
            else:
                view[:, : across[k]] = out[at[of] : at[of + 1]].reshape(sizes[of])[::-1, across[k] - 1 :: -1]
        unit = max(float(out.max(initial=0.0)), self.h) / UNITS
        out /= np.float32(unit)
        return np.ceil(out, out=out).astype(np.uint16), unit, at, sizes


def _turned_edges(edges: Floats, c: float, s: float) -> Floats:
    turn = np.array([[c, s], [-s, c]])
    return np.column_stack([edges[:, :2] @ turn, edges[:, 2:4] @ turn, edges[:, 4]])


def make_tables(problem: Problem, *, stop: Callable[[], bool] = lambda: False) -> Tables | None:
    """Return the tables of a problem, or None if stopped while making them [mm, rad]."""
    room = problem.box()
    h = _step(problem, room)
    angles = [a for s in problem.shapes for a in s.angles]
    owner = [i for i, s in enumerate(problem.shapes) for _ in s.angles]
    first = tuple(owner.index(i) for i in range(len(problem.shapes)))
    count = len(angles)
    raw = [solid_of(s.raw) for s in problem.shapes]
    big = [solid_of(s.big) for s in problem.shapes]
    more = [s.more for s in problem.shapes]
    still: dict[tuple[int, float, bool], Solid] = {}
    regions = _Regions(h)
    table = np.full((count + 1, count + 1), -1, dtype=np.int64)
    base: dict[tuple[int, int, float], Floats] = {}
    for f in range(count):
        if stop():
            return None
        for g in range(f, count):
            a, b = owner[f], owner[g]
            rel = round(math.remainder(angles[g] - angles[f], math.tau), 9)
            key = (a, b, rel)
            if key not in base:
                mine = more[b] <= more[a]  # the one that keeps the farther from others brings the distance
                if (b, rel, mine) not in still:
                    still[b, rel, mine] = (raw if mine else big)[b].turned(*_cs(rel))
                base[key] = edge_rows(overlapping_shifts((big if mine else raw)[a], still[b, rel, mine]))
            edges = _turned_edges(base[key], *_cs(angles[f]))
            table[f, g] = regions.add(edges)
            if f != g:
                reflected = np.column_stack([-edges[:, :4], edges[:, 4]])
                table[g, f] = regions.add(reflected, minus=int(table[f, g]))
    lows, highs = _boxes(problem, angles, owner)
    rectangular = _is_box(problem.room, room)
    if not rectangular:
        for f in range(count):
            loops = outside_of(problem.room, raw[owner[f]].turned(*_cs(angles[f])))
            reach = np.array(
                [room[0] - lows[f, 0], room[1] - lows[f, 1], room[2] - highs[f, 0], room[3] - highs[f, 1]]
            )
            reach[2:] = np.maximum(reach[2:], reach[:2])
            table[count, f] = regions.add(edge_rows(loops), reach + [-h, -h, h, h])
    rasters, unit, raster_at, sizes = regions.rasters()
    at = np.zeros(len(regions.edges) + 1, dtype=np.int64)
    at[1:] = np.cumsum([len(e) for e in regions.edges])
    return Tables(
        angles=np.array(angles), first=first, lows=lows, highs=highs, table=table, sides=sides_of(np.vstack(regions.edges)), at=at,
        boxes=np.array(regions.boxes), rasters=rasters, raster_at=raster_at, raster_size=sizes, h=h, room=room, rectangular=rectangular,
        area=loops_area(problem.room), unit=unit,
    )  # fmt: skip


def _boxes(problem: Problem, angles: list[float], owner: list[int]) -> tuple[Floats, Floats]:
    lows, highs = np.zeros((len(angles) + 1, 2)), np.zeros((len(angles) + 1, 2))
    for f, (angle, shape) in enumerate(zip(angles, owner, strict=True)):
        c, s = _cs(angle)
        points = problem.shapes[shape].raw[0] @ np.array([[c, s], [-s, c]])
        lows[f], highs[f] = points.min(axis=0), points.max(axis=0)
    return lows, highs


def _is_box(loops: Loops, box: tuple[float, float, float, float]) -> bool:
    if len(loops) != 1:
        return False
    p = loops[0]
    area = 0.5 * abs(float(np.dot(p[:, 0], np.roll(p[:, 1], -1)) - np.dot(p[:, 1], np.roll(p[:, 0], -1))))
    return area >= (box[2] - box[0]) * (box[3] - box[1]) * (1 - 1e-9)
