"""Pauses by choice: where the power source must cool, the tank fill, a tip be changed, or somebody look.

*Waits* have a length: before a cut whose arc would go over the source's duty in some 10 minutes, the torch waits
until it fits; before a cut whose air the tank does not hold, until it does. Both are as short as they can be, in whole seconds.
*Stops* last until the operator goes on: where the tip's life is used up, and every so often on a long job (water level, slag).
A stop counts no time, neither for the clock nor for cooling. A pause comes after a cut, torch out and up, before travel.

A window of 10 minutes burns most where it ends with a burn: so it is enough to look back from the end of each cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from platewright.burn.limits import WINDOW, Tank, air_needed, allowed_duty
from platewright.burn.model import BurnPlan, Cut, Pause
from platewright.burn.options import BurnOptions
from platewright.burn.summary import Step, steps_of
from platewright.findings import Finding, finding
from platewright.table.model import Consumables

__all__ = ["duty_wait", "dwelling", "paused"]


def duty_wait(burns: Sequence[tuple[float, float]], lit: float, out: float, allowed: float) -> float:
    """Return how long to wait [s] so that a burn keeps to the arc time allowed in any window [s].

    Parameters
    ----------
    burns : (on, off) of the burns before it, in order [s]
    lit, out : when it would burn without a wait [s]
    allowed : arc time in a window [s]; a burn longer than that cannot be helped
    """
    left = allowed - min(allowed, out - lit)
    for on, off in reversed(burns):
        if off <= out - WINDOW:
            return 0.0
        if off - on > left:
            return max(0.0, off - left + WINDOW - out)
        left -= off - on
    return 0.0


@dataclass(slots=True)
class _Used:
    """Of the tip and electrode now in: pierces [-] and arc time [s]; and when somebody last looked [s]."""

    pierces: int = 0
    arc: float = 0.0
    looked: float = 0.0


def paused(plan: BurnPlan) -> tuple[list[Cut], list[Finding]]:
    """Return the cuts with the pauses that were asked for, and a finding that sums them up [s]."""
    bare = replace(plan, cuts=tuple(replace(c, pause=None) for c in plan.cuts))
    options = plan.options
    waits, stops = options.pause_duty or options.pause_air, options.pause_tip or options.pause_every > 0
    able = plan.controller
    by_hand = any(c.kind == "rest" or (c.struck and options.dimple_amperage is not None) for c in plan.cuts)
    if (waits and not able.waits) or ((stops or by_hand) and not able.stops):
        return list(bare.cuts), [finding("B033")]
    if not (waits or stops):
        made = _set(bare, bare.cuts)
        return made, _findings(made)
    made, shift = list[Cut](), 0.0
    burns, used = list[tuple[float, float]](), _Used()
    tank = Tank.full(plan.table.air) if plan.table.air is not None and options.pause_air else None
    for cut, step in zip(bare.cuts, steps_of(bare), strict=True):
        lit, out = step.lit + shift, step.out + shift
        stop = "" if not made or cut.kind == "mark" else _stop(plan, used, cut, step, step.start + shift)
        wait = 0.0
        if made and cut.kind != "mark":
            wait = float(
                math.ceil(max(_cooling(plan, burns, lit, out), _filling(plan, tank, lit, out)) - 1e-9)
            )
        why = stop or ("wait" if wait else "")
        touch = "here" if stop == "tip" and cut.touch == "none" else cut.touch  # another tip, another length
        made.append(replace(cut, pause=Pause(why, wait) if why else None, touch=touch))
        shift, lit, out = shift + wait, lit + wait, out + wait
        if stop:
            used.looked = step.start + shift
        if stop == "tip":
            used.pierces, used.arc = 0, 0.0
        if cut.kind != "mark":
            burns.append((lit, out))
            used.pierces += cut.pierced
            used.arc += out - lit
            if tank is not None:
                tank.draw(lit, out + plan.row.post_flow, plan.row.air_flow)
    made = _set(plan, made)
    return made, _findings(made)


def _set(plan: BurnPlan, cuts: Sequence[Cut]) -> list[Cut]:
    """Return the cuts with stops to set the dimples' current and the cuts' after them [A], and to lift the parts out before the rest is cut."""
    wanted, made, current, lifted = plan.options.dimple_amperage, list[Cut](), plan.row.amperage, False
    for cut in cuts:
        why = list[str]()
        set_to = current if cut.drawn or wanted is None else wanted if cut.struck else plan.row.amperage
        if set_to != current:
            why.append("current")
        if cut.kind == "rest" and not lifted:
            why.append("lift")
        current, lifted = set_to, lifted or cut.kind == "rest"
        before = cut.pause or Pause("")
        if why:
            stops = "+".join([*(w for w in [before.why] if w not in ("", "wait")), *why])
            cut = replace(cut, pause=Pause(stops, before.seconds, set_to))
        made.append(cut)
    return made


def _stop(plan: BurnPlan, used: _Used, cut: Cut, step: Step, now: float) -> str:
    """Return why somebody should come before a cut, or nothing; times in [s]."""
    life, options = plan.table.consumables, plan.options
    if options.pause_tip and life is not None and used.pierces:
        pierces, arc = used.pierces + cut.pierced, used.arc + step.out - step.lit
        if pierces > life.pierces or arc > life.arc_seconds:
            return "tip"
    return "look" if options.pause_every and now - used.looked >= options.pause_every else ""


def _cooling(plan: BurnPlan, burns: Sequence[tuple[float, float]], lit: float, out: float) -> float:
    source = plan.table.source
    if not plan.options.pause_duty or source is None:
        return 0.0
    return duty_wait(burns, lit, out, allowed_duty(source, plan.row.amperage) * WINDOW)


def _filling(plan: BurnPlan, tank: Tank | None, lit: float, out: float) -> float:
    """Return how long the tank must fill [s] for a burn; as long as it fills, where even a full one does not do."""
    if tank is None:
        return 0.0
    need, row = air_needed(plan.row), plan.row

    def holds(wait: float) -> bool:
        return tank.copy().draw(lit + wait, out + wait + row.post_flow, row.air_flow) >= need

    most = math.ceil(tank.time_to_fill())
    if holds(0.0) or not most:
        return 0.0
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return float(high)


def _findings(cuts: Sequence[Cut]) -> list[Finding]:
    """Return one finding for the waits and one for the stops."""
    waits = [c for c in cuts if c.pause and c.pause.seconds]
    stops = [c for c in cuts if c.pause and c.pause.why != "wait"]
    found = []
    if waits:
        total = sum(c.pause.seconds for c in waits if c.pause)
        found.append(finding("B031", place=waits[0].start, count=len(waits), seconds=round(total)))
    if stops:
        tips = sum(1 for c in stops if c.pause and "tip" in c.pause.why)
        found.append(finding("B032", place=stops[0].start, count=len(stops), tips=tips))
    return found


def dwelling(cuts: Sequence[Cut], life: Consumables | None, options: BurnOptions) -> list[Cut]:
    """Return the cuts with pierces that dwell longer the more of the tip's life the plan has used, from a fresh set [s].

    Where the table's profile names no life, every pierce dwells as the chart says.
    """
    if not options.worn_delay or life is None:
        return list(cuts)
    made, pierces = list[Cut](), 0
    for cut in cuts:
        worn = (pierces % life.pierces if options.pause_tip else min(pierces, life.pierces)) / life.pierces
        longer = round(cut.pierce_delay * (1 + options.worn_delay * worn), 3)
        made.append(replace(cut, pierce_delay=longer) if cut.pierced and not cut.struck else cut)
        pierces += cut.pierced
    return made
