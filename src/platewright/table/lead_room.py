"""How much room a lead-in takes beside a cut: what the burn planner keeps to, and what layout therefore proposes.

The lead of the chart's row, as a quarter circle that meets the cut, begins its radius away from the kerf's middle. Round
its pierce nothing that is kept may lie within the splash. The splash (half a kerf and a quarter of the thickness, at least
1 mm, beyond it) is common practice, not published.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from platewright.table.model import ChartRow

__all__ = ["MARGIN", "LeadRoom", "lead_room", "splash_of"]

MARGIN = 0.3
"""Metal kept between two kerfs beyond touching [mm]: what a small table repeats to, twice over."""


@dataclass(frozen=True, slots=True)
class LeadRoom:
    """Free distances with which a full lead-in finds room: between two parts, and to the plate's edge [mm]."""

    part: float
    edge: float


def splash_of(thickness: float, kerf: float) -> float:
    """Return how far from a pierce its splash may mark [mm], from a thickness and a kerf [mm]."""
    return kerf / 2 + max(1.0, thickness / 4)


def lead_room(row: ChartRow) -> LeadRoom:
    """Return the room for a full lead-in of a chart row, to the next half millimetre up [mm]."""
    out = row.kerf / 2 + row.lead / (math.pi / 2)
    splash = splash_of(row.thickness, row.kerf)
    part, edge = out + max(splash, row.kerf + MARGIN), out + max(splash, row.kerf / 2 + MARGIN)
    return LeadRoom(math.ceil(2 * part - 1e-9) / 2, math.ceil(2 * edge - 1e-9) / 2)
