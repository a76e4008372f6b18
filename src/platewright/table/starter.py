"""The starter chart: computed, not measured. Air plasma, three metals, 20 to 125 A, 0.5 to 25 mm.

The speed comes from the energy balance (see ``energy``), held to what a small table can steer; the other
columns are plain rules of common practice, each written beside its line. Every row is marked as a starting point
to be replaced by the shop's own coupon results. `ORIGIN` says of each column where it comes from and how far it may be off.
"""

from __future__ import annotations

import math

from platewright.table.energy import efficiency, speed_for, starter_kerf, starter_voltage, thickest
from platewright.table.model import ChartRow

__all__ = ["AMPERAGES", "GRADES", "ORIGIN", "THICKNESSES", "band", "computed_row", "computed_rows"]

AMPERAGES = (20.0, 25.0, 30.0, 40.0, 45.0, 50.0, 60.0, 65.0, 80.0, 85.0, 100.0, 105.0, 125.0)
THICKNESSES = (0.5, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0)
GRADES = ("mild steel", "stainless", "aluminium")
FASTEST = 150.0
"""No row is faster [mm/s]: thin sheet could go faster, but a small table cannot steer it."""
THINNEST = 0.02
"""Thinnest plate by ampere [mm/A]: a strong arc has no slow enough speed for thin sheet (common practice)."""
HOLE_FACTOR = 0.6
WIDER = 0.12
"""A slower torch parts more: kerf by the speed's power of minus this [-], 6 % at the speed of small holes (common practice)."""

ORIGIN: dict[str, tuple[str, float, float]] = {
    "cut_speed": ("computed: energy balance, its share of the arc's power fitted to practice", 0.2, 0.0),
    "kerf": ("common practice: 0.32 I^0.4 + 0.02 t", 0.0, 0.25),
    "kerf_hole": ("computed: kerf at 60 % of the speed, by the speed's power of -0.12", 0.0, 0.3),
    "cut_height": ("common practice: 1.5 mm, 2.5 mm from 100 A", 0.0, 0.5),
    "pierce_height": ("common practice: grows with thickness, 5 to 6 mm above 10 mm", 0.0, 1.0),
    "pierce_delay": ("common practice", 0.4, 0.1),
    "arc_voltage": ("common practice, by metal", 0.1, 0.0),
    "air_pressure": ("common practice", 0.15, 0.0),
    "air_flow": ("common practice", 0.2, 0.0),
    "post_flow": ("common practice", 0.5, 0.0),
    "smallest_hole": ("common practice: 1.5 thicknesses, 2 from 12 mm on", 0.2, 0.0),
    "edge_slope": ("common practice: some two and a half degrees", 0.6, 0.0),
    "lead": ("common practice: about the thickness, clear of the blow-out", 0.3, 0.0),
}
"""Where each column comes from; how far it may be off: share of the value [-] and in its own unit."""


def band(row: ChartRow, name: str) -> tuple[float, float]:
    """Return from where to where a starting point's value may truly lie [mm, mm/s, s, V, kPa, L/min]."""
    _, share, fixed = ORIGIN[name]
    value = float(getattr(row, name))
    off = math.hypot(share * value, fixed)
    return max(0.0, value - off), value + off


def _round(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)


def _smallest_hole(thickness: float) -> float:
    """Return the smallest good hole over the thickness [-]: 1.5 up to 6 mm, 2 from 12 mm on, straight between."""
    return 1.5 + 0.5 * min(1.0, max(0.0, (thickness - 6.0) / 6.0))


def computed_row(grade: str, amperage: float, thickness: float) -> ChartRow:
    """Return one computed row [mm, mm/s, s, A, V, kPa, L/min]."""
    kerf, voltage = starter_kerf(amperage, thickness), starter_voltage(amperage, thickness, grade)
    power = amperage * voltage * efficiency(grade, amperage, thickness)
    speed = min(FASTEST, speed_for(grade, power, thickness=thickness, kerf=kerf))
    cut_height = 1.5 if amperage < 100 else 2.5
    edge = thickness > thickest(amperage)[0] + 1e-9
    delay = (0.1 + 0.06 * thickness + 0.004 * thickness**2) * math.sqrt(45 / amperage)
    pierce = max(min(6.0, 3.2 + 0.19 * max(0.0, thickness - 2.0)), 2 * cut_height)
    return ChartRow(
        process="air plasma",
        grade=grade,
        thickness=thickness,
        amperage=amperage,
        kerf=_round(kerf, 0.01),
        cut_speed=_round(speed * 60, 10) / 60,
        cut_height=cut_height,
        pierce_height=cut_height if edge else _round(pierce, 0.1),
        pierce_delay=0.0 if edge else _round(delay, 0.05),
        arc_voltage=_round(voltage, 1),
        air_pressure=450.0 if amperage < 40 else 500.0 if amperage < 80 else 550.0,
        air_flow=_round(100 + 1.7 * amperage, 5),
        post_flow=5.0 + amperage / 5.0,
        smallest_hole=_round(max(_smallest_hole(thickness) * thickness, 2.5 * kerf), 0.5),
        edge_slope=_round(0.06 + 0.042 * thickness, 0.01),
        lead=_round(max(3.0, 1.0 + thickness), 0.5),
        hole_speed_factor=HOLE_FACTOR,
        kerf_hole=_round(kerf * HOLE_FACTOR**-WIDER, 0.01),
        edge_start_only=edge,
    )


def computed_rows() -> tuple[ChartRow, ...]:
    """Return all rows that an amperage parts, from an edge start where it cannot pierce [mm, mm/s, A]."""
    return tuple(
        computed_row(grade, amperage, thickness)
        for grade in GRADES
        for amperage in AMPERAGES
        for thickness in THICKNESSES
        if THINNEST * amperage - 1e-9 <= thickness <= thickest(amperage)[1] + 1e-9
    )
