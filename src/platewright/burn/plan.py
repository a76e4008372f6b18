"""``plan``: from a layout, a chart and a table to the ordered cuts.

Steps, each in its own module: pick the chart row (``table.chart``), make the loops (``loops``), find legal starts
(``leads`` on ``obstacles``), order (``order``, ``tour``), build the cuts (``build``), time them and look at the limits of
power source, air and consumables (``limits``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from platewright.burn.cuts.build import cuts_of, mark_cut
from platewright.burn.cuts.corners import looped
from platewright.burn.cuts.cutoff import Torch, cut_off, still_over, swept
from platewright.burn.cuts.edges import at_distance, nearest
from platewright.burn.cuts.joined import IN_LINE, chained, common_start, shared_edges
from platewright.burn.cuts.leads import Start, clearances, edge_starts, starts_of
from platewright.burn.cuts.loops import Loop, loops_of, marked_holes, title
from platewright.burn.cuts.obstacles import KEEPOUT, PLATE, Clear
from platewright.burn.cuts.tabs import tabbed_start, tabs_for
from platewright.burn.fit import fitted
from platewright.burn.job import Job
from platewright.burn.model import BurnPlan, Cut
from platewright.burn.options import BurnOptions
from platewright.burn.pauses import dwelling
from platewright.burn.rest import rest_cuts
from platewright.burn.sequence.order import parents, sequence
from platewright.cautions import cautions
from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Floats, flatten, length
from platewright.layout.model import Layout
from platewright.materials import grade
from platewright.table.arm import seated
from platewright.table.chart import Chart
from platewright.table.controller import Controller
from platewright.table.iso9013 import u_range
from platewright.table.model import ChartRow, TableProfile

__all__ = ["loops_on", "plan"]


def plan(
    layout: Layout,
    chart: Chart,
    table: TableProfile,
    options: BurnOptions | None = None,
    *,
    controller: Controller | None = None,
) -> BurnPlan:
    """Plan every cut of a layout.

    Parameters
    ----------
    layout : parts on one plate [mm]; choices written on it are used where `options` says nothing
    chart : the shop's cut chart, or the starter chart
    table : its reach, motion, power source and air
    options : choices; None for all automatic
    controller : what the dialect it will be written in does; None for one that lifts the torch and can mark

    Returns
    -------
    BurnPlan, times in [s], lengths in [mm]; contours that cannot be cut legally are findings, never cuts. Its layout carries
        all choices, so that the proof knows what was wanted

    Raises
    ------
    InputError
        If the layout is empty or the chart has no rows for its grade or amperage.
    """
    if not layout.placements:
        raise InputError("This layout has no part on it.", do="Lay a part on the plate first.")
    chosen = (options or BurnOptions()).over(layout.burn)
    if layout.common:  # laid a kerf apart for it
        chosen = replace(chosen, common_line=True)
    plate = layout.plate
    picked = chart.row(plate.grade, plate.thickness, chosen.amperage, process=chosen.process, table=table)
    moving, writes = seated(table, layout.seat), controller or Controller()
    job = Job.on(layout, row=picked.row, table=table, options=chosen, controller=writes)
    findings = [*picked.findings, *_setting_findings(job)]
    loops, new_findings = _loops(job)
    findings += new_findings
    ready, starts, new_findings = _started(job, loops)
    findings += new_findings
    common = _common(job, ready, starts) if chosen.common_line else {}
    ordered = sequence(job, ready, starts, marks=_marks(job), common=common)
    findings += [_homeless(job, ready[i]) for i in ordered.dropped]
    findings += [f for i, k in ordered.steps for f in _not_kept(job, ready[i], starts[i], k)]
    cuts = [*ordered.marks]
    running = chosen if writes.coasts else replace(chosen, hole_coast=0.0)
    for i, k in ordered.steps:
        cuts += cuts_of(ready[i], starts[i][k], row=picked.row, table=moving, options=running)
    if chosen.chain and ready:
        cuts = chained(cuts, job.obstacles, moving, _clear(job, ready[0]))
    last: list[Cut] = []
    if chosen.cut_off:
        last, new_findings = cut_off(
            layout, Torch(row=picked.row, table=moving, reaches=job.reaches, delay=chosen.edge_delay)
        )
        findings = [*findings, *new_findings]
    cuts = dwelling(cuts, table.consumables, chosen)
    result = BurnPlan(
        layout=replace(layout, burn=chosen.as_dict()),
        table=table,
        row=picked.row,
        cuts=(*cuts, *last),
        findings=tuple(findings),
        options=chosen,
        why=(*picked.why, _edge_text(picked.row), *ordered.why, *_water_and_air(picked.row, table)),
    )
    across, new_findings = (
        rest_cuts(result, moving) if writes.stops else ([], [finding("B043")] * (chosen.skeleton > 0))
    )
    before = [*cuts, *across]
    last = [still_over(c, swept(before), moving) for c in last]
    result = replace(result, cuts=(*before, *last), findings=(*result.findings, *new_findings))
    return fitted(result, writes)


def _water_and_air(row: ChartRow, table: TableProfile) -> tuple[str, ...]:
    """Return what to see to about water, heat and air, all of it common practice."""
    sentences = list[str]()
    if table.over_water and grade(row.grade).caution == "hydrogen":
        caution = next(c for c in cautions(row.grade) if c.title == "Aluminium over water")
        sentences.append(f"Over water: {caution.text} ({caution.source})")
    elif table.over_water:
        sentences.append(
            "Over water: keep it below the plate's under side for clean edges (common practice)."
        )
    if row.amperage > 0:
        sentences.append(
            f"Air: let it flow before the arc as the power source does by itself, and for {row.post_flow:g} s after it to cool the tip (common practice)."
        )
        sentences.append(
            "Heat: air plasma needs no preheat on mild steel; a hardening grade, or a plate below freezing, is a welding question (common practice)."
        )
    return tuple(sentences)


def _edge_text(row: ChartRow) -> str:
    got = u_range(row.edge_slope, row.thickness)
    where = "outside ranges 1 to 5" if got is None else f"range {got}"
    return f"Expect an edge slope of {row.edge_slope:.2f} mm, {where} for u of ISO 9013:2017."


def _setting_findings(job: Job) -> list[Finding]:
    row, table, options = job.row, job.table, job.options
    found = []
    if row.cut_speed > table.max_cut_speed * (1 + 1e-9):
        found.append(finding("B009", chart_mm_min=row.cut_speed * 60, table_mm_min=table.max_cut_speed * 60))
    apart = [gap for _, _, gap in job.layout.common if abs(gap - row.kerf) > IN_LINE]
    if apart:
        found.append(finding("B044", count=len(apart), gap_mm=apart[0], kerf_mm=row.kerf))
    if options.tip is not None and row.amperage > 0 and (text := _tip_text(row.amperage / options.tip)):
        found.append(finding("B035", amperage=row.amperage, tip=options.tip, said=text))
    if options.quality is not None:
        got = u_range(row.edge_slope, row.thickness)
        if got is None or got > options.quality:
            text = "none of 1 to 5" if got is None else str(got)
            found.append(
                finding(
                    "B011",
                    slope_mm=row.edge_slope,
                    thickness_mm=row.thickness,
                    got=text,
                    wanted=options.quality,
                )
            )
    sizes = [1 + len(job.layout.parts[p.part].profile.holes) for p in job.layout.placements]
    found += [
        finding("B012", placement=cut.placement, contour=cut.contour)
        for cut in options.cuts
        if not (0 <= cut.placement < len(sizes) and 0 <= cut.contour < sizes[cut.placement])
    ]
    return found


def _tip_text(share: float) -> str:
    """Return what an amperage does over the tip's rating [-] (common practice), nothing where the two fit."""
    if share > 1.02:
        return "above its rating the tip's hole burns out within minutes"
    return "far below its rating the arc is soft, and the kerf wider than the chart's" if share < 0.8 else ""


def loops_on(job: Job) -> list[Loop]:
    """Return the loops of a job that may be cut where they lie [mm]."""
    return _loops(job)[0]


def _loops(job: Job) -> tuple[list[Loop], list[Finding]]:
    """Return the loops that may be cut where they lie, and findings for the others."""
    loops: list[Loop] = []
    findings: list[Finding] = []
    for made in loops_of(job.layout, job.row, job.table, job.options, chord=job.chord):
        if isinstance(made, Finding):
            findings.append(made)
        elif (found := _blocked(job, made)) is not None:
            findings.append(found)
            if found.severity != "stop":
                loops.append(made)
        else:
            loops.append(_looped(job, made) if job.options.corner_loops else made)
    return loops, findings


def _looped(job: Job, loop: Loop) -> Loop:
    """Return an outer loop with corner loops where there is room for them."""
    if loop.kind != "outer":
        return loop
    clear = _clear(job, loop)
    room = Clear(
        lead_own=clear.lead_own,
        lead_other=clear.lead_other,
        lead_plate=clear.lead_plate,
        pierce_own=0.0,
        pierce_other=0.0,
        pierce_plate=0.0,
    )

    def legal(way: Floats) -> bool:
        return bool(job.obstacles.legal(way[None], loop.placement, room)[0]) and bool(job.reaches(way).all())

    size = max(3.0, job.row.lead / 2)
    path, made = looped(loop.path, size, scrap_left=loop.scrap_left, kerf=loop.kerf, legal=legal)
    sentences = (f"{made} corner loops in scrap keep the speed up at sharp corners.",) if made else ()
    return replace(loop, path=path, why=(*loop.why, *sentences))


def _common(job: Job, loops: Sequence[Loop], starts: list[list[Start]]) -> dict[int, int]:
    """Give loops that share an edge with another their common start, put first; return who must precede whom."""
    free = [up < 0 for up in parents(loops)]
    precede: dict[int, int] = {}
    for pair in shared_edges(loops):
        if pair.first in precede or not free[pair.first] or not free[pair.second]:
            continue
        other = job.layout.label(loops[pair.first].placement)
        starts[pair.second].insert(0, common_start(loops[pair.second], pair, other))
        precede[pair.first] = pair.second
    return precede


def _not_kept(job: Job, loop: Loop, starts: Sequence[Start], chosen: int) -> Iterator[Finding]:
    """Yield what was asked for a contour that starts in the kerf it shares with a neighbour, and falls away by that."""
    if starts[chosen].kind != "common":
        return
    own = job.options.choice(loop.placement, loop.contour)
    lost = {
        "the place of its start": own.start is not None,
        "its lead-in": own.lead is not None or own.lead_length is not None,
        "its tabs": any(s.legs for s in starts if s.kind != "common"),
    }
    if any(lost.values()):
        what = ", ".join(words for words, holds in lost.items() if holds)
        yield finding(
            "B045", place=starts[chosen].pierce, subject=job.layout.label(loop.placement), what=what
        )


def _blocked(job: Job, loop: Loop) -> Finding | None:
    """Return a finding if a loop's kerf would run into something or out of reach."""
    points = flatten(loop.path, tolerance=0.01)
    points = np.vstack([points, points[:1]])
    subject = title(job.layout, loop.placement, loop.contour)
    place = (float(points[0, 0]), float(points[0, 1]))
    if not job.reaches(points).all():
        return finding("B008", place=place, subject=subject)
    if (found := _off_plate(job, loop, points, subject, place)) is not None and found.severity == "stop":
        return found
    hit = job.obstacles.crossing(points, loop.placement, loop.kerf / 2 - 0.02)
    hit = hit[hit != PLATE]
    if not len(hit) and _kept_off(job, points):
        hit = np.array([KEEPOUT])
    if len(hit):
        other = "a keep-out" if hit[0] == KEEPOUT else job.layout.label(int(hit[0]))
        return finding("B005", place=place, subject=subject, other=other, apart_mm=loop.kerf)
    return found


def _kept_off(job: Job, points: Floats) -> bool:
    """Tell whether a path that comes near no boundary lies wholly within a keep-out [mm]."""
    import shapely

    spot = shapely.Point(points[0])
    kept = (flatten(k.contour, tolerance=0.01) for k in job.layout.keepouts)
    return any(shapely.Polygon(outline).contains(spot) for outline in kept)


def _off_plate(
    job: Job, loop: Loop, points: Floats, subject: str, place: tuple[float, float]
) -> Finding | None:
    """Return a finding if a loop leaves the plate, by more than its kerf or only with its path."""
    import shapely

    line = shapely.LineString(points)
    if job.plate.contains(line):
        return None
    spots = shapely.points(points)
    beyond = float(shapely.distance(job.plate, spots).max())
    metal = shapely.Polygon(points).buffer(-loop.kerf / 2 - 0.05)
    worn = any(shapely.Polygon(h).intersects(metal) for h in job.plate.interiors)
    if beyond > loop.kerf / 2 + 0.05 or (loop.kind == "outer" and worn):
        return finding("B022", place=place, subject=subject)
    return finding("B023", place=place, subject=subject, apart_mm=loop.kerf)


def _started(job: Job, loops: Sequence[Loop]) -> tuple[list[Loop], list[list[Start]], list[Finding]]:
    """Find the legal starts of every loop; loops without one become findings."""
    ready: list[Loop] = []
    starts: list[list[Start]] = []
    findings: list[Finding] = []
    for loop in loops:
        own, new_findings = _own_starts(job, loop)
        findings += new_findings
        if own:
            ready.append(loop)
            starts.append(own)
        elif not job.row.edge_start_only:
            findings.append(_homeless(job, loop))
    return ready, starts, findings


def _own_starts(job: Job, loop: Loop) -> tuple[list[Start], list[Finding]]:
    """Return the starts of a loop: with tabs if it gets any, at the place chosen by hand, or the best ones."""
    choice = job.options.choice(loop.placement, loop.contour)
    subject, sound = title(job.layout, loop.placement, loop.contour), _off_good_edges(job, loop)
    place = (float(loop.path.rows[0, 0]), float(loop.path.rows[0, 1]))
    findings: list[Finding] = []

    def search(at: Floats | None, square: bool = False) -> list[Start]:
        return starts_of(loop, job, at=at, square=square, sound=sound)

    if job.row.edge_start_only:
        own = edge_starts(loop, job) if loop.kind == "outer" else []
        row = job.row
        unpierced = finding(
            "B034", place=place, subject=subject, thickness_mm=row.thickness, amperage=row.amperage
        )
        return own, [] if own else [unpierced]
    if (tabs := tabs_for(loop, job.options)) is not None:
        if (start := tabbed_start(loop, tabs, job.row.thickness, search)) is not None:
            return [start], findings
        findings.append(finding("B020", place=place, subject=subject, count=max(tabs.count, len(tabs.at))))
    if choice.start is not None:
        here = nearest(loop.path, *choice.start)
        if own := search(np.mod(here + np.array([0.0, 0.5, -0.5, 1.0, -1.0]), length(loop.path))):
            return own[:1], findings
        findings.append(finding("B019", place=choice.start, subject=subject))
    if loop.kind == "outer" and (job.options.edge_start or choice.lead == "edge"):
        if own := edge_starts(loop, job):
            return own, findings
        findings.append(finding("B021", place=place, subject=subject))
    return search(None), findings


def _clear(job: Job, loop: Loop) -> Clear:
    return clearances(job.row, job.options, loop.kerf)


def _homeless(job: Job, loop: Loop) -> Finding:
    x, y = loop.path.rows[0, :2]
    subject = title(job.layout, loop.placement, loop.contour)
    return finding("B002", place=(float(x), float(y)), subject=subject)


def _off_good_edges(job: Job, loop: Loop) -> Callable[[Start], bool] | None:
    """Return what tells that a start lies off the edges of this contour that must carry none; None if there are none."""
    marked = [e for p, c, e in job.options.good_edges if (p, c) == (loop.placement, loop.contour)]
    if not marked:
        return None
    placement = job.layout.placements[loop.placement]
    part = job.layout.parts[placement.part]
    drawn = list(part.profile.contours())[loop.contour]
    contour = placement.pose.apply(drawn)
    points = []
    for edge in marked:
        run = contour.edge(edge)
        points += [(p.x, p.y) for p in (run.at(t) for t in np.linspace(0.0, 1.0, 200))]
    good = np.array(points)

    def off(start: Start) -> bool:
        place, _, _, _ = at_distance(loop.path, np.array([start.along]))
        return float(np.hypot(*(good - place).T).min()) > loop.kerf

    return off


def _marks(job: Job) -> list[Cut]:
    cuts = []
    for index, placement in enumerate(job.layout.placements if job.options.marks else ()):
        for number, mark in enumerate(job.layout.parts[placement.part].marks):
            if mark.kind == "print":
                continue
            posed = mark.posed(placement.pose)
            cuts.append(mark_cut(posed, index, number, row=job.row, table=job.table))
    row, table = job.row, job.table
    cuts += [
        mark_cut(m, p, c, row=row, table=table, drill=True)
        for p, c, m in marked_holes(job.layout, job.options)
    ]
    return cuts
