"""The drawing sheet of a part: outline with its size, numbered holes and radii in a table, title block, revision."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.geometry import Arc, Contour, bounds, length, signed_area
from platewright.materials import grade
from platewright.paper.flow import MARGIN, Flow
from platewright.paper.ink import Ink
from platewright.paper.pages import page
from platewright.part.model import Part
from platewright.units import show

__all__ = ["drawing_sheet"]

ROOM = 150.0
"""Height kept for the view [mm]."""


@dataclass(frozen=True, slots=True)
class _Hole:
    what: str
    x: float
    y: float


def drawing_sheet(
    part: Part, *, paper: str = "letter", unit: str = "mm", revision: str = "", drawn: str = ""
) -> bytes:
    """Return the drawing of a part as PDF; sizes in the unit chosen [mm or in], positions from the lower left of its box.

    Parameters
    ----------
    paper : page name
    unit : "mm" or "in"
    revision, drawn : for the title block: revision, and date or person

    Raises
    ------
    InputError
        If the page is unknown.
    """
    ink = Ink(page(paper), f"{part.name}, drawing")
    flow = Flow(
        ink,
        head=lambda i, _n: _head(i, part, unit, revision, drawn),
        foot=f"{part.name}  {revision}   not to scale; do not measure from this sheet",
    )
    _view(flow, part, unit)
    holes = [_hole(hole, unit) for hole in part.profile.holes]
    if holes:
        flow.title("Holes and openings")
        flow.words("Middles are measured from the lower left of the part's box.", size=2.6, soft=True)
        box = part.profile.bounds()
        rows = [
            [
                chr(65 + k) if k < 26 else f"{k + 1}",
                h.what,
                show(h.x - box.x0, unit),
                show(h.y - box.y0, unit),
            ]
            for k, h in enumerate(holes)
        ]
        flow.table(["", "what", "across", "up"], rows, widths=[0.7, 4, 2, 2], right=(2, 3))
    radii = _radii(part.profile.outer)
    if radii:
        flow.title("Radii of the outline")
        flow.words("   ".join(f"{count} × R {show(r, unit)}" for r, count in radii))
    for heading, lines in (
        ("Marks", [f"{m.kind}: {m.text}" for m in part.marks if m.text]),
        ("Notes", list(part.notes)),
    ):
        if lines:
            flow.title(heading)
            for line in lines:
                flow.words(line)
    return ink.bytes()


def _head(ink: Ink, part: Part, unit: str, revision: str, drawn: str) -> float:
    top, box = ink.page.height - MARGIN, part.profile.bounds()
    weight = part.profile.area() * part.thickness * grade(part.grade).density
    ink.text(
        MARGIN,
        top - 6,
        part.name + (" (other hand)" if part.hand == "other" else ""),
        size=5.4,
        bold=True,
        width=ink.page.width - 2 * MARGIN - 40,
    )
    ink.text(ink.page.width - MARGIN, top - 6, revision, size=3.6, bold=True, align="right")
    size = f"{show(box.width, unit, digits=2)} × {show(box.height, unit, digits=2)}"
    ink.text(
        MARGIN,
        top - 12,
        f"{show(part.thickness, unit)} {part.grade}   {size}   {show(weight, 'kg')}   {drawn}",
        size=3.0,
        width=ink.page.width - 2 * MARGIN,
    )
    return top - 15


def _view(flow: Flow, part: Part, unit: str) -> None:
    box = part.profile.bounds()
    scale = min((flow.width - 30) / box.width, (ROOM - 26) / box.height)
    wide, high = box.width * scale, box.height * scale
    left, low = flow.left + (flow.width - wide) / 2, flow.y - 6 - high
    ink = flow.ink
    ink.push(x=left - box.x0 * scale, y=low - box.y0 * scale, scale=(scale, scale))
    ink.pen(0.35 / scale)
    ink.profile(part.profile, fill=(0.95, 0.955, 0.96))
    ink.pen(0.2 / scale, dash=(2 / scale, 1 / scale))
    ink.contours([m.contour for m in part.marks if m.contour is not None])
    ink.pop()
    for k, hole in enumerate(part.profile.holes):
        at = bounds(hole)
        x, y = left + (at.middle[0] - box.x0) * scale, low + (at.middle[1] - box.y0) * scale
        ink.pen(0.15)
        ink.cross(x, y, 1.6)
        ink.text(
            left + (at.x1 - box.x0) * scale + 0.8,
            y + 0.8,
            chr(65 + k) if k < 26 else f"{k + 1}",
            size=2.6,
            bold=True,
        )
    _size(ink, left, low - 8, left + wide, low - 8, show(box.width, unit, digits=2))
    _size(ink, left - 8, low, left - 8, low + high, show(box.height, unit, digits=2))
    flow.y = low - 13


def _size(ink: Ink, x0: float, y0: float, x1: float, y1: float, words: str) -> None:
    """Draw a dimension line with open arrows, level or upright, between two places on the page [mm]."""
    ink.pen(0.15)
    ink.line(x0, y0, x1, y1)
    along = math.atan2(y1 - y0, x1 - x0)
    for x, y, way in ((x0, y0, 0.0), (x1, y1, math.pi)):
        for side in (-0.3, 0.3):
            ink.line(x, y, x + 2.2 * math.cos(along + way + side), y + 2.2 * math.sin(along + way + side))
    if y0 == y1:
        ink.line(x0, y0 - 2, x0, y0 + 6)
        ink.line(x1, y0 - 2, x1, y0 + 6)
        ink.text((x0 + x1) / 2, y0 - 4, words, size=3.0, align="middle")
    else:
        ink.line(x0 - 2, y0, x0 + 6, y0)
        ink.line(x0 - 2, y1, x0 + 6, y1)
        ink.sideways(x0 - 1.4, (y0 + y1) / 2, words, size=3.0)


def _hole(hole: Contour, unit: str) -> _Hole:
    box = bounds(hole)
    x, y = box.middle
    area, around = abs(signed_area(hole)), length(hole)
    if abs(around * around / (4 * math.pi * area) - 1) < 1e-9:
        return _Hole(f"round ⌀ {show(box.width, unit)}", x, y)
    return _Hole(f"opening {show(box.width, unit, digits=2)} × {show(box.height, unit, digits=2)}", x, y)


def _radii(contour: Contour) -> Sequence[tuple[float, int]]:
    radii = [round(e.radius, 3) for e in contour.edges() if isinstance(e, Arc)]
    values, counts = np.unique(radii, return_counts=True)
    return [(float(v), int(c)) for v, c in zip(values, counts, strict=True)]
