"""What was asked for, as polygons: the witness's own reading of a layout document and of what the shop chose.

Rows of a contour are x, y and bulge, the tangent of a quarter of the angle the edge to the next row turns through,
positive counterclockwise [mm, mm, -].
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon

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


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
class Job:
    """Plate, parts, keep-outs and process."""

    plate: Polygon
    parts: tuple[PartAsked, ...]
    keepouts: tuple[KeepOut, ...]
    process: Process


def ring(rows: Sequence[Sequence[float]]) -> list[tuple[float, float]]:
    """Return a closed contour as points, arcs as chords within 0.005 mm."""
    points: list[tuple[float, float]] = []
    for (x0, y0, bulge), (x1, y1, _) in zip(rows, [*rows[1:], rows[0]], strict=True):
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
    return points


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
    parts = []
    for i, placed in enumerate(document["placements"]):
        part = document["parts"][placed["part"]]
        skip = [c for p, c in only_marked if p == i]
        shape = _polygon(part["profile"], placed["pose"], skip)
        parts.append(PartAsked(f"{part['name']} #{placed['copy']}", shape, tuple((tabs or {}).get(i, ()))))
    keepouts = tuple(
        KeepOut(k["name"], Polygon(ring(k["contour"]["rows_mm_mm_bulge"])), k["height_mm"])
        for k in document["keepouts"]
    )
    plate = _polygon(document["plate"]["profile"], None, ())
    shapely.prepare(plate)
    return Job(plate, tuple(parts), keepouts, process)
