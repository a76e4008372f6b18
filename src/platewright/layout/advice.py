"""Which clearances leave room for the burn planner's lead-ins, and what is said if smaller ones are asked."""

from __future__ import annotations

from platewright.findings import Finding, finding
from platewright.layout.model import Clearance
from platewright.table.lead_room import lead_room
from platewright.table.model import ChartRow

__all__ = ["proposed", "tight"]


def proposed(row: ChartRow) -> Clearance:
    """Return the clearances that leave room for a full lead-in of a chart row [mm]; keep-outs as usual."""
    room = lead_room(row)
    return Clearance(room.part, room.edge)


def tight(clearance: Clearance, row: ChartRow) -> tuple[Finding, ...]:
    """Tell of clearances too small for a full lead-in [mm]."""
    room = lead_room(row)
    gaps = (("between parts", clearance.part, room.part), ("to the edge", clearance.edge, room.edge))
    return tuple(
        finding("L018", where=where, asked=had, needed=need, lead=row.lead, thickness=row.thickness)
        for where, had, need in gaps
        if had < need - 1e-9
    )
