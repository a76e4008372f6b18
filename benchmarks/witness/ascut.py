"""The metal left when every lit move has burnt its kerf out of the plate; all lengths in [mm]."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from benchmarks.witness.asked import Process
from benchmarks.witness.state import Event

__all__ = ["Burn", "burns_of", "left", "swept"]


@dataclass(slots=True)
class Burn:
    """One stretch with the torch lit: from where it was lit, through its moves, to where it was put out."""

    line: int
    events: list[Event] = field(default_factory=list)

    def path(self) -> NDArray[np.float64]:
        """The way of the torch, without points on the spot."""
        rows = np.vstack([e.points for e in self.events])
        keep = np.append(True, np.any(np.abs(np.diff(rows, axis=0)) > 1e-9, axis=1))
        return rows[keep]


def burns_of(events: Sequence[Event]) -> list[Burn]:
    """Gather the events from each lighting of the torch to its putting out."""
    found: list[Burn] = []
    burn: Burn | None = None
    for event in events:
        if event.kind == "torch-on" and burn is None:
            burn = Burn(event.line, [event])
        elif burn is not None:
            burn.events.append(event)
            if event.kind in {"torch-off", "end"}:
                found.append(burn)
                burn = None
    return found


_SWEPT: dict[tuple[bytes, float], Polygon] = {}


def swept(burn: Burn, process: Process) -> BaseGeometry:
    """The area a burn takes: every stretch of one kerf swept by its half; the last few thousand are remembered."""
    areas, stretch, width = list[BaseGeometry](), list[Event](), process.kerf
    for event in [*burn.events, None]:
        kerf = (
            width if event is None or not event.moves else round(process.kerf_at(event.feed, event.radius), 4)
        )
        if stretch and (event is None or kerf != width):
            areas.append(_swept(Burn(burn.line, stretch).path(), width / 2))
            stretch = []
        width = kerf
        if event is not None:
            stretch.append(event)
    return areas[0] if len(areas) == 1 else shapely.union_all(areas)


def _swept(path: NDArray[np.float64], radius: float) -> Polygon:
    key = (path.tobytes(), radius)
    if key not in _SWEPT:
        if len(_SWEPT) > 4000:
            _SWEPT.clear()
        line = LineString(path) if len(path) > 1 else Point(path[0])
        _SWEPT[key] = line.buffer(radius, quad_segs=24)
    return _SWEPT[key]


def left(plate: Polygon, burnt: Polygon) -> list[Polygon]:
    """The pieces of metal left, without specks under a hundredth of a square millimetre."""
    metal = shapely.get_parts(shapely.difference(plate, burnt))
    return [p for p in metal if p.geom_type == "Polygon" and p.area > 0.01]
