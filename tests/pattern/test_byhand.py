"""Drawing by hand: three-point arcs against the circle equation, snapping onto known edges."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry.measure import length, signed_area
from platewright.pattern.hand_drawn import (
    Stroke,
    circle_through,
    drawn,
)


@pytest.mark.parametrize("seed", range(20))
def test_three_places_lie_on_the_circle_found(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x, y, r = rng.uniform(-500, 500), rng.uniform(-500, 500), 10 ** rng.uniform(0, 3)
    angles = rng.uniform(0, math.tau) + np.array([0.0, rng.uniform(0.3, 2.0), rng.uniform(2.3, 5.5)])
    (cx, cy), radius = circle_through(*[(x + r * math.cos(a), y + r * math.sin(a)) for a in angles])
    assert (cx, cy, radius) == (
        pytest.approx(x, abs=1e-6),
        pytest.approx(y, abs=1e-6),
        pytest.approx(r, rel=1e-8),
    )


@pytest.mark.parametrize("sweep", [0.3, 1.5, 3.0, 4.5, 6.0, -0.3, -1.5, -3.0, -4.5, -6.0])
def test_an_arc_through_three_places_has_the_right_sweep_and_length(sweep: float) -> None:
    at = [(50 * math.cos(a), 50 * math.sin(a)) for a in (0.4, 0.4 + 0.37 * sweep, 0.4 + sweep)]
    arc = drawn(at[0], [Stroke(at[2], at[1])], closed=False)
    assert length(arc) == pytest.approx(50 * abs(sweep), rel=1e-9)
    assert math.copysign(1, arc.bulges[0]) == math.copysign(1, sweep)


def test_lines_and_arcs_close_to_a_slot() -> None:
    slot = drawn(
        (0, 0), [Stroke((80, 0)), Stroke((80, 20), (90, 10)), Stroke((0, 20)), Stroke((0, 0), (-10, 10))]
    )
    assert signed_area(slot) == pytest.approx(80 * 20 + math.pi * 100)
    left_open = drawn((0, 0), [Stroke((80, 0)), Stroke((80, 20))])
    assert len(left_open) == 3
    flat = drawn((0, 0), [Stroke((10, 0), (5, 0)), Stroke((5, 5))])
    assert flat.bulges[0] == 0


def test_nonsense_is_a_sentence() -> None:
    with pytest.raises(InputError):
        circle_through((0, 0), (1, 1), (2, 2))
    with pytest.raises(InputError):
        circle_through((0, 0), (0, 0), (2, 2))
    with pytest.raises(InputError):
        drawn((0, 0), [])
    with pytest.raises(InputError):
        drawn((0, 0), [Stroke((0, 0))])
    with pytest.raises(InputError):
        drawn((0, 0), [Stroke((math.nan, 0))])
