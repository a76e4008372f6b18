"""Bends against the worked examples and tables of Machinery's Handbook 31, FAA-H-8083-31 and EN 485-2."""

from __future__ import annotations

import math

import pytest

from platewright.part.rules.bends import (
    Bend,
    bend_allowance,
    check_bend,
    developed_length,
    flat_pattern,
    flats_from_outside,
    k_factor,
    outside_setback,
    smallest_radius,
)

INCH = 25.4


def test_machinerys_handbook_worked_example() -> None:
    # Machinery's Handbook 31, bending sheet metal: soft steel 0.125 in, R 0.375 bent 180 degrees, R 0.625 bent 60
    # degrees, flats 3.5 in: 1.3375, 0.7075, total 5.545 in. Confirmed.
    first = developed_length(0.375 * INCH, 0.125 * INCH, angle=math.pi) / INCH
    second = developed_length(0.625 * INCH, 0.125 * INCH, angle=math.radians(60)) / INCH
    assert first == pytest.approx(1.3375, abs=1e-9)
    assert second == pytest.approx(0.7075, abs=1e-9)
    assert round(3.5 + first + second, 3) == 5.545
    # with pi/2 in full instead of 1.57 the total is 0.0009 in longer, far below any brake
    exact = flat_pattern(
        [2 * INCH, 1 * INCH, 0.5 * INCH],
        [Bend(0.375 * INCH, math.pi), Bend(0.625 * INCH, math.radians(60))],
        thickness=0.125 * INCH,
    )
    assert exact.length / INCH == pytest.approx(5.545, abs=1.1e-3)


def test_the_three_classes() -> None:
    # Machinery's Handbook 31 formulas 32 to 34: L = 0.55, 0.64, 0.71 T + 1.57 R; K 0.350, 0.407, 0.452. Confirmed.
    for kind, coefficient in (("soft", 0.55), ("medium", 0.64), ("hard", 0.71)):
        assert developed_length(2, 3, kind=kind) == pytest.approx(coefficient * 3 + 1.57 * 2)
    assert k_factor("mild steel")[0] == pytest.approx(0.407, abs=5e-4)
    assert k_factor("soft copper")[0] == pytest.approx(0.350, abs=5e-4)
    assert k_factor("cold rolled steel")[0] == pytest.approx(0.452, abs=5e-4)
    assert "Machinery" in k_factor()[1]


def test_faa_u_channel() -> None:
    # FAA-H-8083-31 figure 4-124: U-channel 1 x 2 x 1 in, T 0.040, R 0.16: setback 0.20, flats 0.8 / 1.6 / 0.8 in. Confirmed.
    bends = [Bend(0.16 * INCH), Bend(0.16 * INCH)]
    assert outside_setback(0.16 * INCH, 0.040 * INCH) / INCH == pytest.approx(0.20)
    flats = flats_from_outside([INCH, 2 * INCH, INCH], bends, thickness=0.040 * INCH)
    assert [f / INCH for f in flats] == pytest.approx([0.8, 1.6, 0.8])
    # derived from the same data: allowance 0.283 (K 0.5), total 3.765 in
    flat = flat_pattern(flats, bends, thickness=0.040 * INCH, k=0.5)
    assert flat.allowances[0] / INCH == pytest.approx(0.283, abs=5e-4)
    assert flat.length / INCH == pytest.approx(3.765, abs=1e-3)


def test_bend_deduction_of_the_handbook_sizes() -> None:
    # T .125 R .375 90 degrees K .4074: allowance 0.6690, setback 0.500, deduction 0.3310 in. Derived from the definition.
    t, r, k = 0.125 * INCH, 0.375 * INCH, 0.4074
    assert bend_allowance(r, t, k=k) / INCH == pytest.approx(0.6690, abs=5e-5)
    assert outside_setback(r, t) / INCH == pytest.approx(0.500)
    assert (2 * outside_setback(r, t) - bend_allowance(r, t, k=k)) / INCH == pytest.approx(0.3310, abs=5e-5)


def test_smallest_radius() -> None:
    # EN 485-2 for 5754 and 6082-T6, FAA handbook for annealed sheet. Confirmed.
    assert smallest_radius("6082-T6", 2) == 7
    assert smallest_radius("6082-T6", 5) == 22.5
    assert smallest_radius("5754 H22", 4) == 6
    assert smallest_radius("annealed", 4) == 4
    assert smallest_radius("6082-T6", 50) is None
    assert [f.code for f in check_bend(Bend(2), thickness=3)] == ["A050"]
    assert check_bend(Bend(3), thickness=3) == []
    assert [f.code for f in check_bend(Bend(4), thickness=3, metal="6082-T6")] == ["A050"]
