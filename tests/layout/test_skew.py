"""Where the plate really lies: exact for rigid moves, told when touches disagree."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry import Pose
from platewright.layout.skew import plate_pose

CORNERS = [(0.0, 0.0), (1220.0, 0.0), (1220.0, 2440.0), (0.0, 2440.0)]


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("pose", [Pose(30, -12, 0.02), Pose(-400, 800, -1.4), Pose(5, 5, 3.1)])
def test_a_rigid_move_comes_back_exactly(pose: Pose, count: int) -> None:
    drawn = CORNERS[:count]
    skew = plate_pose(drawn, pose.points(drawn).tolist())
    assert (skew.pose.x, skew.pose.y, skew.pose.angle) == pytest.approx(
        (pose.x, pose.y, pose.angle), abs=1e-9
    )
    assert skew.rms() < 1e-9
    assert [f.code for f in skew.findings] == ["L021"]


def test_two_points_too_far_apart_share_the_error() -> None:
    """A 1000 mm line touched as 1004 mm: 2 mm at each end, by symmetry."""
    skew = plate_pose([(0, 0), (1000, 0)], [(0, 0), (1004, 0)])
    assert skew.residuals == pytest.approx((2.0, 2.0))
    assert [f.code for f in skew.findings] == ["L021", "L020"]


def test_noise_is_averaged() -> None:
    rng = np.random.default_rng(5)
    pose = Pose(10, 20, math.radians(1.0))
    drawn = [(float(x), float(y)) for x, y in rng.uniform(0, 1000, (40, 2))]
    skew = plate_pose(drawn, (pose.points(drawn) + rng.normal(0, 0.5, (40, 2))).tolist())
    assert skew.pose.angle == pytest.approx(pose.angle, abs=5 * 0.5 / (math.sqrt(40) * 380))


@pytest.mark.parametrize(
    ("drawn", "touched", "text"),
    [
        ([(0, 0)], [(0, 0)], "two or more"),
        ([(0, 0), (1, 1)], [(0, 0)], "same order"),
        ([(0, 0), (100, 0)], [(0, 0), (float("nan"), 0)], "finite"),
        ([(0, 0), (100, 0)], [(5, 5), (5, 5)], "within 1 mm"),
    ],
)
def test_bad_touches_are_a_sentence(drawn: list, touched: list, text: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(InputError, match=text):
        plate_pose(drawn, touched)
