"""Bends against the published worked examples and the identities between allowance, setback and deduction."""

from __future__ import annotations

import math
import random

import pytest

from platewright.errors import InputError
from platewright.part.checks import check
from platewright.part.families import make
from platewright.part.ops.marks import add_bend_line
from platewright.part.rules.bends import (
    Bend,
    bend_allowance,
    flat_pattern,
    flats_from_outside,
    outside_setback,
)

INCH = 25.4


def test_flats_plus_allowances_equal_outside_legs_less_deductions() -> None:
    rng = random.Random(5)
    for _ in range(300):
        t, k = rng.uniform(0.5, 12), rng.uniform(0.3, 0.5)
        bends = [Bend(rng.uniform(0, 20), rng.uniform(0.05, 3.0)) for _ in range(rng.randint(1, 5))]
        setbacks = [outside_setback(b.radius, t, angle=b.angle) for b in bends]
        ends = [0.0, *setbacks, 0.0]
        legs = [rng.uniform(1, 80) + ends[i] + ends[i + 1] for i in range(len(bends) + 1)]
        flat = flat_pattern(flats_from_outside(legs, bends, thickness=t), bends, thickness=t, k=k)
        deductions = sum(
            2 * outside_setback(b.radius, t, angle=b.angle) - bend_allowance(b.radius, t, angle=b.angle, k=k)
            for b in bends
        )
        assert flat.length == pytest.approx(sum(legs) - deductions)
        assert all(a < b < c for (a, c), b in zip(flat.tangents, flat.lines, strict=True))


def test_a_part_with_a_tight_bend_is_reported_once() -> None:
    strip = make("bent-strip", {"inside_radius": "1 mm"}, thickness=3)
    plate = make("plate", {"width": "100 mm", "height": "60 mm", "columns": "0"}, thickness=3)
    bent = add_bend_line(
        add_bend_line(plate, start=(50, 0), end=(50, 60), radius=2), start=(70, 0), end=(70, 60), radius=2
    )
    for part in (strip, bent):
        assert [f.code for f in check(part)].count("A050") == 1
    assert "A050" not in [f.code for f in check(make("bent-strip", {}, thickness=3))]


def test_bad_bends_get_sentences() -> None:
    with pytest.raises(InputError, match="included angle"):
        Bend(1, math.radians(200))
    with pytest.raises(InputError, match="alone take"):
        flats_from_outside([3, 30], [Bend(5)], thickness=2)
    with pytest.raises(InputError, match="180 degrees"):
        outside_setback(1, 1, angle=math.pi)
    with pytest.raises(InputError, match="place in the metal"):
        bend_allowance(1, 1, k=1.2)
    with pytest.raises(InputError, match="one more"):
        flat_pattern([1.0], [Bend(1)], thickness=1)


def test_the_bent_strip_family_is_the_u_channel() -> None:
    values = {
        "legs": "1 in, 2 in, 1 in",
        "sheet": "0.040 in",
        "inside_radius": "0.16 in",
        "k": "0.5",
        "thickness": "0.04 in",
    }
    part = make("bent-strip", values)
    assert part.profile.bounds().width / INCH == pytest.approx(3.765, abs=1e-3)
    assert len(part.marks) == 2
