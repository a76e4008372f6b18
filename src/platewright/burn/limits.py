"""What the power source, the compressor and the consumables keep up with.

*Duty*: IEC 60974-1 rates a source by the part of any 10 minutes it may burn at a current; at another current the part is
``D2 = D1 (I1/I2)²``, at most 1 (I²t rule). *Air*: the tank holds ``V (p - p0)/101.3 kPa`` of free air above a pressure
p0; torch and pump add and take; the pump starts at its cut-in and stops at its cut-out pressure. *Consumables*:
pierces and arc time against their lives, whichever is used up more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from platewright.burn.model import BurnPlan, called
from platewright.burn.summary import Step, steps_of
from platewright.findings import Finding, finding
from platewright.table.model import AirSupply, ChartRow, PowerSource

__all__ = [
    "WINDOW", "Tank", "air_needed", "allowed_duty", "busiest_window", "limit_findings", "tank_pressures",
]  # fmt: skip

WINDOW = 600.0
"""Period of a duty cycle [s] (IEC 60974-1)."""
ATMOSPHERE = 101.325
"""Pressure of free air [kPa]."""
LINE_LOSS = 70.0
"""Pressure lost between tank and torch [kPa], common practice for a dryer, a filter and a hose."""
TICK = 0.5
"""Step of the tank's account [s]."""


def allowed_duty(source: PowerSource, amperage: float) -> float:
    """Return the part of any 10 minutes [-] a source may burn at a current [A]."""
    return min(1.0, source.duty * (source.rated_amperage / amperage) ** 2) if amperage > 0 else 1.0


def busiest_window(burns: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the most arc time [s] in any window [s] and where that window starts [s].

    Parameters
    ----------
    burns : (on, off) times of the arc, in order [s]

    The arc time in a window changes slope only where an edge of the window meets an edge of a burn, so the
    most is found with a window starting at a burn's start or ending at a burn's end.
    """
    best, where = 0.0, 0.0
    starts = {on for on, _ in burns} | {max(0.0, off - WINDOW) for _, off in burns}
    for start in sorted(starts):
        arc = sum(
            max(0.0, min(off, start + WINDOW) - max(on, start))
            for on, off in burns
            if on < start + WINDOW and off > start
        )
        if arc > best + 1e-9:
            best, where = arc, start
    return best, where


@dataclass(slots=True)
class Tank:
    """A compressor's tank on the clock: pressure [kPa], whether the pump runs, and the time [s]."""

    air: AirSupply
    pressure: float
    running: bool = False
    clock: float = 0.0

    @staticmethod
    def full(air: AirSupply) -> Tank:
        """Return a full tank at rest [kPa, s]."""
        return Tank(air, air.cut_out)

    def copy(self) -> Tank:
        """Return another tank in the same state."""
        return replace(self)

    def time_to_fill(self) -> float:
        """Return how long the pump takes to fill it [s]."""
        missing = (self.air.cut_out - self.pressure) * max(self.air.tank, 1.0) / ATMOSPHERE
        return max(0.0, 60.0 * missing / self.air.free_air)

    def draw(self, on: float, off: float, flow: float) -> float:
        """Run the clock to a draw's end, the torch taking a flow [L/min] from on to off [s]; return the lowest pressure [kPa]."""
        return self.lowest(on, off, flow)[0]

    def lowest(self, on: float, off: float, flow: float) -> tuple[float, float]:
        """Run the clock through a draw [s, L/min]; return the lowest pressure in it [kPa] and when it was reached [s]."""
        air, per_kpa = self.air, max(self.air.tank, 1.0) / ATMOSPHERE
        lowest, when = air.cut_out, on
        while self.clock < off:
            taking = self.clock >= on
            step = min(TICK, (off if taking else on) - self.clock) or TICK
            self.running = self.pressure <= air.cut_in or (self.running and self.pressure < air.cut_out)
            change = (air.free_air if self.running else 0.0) - (flow if taking else 0.0)
            self.pressure = min(air.cut_out, max(0.0, self.pressure + change * step / 60.0 / per_kpa))
            self.clock += step
            if taking and self.pressure < lowest:
                lowest, when = self.pressure, self.clock
        return lowest, when


def tank_pressures(
    air: AirSupply, draws: Sequence[tuple[float, float]], flow: float
) -> list[tuple[float, float]]:
    """Return the lowest tank pressure [kPa] during each draw and the time [s] it is reached, from a full tank.

    Parameters
    ----------
    air : compressor and tank
    draws : (on, off) times the torch takes air [s]
    flow : free air it takes [L/min]
    """
    tank = Tank.full(air)
    return [tank.lowest(on, off, flow) for on, off in draws]


def air_needed(row: ChartRow) -> float:
    """Return the tank pressure the torch needs [kPa]: the row's own and what the line loses."""
    return row.air_pressure + LINE_LOSS


def limit_findings(plan: BurnPlan) -> list[Finding]:
    """Return findings where the job asks more than source, compressor or consumables give [s, A, kPa]."""
    steps = [s for s, c in zip(steps_of(plan), plan.cuts, strict=True) if c.kind != "mark"]
    if not steps or plan.row.amperage <= 0:
        return []
    return [*_duty(plan, steps), *_air(plan, steps), *_consumed(plan, steps)]


def _duty(plan: BurnPlan, steps: list[Step]) -> list[Finding]:
    source, amperage = plan.table.source, plan.row.amperage
    if source is None:
        return []
    if amperage > source.most_amperage:
        return [finding("B016", amperage=amperage, most=source.most_amperage)]
    arc, start = busiest_window([(s.lit, s.out) for s in steps])
    allowed = allowed_duty(source, amperage) * WINDOW
    if arc <= allowed:
        return []
    run = 0.0
    cut = steps[-1].cut
    for step in steps:
        run += max(0.0, step.out - max(step.lit, start))
        if run > allowed:
            cut = step.cut
            break
    return [
        finding(
            "B013",
            place=plan.cuts[cut].start,
            arc_s=round(arc),
            allowed_s=round(allowed),
            from_min=round(start / 60, 1),
            amperage=amperage,
            pause_s=max(1, round(arc - allowed)),
            cut=called(plan.cuts, cut),
        )
    ]


def _air(plan: BurnPlan, steps: list[Step]) -> list[Finding]:
    air, row = plan.table.air, plan.row
    if air is None:
        return []
    need = air_needed(row)
    draws: list[tuple[float, float]] = []
    for step in steps:
        on, off = step.lit, step.out + row.post_flow
        if draws and on <= draws[-1][1]:
            draws[-1] = (draws[-1][0], off)
        else:
            draws.append((on, off))
    for lowest, when in tank_pressures(air, draws, row.air_flow):
        if lowest < need:
            cut = next((s.cut for s in steps if s.out + row.post_flow >= when), steps[-1].cut)
            missing = (need - lowest) * max(air.tank, 1.0) / ATMOSPHERE
            pause = 60 * missing / air.free_air
            return [
                finding(
                    "B014",
                    place=plan.cuts[cut].start,
                    cut=called(plan.cuts, cut),
                    pressure_kpa=round(lowest),
                    need_kpa=round(need),
                    pause_s=max(5, round(pause)),
                )
            ]
    return []


def _consumed(plan: BurnPlan, steps: list[Step]) -> list[Finding]:
    life = plan.table.consumables
    if life is None:
        return []
    arc = sum(s.out - s.lit for s in steps)
    share = max(plan.pierces / life.pierces, arc / life.arc_seconds)
    return [
        finding(
            "B015",
            severity="look" if share > 1 else "note",
            pierces=plan.pierces,
            arc_min=round(arc / 60, 1),
            share=max(1, round(100 * share)),
        )
    ]
