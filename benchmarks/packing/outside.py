"""An outside checker of layouts: reads the document alone, flattens arcs by its own arithmetic, measures by another library.

It imports nothing of the layout package, nor of the geometry package. Arcs become chords that stray at most ``STRAY``, so a
distance is told to twice that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely

__all__ = ["ALLOWED", "Measured", "measured"]

STRAY = 1e-4
ALLOWED = 5e-4
"""How much a distance may be short of what is asked and count as kept [mm]: five times what a chord strays."""


@dataclass(frozen=True)
class Measured:
    """Clearances broken, and how much farther than asked each piece lies from what is nearest to it [mm]."""

    broken: int
    spare: tuple[float, ...]


def _ring(contour: Mapping[str, Any], pose: Mapping[str, Any] | None) -> list[tuple[float, float]]:
    rows = contour["rows_mm_mm_bulge"]
    out: list[tuple[float, float]] = []
    for (ax, ay, bulge), (bx, by, _) in zip(rows, [*rows[1:], rows[0]], strict=True):
        out.append((ax, ay))
        if bulge == 0:
            continue
        sweep, chord = 4 * math.atan(bulge), math.hypot(bx - ax, by - ay)
        radius = chord / (2 * abs(math.sin(sweep / 2)))
        away = chord / 2 / math.tan(sweep / 2)
        cx, cy = (ax + bx) / 2 - away * (by - ay) / chord, (ay + by) / 2 + away * (bx - ax) / chord
        steps = max(2, math.ceil(abs(sweep) / (2 * math.acos(max(1 - STRAY / radius, 0.0)))))
        first = math.atan2(ay - cy, ax - cx)
        out += [
            (
                cx + radius * math.cos(first + sweep * k / steps),
                cy + radius * math.sin(first + sweep * k / steps),
            )
            for k in range(1, steps)
        ]
    return out if pose is None else [_moved(p, pose) for p in out]


def _moved(point: tuple[float, float], pose: Mapping[str, Any]) -> tuple[float, float]:
    x, y = -point[0] if pose["mirrored"] else point[0], point[1]
    c, s = math.cos(pose["angle_rad"]), math.sin(pose["angle_rad"])
    return pose["x_mm"] + c * x - s * y, pose["y_mm"] + s * x + c * y


def _region(profile: Mapping[str, Any], pose: Mapping[str, Any] | None = None) -> shapely.Polygon:
    return shapely.Polygon(_ring(profile["outer"], pose), [_ring(h, pose) for h in profile["holes"]])


def measured(document: Mapping[str, Any]) -> Measured:
    """Measure every distance of a layout document [mm]."""
    clear = document["clearance"]
    plate = _region(document["plate"]["profile"])
    edge = shapely.boundary(plate)
    pieces = [_region(document["parts"][p["part"]]["profile"], p["pose"]) for p in document["placements"]]
    outs = [shapely.Polygon(_ring(k["contour"], None)) for k in document["keepouts"]]
    own = dict(enumerate(clear["own_mm"]))
    keeps = [max(clear["part_mm"], own.get(p["part"], 0.0)) for p in document["placements"]]
    shared = {frozenset((c["one"], c["other"])): c["gap_mm"] for c in document["common"]}
    broken, spare = 0, []
    for i, piece in enumerate(pieces):
        gaps = [float(shapely.distance(edge, piece)) - clear["edge_mm"]]
        broken += not plate.covers(piece.buffer(-ALLOWED))
        gaps += [float(shapely.distance(out, piece)) - clear["keepout_mm"] for out in outs]
        requested = [shared.get(frozenset((i, j)), max(keeps[i], keep)) for j, keep in enumerate(keeps)]
        gaps += _to_others(pieces, i, requested)
        broken += sum(g < -ALLOWED for g in gaps)
        spare.append(min(gaps))
    return Measured(broken, tuple(spare))


def _to_others(pieces: Sequence[shapely.Polygon], i: int, requested: Sequence[float]) -> list[float]:
    gaps = shapely.distance(pieces[i], pieces) - requested
    return [float(g) for j, g in enumerate(gaps) if j != i and g < 50.0]
