"""The starter chart: computed, not measured. Air plasma, three metals, 20 to 65 A, 0.8 to 16 mm.

The speed comes from the energy balance (see ``energy``), held to what a small table can steer; the other
columns are plain rules of common practice, each written beside its line. Every row is marked as a starting point
to be replaced by the shop's own coupon results.
"""

from __future__ import annotations

import math

from platewright.table.energy import efficiency, speed_for, starter_kerf, starter_voltage
from platewright.table.model import ChartRow

__all__ = ["AMPERAGES", "THICKNESSES", "computed_rows"]

AMPERAGES = (20.0, 30.0, 45.0, 65.0)
THICKNESSES = (0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0)
GRADES = ("mild steel", "stainless", "aluminium")
FASTEST = 150.0
"""No row is faster [mm/s]: thin sheet could go faster, but a small table cannot steer it."""
PIERCE_SHARE = 0.25
"""Thickest plate to pierce per ampere [mm/A]: 45 A pierces about 11 mm, 65 A about 16 mm (common practice)."""


def _post_flow(amperage: float) -> float:
    return 5.0 + amperage / 5.0


def _round(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)


def computed_row(grade: str, amperage: float, thickness: float) -> ChartRow:
    """Return one computed row [mm, mm/s, s, A, V, kPa, L/min]."""
    kerf, voltage = starter_kerf(amperage, thickness), starter_voltage(amperage, thickness)
    share, fall = efficiency(grade)
    power = amperage * voltage * share * thickness**-fall
    speed = min(FASTEST, speed_for(grade, power, thickness=thickness, kerf=kerf))
    return ChartRow(
        process="air plasma",
        grade=grade,
        thickness=thickness,
        amperage=amperage,
        kerf=_round(kerf, 0.01),
        cut_speed=_round(speed * 60, 10) / 60,
        cut_height=1.5,  # drag-free stand-off of small air torches
        pierce_height=_round(3.2 + 0.06 * thickness, 0.1),  # about two and a half times the cut height
        pierce_delay=_round((0.1 + 0.06 * thickness + 0.004 * thickness**2) * math.sqrt(45 / amperage), 0.05),
        arc_voltage=_round(voltage, 1),
        air_pressure=450.0 if amperage < 40 else 500.0,
        air_flow=_round(100 + 1.7 * amperage, 5),
        post_flow=_post_flow(amperage),
        smallest_hole=_round(
            max(1.25 * thickness, 2.5 * kerf), 0.5
        ),  # rounder below costs more luck than skill
        edge_slope=_round(0.06 + 0.042 * thickness, 0.01),  # some two and a half degrees
        lead=_round(max(3.0, 1.0 + thickness), 0.5),  # about the thickness, and clear of the pierce blow-out
    )


def computed_rows() -> tuple[ChartRow, ...]:
    """Return all rows a torch of the amperage can pierce [mm, mm/s, A]."""
    return tuple(
        computed_row(grade, amperage, thickness)
        for grade in GRADES
        for amperage in AMPERAGES
        for thickness in THICKNESSES
        if thickness <= PIERCE_SHARE * amperage + 1e-9
    )
