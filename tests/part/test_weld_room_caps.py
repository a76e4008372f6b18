"""Weld room beside a corner that is rounded past the square leaves no cap of the rounding behind."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.geometry import Contour, Profile
from platewright.part.ops import from_profile, weld_room


def foot() -> Profile:
    """A foot whose lower right corner turns 100 degrees into a concave arc, tangent all along [mm]."""
    lean = math.radians(10)
    centre = np.array([72.0, 8.0])
    leaves = centre + 8 * np.array([math.cos(lean), math.sin(lean)])
    hollow = leaves + 10 * np.array([math.cos(lean), math.sin(lean)])
    up = hollow + 10 * np.array([math.cos(math.pi / 2), math.sin(math.pi / 2)]) * [1, 1]
    rows = [
        (0, 0, 0),
        (72, 0, math.tan((math.pi / 2 + lean) / 4)),
        (*leaves, -math.tan((math.pi / 2 + lean) / 4)),
        (*up, 0),
        (250, up[1], 0),
        (250, 100, 0),
        (0, 100, 0),
    ]
    return Profile(Contour(np.array(rows)))


@pytest.mark.parametrize("leg", [2.0, 5.0, 7.5])
def test_the_cap_goes_and_the_edge_runs_on(leg: float) -> None:
    part = weld_room(from_profile(foot(), name="foot", thickness=6.0), edges=[(0, 0)], distance=leg)
    box = part.profile.bounds()
    assert box.y0 == pytest.approx(leg, abs=1e-9)
    assert (box.x0, box.x1) == pytest.approx((0.0, 250.0))


def test_a_part_that_really_falls_apart_is_refused() -> None:
    bone = Profile(
        Contour.from_points(
            [
                (0, 0),
                (40, 0),
                (40, 18),
                (60, 18),
                (60, 0),
                (100, 0),
                (100, 40),
                (60, 40),
                (60, 22),
                (40, 22),
                (40, 40),
                (0, 40),
            ]
        )
    )
    with pytest.raises(ValueError, match="2 pieces"):
        weld_room(from_profile(bone, name="bone", thickness=6.0), edges=[(0, 2)], distance=5.0)
