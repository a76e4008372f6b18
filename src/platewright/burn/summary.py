"""Times, lengths and slow stretches of a finished list of cuts."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from platewright.burn.edges import at_distance
from platewright.burn.model import BurnPlan, Cut, SlowStretch
from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Contour, length
from platewright.layout.model import Layout
from platewright.table.model import Arm, TableProfile
from platewright.table.motion import move_time, timed

__all__ = ["SLOW", "Step", "seated", "steps_of", "summed"]

SLOW = 0.8
"""Share of the feed below which dross and a wide kerf are to be expected [-]."""
SHORTEST = 1.0
"""Slow stretches shorter than this are not worth a word [mm]."""


def seated(table: TableProfile, layout: Layout) -> TableProfile:
    """Return the table as seen from the plate: an arm's base moved to plate coordinates [mm, rad], so that speeds fit."""
    if layout.seat is None or not isinstance(table.reach, Arm):
        return table
    back = layout.seat.inverse()
    x, y = back.points([(table.reach.x, table.reach.y)])[0]
    arm = replace(
        table.reach,
        x=float(x),
        y=float(y),
        start_angle=table.reach.start_angle + back.angle,
        end_angle=table.reach.end_angle + back.angle,
    )
    return replace(table, reach=arm)


class Step:
    """When one cut happens: rapid, touch-off, pierce and burn, all [s] from the start of the job."""

    __slots__ = ("cut", "lit", "out", "rapid", "start")

    def __init__(self, cut: int, start: float, lit: float, out: float, rapid: float) -> None:
        self.cut, self.start, self.lit, self.out, self.rapid = cut, start, lit, out, rapid


def _rapid(table: TableProfile, spots: list[tuple[float, float]]) -> tuple[float, float]:
    """Return length [mm] and time [s] of a rapid through spots, stopping at each."""
    total = seconds = 0.0
    for (ax, ay), (bx, by) in pairwise(spots):
        way = math.hypot(bx - ax, by - ay)
        total += way
        if isinstance(table.reach, Arm):
            seconds += _arm_rapid(table, (ax, ay), (bx, by))
            continue
        seconds += move_time(way, speed=table.rapid_speed, acceleration=table.acceleration, jerk=table.jerk)
    return total, seconds


def _arm_rapid(table: TableProfile, a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the time [s] of an arm's rapid, held to its joints; past its base, where it cannot go straight, as a gantry's."""
    if a == b:
        return 0.0
    try:
        return timed(Contour.from_points([a, b], closed=False), table.rapid_speed, table).total
    except InputError:
        return move_time(math.dist(a, b), speed=table.rapid_speed, acceleration=table.acceleration)


def _lift(table: TableProfile, way: float, *, down: bool) -> float:
    speed = table.plunge_speed if down else table.lift_speed
    return move_time(abs(way), speed=speed, acceleration=table.z_acceleration)


def steps_of(plan: BurnPlan) -> list[Step]:
    """Return when each cut happens [s]: travel at safe height, down with touch-off, pierce, down, burn, up."""
    table, clock = seated(plan.table, plan.layout), 0.0
    here, steps = plan.options.home, []
    for number, cut in enumerate(plan.cuts):
        way, seconds = _rapid(table, [here, *cut.via, cut.start])
        lit = clock + seconds + _lift(table, table.safe_height - cut.pierce_height, down=True)
        if cut.kind != "mark":
            lit += table.probe_time
        down = _lift(table, cut.pierce_height - cut.cut_height, down=True)
        out = lit + cut.pierce_delay + down + cut.burn_time
        steps.append(Step(number, clock, lit, out, way))
        clock = out + _lift(table, table.safe_height - cut.cut_height, down=False)
        here = cut.end
    return steps


def _slow(table: TableProfile, number: int, cut: Cut) -> list[SlowStretch]:
    """Return where a cut proper runs slow; its lead and exit are scrap and do not count."""
    from platewright.geometry import edge_lengths

    run = timed(cut.path, cut.speeds, table)
    ends = np.cumsum(edge_lengths(cut.path))
    begin = float(ends[cut.lead_edges - 1]) if cut.lead_edges else 0.0
    finish = float(ends[len(ends) - 1 - cut.exit_edges]) if cut.exit_edges else float(ends[-1])
    found = []
    for s in run.plan.slow(SLOW, shortest=SHORTEST):
        a, b = max(s.start, begin), min(s.end, finish)
        if b - a > SHORTEST:
            at, _, _, _ = at_distance(cut.path, np.array([(a + b) / 2]))
            found.append(SlowStretch(number, (float(at[0, 0]), float(at[0, 1])), b - a, s.lowest))
    return found


def _slow_finding(plan: BurnPlan, slow: list[SlowStretch]) -> list[Finding]:
    if not slow:
        return []
    total = sum(s.length for s in slow)
    worst = min(slow, key=lambda s: s.lowest)
    burnt = sum(length(c.path) for c in plan.cuts if c.kind != "mark")
    return [
        finding(
            "B010",
            place=max(slow, key=lambda s: s.length).at,
            severity="look" if total > 0.1 * burnt else "note",
            bar=round(100 * SLOW),
            length_mm=round(total),
            share=round(100 * total / burnt),
            slowest=f"down to {round(100 * worst.lowest)} %"
            if worst.lowest >= 0.01
            else "down to a stop at corners",
        )
    ]


def summed(plan: BurnPlan) -> BurnPlan:
    """Return the plan with times [s], lengths [mm], slow stretches and their findings filled in."""
    steps = steps_of(plan)
    slow = [
        s
        for number, cut in enumerate(plan.cuts)
        if cut.kind != "mark"
        for s in _slow(seated(plan.table, plan.layout), number, cut)
    ]
    arc = [s.out - s.lit for s, c in zip(steps, plan.cuts, strict=True) if c.kind != "mark"]
    last = steps[-1] if steps else None
    tail = (
        0.0
        if last is None
        else _lift(plan.table, plan.table.safe_height - plan.cuts[-1].cut_height, down=False)
    )
    return replace(
        plan,
        total_time=0.0 if last is None else last.out + tail,
        arc_time=float(sum(arc)),
        rapid_length=float(sum(s.rapid for s in steps)),
        cut_length=float(sum(length(c.path) for c in plan.cuts if c.kind != "mark")),
        pierces=sum(c.pierced for c in plan.cuts),
        slow=tuple(slow),
        findings=(*plan.findings, *_slow_finding(plan, slow)),
    )
