"""What was asked for, as polygons: the witness's own reading of a layout document and of what the shop chose.

Rows of a contour are x, y and bulge, the tangent of a quarter of the angle the edge to the next row turns through,
positive counterclockwise [mm, mm, -].
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

__all__ = ["Job", "KeepOut", "PartAsked", "Process", "Tab", "job_of", "ring"]

CHORD = 0.005


@dataclass(frozen=True, slots=True)
class Tab:
    """A bridge to be left: its place [mm] and the width of metal left [mm]."""

    at: tuple[float, float]
    width: float


@dataclass(frozen=True, slots=True)
class PartAsked:
    """A part in its place: its shape without holes that are only to be marked, and its tabs [mm]."""

    name: str
    shape: Polygon
    tabs: tuple[Tab, ...] = ()


@dataclass(frozen=True, slots=True)
class KeepOut:
    """Where the torch may not cut, nor travel lower than `height` [mm]."""

    name: str
    shape: Polygon
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Process:
    """How it is to be cut: from the chart row, and the plan's feed on each stretch [mm, s, mm/s]."""

    kerf: float
    cut_speed: float
    pierce_delay: float
    pierce_height: float
    cut_height: float
    safe_height: float
    feeds: tuple[tuple[Sequence[tuple[float, float]], float], ...] = ()
    reach: tuple[float, float, float, float] | None = None
    inside_radius: float = 0.0
    overburn: float = 0.0
    kerfs: tuple[tuple[float, float], ...] = ()
    """Further kerfs the chart row holds: share of the cut speed, kerf."""
    acceleration: float = math.inf
    top_speed: float = math.inf

    def kerf_at(self, feed: float, radius: float = math.inf) -> float:
        """The kerf at a feed on an arc of a radius, by the law ``docs/table/chart.md`` states.

        Between two speeds whose kerf is known it is a power of the speed; slower than all it goes on by the power from
        cut speed to the slowest, down to a quarter of cut speed; the speed is what the table keeps on the arc.
        """
        if not self.kerfs or feed <= 0:
            return self.kerf
        speed = min(feed, self.top_speed, math.sqrt(self.acceleration * radius))
        share = min(1.0, max(0.25, speed / self.cut_speed))
        known = sorted([*self.kerfs, (1.0, self.kerf)])
        if share <= known[0][0]:
            known = [known[0], known[-1]]
        for (s0, k0), (s1, k1) in itertools.pairwise(known):
            if share <= s1:
                return float(k0 * (share / s0) ** (math.log(k1 / k0) / math.log(s1 / s0)))
        return self.kerf


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Plate, parts, keep-outs, process, and the places to be marked (lines, points, and holes left for the drill)."""

    plate: Polygon
    parts: tuple[PartAsked, ...]
    keepouts: tuple[KeepOut, ...]
    process: Process
    marks: tuple[BaseGeometry, ...] = ()
    dimpled: bool = False
    """Whether points to be marked may be struck by a short arc of the torch."""


def ring(rows: Sequence[Sequence[float]], *, closed: bool = True) -> list[tuple[float, float]]:
    """Return a contour as points, arcs as chords within 0.005 mm; a closed one without its first point again."""
    points: list[tuple[float, float]] = []
    for (x0, y0, bulge), (x1, y1, _) in itertools.pairwise([*rows, rows[0]] if closed else rows):
        points.append((x0, y0))
        chord = math.hypot(x1 - x0, y1 - y0)
        if abs(bulge) < 1e-9 or chord < 1e-9:
            continue
        angle = 4 * math.atan(bulge)
        radius = chord / (2 * abs(math.sin(angle / 2)))
        # The centre lies left of the chord for a counterclockwise edge under half a turn.
        away = chord / (2 * math.tan(angle / 2))
        cx = (x0 + x1) / 2 - (y1 - y0) / chord * away
        cy = (y0 + y1) / 2 + (x1 - x0) / chord * away
        step = 2 * math.acos(max(0.0, 1 - CHORD / max(radius, CHORD)))
        count = max(2, math.ceil(abs(angle) / step))
        first = math.atan2(y0 - cy, x0 - cx)
        points += [
            (cx + radius * math.cos(first + angle * k / count), cy + radius * math.sin(first + angle * k / count))
            for k in range(1, count)
        ]  # fmt: skip
    return points if closed else [*points, (rows[-1][0], rows[-1][1])]


def _posed(points: Sequence[tuple[float, float]], pose: Mapping[str, Any]) -> list[tuple[float, float]]:
    """Flip left to right if the pose says so, turn about the origin, and move."""
    xy = np.array(points)
    if pose["mirrored"]:
        xy = xy * [-1, 1]
    c, s = math.cos(pose["angle_rad"]), math.sin(pose["angle_rad"])
    moved = xy @ np.array([[c, s], [-s, c]]) + [pose["x_mm"], pose["y_mm"]]
    return [(float(x), float(y)) for x, y in moved]


def _polygon(profile: Mapping[str, Any], pose: Mapping[str, Any] | None, skip: Sequence[int]) -> Polygon:
    rings = [ring(c["rows_mm_mm_bulge"]) for c in (profile["outer"], *profile["holes"])]
    if pose is not None:
        rings = [_posed(r, pose) for r in rings]
    holes = [r for i, r in enumerate(rings[1:], 1) if i not in skip]
    return Polygon(rings[0], holes)


def job_of(
    document: Mapping[str, Any],
    process: Process,
    *,
    tabs: Mapping[int, Sequence[Tab]] | None = None,
    only_marked: Sequence[tuple[int, int]] = (),
) -> Job:
    """Read a layout document; tabs by placement, and holes (placement, contour) that are marked and not cut."""
    parts, marks = [], list[BaseGeometry]()
    for i, placed in enumerate(document["placements"]):
        part = document["parts"][placed["part"]]
        skip = [c for p, c in only_marked if p == i]
        shape = _polygon(part["profile"], placed["pose"], skip)
        parts.append(PartAsked(f"{part['name']} #{placed['copy']}", shape, tuple((tabs or {}).get(i, ()))))
        marks += _marks(part, placed["pose"], skip)
    keepouts = tuple(
        KeepOut(k["name"], Polygon(ring(k["contour"]["rows_mm_mm_bulge"])), k["height_mm"])
        for k in document["keepouts"]
    )
    plate = _polygon(document["plate"]["profile"], None, ())
    shapely.prepare(plate)
    return Job(plate=plate, parts=tuple(parts), keepouts=keepouts, process=process, marks=tuple(marks))


def _marks(part: Mapping[str, Any], pose: Mapping[str, Any], drilled: Sequence[int]) -> list[BaseGeometry]:
    found: list[BaseGeometry] = []
    for mark in part["marks"]:
        if mark["kind"] == "print":
            continue
        if mark["at_mm"]:
            found.append(Point(_posed([mark["at_mm"]], pose)[0]))
        else:
            closed = mark["contour"]["closed"]
            points = ring(mark["contour"]["rows_mm_mm_bulge"], closed=closed)
            found.append(LineString(_posed([*points, points[0]] if closed else points, pose)))
    for k in drilled:
        points = ring(part["profile"]["holes"][k - 1]["rows_mm_mm_bulge"])
        found.append(Polygon(_posed(points, pose)).centroid)
    return found
