"""Stations burn and program: the ordered cuts with their reasons, and the text the table runs."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from platewright.burn.model import called
from platewright.cautions import cautions
from platewright.findings import Finding, finding, grouped
from platewright.geometry import Contour
from platewright.materials import grade
from platewright.shop.context import JobContext
from platewright.shop.results import BurnData, CutData, FileData, ProgramData, TrackData
from platewright.shop.scene import DIGITS, Item, SceneData, box_of, item, layout_items, scene, spot_of
from platewright.shop.steps.common import Made, Report, kept_file, number
from platewright.units import duration

if TYPE_CHECKING:
    from platewright.burn.model import BurnPlan, Cut
    from platewright.program.model import Program
    from platewright.table.model import TableProfile

__all__ = ["make_burn", "make_program"]

TRACK_STEP = 0.12
"""Time between two spots of the played track [s]; ends of edges are always spots."""
TRACK_MOST = 60_000
"""Spots of a track at most [count]; beyond that the step grows."""


def make_burn(context: JobContext, report: Report) -> Made:
    """Plan the cuts, say why, and keep what is needed to play them [mm, s]."""
    report(0.1, "planning the cuts")
    plan = context.plan()
    row = plan.row
    report(0.8, "drawing the path")
    numbers = [
        number("cuts", str(len(plan.cuts))), number("time", duration(plan.total_time)),
        number("arc on", duration(plan.arc_time)), number("cut length", f"{plan.cut_length / 1000:.2f} m"),
        number("travel", f"{plan.rapid_length / 1000:.2f} m"), number("amperage", f"{row.amperage:g} A"),
        number("cut speed", f"{row.cut_speed * 60:.0f} mm/min"), number("kerf", f"{row.kerf:.2f} mm"),
        number("cut height", f"{row.cut_height:.1f} mm"), number("pierce", f"{row.pierce_height:.1f} mm, {row.pierce_delay:.2g} s"),
        number("arc voltage", f"{row.arc_voltage:.0f} V"), number("air", f"{row.air_pressure:.0f} kPa"),
    ]  # fmt: skip
    cuts = [_cut(context, plan, n, cut) for n, cut in enumerate(plan.cuts)]
    data: BurnData = {
        "cuts": cuts,
        "track": track(plan),
        "starting_point": row.starting_point,
        "why": list(plan.why),
    }
    summary = f"{len(plan.cuts)} cuts, {duration(plan.total_time)} at {row.amperage:g} A"
    return Made(
        summary=summary,
        numbers=numbers,
        findings=grouped((*plan.findings, *_over_water(plan))),
        data=data,
        scene=_scene(plan),
    )


def _over_water(plan: BurnPlan) -> list[Finding]:
    """Return the caution of metal that makes hydrogen with water, where it is burned over water, with its source."""
    if not plan.table.over_water or grade(plan.row.grade).caution != "hydrogen":
        return []
    caution = next(c for c in cautions(plan.row.grade) if c.title == "Aluminium over water")
    where = f"the table '{plan.table.name}'"
    return [finding("B036", subject=where, grade=plan.row.grade, caution=caution.text, source=caution.source)]


def _cut(context: JobContext, plan: BurnPlan, n: int, cut: Cut) -> CutData:
    of_piece = cut.placement < len(plan.layout.placements)
    placement = plan.layout.placements[cut.placement if of_piece else 0]
    start = cut.path.points[0]
    return {
        "number": called(plan.cuts, n), "kind": cut.kind, "label": plan.layout.label(cut.placement), "contour": cut.contour,
        "placement": cut.placement, "part": context.job.parts[placement.part].id if of_piece else "", "copy": placement.copy if of_piece else 0,
        "mirrored": placement.pose.mirrored, "why": list(cut.why), "pierce_mm": [round(float(v), DIGITS) for v in start],
        "spot": spot_of(*start),
        "speed_mm_min": round(float(np.max(cut.speeds)) * 60) if len(cut.speeds) else 0,
        "frees": [p for p, contour in _contours(cut) if contour == 0],
    }  # fmt: skip


def _contours(cut: Cut) -> list[tuple[int, int]]:
    """Return every (placement, contour) a cut completes [-]; none for a mark or what belongs to no piece."""
    return [] if cut.kind in ("mark", "cut-off", "rest") else [(cut.placement, cut.contour), *cut.also]


def _scene(plan: BurnPlan) -> SceneData:
    """Return plate, parts, the torch's path coloured by speed in five steps, leads and pierces [mm]."""
    items = layout_items(plan.layout)
    fastest = max((max(c.speeds, default=0.0) for c in plan.cuts), default=1.0) or 1.0
    for n, cut in enumerate(plan.cuts):
        items += _path_items(cut, n, called(plan.cuts, n), fastest)
    items += [
        {"kind": "pierce", "id": f"pierce:{n}", "spot": spot_of(x, y), "d": "", "title": f"pierce of cut {called(plan.cuts, n)}", "label": called(plan.cuts, n), "cut": n}
        for n, (x, y) in enumerate(cut.path.points[0] for cut in plan.cuts)
    ]  # fmt: skip
    return scene(items, box_of([plan.layout.plate.profile.outer]))


def _path_items(cut: Cut, n: int, name: str, fastest: float) -> list[Item]:
    """Return a cut's path in runs of like speed; leads apart."""
    edges = list(cut.path.edges())
    kinds = [
        "lead"
        if i < cut.lead_edges or i >= len(edges) - cut.exit_edges
        else f"speed-{max(1, min(5, round(cut.speeds[i] / fastest * 5)))}"
        for i in range(len(edges))
    ]
    made, start = [], 0
    for i in range(1, len(edges) + 1):
        if i == len(edges) or kinds[i] != kinds[start]:
            run = Contour.from_edges(edges[start:i], closed=False)
            made.append(item([run], kinds[start], ident=f"cut:{n}:{start}", title=f"cut {name}", cut=n))
            start = i
    return made


def track(plan: BurnPlan) -> TrackData:
    """Return the torch's way through the whole plan as spots in time, for the page to play.

    Returns
    -------
    ``t_s`` [s], ``x`` and ``y`` in picture coordinates [mm], ``cut`` (number of the cut burning, from 0; -1 in
    travel), and ``ends_s``: when each cut is through [s].
    """
    from platewright.burn.summary import steps_of
    from platewright.table.arm import seated

    rows: list[tuple[float, float, float, int]] = []
    table, here = seated(plan.table, plan.layout.seat), plan.options.home
    spacing = max(TRACK_STEP, plan.total_time / TRACK_MOST)
    steps = steps_of(plan)
    for n, (cut, step) in enumerate(zip(plan.cuts, steps, strict=True)):
        start, end = cut.torch_ends(plan.controller.marker)
        way = _way([here, *cut.via, start])
        rows += [(step.start + share * (step.lit - step.start), x, y, -1) for share, x, y in way]
        rows.append((step.lit, *start, n))
        burning = step.out - cut.burn_time
        off = (cut.start[0] - start[0], cut.start[1] - start[1])
        rows += [(burning + t, x - off[0], y - off[1], n) for t, x, y in _along(cut, table, spacing)]
        here = end
    total = plan.total_time or (steps[-1].out if steps else 0.0)
    return {
        "t_s": [round(r[0], 3) for r in rows], "x": [round(r[1], 2) for r in rows],
        "y": [round(-r[2], 2) for r in rows], "cut": [r[3] for r in rows],
        "ends_s": [round(s.out, 2) for s in steps], "total_s": round(total, 2),
    }  # fmt: skip


def _way(spots: list[tuple[float, float]]) -> list[tuple[float, float, float]]:
    """Return the places of a rapid, each with the share of the way done by then [-, mm]."""
    legs = [math.dist(a, b) for a, b in pairwise(spots)]
    gone, whole = np.cumsum([0.0, *legs]), sum(legs) or 1.0
    return [(float(g) / whole, x, y) for g, (x, y) in zip(gone, spots, strict=True)]


def _along(cut: Cut, table: TableProfile, step: float) -> list[tuple[float, float, float]]:
    """Return (time, x, y) along a cut, evenly in time between edge ends, over its whole burn time [s, mm]."""
    from platewright.table.motion import timed

    times = np.asarray(timed(cut.path, cut.speeds, table).edge_time, dtype=np.float64)
    times *= (cut.burn_time + cut.coast_time) / (times.sum() or 1.0)
    spots, clock = [], 0.0
    for edge, taken in zip(cut.path.edges(), times.tolist(), strict=True):
        count = max(1, int(taken / step))
        for i in range(1, count + 1):
            point = edge.at(i / count)
            spots.append((clock + taken * i / count, point.x, point.y))
        clock += taken
    return spots


def make_program(context: JobContext, report: Report) -> Made:
    """Write the program, its rehearsal and the run round the layout, and keep their very bytes."""
    from platewright.program import writer

    report(0.1, "writing the program")
    plan = context.plan()
    dialect = context.dialect()
    extension = dialect.extension
    name = context.job.program.name.strip() or context.job.name
    name = context.named(name) + ("" if extension.startswith(".") or not extension else ".") + extension
    program = writer.write(plan, dialect, name=name)
    report(0.6, "writing the rehearsal")
    more = [
        ("rehearsal", "Rehearsal, torch off", writer.rehearsal(plan, dialect, name=f"rehearse-{name}")),
        ("outline", "Round the layout, torch off", writer.outline(plan, dialect, name=f"outline-{name}")),
    ]
    files = [_keep(context, program, "program", "Program")] + [
        _keep(context, p, role, label) for role, label, p in more
    ]
    data: ProgramData = {
        "name": name, "dialect": program.dialect, "cut_lines": list(program.cut_lines),
        "program_file": files[0]["sha256"], "sha256": program.sha256(), "head": program.text.splitlines()[:400],
        "title": dialect.title, "lines": program.text.count("\n"),
    }  # fmt: skip
    numbers = [
        number("file", name), number("lines", str(data["lines"])), number("written for", dialect.title),
        number("check code", program.sha256()[:12]),
    ]  # fmt: skip
    return Made(
        summary=f"{name}, {data['lines']} lines",
        numbers=numbers,
        data=data,
        files=files,
    )


def _keep(context: JobContext, program: Program, role: str, label: str) -> FileData:
    data = program.text.encode("ascii", "surrogateescape")
    return kept_file(
        context.shop.put_file(data, name=program.name, media="text/plain"), role=role, label=label
    )
