"""Checks of what was asked of the cutting beside the shape: tabs, contours left whole, marks. That it is there, and nothing more of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from platewright.findings import Finding
from platewright.geometry import Floats, flatten
from platewright.program.run import Kind
from platewright.proof.burns import edges_of
from platewright.proof.checks.cutoff import cutting_off
from platewright.proof.compare import Requested
from platewright.proof.dimples import middles
from platewright.proof.faces import flattened
from platewright.proof.match import Match
from platewright.proof.scene import Scene, finding_at
from platewright.table.law import LEAST_PLATE, MOST_SHARE

__all__ = ["check_wishes", "is_marked"]

MARKED = 0.5
"""How far a mark may lie from where it was asked for [mm]."""

_ASTRAY = 1.0
"""A marking move this far from every mark asked for marks something else [mm]."""

THIN = 0.6
"""A tab narrower than this share of the width asked for may break before its time [-]."""

_TOUCH = 1e-4
"""A kerf that shares more than this with a part touches it [mm²]."""

TAB_ERROR = 0.3
"""How well the width of a tab is known [mm]; those of good programs come out up to 0.16 mm wider than asked."""


def check_wishes(scene: Scene) -> Iterator[Finding]:
    """Yield wishes that are not met, or more than met [mm]."""
    for match in scene.matches:
        if match.polygon is not None:
            part = scene.requested[match.requested]
            yield from _tabs(scene, match, part)
            yield from _left_whole(scene, match, part)
    if scene.layout is not None:
        yield from _marks(scene)
        yield from _rest(scene)
    yield from _left_down(scene)


# -- tabs ----------------------------------------------------------------------------------------------


def _tabs(scene: Scene, match: Match, part: Requested) -> Iterator[Finding]:
    """Yield tabs nobody asked for, those as asked (a note), and those asked for that are missing or too thin."""
    x0, y0, x1, y1 = part.polygon.bounds
    longest, thickness = max(x1 - x0, y1 - y0), scene.thickness or 0.0
    for contour in range(1 + len(match.holes)):
        mine = [t for t in match.tabs if t.contour == contour]
        subject = part.label if contour == 0 else f"The slug of {part.label}, hole {contour},"
        wish = scene.deliberate.tabs(part.placement, contour, longest=longest, thickness=thickness)
        # a part within two kerfs of the size below which parts get tabs may go without
        sure = longest + 2 * scene.kerf
        chosen = scene.deliberate.tabs(part.placement, contour, longest=sure, thickness=thickness)
        wish = wish or scene.deliberate.short(part.placement, contour)
        if mine:
            widest = max(mine, key=lambda t: t.width)
            meant = wish is not None and len(mine) <= wish[0] and widest.width <= wish[1] + TAB_ERROR
            severity = "note" if meant else "look"
            yield finding_at(
                "P074", widest.at, subject=subject, count=len(mine), widest_mm=widest.width, severity=severity
            )  # fmt: skip
        if chosen is None or scene.deliberate.left_out(part.placement, contour):
            continue
        count, width = chosen
        good = [t for t in mine if t.width > THIN * width - TAB_ERROR]
        if len(good) < count:
            ring = (part.polygon.exterior, *part.polygon.interiors)[contour]
            at = mine[0].at if mine else shapely.get_coordinates(ring)[0]
            yield finding_at("P092", at, subject=subject, asked=count, width_mm=width, count=len(good))


# -- contours that were to be left whole ---------------------------------------------------------------------


def _left_whole(scene: Scene, match: Match, part: Requested) -> Iterator[Finding]:
    wishes = scene.deliberate
    if match.face is not None and wishes.left_out(part.placement, 0):
        at = shapely.get_coordinates(part.polygon.exterior)[0]
        yield finding_at("P093", at, subject=part.label, what="its outside")
    for number, (pair, hole) in enumerate(zip(match.holes, part.profile.holes, strict=True), 1):
        if pair is None:
            continue
        spot = shapely.get_coordinates(shapely.polygons(match.polygon.interiors[pair]).centroid)[0]
        if wishes.left_out(part.placement, number) or wishes.drilled(hole):
            yield finding_at("P093", spot, subject=part.label, what=f"hole {number}")


# -- the rest cut up -----------------------------------------------------------------------------------


def _rest(scene: Scene) -> Iterator[Finding]:
    """Yield cuts of the rest of the plate that touch a part, or come before the program stops for the parts to be lifted out."""
    numbers = np.array([n for n in np.flatnonzero(scene.rest).tolist() if n not in cutting_off(scene)])
    if not len(numbers):
        return
    burns, first = scene.torch.burns, int(numbers[0])
    parts = np.array([a.polygon for a in scene.requested], dtype=object)
    mine = np.flatnonzero(scene.rest[scene.strands.burn])
    kerf, part = shapely.STRtree(parts).query(scene.strands.polygons[mine], predicate="intersects")
    touched = [
        (int(scene.strands.burn[mine[k]]), p, common)
        for k, p in zip(kerf.tolist(), part.tolist(), strict=True)
        if (common := shapely.intersection(scene.strands.polygons[mine[k]], parts[p])).area > _TOUCH
    ]
    for number, p, common in touched[:1]:
        at = shapely.get_coordinates(common.representative_point())[0]
        yield finding_at(
            "P102", at, line=scene.line_of(number), cut=number + 1, subject=scene.requested[p].label, count=len(touched)
        )  # fmt: skip
    begin = burns[first - 1].last if first else 0
    if not (scene.run.moves.kind[begin : burns[first].first] == Kind.STOP).any():
        yield finding_at("P101", burns[first].pierce, line=burns[first].line, cut=first + 1)
    yield finding_at("P103", burns[first].pierce, line=burns[first].line, cut=first + 1, count=len(numbers))


# -- marks ---------------------------------------------------------------------------------------------


def is_marked(scene: Scene, spot: Floats) -> bool:
    """Tell whether the marking tool comes down, or an arc strikes a dimple, within half a millimetre of a place [mm]."""
    moves = scene.run.moves
    struck = np.array([*(b.pierce for b in scene.struck.good), (np.inf, np.inf)])
    if np.hypot(*(struck - spot).T).min() <= MARKED:
        return True
    ends = moves.end[moves.marking, :2] + np.array(scene.dialect.marker_offset)
    return bool((np.hypot(*(ends - spot).T) <= MARKED).any())


def _marks(scene: Scene) -> Iterator[Finding]:
    """Yield marks that are asked for and not made, and marking moves where none is asked for."""
    assert scene.layout is not None
    yield from _struck(scene)
    wanted = {a.placement for a in scene.requested}
    requested = [shape for placement, shape in _requested_marks(scene) if placement in wanted]
    if scene.struck.good:
        dimples = shapely.MultiPoint([b.pierce for b in scene.struck.good])
        requested = [m for m in requested if m.geom_type != "Point" or _furthest(m, dimples) > MARKED]
    made = _made_marks(scene)
    if made is None:
        can = scene.dialect.controller.marks and scene.deliberate.marks and not scene.gone
        if requested and scene.torch.burns:
            first = shapely.get_coordinates(requested[0])[0]
            yield (
                finding_at("P088", first, count=len(requested))
                if can
                else finding_at("P075", count=len(requested))
            )
        return
    move, lines = made
    yield from _into_keepouts(scene, move, lines)
    whole = shapely.multilinestrings(lines)  # a union would lose dabs, lines of no length
    missing = [m for m in requested if _furthest(m, whole) > MARKED]
    if missing and scene.deliberate.marks and not scene.gone:
        yield finding_at("P088", shapely.get_coordinates(missing[0])[0], count=len(missing))
    known = shapely.geometrycollections(
        [
            *(s for _, s in _requested_marks(scene)),
            *map(shapely.Point, middles(scene.layout, scene.deliberate)),
        ]
    )
    astray = [k for k, line in enumerate(lines) if known.is_empty or _furthest(line, known) > _ASTRAY]
    for k in astray[:1]:
        yield finding_at(
            "P059",
            shapely.get_coordinates(lines[k])[-1],
            line=scene.run.moves.line[move[k]],
            count=len(astray),
        )


def _into_keepouts(scene: Scene, move: Any, lines: list[Any]) -> Iterator[Finding]:
    """Yield keep-outs that the marking tool, down on the plate, runs into."""
    for keepout, polygon in zip(scene.layout.keepouts if scene.layout else (), scene.keepouts, strict=True):
        met = np.flatnonzero(shapely.intersects(polygon, np.array(lines, dtype=object)))
        if len(met) and keepout.height > 0:
            line, at = scene.run.moves.line[move[met[0]]], shapely.get_coordinates(lines[met[0]])[-1]
            yield finding_at("P006", at, line=line, subject=keepout.name, height_mm=keepout.height)


def _left_down(scene: Scene) -> Iterator[Finding]:
    """Yield a marking tool that is down when the torch is lit or the program ends."""
    lowered: int | None = None
    for event in scene.run.events:
        if event.what == "mark-on":
            lowered = event.line if lowered is None else lowered
        elif event.what in ("mark-off", "both-off"):
            lowered = None
        elif event.what in ("torch-on", "end") and lowered is not None:
            over = event.what == "end"
            what = "the program ends" if over else f"line {event.line} lights the torch"
            yield finding_at("P096", line=lowered, what=what, severity=None if over else "stop")
            return


def _struck(scene: Scene) -> Iterator[Finding]:
    """Yield that centres are struck by the arc, and those struck so long, or on so thin a plate, that it may go through."""
    good, bad = scene.struck.good, scene.struck.bad
    if good:
        yield finding_at("P099", good[0].pierce, line=good[0].line, count=len(good))
    if bad and scene.row is not None:
        yield finding_at(
            "P100", bad[0].pierce, line=bad[0].line, count=len(bad), seconds=bad[0].stood,
            thickness_mm=scene.thickness, most_s=MOST_SHARE * scene.row.pierce_delay, least_mm=LEAST_PLATE,
        )  # fmt: skip


def _requested_marks(scene: Scene) -> Iterator[tuple[int, Any]]:
    """Yield the placement and the shape of every mark of the layout that a tool should make [mm]."""
    assert scene.layout is not None
    owner = {id(p): n for n, p in enumerate(scene.layout.placements)}
    for placement, mark in scene.layout.placed_marks():
        if mark.kind == "print":
            continue
        if mark.contour is None:
            yield owner[id(placement)], shapely.Point(mark.at)
        else:
            points = flatten(mark.contour, tolerance=0.05)
            yield owner[id(placement)], shapely.linestrings(points if len(points) > 1 else points[[0, 0]])


def _made_marks(scene: Scene) -> tuple[Any, list[Any]] | None:
    """Return of each stretch marked the move [-] and the lines they draw on the plate [mm]; None if the tool never comes down."""
    moves = scene.run.moves
    index = np.flatnonzero(moves.marking & (moves.kind != Kind.DWELL))
    if not len(index):
        return None
    edges, move = edges_of(scene.run, index)
    points, owner = flattened(edges, 0.05)
    offset = np.array(scene.dialect.marker_offset)
    return move, [
        shapely.linestrings(np.vstack([points[owner == k], edges.end[k : k + 1]]) + offset)
        for k in range(len(edges))
    ]


def _furthest(mark: Any, made: Any) -> float:
    """Return how far the worst point of a mark lies from what was made [mm]."""
    fine = shapely.segmentize(mark, 2.0) if mark.length > 0 else mark  # a dab is a line of no length
    spots = shapely.points(shapely.get_coordinates(fine))
    return float(shapely.distance(spots, made).max())
