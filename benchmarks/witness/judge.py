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
from dataclasses import dataclass, field
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
from benchmarks.witness.reader import Event, Reading, read
from benchmarks.witness.words import UnreadableError

__all__ = ["OFF", "Verdict", "deviations", "judge", "worst"]

OFF = 0.5
"""An edge further off than this is a ruined part [mm] (issue 16)."""
FEED_OFF = 0.25
UNPIERCED, DWELL_SHORT, DWELL_LONG = 0.5, 0.6, 4.0
"""Shares of the pierce delay: under the first the plate is not pierced; between the others nothing is said."""
REACH = 10.0
"""Higher than this above the plate the arc does not cut [mm]; common practice is 1.5 to 3."""
LOW = 5.0
"""Travel over the plate lower than this can catch what has tipped [mm]; common practice is 10 and more."""
Ruling = Literal["good", "ruined", "wrong", "unreadable"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The ruling, its reasons (class, sentence), and how far the worst edge is off where it was measured [mm]."""

    ruling: Ruling
    ruined: tuple[tuple[str, str], ...] = ()
    wrong: tuple[tuple[str, str], ...] = ()
    unreadable: str = ""


@dataclass(slots=True)
class _Case:
    """What is found about one reading."""

    ruined: list[tuple[str, str]] = field(default_factory=list)
    wrong: list[tuple[str, str]] = field(default_factory=list)

    def ruin(self, kind: str, text: str) -> None:
        self.ruined.append((kind, text))

    def fault(self, kind: str, text: str) -> None:
        self.wrong.append((kind, text))


def judge(text: str, dialect: Dialect, job: Job) -> Verdict:
    """Judge a program for every way it can be taken."""
    case, ways = _Case(), [("mm", False)]
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


def _judge_reading(case: _Case, reading: Reading, dialect: Dialect, job: Job) -> None:
    every = burns_of(reading.events)
    burns = [b for b in every if not _dimple(b, job)]
    areas = [swept(b, job.process) for b in burns]
    _torch(case, burns, areas, job)
    _pierces(case, burns, areas, dialect, job)
    _heights(case, burns, dialect, job)
    _feeds(case, burns, job)
    _touch_off(case, reading.events, dialect)
    _control(case, burns, dialect)
    _travel(case, reading.events, areas, dialect, job)
    _marking(case, reading.events, dialect, job)
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


def _shapes(case: _Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], job: Job) -> None:
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


def _twice(case: _Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], job: Job) -> None:
    """A burn run mostly in metal already gone, or round twice."""
    kerf = job.process.kerf
    tree = STRtree(areas)
    for k, burn in enumerate(burns):
        path = burn.path()
        if len(path) < 2:
            continue
        line = LineString(path)
        length = line.length
        taken = sum(_length(e) * job.process.kerf_at(e.feed, e.radius) for e in burn.events if e.moves)
        excess = (taken + math.pi * kerf**2 / 4 - areas[k].area) / kerf
        if length > 6 * kerf and excess > max(0.45 * length, 4 * kerf + job.process.overburn):
            case.ruin("twice", f"the cut of line {burn.line} runs round twice")
        before = [int(i) for i in tree.query(areas[k], predicate="intersects") if i < k]
        if not before:
            continue
        gone = shapely.union_all([areas[i] for i in before]).buffer(-0.35 * kerf)
        if line.intersection(gone).length > max(0.5 * length, 2 * kerf):
            case.ruin("twice", f"the cut of line {burn.line} runs in a cut already made")


def _order(case: _Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry]) -> None:
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


# --- torch ------------------------------------------------------------------------------------------------------


def _torch(case: _Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], job: Job) -> None:
    for burn, area in zip(burns, areas, strict=True):
        last = burn.events[-1]
        if last.kind == "end":
            case.ruin("lit at end", f"the torch lit in line {burn.line} is lit at the end")
        for event in burn.events:
            if event.kind == "rapid" and event.moves and event.lit:
                case.ruin("lit travel", f"line {event.line}")
            if event.kind == "rapid" and not event.moves and event.lit and event.z1 > event.z0:
                case.fault("lifted lit", f"line {event.line}")
            if event.kind == "probe":
                case.ruin("lit probe", f"line {event.line}")
            if event.kind == "pause":
                case.fault("lit pause", f"line {event.line}")
            if event.marking and event.moves:
                case.fault("marker lit", f"line {event.line}")
        path = burn.path()
        away = shapely.distance(shapely.points(path), job.plate.envelope)
        if away.max() > 30:
            case.fault(
                "off the plate", f"the cut of line {burn.line} runs {away.max():.0f} mm beyond the plate"
            )
        for keep in job.keepouts:
            if keep.shape.intersection(area).area > 1e-3:
                case.ruin("keep-out", f"the cut of line {burn.line} runs through {keep.name}")


def _pierces(
    case: _Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], dialect: Dialect, job: Job
) -> None:
    """Where the torch is lit on metal it must get through; at the plate's edge or in an older kerf it has no need to."""
    delay, half = job.process.pierce_delay, job.process.kerf / 2
    for k, burn in enumerate(burns):
        spot = Point(burn.events[0].points[0])
        metal = job.plate.contains(spot) and job.plate.boundary.distance(spot) > half
        metal = metal and not any(area.contains(spot) for area in areas[:k])
        before = down = later = 0.0
        low = math.nan
        moved = False
        for event in burn.events:
            if event.moves:
                moved = True
            elif event.kind == "line" and event.lit:
                slow = abs(event.z1 - event.z0) / event.feed
                down, later = (down, later + slow) if moved else (down + slow, later)
            if event.kind == "dwell" and event.lit:
                if moved:
                    later += event.seconds
                else:
                    before += event.seconds
                    low = event.z0
        if moved and metal:
            if before < UNPIERCED * delay:
                case.ruin("unpierced", f"line {burn.line}: {before:g} s of {delay:g} s before it moves")
            elif before < DWELL_SHORT * delay:
                case.fault("dwell", f"line {burn.line}: {before:g} s of {delay:g} s")
            elif dialect.z and low < 0.7 * job.process.pierce_height:
                case.fault("height", f"line {burn.line}: waits for the pierce at {low:g} mm")
        if before + down > DWELL_LONG * delay:
            case.fault("dwell", f"line {burn.line}: stands {before + down:g} s of {delay:g} s")
        if later > 0.2:
            case.fault("dwell", f"line {burn.line}: {later:g} s in mid-cut")
        for part in job.parts:
            if part.shape.contains(spot) and part.shape.boundary.distance(spot) > 0.1:
                case.ruin("pierce in a part", f"line {burn.line}: {part.name}")


def _heights(case: _Case, burns: Sequence[Burn], dialect: Dialect, job: Job) -> None:
    if not dialect.z:
        return
    p = job.process
    for burn in burns:
        lit = burn.events[0].z0
        if not 0.6 * p.pierce_height <= lit <= 1.8 * p.pierce_height:
            case.fault("height", f"line {burn.line}: lit at {lit:.2f} mm")
        for event in burn.events:
            if not event.lit or event.kind == "end":
                continue
            low, high = min(event.z0, event.z1), max(event.z0, event.z1)
            if low < 0:
                case.ruin("into the plate", f"line {event.line}: {low:.2f} mm")
            if event.moves and high > REACH:
                case.ruin("out of reach", f"line {event.line}: cuts at {high:.2f} mm")
            elif event.moves and not 0.5 * p.cut_height <= low <= high <= 2 * p.cut_height:
                case.fault("height", f"line {event.line}: cuts at {low:.2f} to {high:.2f} mm")


@lru_cache(maxsize=64)
def _feed_tree(
    feeds: tuple[tuple[tuple[tuple[float, float], ...], float], ...],
) -> tuple[STRtree, list[float]]:
    return STRtree([LineString(points) for points, _ in feeds]), [speed for _, speed in feeds]


def _feeds(case: _Case, burns: Sequence[Burn], job: Job) -> None:
    if not job.process.feeds:
        return
    tree, speeds = _feed_tree(job.process.feeds)  # type: ignore[arg-type]
    moves = [e for b in burns for e in b.events if e.moves and e.kind != "rapid" and e.lit]
    if not moves:
        return
    # The middle of the longest chord lies within the stretch whichever way its ends were cut up.
    middles = [_middle(e) for e in moves]
    spots = shapely.points(middles)
    pairs = tree.query_nearest(spots, max_distance=0.3, all_matches=True)
    allowed: dict[int, list[float]] = {}
    every = sorted(set(speeds))
    for i, k in zip(*pairs, strict=True):
        allowed.setdefault(int(i), []).append(speeds[int(k)])
    for i, event in enumerate(moves):
        near = allowed.get(i, every)  # off the planned way, any planned feed will do
        if all(abs(event.feed / s - 1) > FEED_OFF for s in near):
            case.fault("feed", f"line {event.line}: {event.feed * 60:.0f} mm/min, planned {near[0] * 60:.0f}")


def _middle(event: Event) -> tuple[float, float]:
    k = len(event.points) // 2
    a, b = event.points[k - 1], event.points[k]
    return float(a[0] + b[0]) / 2, float(a[1] + b[1]) / 2


def _touch_off(case: _Case, events: Sequence[Event], dialect: Dialect) -> None:
    """Where the dialect touches off, every lighting needs a probe and a zero after the torch was last out."""
    if not dialect.probes:
        return
    probed = zeroed = False
    for event in events:
        if event.kind == "probe":
            probed, zeroed = True, False
        elif event.kind == "zero":
            zeroed = probed
        elif event.kind == "torch-on" and not event.lit:
            if not (probed and zeroed):
                case.fault("zero", f"line {event.line}: lit without a touch-off and its zero")
            probed = zeroed = False


def _control(case: _Case, burns: Sequence[Burn], dialect: Dialect) -> None:
    """Where the program switches height control, a long cut wants it and a pierce does not."""
    if not dialect.follows:
        return
    for burn in burns:
        cuts = [e for e in burn.events if e.moves]
        total = sum(_length(e) for e in cuts)
        following = sum(_length(e) for e in cuts if e.following)
        if total > 150 and following < 0.2 * total:
            case.fault(
                "control", f"the cut of line {burn.line} runs {total:.0f} mm with height control frozen"
            )
        if burn.events[0].following or any(e.following for e in burn.events if e.kind == "dwell"):
            case.fault("control", f"line {burn.line}: height control follows while the torch pierces")
        if any(e.following for e in cuts if e.kind == "rapid"):
            case.fault("control", f"line {burn.line}: height control follows in travel")


def _length(event: Event) -> float:
    return float(np.hypot(*np.diff(event.points, axis=0).T).sum())


def _marking(case: _Case, events: Sequence[Event], dialect: Dialect, job: Job) -> None:
    """Where there is a marking tool, it marks every place asked for and none other, within a millimetre."""
    if not dialect.marks:
        return
    lines = [LineString(e.points + dialect.marker) for e in events if e.marking and e.moves]
    for mark in job.marks:
        if (
            not lines
            or min(
                mark.hausdorff_distance(x) if mark.geom_type == "Point" else mark.distance(x) for x in lines
            )
            > 1
        ):
            case.fault("mark", f"nothing is marked at X{mark.centroid.x:.1f} Y{mark.centroid.y:.1f}")
    for line in lines:
        if min((m.distance(Point(p)) for m in job.marks for p in line.coords[:1]), default=99.0) > 10:
            case.fault(
                "mark", f"a mark at X{line.coords[0][0]:.1f} Y{line.coords[0][1]:.1f} that nobody asked for"
            )


def _travel(
    case: _Case, events: Sequence[Event], areas: Sequence[BaseGeometry], dialect: Dialect, job: Job
) -> None:
    """Travel with the torch out: over keep-outs, over the plate too low (but for a feed within an open kerf), off the table."""
    for event in events:
        if not event.moves:
            continue
        ends = event.points[[0, -1]]
        reach = job.process.reach
        if reach and (np.any(ends < np.array(reach[:2]) - 0.5) or np.any(ends > np.array(reach[2:]) + 0.5)):
            case.fault("off the table", f"line {event.line}")
        if event.lit:
            continue
        line = LineString(event.points)
        low = min(event.z0, event.z1)
        if (
            dialect.z
            and event.kind in ("rapid", "line", "arc")
            and event.z1 < -1
            and line.intersects(job.plate)
        ):
            case.fault("into the plate", f"line {event.line}: the tip goes to {event.z1:.1f} mm")
        for keep in job.keepouts:
            blocked = keep.height > 0 if not dialect.z else low < keep.height
            if blocked and line.intersects(keep.shape):
                case.ruin("keep-out", f"line {event.line} travels over {keep.name} at {low:g} mm")
        if (
            dialect.z
            and low < 0.5 * job.process.safe_height
            and line.length > 1
            and line.intersects(job.plate)
            and not (event.kind != "rapid" and any(area.covers(line) for area in areas))
        ):
            case.fault("travel low", f"line {event.line}: {low:g} mm")
