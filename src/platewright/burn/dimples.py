"""Dimples: centres struck by a very short arc where the dialect has no marking tool, by choice.

Common practice, with its price: steel is hardened where the arc strikes, and thin plate may be pierced. What a dimple may be stands
in ``table.law``; a centre that cannot be one stays unmarked and is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from platewright.burn.cuts.build import POINT
from platewright.burn.model import BurnPlan, Cut
from platewright.findings import Finding, finding
from platewright.geometry import Contour, length
from platewright.table.law import LEAST_PLATE, MOST_SHARE, dimple_time, dimples

__all__ = ["dimpled"]


def dimpled(plan: BurnPlan, marks: Sequence[Cut]) -> tuple[list[Cut], list[Finding]]:
    """Return those of a plan's marks that are struck as dimples, none unless that was chosen, and what is told of them."""
    options, row = plan.options, plan.row
    points = [c for c in marks if c.struck or _is_point(c)]
    if not (options.dimple and points):
        return [], []
    seconds = dimple_time(row) if options.dimple_time is None else options.dimple_time
    if not dimples(row, plan.layout.plate.thickness, seconds):
        found = finding(
            "B041", place=points[0].start, thickness_mm=row.thickness, least_mm=LEAST_PLATE, seconds=seconds,
            most_s=MOST_SHARE * row.pierce_delay, count=len(points),
        )  # fmt: skip
        return [], [found]
    struck = [_struck(c, row.pierce_height, seconds) for c in points]
    return struck, [finding("B040", place=struck[0].start, count=len(struck), seconds=seconds)]


def _is_point(mark: Cut) -> bool:
    return mark.drill or (len(mark.path) == 1 and abs(length(mark.path) - 2 * POINT) < 1e-6)


def _struck(mark: Cut, height: float, seconds: float) -> Cut:
    if mark.struck:
        return mark
    x, y = mark.path.rows[:, :2].mean(axis=0).tolist()
    return replace(
        mark, path=Contour.from_points([(x, y), (x, y)], closed=False), struck=True, pierced=True, burn_time=0.0,
        pierce_delay=seconds, pierce_height=height,
        why=(*mark.why, f"Struck by an arc of {seconds:g} s that does not get through; the spot is hard to drill."),
    )  # fmt: skip
