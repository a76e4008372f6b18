"""The full-size paper proof: a part at exactly 1:1, tiled over pages, to lay on the work before cutting metal.

Every page carries its own check bars, crop marks at the corners of its net area, a map of all pages and where
it stands in it. Pages overlap by `OVERLAP`; crosses on a 50 mm grid of the part fall on the overlap of both
neighbours, so that sheets are taped true.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from platewright.errors import InputError
from platewright.geometry import Contour, Profile, arc_data, length
from platewright.paper.bands import weld_bands
from platewright.paper.bars import Print, across, upright
from platewright.paper.ink import SOFT, Ink
from platewright.paper.pages import Page, page
from platewright.part.model import Mark, Part
from platewright.units import show

__all__ = ["Tile", "full_size", "tiles"]

MARGIN = 8.0
"""Unprintable edge of common printers [mm] (common practice 4 to 6)."""
LEFT_BAND, FOOT_BAND = 14.0, 20.0
"""Room for the check bars, the map and the words [mm]."""
OVERLAP = 10.0
GRID = 50.0
MOST_PAGES = 200


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of the proof: its column and row and the lower left of what it shows, in part coordinates [mm]."""

    column: int
    row: int
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    page: Page
    net_width: float
    net_height: float
    columns: int
    rows: int
    tiles: tuple[Tile, ...]


def _spread(span: float, net: float) -> int:
    """Return how many pages of net length cover a span [mm], overlapping."""
    return 1 if span <= net else math.ceil((span - OVERLAP) / (net - OVERLAP) - 1e-9)


def _planned(box: tuple[float, float, float, float], sheet: Page, fix: Print) -> _Plan:
    net_w = (sheet.width - 2 * MARGIN - LEFT_BAND) / fix.x
    net_h = (sheet.height - 2 * MARGIN - FOOT_BAND) / fix.y
    x0, y0, x1, y1 = box
    columns, rows = _spread(x1 - x0, net_w), _spread(y1 - y0, net_h)
    left = (x0 + x1) / 2 - (columns * (net_w - OVERLAP) + OVERLAP) / 2
    low = (y0 + y1) / 2 - (rows * (net_h - OVERLAP) + OVERLAP) / 2
    spots = [
        Tile(c, r, left + c * (net_w - OVERLAP), low + r * (net_h - OVERLAP))
        for r in range(rows)
        for c in range(columns)
    ]
    return _Plan(
        page=sheet, net_width=net_w, net_height=net_h, columns=columns, rows=rows, tiles=tuple(spots)
    )


def _best(profile: Profile, name: str, fix: Print) -> _Plan:
    box = profile.bounds()
    edges = (box.x0 - 2, box.y0 - 2, box.x1 + 2, box.y1 + 2)
    if name.lower().startswith("roll"):
        roll = page(name)
        plan = _planned(
            edges, Page(roll.name, roll.width, (box.height + 4) * fix.y + 2 * MARGIN + FOOT_BAND + 1), fix
        )
    else:
        sheet = page(name)
        plan = min((_planned(edges, s, fix) for s in (sheet, sheet.turned())), key=lambda p: len(p.tiles))
    if len(plan.tiles) > MOST_PAGES:
        raise InputError(
            f"A part {box.width:.0f} by {box.height:.0f} mm would take {len(plan.tiles)} {name} pages.",
            allowed=f"at most {MOST_PAGES}",
            do="Use larger paper or a roll.",
        )
    return plan


def tiles(profile: Profile, *, paper: str = "letter", fix: Print = Print()) -> tuple[Tile, ...]:
    """Return the pages a full-size proof needs, in part coordinates [mm], the way the paper lies chosen for fewest."""
    return _best(profile, paper, fix).tiles


def full_size(
    part: Part,
    *,
    paper: str = "letter",
    fix: Print = Print(),
    band: Sequence[Profile] | None = None,
    revision: str = "",
) -> bytes:
    """Return the full-size proof of a part as PDF.

    Parameters
    ----------
    part : the part [mm]
    paper : "letter", "A4", "A3", "tabloid" or "roll WIDTH"
    fix : correction from measured check bars [-]
    band : weld-room bands to hatch [mm]; None works them out from the part's steps
    revision : printed in the footer, ties the paper to the part

    Raises
    ------
    InputError
        If the page is unknown or far too many pages would be needed.
    """
    plan = _best(part.profile, paper, fix)
    strips = weld_bands(part) if band is None else tuple(band)
    ink = Ink(plan.page, f"{part.name}, full size")
    for number, tile in enumerate(plan.tiles):
        if number:
            ink.next_page()
        _tile(ink, part, plan=plan, tile=tile, fix=fix, band=strips)
        _frame(ink, part, plan=plan, tile=tile, fix=fix, revision=revision)
    return ink.bytes()


def _tile(ink: Ink, part: Part, *, plan: _Plan, tile: Tile, fix: Print, band: Sequence[Profile]) -> None:
    left, low = MARGIN + LEFT_BAND, MARGIN + FOOT_BAND
    ink.clip(left, low, plan.net_width * fix.x, plan.net_height * fix.y)
    ink.push(x=left, y=low, scale=(fix.x, fix.y))
    ink.push(x=-tile.x, y=-tile.y)
    ink.pen(0.1, colour=SOFT)
    for x, y in _grid(tile, plan):
        ink.cross(x, y, 2.0)
    for strip in band:
        ink.pen(0.1, colour=SOFT)
        ink.hatch(strip)
    ink.pen(0.25)
    ink.profile(part.profile)
    for hole in part.profile.holes:
        _hole(ink, hole)
    for mark in part.marks:
        _mark(ink, mark)
    for _ in range(2):
        ink.pop()
    ink.pop()


def _grid(tile: Tile, plan: _Plan) -> Iterator[tuple[float, float]]:
    for i in range(math.ceil(tile.x / GRID), math.floor((tile.x + plan.net_width) / GRID) + 1):
        for j in range(math.ceil(tile.y / GRID), math.floor((tile.y + plan.net_height) / GRID) + 1):
            yield i * GRID, j * GRID


def _hole(ink: Ink, hole: Contour) -> None:
    arcs = arc_data(hole)
    radius = float(arcs.radius[0])
    round_hole = (
        len(set(arcs.radius.round(6).tolist())) == 1 and abs(length(hole) - math.tau * radius) < 1e-6 * radius
    )
    if not round_hole:
        return
    x, y = map(float, arcs.centre[0])
    ink.pen(0.15)
    ink.cross(x, y, min(radius * 0.6, 8.0))
    ink.text(x + radius + 1.2, y + 1.0, f"⌀ {2 * radius:.2f}", size=2.6)


def _mark(ink: Ink, mark: Mark) -> None:
    ink.pen(0.2, dash=(4, 1.5) if mark.kind != "etch" else (1, 1))
    if mark.contour is not None:
        ink.contours([mark.contour])
        x, y = map(float, mark.contour.points[0])
    elif mark.at is not None:
        x, y = mark.at
        ink.pen(0.2)
        ink.cross(x, y, 3.0)
    else:
        return
    if mark.text:
        ink.text(x + 1.5, y + 1.5, mark.text, size=2.6)


def _frame(ink: Ink, part: Part, *, plan: _Plan, tile: Tile, fix: Print, revision: str) -> None:
    left, low = MARGIN + LEFT_BAND, MARGIN + FOOT_BAND
    wide, high = plan.net_width * fix.x, plan.net_height * fix.y
    ink.pen(0.15)
    for x in (left, left + wide):
        for y in (low, low + high):
            ink.cross(x, y, 4.0)
    across(ink, left, MARGIN + 4, fix=fix)
    upright(ink, MARGIN + 6, low, fix=fix)
    where = f"page {tile.row * plan.columns + tile.column + 1} of {len(plan.tiles)}: column {tile.column + 1}, row {tile.row + 1} from below"
    hand = " · OTHER HAND" if part.hand == "other" else ""
    corrected = "" if fix == Print() else f" · corrected {fix.x:.4f} across, {fix.y:.4f} upright"
    room = wide - 24
    ink.text(left, MARGIN + 14.4, f"{part.name}{hand}", size=3.2, bold=True, width=room * 0.5)
    ink.text(
        left + room * 0.52,
        MARGIN + 14.4,
        f"{show(part.thickness)} = {show(part.thickness, 'in')} {part.grade} {revision}",
        size=2.6,
        width=room * 0.48,
    )
    ink.text(left, MARGIN + 10.4, f"Full size. Print at 100 %. {where}{corrected}", size=2.3, width=room)
    _map(ink, plan, tile, x=left + wide - 20, y=MARGIN + 1)


def _map(ink: Ink, plan: _Plan, tile: Tile, *, x: float, y: float) -> None:
    cell = min(18 / plan.columns, 16 / plan.rows, 6.0)
    ink.pen(0.1)
    for spot in plan.tiles:
        here = spot == tile
        ink.box(
            x + spot.column * cell, y + spot.row * cell, cell, cell, fill=(0.2, 0.2, 0.2) if here else None
        )
