"""The two-link arm: joint angles by going back and forth, speed limits by finite differences."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry import Contour, length
from platewright.table.arm import capped, joints, speed_limit
from platewright.table.model import Arm
from platewright.table.motion import timed
from platewright.table.profile import load_table

ARM = Arm(
    x=100,
    y=-50,
    first=700,
    second=600,
    inner=250,
    outer=1200,
    start_angle=0,
    end_angle=math.pi,
    first_speed=0.4,
    second_speed=0.6,
)


def _points(count: int) -> np.ndarray:
    draw = np.random.default_rng(7)
    radius, angle = draw.uniform(260, 1190, count), draw.uniform(0.1, 3.0, count)
    return np.column_stack([ARM.x + radius * np.cos(angle), ARM.y + radius * np.sin(angle)])


@pytest.mark.parametrize("elbow", ["left", "right"])
def test_joints_put_the_torch_where_it_was_asked(elbow: str) -> None:
    arm = replace(ARM, elbow=elbow)
    points = _points(200)
    angles = joints(arm, points)
    first, both = angles[:, 0], angles.sum(axis=1)  # upper arm and forearm, end to end
    x = arm.x + arm.first * np.cos(first) + arm.second * np.cos(both)
    y = arm.y + arm.first * np.sin(first) + arm.second * np.sin(both)
    assert np.column_stack([x, y]) == pytest.approx(points, abs=1e-9)
    assert (angles[:, 1] * (1 if elbow == "right" else -1) > 0).all()


def test_speed_limit_against_joint_angles_a_step_apart() -> None:
    points, heading = _points(100), np.random.default_rng(1).uniform(0, math.tau, 100)
    limit = speed_limit(ARM, points, heading)
    step = 1e-4
    ahead = points + step * np.column_stack([np.cos(heading), np.sin(heading)])
    rates = np.abs(joints(ARM, ahead) - joints(ARM, points)) / step * limit[:, None]
    assert (rates <= np.array([0.4, 0.6]) * (1 + 1e-4)).all()
    assert np.max(rates / [0.4, 0.6], axis=1) == pytest.approx(np.ones(100), rel=1e-3)


def test_a_divided_path_keeps_its_shape() -> None:
    path = Contour(np.array([[200, 400, 0.5], [500, 500, 0], [600, 700, 0]]), closed=False)
    rows, owner, _ = capped(path, np.array([50.0, 50.0]), ARM)
    assert length(Contour(rows, closed=False)) == pytest.approx(length(path), rel=1e-12)
    assert np.unique(owner).tolist() == [0, 1]


def test_an_arm_is_slow_near_its_rim() -> None:
    table = replace(load_table("two-link arm"), acceleration=5000.0)
    arm = table.reach
    assert isinstance(arm, Arm)
    across = [
        Contour.from_points([(arm.x + r - 100, arm.y + 200), (arm.x + r, arm.y + 200)], closed=False)
        for r in (900.0, 1420.0)
    ]
    middle, rim = (timed(path, 400.0, table).total for path in across)
    assert rim > middle * 1.2


def test_beyond_the_arm_is_refused() -> None:
    with pytest.raises(InputError, match=r"beyond the arm.*100 to 1300 mm"):
        joints(ARM, np.array([[2000.0, 0.0]]))
