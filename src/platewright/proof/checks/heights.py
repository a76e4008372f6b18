"""Checks of the torch's height: while it cuts, while it is raised, and on its way between cuts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from platewright.findings import Finding
from platewright.geometry import Floats
from platewright.program.run import Kind
from platewright.proof.scene import Scene, finding_at

__all__ = ["check_heights"]

_RISE = 2.0
"""The lit torch may be raised by so much, as height words in a cut may [mm]."""

DRAG = 0.2
"""Below this the tip drags [mm] (common practice)."""

GRAZING = 0.9
"""Travel below this share of the pierce height grazes the plate [-]."""

USUAL = 0.5
"""Travel below this share of the table's safe height is low [-]; without a table, of the height most of the way runs at."""


def check_heights(scene: Scene) -> Iterator[Finding]:
    """Yield what is wrong with the heights the text gives, or that it gives none [mm]."""
    if not scene.dialect.has_z:
        if len(scene.travels):
            yield finding_at("P068")
        return
    if not scene.heights_known:
        if scene.torch.burns:
            yield finding_at("P067")
        return
    yield from _lifted_lit(scene)
    yield from _dragged(scene)
    yield from _travels(scene)


def _lifted_lit(scene: Scene) -> Iterator[Finding]:
    """Yield burns in which the lit torch is raised from the cut: an arc drawn out, most often the trace of a lost M5."""
    moves = scene.run.moves
    rising = moves.torch & (moves.end[:, 2] > moves.start[:, 2] + _RISE)
    if not rising.any():
        return
    owner = np.searchsorted([b.first for b in scene.torch.burns], np.flatnonzero(rising), side="right") - 1
    count = len(np.unique(owner))
    at = int(np.flatnonzero(rising)[0])
    yield finding_at("P084", moves.start[at, :2], line=moves.line[at], count=count)


def _dragged(scene: Scene) -> Iterator[Finding]:
    """Yield the first place where the tip is driven below the plate's top, beside it below its under side (the slats), lit or not, or dragged lit."""
    moves, first = scene.run.moves, scene.run.height_from or 0
    after = np.arange(len(moves)) >= first
    moving = ~np.isin(moves.kind, (Kind.DWELL, Kind.STOP)) & (
        moves.torch | (after & (moves.kind != Kind.PROBE))
    )
    index = np.flatnonzero(moving)
    height = np.minimum(moves.start[index, 2], moves.end[index, 2])
    low, under = index[height < -1e-6], height[height < -1e-6] < -(scene.thickness or 0.0) - 1e-6
    over = shapely.contains_xy(scene.plate_polygon, moves.end[low, 0], moves.end[low, 1])
    low = low[moves.torch[low] | over | under]
    touching = index[(height < DRAG) & moves.torch[index]]
    for code, which in (("P055", low), ("P069", touching[: 0 if len(low) else None])):
        for k in which[:1].tolist():
            lowest = float(min(moves.start[k, 2], moves.end[k, 2]))
            yield finding_at(code, moves.end[k, :2], line=moves.line[k], height_mm=abs(lowest))


def _travels(scene: Scene) -> Iterator[Finding]:
    """Yield travel over the plate that runs low, or before the text states any height."""
    moves, first = scene.run.moves, scene.run.height_from or 0
    over = scene.travels[shapely.intersects(scene.travel_lines, scene.plate_polygon)]
    # the first move that says a height comes from wherever the torch stood
    unknown, known = over[over <= first], over[over > first]
    if len(unknown):
        at = int(unknown[0])
        yield finding_at("P090", moves.start[at, :2], line=moves.line[at], first=moves.line[first])
    height = np.minimum(moves.start[known, 2], moves.end[known, 2])
    under = np.flatnonzero(height < _least(scene, known, height))
    if not len(under):
        return
    at = int(known[under[height[under].argmin()]])
    lowest = float(height.min())
    severity = "stop" if lowest < _grazing(scene) else "look"
    yield finding_at(
        "P054", moves.start[at, :2], line=moves.line[at], height_mm=lowest, count=len(under), severity=severity
    )  # fmt: skip


def _least(scene: Scene, travels: NDArray[np.intp], height: Floats) -> float:
    """Return the height travel must not fall below [mm]."""
    if scene.table is not None:
        usual = scene.table.safe_height
    elif len(travels):
        order = np.argsort(height)
        way = np.cumsum(scene.run.moves.lengths()[travels[order]])
        usual = float(height[order][np.searchsorted(way, way[-1] / 2)])
    else:
        usual = 0.0
    return max(scene.options.least_travel, USUAL * usual)


def _grazing(scene: Scene) -> float:
    """Return the height below which travel grazes the plate [mm]; 3 mm where no pierce height is known."""
    return GRAZING * scene.row.pierce_height if scene.row is not None else 3.0
