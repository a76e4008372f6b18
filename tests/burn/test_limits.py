"""Duty cycle, air and consumables against hand calculations and published examples."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from platewright.burn import limits
from platewright.burn.limits import allowed_duty, busiest_window, limit_findings, tank_pressures
from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.burn.summary import Step
from platewright.findings import Finding
from platewright.table.chart import starter_chart
from platewright.table.model import AirSupply, Consumables, PowerSource
from platewright.table.profile import load_table
from tests.burn.helpers import random_layout
from tests.program.helpers import washer_plan


def test_duty_scales_by_the_square_of_the_current() -> None:
    # 100 A at 60 %: 77.46 A at 100 %, 130.93 A at 35 % (I²t rule; derived)
    source = PowerSource(100, 0.6, 200)
    assert allowed_duty(source, 77.46) == pytest.approx(1.0, abs=1e-4)
    assert allowed_duty(source, 130.93) == pytest.approx(0.35, abs=1e-4)
    assert allowed_duty(source, 100) * 600 == pytest.approx(6 * 60)  # 60 %: 6 of 10 minutes
    assert allowed_duty(source, 20) == 1.0


def test_busiest_window_against_a_fine_scan() -> None:
    draw = np.random.default_rng(2)
    edges = np.cumsum(draw.uniform(1, 60, 60))
    burns = list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
    best, _ = busiest_window(burns)
    scan = max(
        sum(max(0.0, min(b, t + 600) - max(a, t)) for a, b in burns) for t in np.arange(0, edges[-1], 0.25)
    )
    assert best == pytest.approx(scan, abs=0.3)
    assert best >= scan - 1e-9


def test_tank_balance_by_hand() -> None:
    # 101.325 L of tank holds 1 L of free air a kPa; 120 L/min out, pump idle until 600 kPa, then 60 L/min in
    air = AirSupply(60, 101.325, 600, 700)
    ((lowest, when),) = tank_pressures(air, [(0.0, 110.0)], 120)
    assert lowest == pytest.approx(700 - 100 - (110 - 50), abs=1.5)
    assert when == pytest.approx(110)
    pressures = tank_pressures(air, [(0.0, 110.0), (300.0, 301.0)], 120)
    assert pressures[1][0] == pytest.approx(698, abs=2.5)


def _codes(**changes: object) -> list[str]:
    table = replace(load_table("small gantry"), **changes)  # type: ignore[arg-type]
    made = plan(random_layout(8), starter_chart(), table, BurnOptions(amperage=45.0, effort=0.02))
    return [f.code for f in made.findings]


def test_findings_come_when_the_job_is_too_much() -> None:
    assert "B013" in _codes(source=PowerSource(20, 0.1, 60))
    assert "B013" not in _codes(source=PowerSource(45, 1.0, 60))
    assert "B016" in _codes(source=PowerSource(40, 1.0, 40))
    assert "B014" in _codes(air=AirSupply(20, 24, 600, 800))
    assert "B014" not in _codes(air=AirSupply(500, 270, 700, 1000))
    assert "B015" in _codes(consumables=Consumables(3, 60))
    assert "B015" not in _codes(consumables=None)


def findings_of(
    monkeypatch: pytest.MonkeyPatch, burns: Sequence[tuple[float, float]], **table: object
) -> dict[str, Finding]:
    """What is told of burns at 65 A lit and put out at these times [s]; air 180 L/min for 12 s longer, of which 570 kPa must be left."""
    made = washer_plan()
    cuts = tuple(made.cuts[i % 4] for i in range(len(burns)))
    made = replace(made, cuts=cuts, table=replace(made.table, **table), pierces=len(burns))  # type: ignore[arg-type]

    def steps(_: BurnPlan) -> list[Step]:
        return [Step(i, on, on, off, 0.0) for i, (on, off) in enumerate(burns)]

    monkeypatch.setattr(limits, "steps_of", steps)
    return {f.code: f for f in limit_findings(made)}


SIX = [(1000.0 + 120 * i, 1100.0 + 120 * i) for i in range(6)]
"""100 s of arc every two minutes, from 1000 s on: at most 500 s in any ten minutes."""


@pytest.mark.parametrize(("duty", "over"), [(0.5, True), (0.83, True), (0.84, False)])
def test_the_duty_cycle_says_where_it_is_passed_and_by_how_much(
    monkeypatch: pytest.MonkeyPatch, duty: float, over: bool
) -> None:
    """At 50 % of ten minutes 300 s are allowed: the fourth of the six burns passes them (an earlier burn lies outside), 200 s too many.

    The first ten minutes that hold 500 s end with the fifth burn, at 1580 s: they start at 980 s, 16.3 min.
    """
    source = PowerSource(65.0, duty, 80.0)
    assert ("B013" in findings_of(monkeypatch, SIX, source=source)) is over
    if duty == 0.5:
        values = findings_of(monkeypatch, [(0.0, 200.0), *SIX], source=source)["B013"].values
        assert (values["arc_s"], values["allowed_s"], values["pause_s"]) == (500, 300, 200)
        assert (values["from_min"], values["cut"]) == (16.3, "5")


@pytest.mark.parametrize(("most", "over"), [(64.9, True), (65.0, False)])
def test_a_current_the_source_does_not_give_is_a_stop(
    monkeypatch: pytest.MonkeyPatch, most: float, over: bool
) -> None:
    found = findings_of(monkeypatch, SIX[:1], source=PowerSource(60.0, 1.0, most))
    assert ("B016" in found) is over
    assert all(f.severity == "stop" for f in found.values() if f.code == "B016")


def test_air_that_runs_low_says_at_which_cut_and_how_long_to_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tank of 101.325 L holds 1 L for each kPa. 180 L/min take 3 kPa/s, from 600 kPa down the pump gives 1 back.

    The first draw, 0 to 28 + 12 s: 700 kPa are 600 after 33.3 s, and 586.7 after 40. The second burn is lit at 39 s, before the air
    is shut, and put out at 59: 71 s of air leave 700 - 100 - 2 (71 - 33.3) = 524.7 kPa; 570 - 524.7 = 45.3 L are pumped in 45.3 s.
    """
    air = AirSupply(60.0, 101.325, 600.0, 700.0)
    values = findings_of(monkeypatch, [(0.0, 28.0), (39.0, 59.0), (2000.0, 2005.0)], air=air)["B014"].values
    assert values["pressure_kpa"] == pytest.approx(524.7, abs=1.6)
    assert (values["need_kpa"], values["cut"]) == (570, "2")
    assert values["pause_s"] == pytest.approx(45.3, abs=1.6)
    # apart by so much that the pump fills it, neither is short
    assert "B014" not in findings_of(monkeypatch, [(0.0, 28.0), (300.0, 320.0)], air=air)


@pytest.mark.parametrize(
    ("pierces", "arc_s", "share", "severity"),
    [(600, 6000.0, 10, "note"), (3, 1e9, 200, "look"), (6, 1e9, 100, "note"), (1000, 300.0, 200, "look")],
)
def test_consumables_are_used_up_by_whichever_is_more(
    monkeypatch: pytest.MonkeyPatch, pierces: int, arc_s: float, share: int, severity: str
) -> None:
    """Six pierces and 600 s of arc."""
    found = findings_of(monkeypatch, SIX, consumables=Consumables(pierces, arc_s))["B015"]
    assert (found.values["share"], found.severity) == (share, severity)
    assert (found.values["pierces"], found.values["arc_min"]) == (6, 10.0)
