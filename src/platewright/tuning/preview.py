"""What another chart changes in a job: the same layout planned with both."""

from __future__ import annotations

from collections.abc import Callable

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.layout.model import Layout
from platewright.program.dialects import Dialect
from platewright.table.chart import Chart
from platewright.table.model import TableProfile

__all__ = ["compared"]

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
