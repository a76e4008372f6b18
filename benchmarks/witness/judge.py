"""Good, ruined, wrong or unreadable: what one program makes of a job, and why; lengths [mm], times [s], speeds [mm/s].

*Ruined*: an edge more than 0.5 mm off, a part or hole missing or cut twice, travel with the torch lit, a cut that was
not pierced, a pierce in a part, the torch through a keep-out, the torch left lit or driven into the plate or out of
the arc's reach. *Wrong*: the shapes come out, the process does not (feed, dwell, heights, zero, height control,
travel height, units or modes unsaid, order). Both are judged for every way the program can be taken: with block
delete on and off, and with either unit if it says none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.strtree import STRtree

from benchmarks.witness.ascut import Burn, burns_of, left, swept
from benchmarks.witness.asked import Job, PartAsked
from benchmarks.witness.dialect import Dialect
from benchmarks.witness.reader import read
from benchmarks.witness.state import Reading
from benchmarks.witness.torch import (
    OFF,
    UNPIERCED,
    Case,
    control,
    feeds,
    heights,
    length_of,
    marking,
    pierces,
    torch,
    touch_off,
    travel,
)
from benchmarks.witness.words import UnreadableError

__all__ = ["OFF", "Verdict", "deviations", "judge", "worst"]
Ruling = Literal["good", "ruined", "wrong", "unreadable"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The ruling, its reasons (class, sentence), and how far the worst edge is off where it was measured [mm]."""

    ruling: Ruling
    ruined: tuple[tuple[str, str], ...] = ()
    wrong: tuple[tuple[str, str], ...] = ()
    unreadable: str = ""


def judge(text: str, dialect: Dialect, job: Job) -> Verdict:
    """Judge a program for every way it can be taken."""
    case, ways = Case(), [("mm", False)]
    unsaid: frozenset[str] = frozenset()
    done: set[tuple[str, bool]] = set()
    while ways:
        way = ways.pop()
        if way in done:
            continue
        done.add(way)
        try:
            reading = read(text, dialect, units=way[0], delete=way[1])
        except UnreadableError as bad:
            return Verdict("unreadable", unreadable=f"line {bad.line}: {bad.why}")
        unsaid |= reading.unsaid
        if "units" in reading.unsaid:
            ways += [("mm", way[1]), ("inch", way[1])]
        if reading.deletes:
            ways += [(way[0], False), (way[0], True)]
        _judge_reading(case, reading, dialect, job)
    if len({delete for _, delete in done}) > 1:
        case.fault("block delete", "what runs hangs on a switch of the controller")
    for mode in sorted(unsaid):
        case.fault("unsaid", f"{mode} not said")
    ruling: Ruling = "ruined" if case.ruined else "wrong" if case.wrong else "good"
    return Verdict(ruling, tuple(dict.fromkeys(case.ruined)), tuple(dict.fromkeys(case.wrong)))


def _judge_reading(case: Case, reading: Reading, dialect: Dialect, job: Job) -> None:
    every = burns_of(reading.events)
    burns = [b for b in every if not _dimple(b, job)]
    areas = [swept(b, job.process) for b in burns]
    torch(case, burns, areas, job)
    pierces(case, burns, areas, dialect, job)
    heights(case, burns, dialect, job)
    feeds(case, burns, job)
    touch_off(case, reading.events, dialect)
    control(case, burns, dialect)
    travel(case, reading.events, areas, dialect, job)
    marking(case, reading.events, dialect, job)
    _shapes(case, burns, areas, job)
    _twice(case, burns, areas, job)
    _order(case, burns, areas)


def _dimple(burn: Burn, job: Job) -> bool:
    """An arc that stands still at a point to be marked, where that was asked for, and is out well before the plate is pierced."""
    if not job.dimpled or len(burn.path()) > 1:
        return False
    waits = sum(e.seconds for e in burn.events if e.kind == "dwell")
    spot = Point(burn.path()[0])
    at = min((m.distance(spot) for m in job.marks if m.geom_type == "Point"), default=math.inf)
    return at <= 0.5 and waits < UNPIERCED * job.process.pierce_delay


# --- shapes -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A part's shape as a round kerf leaves it, its edge, and the band an edge as cut must stay in."""

    shape: Polygon
    edge: BaseGeometry
    sure: BaseGeometry
    band: BaseGeometry
    bridges: BaseGeometry


@lru_cache(maxsize=4096)
def _wanted(part: PartAsked, radius: float) -> _Wanted:
    """Metal may stay in inside corners the kerf cannot reach: the shape is closed with the kerf's circle.

    An edge as cut must lie between the shape asked for and that one, and be there wherever the two have one edge.
    """
    closed = part.shape.buffer(radius, quad_segs=32).buffer(-radius, quad_segs=32)
    shape = closed if closed.geom_type == "Polygon" else max(closed.geoms, key=lambda p: p.area)
    edge = shape.boundary
    band = shape.buffer(OFF, quad_segs=32).difference(part.shape.buffer(-OFF, quad_segs=32))
    shapely.prepare(band)
    ring = shape.buffer(2.05 * radius).difference(shape)
    discs = [Point(t.at).buffer(t.width / 2 + 2 * radius) for t in part.tabs]
    bridges = ring.intersection(shapely.union_all(discs)) if discs else Polygon()
    sure = edge.intersection(part.shape.boundary.buffer(1e-3))
    return _Wanted(shape, edge, sure, band, bridges)


def _shapes(case: Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], job: Job) -> None:
    burnt = shapely.union_all(areas)
    for part, want, piece in _pieces(burnt, job):
        if piece is None:
            case.ruin("missing", f"{part.name} is not there")
            continue
        edge = piece.boundary
        if not want.band.covers(edge):
            far = piece.area > want.shape.area + want.edge.length * 5
            case.ruin(
                "edge",
                f"{part.name} " + ("does not come free" if far else f"has an edge {worst(edge, want.edge)}"),
            )
        elif not edge.buffer(OFF, quad_segs=16).covers(want.sure):
            case.ruin("edge", f"{part.name} lacks an edge: {worst(want.sure, edge)}")
        if part.tabs and want.bridges.intersection(burnt).area > 0.9 * want.bridges.area:
            case.fault("tab", f"{part.name} is cut through its tabs")


def _pieces(burnt: BaseGeometry, job: Job) -> Iterator[tuple[PartAsked, _Wanted, Polygon | None]]:
    """Each part with the piece of metal that holds most of it."""
    round_inside = max(job.process.kerf / 2, job.process.inside_radius)
    wanted = [_wanted(p, round_inside) for p in job.parts]
    bridges = [w.bridges for w in wanted if not w.bridges.is_empty]
    pieces = left(job.plate, shapely.union_all([burnt, *bridges]) if bridges else burnt)
    tree = STRtree(pieces)
    for part, want in zip(job.parts, wanted, strict=True):
        at = tree.query(want.shape, predicate="intersects")
        shares = [(pieces[i].intersection(want.shape).area, int(i)) for i in at]
        found = shares and max(shares)[0] >= 0.2 * want.shape.area
        yield part, want, pieces[max(shares)[1]] if found else None


def deviations(text: str, dialect: Dialect, job: Job) -> list[float]:
    """The furthest each part's edge as cut lies from the edge asked for, or back, beyond what a round kerf leaves [mm].

    Points every 0.2 mm along both edges, the vertices among them; infinite for a part that is not there.
    """
    burns = burns_of(read(text, dialect).events)
    burnt = shapely.union_all([swept(b, job.process) for b in burns])
    found = []
    for _, want, piece in _pieces(burnt, job):
        if piece is None:
            found.append(math.inf)
            continue
        pairs = ((piece.boundary, want.edge), (want.edge, piece.boundary))
        found.append(max(float(_gaps(a.segmentize(0.2), b)[1].max()) for a, b in pairs))
    return found


def _gaps(edge: BaseGeometry, other: BaseGeometry) -> tuple[np.ndarray, np.ndarray]:
    points = shapely.get_coordinates(edge)
    return points, shapely.distance(shapely.points(points), other)


def worst(edge: BaseGeometry, other: BaseGeometry) -> str:
    """Say how far the furthest point of an edge lies from the other, and where."""
    points, gaps = _gaps(edge.segmentize(0.5), other)
    k = int(np.argmax(gaps))
    return f"{gaps[k]:.2f} mm off at X{points[k, 0]:.1f} Y{points[k, 1]:.1f}"


def _twice(case: Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], job: Job) -> None:
    """A burn run mostly in metal already gone, or round twice."""
    kerf = job.process.kerf
    tree = STRtree(areas)
    for k, burn in enumerate(burns):
        path = burn.path()
        if len(path) < 2:
            continue
        line = LineString(path)
        length = line.length
        taken = sum(length_of(e) * job.process.kerf_at(e.feed, e.radius) for e in burn.events if e.moves)
        excess = (taken + math.pi * kerf**2 / 4 - areas[k].area) / kerf
        if length > 6 * kerf and excess > max(0.45 * length, 4 * kerf + job.process.overburn):
            case.ruin("twice", f"the cut of line {burn.line} runs round twice")
        before = [int(i) for i in tree.query(areas[k], predicate="intersects") if i < k]
        if not before:
            continue
        gone = shapely.union_all([areas[i] for i in before]).buffer(-0.35 * kerf)
        if line.intersection(gone).length > max(0.5 * length, 2 * kerf):
            case.ruin("twice", f"the cut of line {burn.line} runs in a cut already made")


def _order(case: Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry]) -> None:
    """A cut that starts inside the ring of an earlier one starts in metal that is loose."""
    rings = [
        [Polygon(r) for p in shapely.get_parts(a) for r in p.interiors if Polygon(r).area > 4] for a in areas
    ]
    for k, burn in enumerate(burns):
        spot = Point(burn.events[0].points[0])
        for j in range(k):
            if any(r.contains(spot) for r in rings[j]):
                case.fault(
                    "order",
                    f"the cut of line {burn.line} starts in metal the cut of line {burns[j].line} has freed",
                )
