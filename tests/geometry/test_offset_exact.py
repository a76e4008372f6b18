"""Round offsets held against the definition of distance, by a witness that uses no library and none of our functions."""

from __future__ import annotations

import pytest

from platewright.geometry import Contour, Pose, Profile
from platewright.geometry.regions.offset import offset_profile
from tests.geometry.helpers import generated
from tests.geometry.witness import judged


def test_every_point_at_the_distance_and_no_other_bounds_a_round_offset() -> None:
    for kind, profile, d in generated(96, seed=96):
        verdict = judged(profile, d, offset_profile(profile, d))
        assert verdict.off <= 1e-6, kind
        assert verdict.missing <= 1e-6, kind
        assert verdict.wrong == 0, kind


@pytest.mark.parametrize("distance", [-3.0, 3.0])
def test_the_witness_sees_a_lost_loop_a_stray_loop_and_a_shifted_one(distance: float) -> None:
    plate = Profile(Contour.rectangle(80, 50, radius=6), (Contour.circle(40, 25, 9),))
    (good,) = offset_profile(plate, distance)
    assert judged(plate, distance, [good]).missing < 1e-9
    assert judged(plate, distance, [Profile(good.outer)]).missing > 1
    stray = Profile(good.outer, (*good.holes, Contour.circle(10, 10, 0.2)))
    assert judged(plate, distance, [stray]).off > 1
    assert judged(plate, distance, [Pose(1e-5, 0).apply(good)]).off > 5e-6
    assert judged(plate, distance, offset_profile(plate, -distance)).wrong > 0
    assert judged(plate, distance, []).missing > 1
