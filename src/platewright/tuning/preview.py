"""What another chart changes in a job: the same layout planned with both; and what figures nobody measured may truly be."""

from __future__ import annotations

from collections.abc import Callable

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.layout.model import Layout
from platewright.program.dialects import Dialect
from platewright.table.chart import Chart
from platewright.table.model import ChartRow, TableProfile
from platewright.table.starter import ORIGIN, band

__all__ = ["compared", "named", "starting_point"]

SHOWN: dict[str, Callable[[BurnPlan], str]] = {
    "kerf": lambda p: f"{p.row.kerf:.2f} mm",
    "path off the edge": lambda p: f"{p.row.kerf / 2:.2f} mm",
    "cut speed": lambda p: f"{p.row.cut_speed * 60:.0f} mm/min",
    "cut height": lambda p: f"{p.row.cut_height:.2f} mm",
    "time": lambda p: f"{p.total_time / 60:.1f} min",
    "arc on": lambda p: f"{p.arc_time / 60:.1f} min",
    "cuts": lambda p: str(len(p.cuts)),
}
"""What is told of a plan, by its label."""


UNITS: dict[str, tuple[str, float, int]] = {
    "cut_speed": ("mm/min", 60.0, 0), "pierce_delay": ("s", 1.0, 2), "arc_voltage": ("V", 1.0, 0),
    "air_pressure": ("kPa", 1.0, 0), "air_flow": ("L/min", 1.0, 0), "post_flow": ("s", 1.0, 0),
}  # fmt: skip
"""Unit of a figure of the chart, what it is multiplied by, and its decimals; others are lengths [mm]."""
NAMED = {"kerf_hole": "kerf in small holes", "smallest_hole": "smallest good hole"}
"""Figures whose field does not say what they are."""


def named(setting: str) -> str:
    """Return what a setting of a chart row is called [-]."""
    return NAMED.get(setting, setting.replace("_", " "))


def starting_point(row: ChartRow) -> tuple[tuple[str, str, str, str], ...]:
    """Return what a row nobody measured says: label, value, from where to where it may lie, and where it comes from; nothing of a measured row [mm, s, V]."""
    if not row.starting_point:
        return ()
    findings = []
    for name, (origin, _, _) in ORIGIN.items():
        unit, factor, digits = UNITS.get(name, ("mm", 1.0, 2))
        value, (low, high) = getattr(row, name), band(row, name)
        if value:
            spread = f"{low * factor:.{digits}f} to {high * factor:.{digits}f} {unit}"
            findings.append((named(name), f"{value * factor:.{digits}f} {unit}", spread, origin))
    return tuple(findings)


def compared(
    layout: Layout,
    charts: tuple[Chart, Chart],
    table: TableProfile,
    *,
    dialect: Dialect,
    options: BurnOptions | None = None,
) -> tuple[tuple[str, str, str], ...]:
    """Return what a layout's plan says with one chart and with the other: label, before, after, each with its unit [mm, s].

    Parameters
    ----------
    layout : of the job
    charts : the old one and the new one
    table : it is cut on
    dialect : it is written in
    options : choices for the plan; None takes those kept in the layout
    """
    old, new = (plan(layout, c, table, options, controller=dialect.controller) for c in charts)
    return tuple((label, value(old), value(new)) for label, value in SHOWN.items())
