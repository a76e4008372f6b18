"""The line along which the plate was asked to be cut off: whether a burn is that cut, whether it comes last, what is left of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from platewright.findings import Finding
from platewright.proof.scene import Scene, finding_at

__all__ = ["check_cut_off", "cutting_off", "parting"]

OFF = 0.3
"""Farthest a burn may lie from the line and still be the cut asked for [mm]."""
PAST = 3.0
"""Farthest it may run past the ends of the line, in kerfs [-]."""


def _line(scene: Scene) -> Any:
    """Return the line asked for as a shapely line [mm], None if none was."""
    requested = scene.layout is not None and scene.deliberate.cut_off
    return (
        shapely.LineString(scene.layout.cut_off)
        if requested and scene.layout and scene.layout.cut_off
        else None
    )


def cutting_off(scene: Scene) -> frozenset[int]:
    """Return the burns that run along the line asked for and nowhere else [-]."""
    line = _line(scene)
    if line is None:
        return frozenset()
    (ax, ay), (bx, by) = line.coords
    over = PAST * scene.kerf * np.array([bx - ax, by - ay]) / line.length
    room = shapely.LineString([(ax - over[0], ay - over[1]), (bx + over[0], by + over[1])]).buffer(OFF)
    on = shapely.covered_by(scene.strands.lines, room)
    burns = scene.strands.burn
    return frozenset(burns.tolist()) - frozenset(burns[~on].tolist())


def parting(scene: Scene, burn: int) -> str:
    """Return which finding a burn that parts the plate is [-]: as asked if it runs along the line and only the like come after it."""
    requested = cutting_off(scene)
    return "P097" if burn in requested and set(range(burn, len(scene.torch.burns))) <= requested else "P065"


def check_cut_off(scene: Scene) -> Iterator[Finding]:
    """Yield that the line asked for is not cut through from edge to edge of the metal [mm]."""
    line = _line(scene)
    if line is None:
        return
    metal = line.intersection(scene.plate_polygon)
    requested = cutting_off(scene)
    mine = np.array([int(n) in requested for n in scene.strands.burn], dtype=bool)
    left = shapely.difference(metal, shapely.union_all(scene.strands.polygons[mine]))
    if left.length > scene.kerf:
        yield finding_at("P098", shapely.get_coordinates(left.centroid)[0], left_mm=float(left.length))
