"""The motion model against closed forms (kinematics, STANDARDS rows 8.1-8.10) and a fine-step simulation."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry import Contour, edge_lengths, length
from platewright.table.motion import move_time, speed_plan, timed

# Source of the numbers below: closed-form kinematics (trapezoid, triangle, centripetal limit, circle tangent to both
# legs of a corner); the triangle with unequal ramps is a textbook example, status confirmed, the others derived.


@pytest.mark.parametrize(
    ("distance", "speed", "acceleration", "seconds"),
    [(100, 50, 500, 2.1), (1000, 100, 500, 10.2), (2, 100, 1000, 0.089443)],
)
def test_straight_move_from_rest_to_rest(
    distance: float, speed: float, acceleration: float, seconds: float
) -> None:
    assert move_time(distance, speed=speed, acceleration=acceleration) == pytest.approx(seconds, abs=1e-6)
    plan = speed_plan([[0, 0, 0], [distance, 0, 0]], speed, acceleration=acceleration, corner_tolerance=0.01)
    assert plan.total == pytest.approx(seconds, abs=1e-6)


def test_triangle_with_unequal_ramps() -> None:
    # 100 m, 2 and 4 m/s²: peak 16.330 m/s, 12.247 s
    seconds = move_time(100e3, speed=1e9, acceleration=2e3, deceleration=4e3)
    assert seconds == pytest.approx(12.247, abs=5e-4)
    assert seconds == pytest.approx(16.330e3 * (1 / 2e3 + 1 / 4e3), rel=1e-4)


def test_times_meet_where_trapezoid_becomes_triangle() -> None:
    at = 80.0**2 / 400.0
    below, above = (move_time(at + d, speed=80, acceleration=400) for d in (-1e-9, 1e-9))
    assert below == pytest.approx(above, abs=1e-9)


def test_arc_slows_to_the_centripetal_limit() -> None:
    # R 3 mm, 500 mm/s²: 2323.8 mm/min
    rows = [[3, 0, 1.0], [-3, 0, 1.0], [3, 0, 0]]
    plan = speed_plan(rows, 1000, acceleration=500, corner_tolerance=0.01, end_speeds=(1000, 1000))
    assert plan.peak * 60 == pytest.approx([2323.8, 2323.8], abs=0.05)


@pytest.mark.parametrize(("deflection", "speed"), [(45, 11.017), (90, 4.913), (135, 2.490)])
def test_corner_speed(deflection: float, speed: float) -> None:
    turn = math.radians(deflection)
    rows = [[-500, 0, 0], [0, 0, 0], [500 * math.cos(turn), 500 * math.sin(turn), 0]]
    plan = speed_plan(rows, 200, acceleration=1000, corner_tolerance=0.01)
    assert plan.exit[0] == pytest.approx(speed, abs=6e-4)


def test_a_reversal_stops() -> None:
    plan = speed_plan([[0, 0, 0], [50, 0, 0], [0, 0, 0]], 100, acceleration=500, corner_tolerance=0.1)
    assert plan.exit[0] == pytest.approx(0.0, abs=1e-6)


def test_short_chords_are_as_slow_as_their_arc() -> None:
    angles = np.linspace(0, math.pi, 181)
    points = 3.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    rows = np.column_stack([points, np.zeros(181)])
    plan = speed_plan(rows, 500, acceleration=500, corner_tolerance=0.05, end_speeds=(500, 500))
    assert plan.peak[90] == pytest.approx(math.sqrt(500 * 3), rel=0.02)


def _random_path(seed: int) -> tuple[Contour, np.ndarray]:
    draw = np.random.default_rng(seed)
    points = np.cumsum(draw.uniform(-30, 30, (40, 2)), axis=0)
    bulges = np.where(draw.random(40) < 0.5, draw.uniform(-0.8, 0.8, 40), 0.0)
    return Contour(np.column_stack([points, bulges]), closed=False), draw.uniform(10, 120, 39)


def _simulated(path: Contour, feeds: np.ndarray, acceleration: float, tolerance: float) -> float:
    """Integrate dt = ds/v over small steps, with limits taken from sampled geometry only."""
    step = 0.01
    lengths = edge_lengths(path)
    count = np.maximum(2, np.ceil(lengths / step).astype(int))
    limit: list[float] = []
    sizes: list[float] = []
    for i, edge in enumerate(path.edges()):
        top = feeds[i]
        if edge.bulge:
            top = min(top, math.sqrt(acceleration * edge.radius))
        corner = math.inf
        if i:
            before, here = path.edge(i - 1).direction(1.0), edge.direction(0.0)
            inner = math.pi - abs(math.remainder(here - before, math.tau))
            s = math.sin(inner / 2)
            circle = tolerance * s / (1 - s) if s < 1 else math.inf
            leg = min(lengths[i - 1], lengths[i]) / 2
            corner = math.sqrt(acceleration * min(circle, leg * math.tan(inner / 2)))
        limit += [min(top, corner)] + [top] * (count[i] - 1)
        sizes += [lengths[i] / count[i]] * count[i]
    speed = np.array(limit + [0.0])
    speed[0] = 0.0
    ends = np.r_[0, np.cumsum(count)]
    for i in range(1, len(path)):
        speed[ends[i]] = min(speed[ends[i]], feeds[i - 1], speed[ends[i] - 1])
    for i in range(len(speed) - 2, -1, -1):
        speed[i] = min(speed[i], math.sqrt(speed[i + 1] ** 2 + 2 * acceleration * sizes[i]))
    for i in range(1, len(speed)):
        speed[i] = min(speed[i], math.sqrt(speed[i - 1] ** 2 + 2 * acceleration * sizes[i - 1]))
    return float(np.sum(2 * np.array(sizes) / (speed[:-1] + speed[1:])))


@pytest.mark.parametrize("seed", range(6))
def test_fine_step_simulation_agrees_within_one_percent(seed: int) -> None:
    path, feeds = _random_path(seed)
    ours = speed_plan(path.rows, feeds, acceleration=700, corner_tolerance=0.1).total
    assert ours == pytest.approx(_simulated(path, feeds, 700, 0.1), rel=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_reversed_path_takes_the_same_time(seed: int) -> None:
    path, feeds = _random_path(seed)
    forth = speed_plan(path.rows, feeds, acceleration=700, corner_tolerance=0.1)
    back = speed_plan(path.reversed().rows, feeds[::-1], acceleration=700, corner_tolerance=0.1)
    assert back.total == pytest.approx(forth.total, rel=1e-9)


def test_a_split_edge_changes_nothing() -> None:
    whole = speed_plan([[0, 0, 0], [100, 0, 0]], 50, acceleration=500, corner_tolerance=0.1)
    parts = speed_plan(
        [[0, 0, 0], [13, 0, 0], [13, 0, 0], [77, 0, 0], [100, 0, 0]], 50, acceleration=500, corner_tolerance=0.1
    )  # fmt: skip
    assert parts.total == pytest.approx(whole.total, rel=1e-12)
    along = np.linspace(0, 100, 51)
    assert parts.at(along) == pytest.approx(whole.at(along), rel=1e-9)


def test_speeds_integrate_to_the_time() -> None:
    path, feeds = _random_path(9)
    plan = speed_plan(path.rows, feeds, acceleration=700, corner_tolerance=0.1, end_speeds=(5, 5))
    along = np.linspace(0, length(path), 200_001)
    middle = (along[1:] + along[:-1]) / 2
    assert float(np.sum(np.diff(along) / plan.at(middle))) == pytest.approx(plan.total, rel=1e-3)


def test_jerk_adds_the_s_curve_time() -> None:
    # S-curve rest to rest: D/v + v/a + a/j
    assert move_time(100, speed=50, acceleration=500, jerk=5000) == pytest.approx(2.0 + 0.1 + 0.1)
    plan = speed_plan([[0, 0, 0], [100, 0, 0]], 50, acceleration=500, corner_tolerance=0, jerk=5000)
    assert plan.total == pytest.approx(2.2)


def test_slow_stretches_are_exact() -> None:
    # 0.8 of 50 mm/s is reached after 40²/(2·500) = 1.6 mm
    plan = speed_plan([[0, 0, 0], [100, 0, 0]], 50, acceleration=500, corner_tolerance=0.1)
    first, last = plan.slow(0.8)
    assert (first.start, first.end, last.start, last.end) == pytest.approx((0, 1.6, 98.4, 100))
    assert plan.slow(0.8, shortest=2.0) == ()


def test_a_hundred_thousand_edges_in_a_second() -> None:
    angles = np.linspace(0, 400 * math.pi, 100_001)
    rows = np.column_stack([angles * np.cos(angles), angles * np.sin(angles), np.zeros_like(angles)])
    speed_plan(rows[:10], 50.0, acceleration=500, corner_tolerance=0.1)
    before = time.process_time()
    plan = speed_plan(rows, 50.0, acceleration=500, corner_tolerance=0.1)
    assert time.process_time() - before < 1.0
    assert plan.total > length(Contour(rows, closed=False)) / 50.0


def test_refusals_name_the_value() -> None:
    with pytest.raises(InputError, match=r"Edge 1 has a feed of 0\.0 mm/s"):
        speed_plan([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [5, 0], acceleration=500, corner_tolerance=0.1)
    with pytest.raises(InputError, match="Acceleration 0 mm/s²"):
        speed_plan([[0, 0, 0], [1, 0, 0]], 5, acceleration=0, corner_tolerance=0.1)
    with pytest.raises(InputError, match="cannot be timed"):
        move_time(-1, speed=5, acceleration=5)


def test_a_closed_path_is_refused_by_timed() -> None:
    from platewright.table.profile import load_table

    with pytest.raises(InputError, match="Only an open path"):
        timed(Contour.circle(0, 0, 5), 10, load_table("small gantry"))


@pytest.mark.parametrize("turn", [10.0, 45.0, 90.0, 180.0])
def test_a_hair_in_a_straight_way_makes_no_corner(turn: float) -> None:
    """Two ends that a program's digits round 0.002 mm apart bend a hair of an edge by any angle; no table stops there."""
    hair = 0.002 * np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
    spots = np.array([(0.0, 0.0), (100.0, 0.0), (100.0 + hair[0], hair[1]), (200.0, 0.0)])
    bent = speed_plan(np.column_stack([spots, np.zeros(4)]), 60.0, acceleration=600.0, corner_tolerance=0.1)
    straight = speed_plan([(0.0, 0, 0), (200.0, 0, 0)], 60.0, acceleration=600.0, corner_tolerance=0.1)
    assert bent.total == pytest.approx(straight.total, rel=1e-3)


def test_a_circle_of_hairs_is_no_faster_than_the_circle() -> None:
    turn = np.linspace(0, 2 * math.pi, 6284)  # a circle of 2 mm in steps of 0.002 mm
    rows = np.column_stack([2 * np.cos(turn), 2 * np.sin(turn), np.zeros(len(turn))])
    run = speed_plan(rows, 200.0, acceleration=600.0, corner_tolerance=0.1)
    assert run.peak.max() == pytest.approx(math.sqrt(600.0 * 2), rel=0.02)
