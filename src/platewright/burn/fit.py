"""Fit a plan to the controller that will run it: marks, the torch's ways, touch-offs, times and limits.

The cuts themselves do not depend on the dialect. What does: whether there is a marking tool and where it sits beside the
torch, so where the torch stands while it marks; the ways between the cuts that remain; how long it all takes. A plan may be
fitted again for another controller; what an earlier one could not mark stays left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from platewright.burn.cuts.build import clocked
from platewright.burn.cuts.loops import title
from platewright.burn.cuts.touch import touched
from platewright.burn.dimples import dimpled
from platewright.burn.limits import limit_findings
from platewright.burn.model import BurnPlan, Cut
from platewright.burn.pauses import paused
from platewright.burn.sequence.route import routed, tall_keepouts
from platewright.burn.summary import summed
from platewright.findings import Finding, finding
from platewright.geometry import Contour, flatten
from platewright.table.arm import seated
from platewright.table.clock import travel_height
from platewright.table.controller import Controller
from platewright.table.model import TableProfile
from platewright.table.motion import timed
from platewright.table.written import as_written

__all__ = ["fitted", "unmarked"]

MADE_HERE = (
    "B010", "B013", "B014", "B015", "B016", "B017", "B018", "B029", "B030", "B031", "B032", "B033", "B040", "B041",
)  # fmt: skip
"""Findings that follow from the controller and are told anew."""


def unmarked(plan: BurnPlan) -> int:
    """Return how many marks a plan leaves out [-]: each has a finding, or counts in one."""
    skipped = [f for f in plan.findings if f.code in ("B025", "B026", "B027", "B028")]
    alone = {f.subject for f in skipped if f.code != "B026"}
    return len(alone) + sum(int(f.values["count"]) for f in skipped if f.code == "B026")


def fitted(plan: BurnPlan, controller: Controller) -> BurnPlan:
    """Return the plan as a controller will run it: marks it can make, ways [mm], times [s], and findings that follow."""
    table = seated(plan.table, plan.layout.seat)
    findings = [f for f in plan.findings if f.code not in MADE_HERE]
    cuts, findings, new_findings = _markable(plan, controller, findings)
    findings += new_findings
    cuts = [_timed(c, table, controller) for c in cuts]
    cuts, new_findings = touched(replace(plan, cuts=tuple(cuts)), controller)
    findings += new_findings
    cuts, new_findings = routed(replace(plan, cuts=tuple(cuts)), controller)
    findings += new_findings
    result = replace(plan, cuts=tuple(cuts), controller=controller)
    cuts, new_findings = paused(result)
    result = summed(replace(result, cuts=tuple(cuts), findings=(*findings, *new_findings)))
    return replace(result, findings=(*result.findings, *limit_findings(result)))


def _timed(cut: Cut, table: TableProfile, controller: Controller) -> Cut:
    """Return the cut with the time [s] its path takes as the program carries it."""
    if cut.struck:
        return cut
    dx, dy = controller.marker if cut.drawn else (0.0, 0.0)
    rows, off = cut.path.rows - [dx, dy, 0.0], len(cut.path) - cut.coast_edges
    path, speeds = as_written(Contour(rows, closed=False), cut.speeds, controller)
    tail = (
        len(as_written(Contour(rows[off:], closed=False), cut.speeds[off:], controller)[0])
        if cut.coast_edges
        else 0
    )
    return clocked(cut, timed(path, speeds, table), table, tail=tail)


def _markable(
    plan: BurnPlan, controller: Controller, findings: Sequence[Finding]
) -> tuple[list[Cut], list[Finding], list[Finding]]:
    """Return the cuts the controller can make, the findings as they then read, and new ones."""
    marks = [c for c in plan.cuts if c.kind == "mark"]
    cuts = [c for c in plan.cuts if c.kind != "mark"]
    if not controller.marks:
        struck, new_findings = dimpled(plan, marks)
        done = {(c.placement, c.contour, c.drill) for c in struck}
        undone = [c for c in marks if (c.placement, c.contour, c.drill) not in done]
        left = {title(plan.layout, c.placement, c.contour) for c in undone if c.drill}
        others = [c for c in undone if not c.drill]
        new_findings += [finding("B026", place=others[0].start, count=len(others))] if others else []
        return [*struck, *cuts], [_unmarked(f) if f.subject in left else f for f in findings], new_findings
    kept, lost = list[Cut](), list[Finding]()
    for mark in marks:
        if mark.struck:
            kept.append(mark)
            continue
        wrong = next(_off(plan, mark, controller), None)
        if wrong is None:
            kept.append(mark)
        else:
            lost.append(wrong)
    gone = {f.subject for f in lost}
    return [*kept, *cuts], [_unmarked(f) if f.subject in gone else f for f in findings], lost


def _unmarked(found: Finding) -> Finding:
    """Return what is said of a hole to be drilled when nothing marks it."""
    if found.code != "B024":
        return found
    return finding("B025", place=found.place, subject=found.subject, size_mm=found.values["size_mm"])


def _off(plan: BurnPlan, mark: Cut, controller: Controller) -> Iterator[Finding]:
    """Yield why a mark cannot be made: the torch out of reach, or torch or tool against something tall."""
    import shapely

    tool = flatten(mark.path, tolerance=0.05)
    torch = tool - np.array(controller.marker)
    subject = title(plan.layout, mark.placement, mark.contour)
    if not mark.drill:
        subject = f"{plan.layout.label(mark.placement)}, mark {mark.contour + 1}"
    if not plan.reaches(torch).all():
        dx, dy = controller.marker
        yield finding("B027", place=mark.start, subject=subject, x_mm=-dx, y_mm=-dy)
    ways = [shapely.LineString(tool), shapely.LineString(torch)]
    for keepout, shape in tall_keepouts(plan.layout, travel_height(plan.table, controller)):
        if shapely.intersects(shape, ways).any():
            yield finding("B028", place=mark.start, subject=subject, name=keepout.name)
