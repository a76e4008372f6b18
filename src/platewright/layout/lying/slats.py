"""Whether a piece, once it is cut free, stays on the table's slats, tips up, or falls between them.

Model: slats are lines at a pitch. A piece rests on what of it lies over a slat; it stays if its centre of mass lies over the
hull of that, ``SURE`` inside its border. So one slat never holds a piece. Where the first slat lies is often not known: then
the share of all its places at which the piece tips is told. (Statics of a rigid plate; that small pieces are laid across two or
three slats, or tabbed, is common practice.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from platewright.findings import Finding, finding
from platewright.geometry import Floats, centroid, flatten
from platewright.layout.model import Layout, runs

__all__ = ["PLACES", "Slats", "held", "slat_findings", "tipping"]

SURE = 2.0
"""How far inside the border of what supports it a centre of mass must lie [mm]: slats are burned wavy; ours."""

PLACES = 48
"""How many places of the slats under a piece are looked at [-]."""


@dataclass(frozen=True, slots=True)
class Slats:
    """Slats of a table: distance from one to the next [mm], the plate's axis they run along, and how far the first lies from the plate's left or lower end [mm], None if unknown."""

    pitch: float
    run: Literal["x", "y"] = "y"
    first: float | None = None

    def axis(self) -> int:
        """Return the axis of the plate across the slats, 0 for x [-]."""
        return 0 if self.run == "y" else 1


def held(outer: Floats, centre: Floats, lines: Floats, axis: int) -> tuple[int, float]:
    """Return how many slats lie under an outline [-], and how far inside the border of what they hold its centre of mass lies [mm].

    Parameters
    ----------
    outer, centre : the outline's corners (N, 2), and its centre of mass [mm]
    lines : places of the slats along `axis` (M,) [mm]

    Returns
    -------
    the second is negative by as much as the centre lies outside along or across the slats, -inf on fewer than two slats
    """
    here, there = outer[:, axis], np.roll(outer[:, axis], -1)
    side, other = outer[:, 1 - axis], np.roll(outer[:, 1 - axis], -1)
    level = np.where(here == there, 1.0, there - here)
    share = (lines[:, None] - here) / level
    on = (share >= 0) & (share <= 1) & (here != there)
    places = side + share * (other - side)
    low, high = np.where(on, places, math.inf).min(axis=1), np.where(on, places, -math.inf).max(axis=1)
    under = low <= high
    at, low, high = lines[under], low[under], high[under]
    if len(at) < 2:
        return len(at), -math.inf
    x, y = float(centre[axis]), float(centre[1 - axis])
    room = min(x - float(at.min()), float(at.max()) - x)
    if room < 0:
        return len(at), room
    left, right = np.flatnonzero(at <= x), np.flatnonzero(at >= x)
    a, b = (v.ravel() for v in np.meshgrid(left, right, indexing="ij"))
    wide = np.where(at[b] > at[a], at[b] - at[a], 1.0)
    where = (x - at[a]) / wide
    for sign, ends in ((1.0, low), (-1.0, -high)):  # the hull's border below the centre, then above it
        border = ends[a] + where * (ends[b] - ends[a])
        k = int(np.argmin(border))
        slope = (ends[b[k]] - ends[a[k]]) / wide[k]
        room = min(room, (sign * y - float(border[k])) / math.hypot(1.0, float(slope)))
    return len(at), room


def _lines(outer: Floats, axis: int, start: float, pitch: float) -> Floats:
    """Return the places of slats that may lie under an outline [mm]."""
    low, high = float(outer[:, axis].min()), float(outer[:, axis].max())
    many: Floats = start + pitch * np.arange(
        math.ceil((low - start) / pitch), math.floor((high - start) / pitch) + 1, dtype=np.float64
    )
    return many


def tipping(outer: Floats, centre: Floats, pitch: float, axis: int) -> NDArray[np.bool_]:
    """Tell at which places of the slats a piece tips or falls: how far the next slat lies below its centre, in ``PLACES`` steps of the pitch [-]."""
    x = float(centre[axis])
    starts = x - pitch * (np.arange(PLACES) + 0.5) / PLACES
    return np.array(
        [held(outer, centre, _lines(outer, axis, float(s), pitch), axis)[1] < SURE for s in starts],
        dtype=np.bool_,
    )


def slat_findings(layout: Layout, slats: Slats) -> tuple[Finding, ...]:
    """Tell which pieces of a layout fall between the slats, tip up on them, or may do so [mm]."""
    axis, box = slats.axis(), layout.plate.profile.bounds()
    falls, tips, may = list[int](), list[int](), dict[int, float]()
    for n, (_, _, profile) in enumerate(layout.placed()):
        outer, middle = flatten(profile.outer, tolerance=0.05), centroid(profile)
        centre = np.array([middle.x, middle.y])
        if slats.first is None:
            share = float(tipping(outer, centre, slats.pitch, axis).mean())
            if share > 0:
                may[n] = share
            continue
        start = (box.x0 if axis == 0 else box.y0) + slats.first
        under, room = held(outer, centre, _lines(outer, axis, start, slats.pitch), axis)
        if room < SURE:
            (falls if under == 0 else tips).append(n)
    name, found = layout.plate.name, []
    if falls:
        found.append(finding("L050", subject=name, pieces=runs(falls)))
    if tips:
        found.append(finding("L051", subject=name, pieces=runs(tips)))
    if may:
        most = max(may.values())
        found.append(
            finding(
                "L052", subject=name, pieces=runs(may), percent=max(1, round(100 * most)), pitch=slats.pitch
            )
        )
    return tuple(found)
