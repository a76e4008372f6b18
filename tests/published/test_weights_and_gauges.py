"""Weights of plate and gauges of sheet against handbooks and the standards of the trade (sources beside each)."""

from __future__ import annotations

import pytest

from platewright.stock.plates import (
    area_mass,
    mass,
    sheet,
)

LB, FT = 0.45359237, 304.8


def test_steel_plate_weighs_what_the_handbook_says() -> None:
    """40.83-40.84 lb/ft² an inch at 0.2836 lb/in³ (AISC manual convention, ASTM A6; status confirmed)."""
    per_inch = area_mass(25.4) / LB * (FT / 1000) ** 2
    assert per_inch == pytest.approx(40.84, abs=0.01)
    assert abs(per_inch - 41.82) > 0.9  # the gauge definition is not a weight of plate


def test_a_quarter_inch_sheet_weighs_327_pounds() -> None:
    """4 x 8 ft x 1/4 in: 326.7 lb at 40.84 lb/ft² an inch (derived)."""
    assert mass(sheet("s", "4x8", "1/4 in")) / LB == pytest.approx(326.7, abs=0.1)


@pytest.mark.parametrize(
    ("grade", "per_millimetre"),
    [("mild steel", 7.85), ("stainless", 8.0), ("aluminium", 2.7)],
)
def test_a_square_metre_a_millimetre_thick(grade: str, per_millimetre: float) -> None:
    """7850, 8000 (shop value, mixed) and 2700 kg/m³: handbook densities."""
    assert area_mass(1.0, grade) == pytest.approx(per_millimetre)


@pytest.mark.parametrize(
    ("text", "metal", "inch"),
    [  # Manufacturers' Standard, galvanized, US Standard and B&S gauges: confirmed
        ("16 ga steel", "mild steel", 0.0598),
        ("16 ga galvanized", "galvanized steel", 0.0635),
        ("16 ga stainless", "stainless", 0.0625),
        ("16 ga aluminium", "aluminium", 0.0508),
        ("10 ga", "mild steel", 0.1345),
    ],
)
def test_gauges_are_those_of_the_metal(text: str, metal: str, inch: float) -> None:
    assert sheet("s", "4x8", text, grade=metal).thickness == pytest.approx(inch * 25.4, abs=0.0013)
