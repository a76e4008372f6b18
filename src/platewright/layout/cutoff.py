"""The asked-for straight line along which a plate is cut off beside its parts, so that one whole piece goes back to the rack."""

from __future__ import annotations

import math
from dataclasses import replace

from platewright.findings import Finding, finding
from platewright.layout.model import Layout

__all__ = ["USABLE", "with_cut_off"]

USABLE = 100.0
"""Least width of a rest worth cutting off [mm]: what a usable rest is at least across elsewhere, too."""


def with_cut_off(layout: Layout, lead: float) -> tuple[Layout, Finding]:
    """Return the layout with its cut-off line, square to the direction its length grows in, and what is to be said of it.

    Parameters
    ----------
    layout : its clearance between parts is kept from the line [mm]
    lead : a multiple of a quarter turn [rad]
    """
    ux, uy = round(math.cos(lead)), round(math.sin(lead))
    box = layout.plate.profile.bounds()
    corners = [(x, y) for x in (box.x0, box.x1) for y in (box.y0, box.y1)]
    along = [ux * x + uy * y for x, y in corners]
    across = [-uy * x + ux * y for x, y in corners]
    boxes = [profile.bounds() for _, _, profile in layout.placed()]
    at = (
        max(ux * x + uy * y for b in boxes for x in (b.x0, b.x1) for y in (b.y0, b.y1))
        + layout.clearance.part
    )
    rest = max(along) - at
    if rest < USABLE:
        return layout, finding("L042", subject=layout.plate.name, rest=max(rest, 0.0), least=USABLE)
    ends = tuple((at * ux - v * uy, at * uy + v * ux) for v in (min(across), max(across)))
    made = replace(layout, cut_off=(ends[0], ends[1]))
    side = "left" if ux > 0 else "right" if ux < 0 else "lower" if uy > 0 else "upper"
    return made, finding(
        "L041",
        subject=layout.plate.name,
        at=at - min(along),
        side=side,
        rest=rest,
        wide=max(across) - min(across),
    )
