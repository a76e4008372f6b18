"""What the torch does beside the shapes it cuts: pierces, heights, speeds, touch-off, marking and travel; [mm], [s]."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.strtree import STRtree

from benchmarks.witness.ascut import Burn
from benchmarks.witness.asked import Job
from benchmarks.witness.dialect import Dialect
from benchmarks.witness.reader import Event

OFF = 0.5
"""An edge further off than this is a ruined part [mm] (issue 16)."""
FEED_OFF = 0.25
UNPIERCED, DWELL_SHORT, DWELL_LONG = 0.5, 0.6, 4.0
"""Shares of the pierce delay: under the first the plate is not pierced; between the others nothing is said."""
REACH = 10.0
"""Higher than this above the plate the arc does not cut [mm]; common practice is 1.5 to 3."""
LOW = 5.0
"""Travel over the plate lower than this can catch what has tipped [mm]; common practice is 10 and more."""


@dataclass(slots=True)
class Case:
    """What is found about one reading."""

    ruined: list[tuple[str, str]] = field(default_factory=list)
    wrong: list[tuple[str, str]] = field(default_factory=list)

    def ruin(self, kind: str, text: str) -> None:
        self.ruined.append((kind, text))

    def fault(self, kind: str, text: str) -> None:
        self.wrong.append((kind, text))


# --- torch ------------------------------------------------------------------------------------------------------


def torch(case: Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], job: Job) -> None:
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


def pierces(
    case: Case, burns: Sequence[Burn], areas: Sequence[BaseGeometry], dialect: Dialect, job: Job
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


def heights(case: Case, burns: Sequence[Burn], dialect: Dialect, job: Job) -> None:
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


def feeds(case: Case, burns: Sequence[Burn], job: Job) -> None:
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


def touch_off(case: Case, events: Sequence[Event], dialect: Dialect) -> None:
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


def control(case: Case, burns: Sequence[Burn], dialect: Dialect) -> None:
    """Where the program switches height control, a long cut wants it and a pierce does not."""
    if not dialect.follows:
        return
    for burn in burns:
        cuts = [e for e in burn.events if e.moves]
        total = sum(length_of(e) for e in cuts)
        following = sum(length_of(e) for e in cuts if e.following)
        if total > 150 and following < 0.2 * total:
            case.fault(
                "control", f"the cut of line {burn.line} runs {total:.0f} mm with height control frozen"
            )
        if burn.events[0].following or any(e.following for e in burn.events if e.kind == "dwell"):
            case.fault("control", f"line {burn.line}: height control follows while the torch pierces")
        if any(e.following for e in cuts if e.kind == "rapid"):
            case.fault("control", f"line {burn.line}: height control follows in travel")


def length_of(event: Event) -> float:
    return float(np.hypot(*np.diff(event.points, axis=0).T).sum())


def marking(case: Case, events: Sequence[Event], dialect: Dialect, job: Job) -> None:
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


def travel(
    case: Case, events: Sequence[Event], areas: Sequence[BaseGeometry], dialect: Dialect, job: Job
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
