"""How wide and how round a hole is, against closed forms; the shapes a drill makes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.geometry import Contour
from platewright.geometry.holes import for_the_drill, hydraulic_diameter, roundness


def slot(width: float, length: float) -> Contour:
    """Return a slot with round ends, its whole length given [mm]."""
    r, half = width / 2, (length - width) / 2
    return Contour(
        np.array([[half, -r, 1.0], [half, r, 0.0], [-half, r, 1.0], [-half, -r, 0.0]]), closed=True
    )


def polygon(sides: int, radius: float) -> Contour:
    turn = 2 * math.pi * np.arange(sides) / sides
    return Contour.from_points(
        list(zip(radius * np.cos(turn), radius * np.sin(turn), strict=True)), closed=True
    )


def test_sizes_are_the_closed_forms() -> None:
    circle = Contour.circle(30, 40, 6)
    assert hydraulic_diameter(circle) == pytest.approx(12)
    assert roundness(circle) == pytest.approx(0, abs=0.011)
    assert roundness(slot(10, 25)) == pytest.approx(7.5, abs=0.02)  # half the length less half the width
    assert hydraulic_diameter(slot(10, 25)) == pytest.approx(4 * (25 * math.pi + 150) / (10 * math.pi + 30))
    assert roundness(polygon(6, 10)) == pytest.approx(10 - 10 * math.cos(math.pi / 6))
    assert roundness(Contour.rectangle(30, 40)) == pytest.approx(25 - 15)


@pytest.mark.parametrize(
    ("hole", "drilled"),
    [
        (Contour.circle(0, 0, 8.9), True),
        (Contour.circle(0, 0, 9.0), False),  # as wide as the limit
        (polygon(24, 8), True),  # a circle traced by chords
        (slot(16, 16.8), True),  # a drill leaves 0.2 mm at most
        (slot(16, 20), False),
        (slot(4, 5.5), False),
        (slot(6, 40), False),
        (polygon(6, 8), False),  # a hexagon socket
        (Contour.rectangle(10, 10), False),
    ],
)
def test_only_round_holes_below_the_limit_are_drilled(hole: Contour, drilled: bool) -> None:
    assert for_the_drill(hole, below=18) is drilled
    assert for_the_drill(hole.reversed(), below=18) is drilled
    assert not for_the_drill(hole, below=0)
