"""Duty cycle, air and consumables against hand calculations and published examples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.burn.limits import allowed_duty, busiest_window, tank_pressures
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.table.chart import starter_chart
from platewright.table.model import AirSupply, Consumables, PowerSource
from platewright.table.profile import load_table
from tests.burn.helpers import random_layout


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
