"""Weights, gauges and cautions against handbooks and 29 CFR 1910 (sources beside each)."""

from __future__ import annotations

import pytest

from platewright.cautions import cautions, closing
from platewright.materials import gauge_thickness, grade, grades


def test_plate_weighs_what_the_handbook_says() -> None:
    """48 x 96 x 1 in plate 1306.7 lb; 12 x 12 x 1 in 40.83 lb (AISC manual convention, ASTM A6, confirmed)."""
    density = grade("mild steel").density
    assert 48 * 96 * 25.4**3 * density / 0.45359237 == pytest.approx(1306.7, abs=0.6)
    assert 144 * 25.4**3 * density / 0.45359237 == pytest.approx(40.83, abs=0.02)
    assert 1e6 * density == pytest.approx(7.85)
    assert all(g.density > 2e-6 for g in grades().values())


@pytest.mark.parametrize(("number", "inch"), [(3, 0.2391), (7, 0.1793), (10, 0.1345), (30, 0.0120)])
def test_sheet_steel_gauges(number: int, inch: float) -> None:
    assert gauge_thickness(number, "steel") == pytest.approx(inch * 25.4)


def test_cautions_follow_the_material_and_name_their_source() -> None:
    """Shade 8 below 300 A (29 CFR 1910.133(a)(5)); Cr(VI) 5 µg/m³ (1910.1026); 35 ft and half an hour (1910.252(a)(2))."""
    plain = {c.title for c in cautions("mild steel")}
    assert {c.title for c in cautions("stainless")} - plain == {"Chromium"}
    assert {c.title for c in cautions("galvanized")} - plain == {"Zinc coating"}
    assert {c.title for c in cautions("aluminium")} - plain == {"Aluminium over water"}
    every = " ".join(c.text for g in grades() for c in cautions(g))
    for word in ("shade 8", "35 ft", "half an hour", "one hour", "5 µg/m³", "5 mg/m³", "hydrogen"):
        assert word in every
    assert all(c.source and c.status for g in grades() for c in cautions(g))
    assert "Local codes" in closing()
