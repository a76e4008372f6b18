"""Kerf: from a placed part's contours to the loops the torch must run, direction and speed with them.

The path lies half a kerf on the waste side (``geometry.offset``; convex corners of the part are rounded by the
offset so that the torch rolls about them and the metal's corner stays sharp). What the kerf cannot reach, too
small holes, necks and inside corners, is told as findings.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from platewright.burn.cuts.corners import rounded_inside
from platewright.burn.options import BurnOptions, CutChoice
from platewright.findings import Finding, finding
from platewright.geometry import Contour, arc_data, bounds, signed_area
from platewright.geometry.holes import for_the_drill, hydraulic_diameter
from platewright.geometry.regions.offset import offset_contour
from platewright.layout.model import Layout
from platewright.part.model import Mark
from platewright.table.law import kerf_at, kerf_of_hole
from platewright.table.model import ChartRow, TableProfile

__all__ = ["Loop", "inside_corners", "loops_of", "marked_holes", "small_limit", "title"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """A closed path to run.

    Attributes
    ----------
    kind : hole or outer
    placement, contour : whose it is
    path : closed, running the way it will be cut [mm]
    scrap_left : whether scrap lies left of travel
    kerf : width it is compensated for [mm]
    feed : [mm/s]
    small : whether it counts as a small hole (slow, height control frozen)
    circle : (x, y, radius) of the path if it is a circle [mm]
    why : sentences
    """

    kind: str
    placement: int
    contour: int
    path: Contour
    scrap_left: bool
    kerf: float
    feed: float
    small: bool
    circle: tuple[float, float, float] | None
    why: tuple[str, ...]


def title(layout: Layout, placement: int, contour: int) -> str:
    """Return 'gusset #3, hole 2' or 'gusset #3, outside' for findings [-]."""
    if placement == len(layout.placements):
        return layout.label(placement)
    which = "outside" if contour == 0 else f"hole {contour}"
    return f"{layout.label(placement)}, {which}"


def small_limit(options: BurnOptions, thickness: float) -> float:
    """Return the diameter [mm] up to which a hole is cut as a small one, from the thickness [mm]."""
    return max(4.0 * thickness, 12.0) if options.small_hole is None else options.small_hole


def _circle(path: Contour) -> tuple[float, float, float] | None:
    arcs = arc_data(path)
    if (arcs.sweep == 0).any():
        return None
    spread = np.ptp(arcs.centre, axis=0).max() + np.ptp(arcs.radius)
    whole = abs(abs(float(arcs.sweep.sum())) - 2 * math.pi) < 1e-6
    if spread > 1e-4 or not whole:
        return None
    return float(arcs.centre[0, 0]), float(arcs.centre[0, 1]), float(arcs.radius[0])


def marked_holes(layout: Layout, options: BurnOptions) -> Iterator[tuple[int, int, Mark]]:
    """Yield placement, contour and centre mark of every round hole that is too narrow to cut by choice [mm]."""
    for index, (_, _, profile) in enumerate(layout.placed()):
        for number, hole in enumerate(profile.holes, 1):
            if for_the_drill(hole, below=options.mark_below) and not options.choice(index, number).skip:
                box = bounds(hole)
                yield (
                    index,
                    number,
                    Mark(
                        "centre",
                        at=((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2),
                        text=f"drill hole {number}",
                    ),
                )


def loops_of(
    layout: Layout, row: ChartRow, table: TableProfile, options: BurnOptions, *, chord: float = 0.0
) -> Iterator[Loop | Finding]:
    """Yield the loops of every placed part [mm], and findings where a contour cannot be cut as drawn.

    `chord` is how far chords lie off arcs where the controller takes no arcs [mm].
    """
    for index, (_, _, profile) in enumerate(layout.placed()):
        for number, contour in enumerate(profile.contours()):
            choice = options.choice(index, number)
            if not choice.skip:
                setting = (row, table, options, choice, chord)
                yield from _contour_loops(layout, (index, number), contour, setting)
    yield from _corner_findings(layout, row.kerf)


Setting = tuple[ChartRow, TableProfile, BurnOptions, CutChoice, float]


def _contour_loops(
    layout: Layout, which: tuple[int, int], contour: Contour, setting: Setting
) -> Iterator[Loop | Finding]:
    row, table, options, choice, chord = setting
    hole, subject = which[1] > 0, title(layout, *which)
    size = hydraulic_diameter(contour)
    small = hole and size <= small_limit(options, row.thickness)
    factor = _factor(row, options, choice, small)
    feed = min(row.cut_speed * factor, table.max_cut_speed)
    round_hole = hole and _circle(contour) is not None
    kerf = float(kerf_at(row, feed))
    if round_hole:
        kerf = kerf_of_hole(row, table, feed=feed, diameter=size, chord=chord)
    paths = offset_contour(contour, -kerf / 2 if hole else kerf / 2)
    place = (float(contour.rows[0, 0]), float(contour.rows[0, 1]))
    if hole and for_the_drill(contour, below=options.mark_below):
        yield finding("B024", place=place, subject=subject, size_mm=size)
        return
    if hole and size < row.smallest_hole - 1e-6:
        yield finding("B004", place=place, subject=subject, size_mm=size, least_mm=row.smallest_hole)
    if not paths:
        yield finding("B001", place=place, subject=subject, kerf_mm=kerf)
        return
    if not hole and len(paths) > 1:
        yield finding("B006", place=place, subject=subject, kerf_mm=kerf, count=len(paths) - 1)
        paths = paths[:1]
    if hole and len(paths) > 1:
        yield finding("B007", place=place, subject=subject, kerf_mm=kerf, count=len(paths))
    part_right = (table.swirl == "clockwise") != choice.reverse  # of travel
    clockwise = part_right != hole
    why = (
        f"Path {kerf / 2:.2f} mm {'inside' if hole else 'outside'} the line, half the kerf.",
        f"{'Clockwise' if clockwise else 'Counterclockwise'}: "
        + ("as asked." if choice.reverse else f"the good side of {table.swirl} swirl faces the part."),
        f"{feed * 60:.0f} mm/min"
        + (f", {factor:.0%} of cut speed for a small hole." if small and factor < 1 else "."),
    )
    for path in paths:
        turned = path.reversed() if (signed_area(path) < 0) != clockwise else path
        if options.round_inside > kerf / 2:
            turned = rounded_inside(turned, options.round_inside - kerf / 2, scrap_left=clockwise != hole)
        yield Loop(
            kind="hole" if hole else "outer",
            placement=which[0],
            contour=which[1],
            path=turned,
            scrap_left=clockwise != hole,
            kerf=kerf,
            feed=feed,
            small=small,
            circle=_circle(turned),
            why=why,
        )


def _factor(row: ChartRow, options: BurnOptions, choice: CutChoice, small: bool) -> float:
    if choice.speed_factor is not None:
        return choice.speed_factor
    if not small:
        return 1.0
    return row.hole_speed_factor if options.hole_speed_factor is None else options.hole_speed_factor


def inside_corners(contour: Contour, *, radius: float) -> list[tuple[int, float]]:
    """Return (vertex, metal left [mm]) of corners the kerf cannot fill: inside corners sharper than a radius [mm].

    Parameters
    ----------
    contour : counterclockwise outer contour or clockwise hole, as in a Profile; metal lies to its left
    radius : half the kerf [mm]
    """
    from platewright.geometry.measure import on_edges

    count = len(contour)
    edges = np.arange(count)
    _, leave = on_edges(contour, edges, np.ones(count))
    _, enter = on_edges(contour, edges, np.zeros(count))
    turn = np.roll(enter, -1) - leave
    turn = np.mod(turn + math.pi, 2 * math.pi) - math.pi
    found = [
        (int((i + 1) % count), radius * (1 / math.cos(-turn[i] / 2) - 1))
        for i in np.flatnonzero(turn < -math.radians(5))
        if turn[i] > -math.pi + 0.02
    ]
    arcs = arc_data(contour)
    tight = np.flatnonzero((arcs.sweep < 0) & (arcs.radius < radius - 1e-6))
    return found + [(int(i), float(radius - arcs.radius[i])) for i in tight]


def _corner_findings(layout: Layout, kerf: float) -> Iterator[Finding]:
    """Yield one finding for each contour of each part that has corners the kerf cannot fill, whatever its copies."""
    first: dict[int, int] = {}
    for index, placement in enumerate(layout.placements):
        first.setdefault(placement.part, index)
    for part, index in first.items():
        profile = layout.placements[index].pose.apply(layout.parts[part].profile)
        for number, contour in enumerate(profile.contours()):
            corners = inside_corners(contour, radius=kerf / 2)
            if not corners:
                continue
            vertex, most = max(corners, key=lambda c: c[1])
            yield finding(
                "B003",
                place=(float(contour.rows[vertex, 0]), float(contour.rows[vertex, 1])),
                subject=f"{layout.parts[part].name}, {'outside' if number == 0 else f'hole {number}'}",
                count=len(corners),
                radius_mm=kerf / 2,
                left_mm=most,
            )
