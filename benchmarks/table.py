"""Motion against closed forms and a fine-step integration; speed of the look-ahead; the starter chart against practice."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable

import numpy as np

from benchmarks.figure import Figure


def _closed_forms() -> Iterable[Figure]:
    """Sources: kinematics (trapezoid, triangle, centripetal limit, circle tangent to both legs of a corner)."""
    from platewright.table.motion import move_time, speed_plan

    cases = [
        ("trapezoid 100 mm, 50 mm/s, 500 mm/s² [s]", move_time(100, speed=50, acceleration=500), 2.1),
        ("trapezoid 1000 mm, 100 mm/s, 500 mm/s² [s]", move_time(1000, speed=100, acceleration=500), 10.2),
        ("triangle 2 mm, 100 mm/s, 1000 mm/s² [s]", move_time(2, speed=100, acceleration=1000), 0.0894427),
        (
            "triangle 100 m, 2 and 4 m/s² [s]",
            move_time(1e5, speed=1e9, acceleration=2e3, deceleration=4e3),
            12.24745,
        ),
    ]
    ring = speed_plan(
        [[3, 0, 1], [-3, 0, 0]], 1000, acceleration=500, corner_tolerance=0.1, end_speeds=(999, 999)
    )
    cases.append(("arc R 3 mm at 500 mm/s² [mm/min]", float(ring.peak[0] * 60), 2323.79))
    for bend, speed in ((45, 11.0167), (90, 4.9134), (135, 2.490)):
        turn = math.radians(bend)
        rows = [[-500, 0, 0], [0, 0, 0], [500 * math.cos(turn), 500 * math.sin(turn), 0]]
        corner = speed_plan(rows, 200, acceleration=1000, corner_tolerance=0.01)
        cases.append((f"corner of {bend}°, 0.01 mm, 1000 mm/s² [mm/s]", float(corner.exit[0]), speed))
    for name, ours, published in cases:
        ratio = ours / published
        yield Figure(
            name=name,
            ours=f"{ours:.5g}",
            peer=f"{published:.5g}",
            ratio=ratio,
            bar="within 0.05 %",
            holds=abs(ratio - 1) < 5e-4,
        )


def _simulated() -> Iterable[Figure]:
    from tests.table.test_motion import _random_path, _simulated

    from platewright.table.motion import speed_plan

    worst = 1.0
    for seed in range(20, 30):
        path, feeds = _random_path(seed)
        ours = speed_plan(path.rows, feeds, acceleration=700, corner_tolerance=0.1).total
        ratio = ours / _simulated(path, feeds, 700, 0.1)
        worst = ratio if abs(ratio - 1) > abs(worst - 1) else worst
    yield Figure(
        name="time of 10 paths beside fine-step integration, worst [-]",
        ours=f"{worst:.5f}",
        peer="1",
        ratio=worst,
        bar="within 1 %",
        holds=abs(worst - 1) < 0.01,
    )


def _speed() -> Iterable[Figure]:
    from platewright.table.motion import speed_plan

    angles = np.linspace(0, 400 * math.pi, 100_001)
    rows = np.column_stack([angles * np.cos(angles), angles * np.sin(angles), np.zeros_like(angles)])
    speed_plan(rows[:10], 50.0, acceleration=500, corner_tolerance=0.1)
    before = time.process_time()
    speed_plan(rows, 50.0, acceleration=500, corner_tolerance=0.1)
    spent = time.process_time() - before
    yield Figure(
        name="look-ahead over 100,000 edges, CPU [s]",
        ours=f"{spent:.3f}",
        bar="< 1 s",
        holds=spent < 1.0,
    )


def _chart() -> Iterable[Figure]:
    from platewright.table.chart import starter_chart
    from platewright.table.energy import _tables, melt_power

    power = melt_power("mild steel", thickness=6, kerf=1.5, speed=1000 / 60)
    yield Figure(
        name="power floor 1.5 x 6 mm at 1000 mm/min, steel [W]",
        ours=f"{power:.0f}",
        peer="1526",
        ratio=power / 1526,
        bar="within 0.5 %",
        holds=abs(power / 1526 - 1) < 0.005,
    )
    worst = 1.0
    chart = starter_chart()
    for grade, points in _tables()["practice"].items():
        for amperage, thickness, mm_min in points:
            ratio = chart.row(grade, thickness, amperage).row.cut_speed * 60 / mm_min
            worst = ratio if abs(math.log(ratio)) > abs(math.log(worst)) else worst
    yield Figure(
        name="starter speeds beside common practice, worst [-]",
        ours=f"{worst:.3f}",
        peer="1",
        ratio=worst,
        bar="within 25 %",
        holds=0.75 <= worst <= 1.25,
    )


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of table and chart."""
    yield from _closed_forms()
    yield from _simulated()
    yield from _speed()
    yield from _chart()
