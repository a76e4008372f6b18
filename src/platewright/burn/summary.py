"""Times, lengths and slow stretches of a finished list of cuts."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from platewright.burn.cuts.edges import at_distance
from platewright.burn.model import BurnPlan, Cut, SlowStretch
from platewright.findings import Finding, finding
from platewright.geometry import length
from platewright.table.arm import seated
from platewright.table.clock import rapid_time, to_cut_height, to_light, to_travel
from platewright.table.model import TableProfile
from platewright.table.motion import timed

__all__ = ["SLOW", "Step", "steps_of", "summed"]

SLOW = 0.8
"""Share of the feed below which dross and a wide kerf are to be expected [-]."""
SHORTEST = 1.0
"""Slow stretches shorter than this are not worth a word [mm]."""


class Step:
    """When one cut happens: rapid, touch-off, pierce and burn, all [s] from the start of the job."""

    __slots__ = ("cut", "lit", "out", "rapid", "start")

    def __init__(self, cut: int, start: float, lit: float, out: float, rapid: float) -> None:
        self.cut, self.start, self.lit, self.out, self.rapid = cut, start, lit, out, rapid


def steps_of(plan: BurnPlan) -> list[Step]:
    """Return when each cut happens [s]: travel at safe height, down with touch-off, pierce, down, burn, up."""
    table, controller = seated(plan.table, plan.layout.seat), plan.controller
    clock, here, steps = to_travel(table, controller, 0.0), plan.options.home, []
    for number, cut in enumerate(plan.cuts):
        start, end = cut.torch_ends(controller.marker)
        pause = cut.pause.seconds if cut.pause else 0.0
        clock += pause
        spots = [here, *cut.via, *cut.beside, start]
        way = sum(math.dist(a, b) for a, b in pairwise(spots))
        arrived = clock + sum(rapid_time(table, a, b) for a, b in pairwise(spots))
        if cut.drawn:
            step = Step(number, clock, arrived, arrived + cut.burn_time + controller.mark_wait, way)
            after = step.out
        else:
            lit = arrived + to_light(table, controller, cut.pierce_height, touch=cut.touch)
            down = 0.0 if cut.struck else to_cut_height(table, controller, cut.pierce_height, cut.cut_height)
            step = Step(number, clock, lit, lit + cut.pierce_delay + down + cut.burn_time, way)
            up = to_travel(table, controller, cut.pierce_height if cut.struck else cut.cut_height)
            after = step.out + cut.coast_time + up + plan.options.post_flow
        steps.append(step)
        clock, here = after, end
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
    burnt = sum(length(c.lit) for c in plan.cuts if c.kind != "mark")
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


def _ended(plan: BurnPlan, steps: list[Step]) -> float:
    """Return when the torch is up again after the last cut [s]."""
    if not steps:
        return 0.0
    last = plan.cuts[-1]
    if last.drawn:
        return steps[-1].out
    up = to_travel(plan.table, plan.controller, last.pierce_height if last.struck else last.cut_height)
    return steps[-1].out + last.coast_time + up + plan.options.post_flow


def summed(plan: BurnPlan) -> BurnPlan:
    """Return the plan with times [s], lengths [mm], slow stretches and their findings filled in."""
    steps = steps_of(plan)
    slow = [
        s
        for number, cut in enumerate(plan.cuts)
        if cut.kind != "mark"
        for s in _slow(seated(plan.table, plan.layout.seat), number, cut)
    ]
    arc = [s.out - s.lit for s, c in zip(steps, plan.cuts, strict=True) if c.kind != "mark"]
    return replace(
        plan,
        total_time=_ended(plan, steps),
        arc_time=float(sum(arc)),
        rapid_length=float(sum(s.rapid for s in steps)),
        cut_length=float(sum(length(c.lit) for c in plan.cuts if c.kind != "mark")),
        pierces=sum(c.pierced for c in plan.cuts),
        slow=tuple(slow),
        findings=(*plan.findings, *_slow_finding(plan, slow)),
    )
