"""The traveler: the sheet of paper that goes to the table with the job.

It carries the program's hash and the job's revision, so that paper and program cannot drift apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from platewright.burn.model import BurnPlan, called
from platewright.cautions import cautions, closing
from platewright.findings import Finding, verdict
from platewright.geometry import bounds
from platewright.geometry.regions.polygons import widest
from platewright.layout.model import runs
from platewright.materials import grade
from platewright.paper.flow import MARGIN, Flow
from platewright.paper.ink import Ink
from platewright.paper.pages import page
from platewright.program.model import Program
from platewright.units import duration, show

__all__ = ["TravelerOptions", "traveler"]

PART_FILL, KEEP_FILL, HOLE_FILL = (0.90, 0.92, 0.94), (0.80, 0.80, 0.80), (1.0, 1.0, 1.0)
SAY = {
    "go": "GO: nothing found against it",
    "look": "LOOK: read the findings first",
    "stop": "STOP: do not cut",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelerOptions:
    """What the traveler says beyond the plan.

    Attributes
    ----------
    job, revision : printed on every page
    paper : page name
    unit : "mm" or "in", for sizes and heights
    link : what the QR code holds; empty for the job, its revision and the program's hash
    rehearsal : file name of the rehearsal program
    consumables : what to have fitted, in the shop's words
    wrong : a piece that went wrong, by its placement [-], and what is said of it
    findings : the proof's findings; None where the program was not proven, and the paper says so
    """

    job: str = ""
    revision: str = ""
    paper: str = "letter"
    unit: str = "mm"
    link: str = ""
    rehearsal: str = ""
    consumables: str = ""
    findings: tuple[Finding, ...] | None = None
    wrong: tuple[int, str] | None = None


def traveler(plan: BurnPlan, program: Program, options: TravelerOptions = TravelerOptions()) -> bytes:
    """Return the traveler of a burn plan and its program as PDF, sizes in the unit chosen [mm or in]."""
    ink = Ink(page(options.paper), f"{options.job or program.name}, traveler")
    foot = f"{options.job or program.name}  {options.revision}  check code {program.sha256()[:12]}"
    flow = Flow(ink, head=lambda i, n: _head(i, n, program, options), foot=foot)
    _picture(flow, plan, options)
    _settings(flow, plan, options)
    _setup(flow, plan, program, options)
    _pieces(flow, plan, options)
    _found(flow, options.findings or ())
    flow.title("Cautions")
    for c in cautions(plan.layout.plate.grade):
        flow.words(f"{c.title}. {c.text} [{c.source}; {c.status}]", size=2.6)
    flow.words(closing(), size=2.6, soft=True)
    flow.title("Measured after the cut")
    flow.blanks(
        [
            "kerf, long straight",
            "size of the first hole",
            "size of a known edge",
            "dross (none / light / heavy)",
            "edge slope, worst side",
            "arc time on the counter",
            "changed on the machine",
            "cut by",
            "date",
        ]
    )
    return ink.bytes()


def _head(ink: Ink, number: int, program: Program, options: TravelerOptions) -> float:
    top = ink.page.height - MARGIN
    if number == 1:
        ink.code(
            ink.page.width - MARGIN - 24,
            top - 24,
            options.link
            or f"platewright job {options.job or program.name} {options.revision} sha256:{program.sha256()}",
            size=24,
        )
    ink.text(
        MARGIN,
        top - 5,
        options.job or program.name,
        size=5.4,
        bold=True,
        width=ink.page.width - 2 * MARGIN - 30,
    )
    ink.text(
        MARGIN,
        top - 11,
        f"Program {program.name}   check code {program.sha256()[:12]}   {options.revision}",
        size=2.8,
        width=ink.page.width - 2 * MARGIN - 30,
    )
    if number > 1:
        return top - 13
    say = "NOT PROVEN: prove this program before it burns metal"
    if options.findings is not None:
        say = f"Proof says {SAY[verdict(options.findings)]}"
    ink.text(MARGIN, top - 19, say, size=3.8, bold=True, width=ink.page.width - 2 * MARGIN - 30)
    return top - 25


def _picture(flow: Flow, plan: BurnPlan, options: TravelerOptions) -> None:
    layout = plan.layout
    box = layout.plate.profile.bounds()
    scale = min(flow.width / box.width, 105.0 / box.height)
    height = box.height * scale
    flow.need(height + 4)
    left = flow.left + (flow.width - box.width * scale) / 2 - box.x0 * scale
    low = flow.y - height - box.y0 * scale
    ink, thin = flow.ink, 0.15 / scale
    ink.push(x=left, y=low, scale=(scale, scale))
    ink.pen(2 * thin)
    ink.profile(layout.plate.profile, fill=HOLE_FILL)
    for keepout in layout.keepouts:
        ink.pen(thin)
        ink.contours([keepout.contour], fill=KEEP_FILL)
    for _, _, profile in layout.placed():
        ink.pen(thin)
        ink.profile(profile, fill=PART_FILL)
    for keepout in layout.keepouts:
        at = bounds(keepout.contour)
        ink.text(at.middle[0], at.y1 + 1 / scale, keepout.name, size=2.0 / scale, align="middle")
    _numbers(ink, plan, scale, wrong=-1 if options.wrong is None else options.wrong[0])
    ink.pop()
    flow.y -= height + 2


def _numbers(ink: Ink, plan: BurnPlan, scale: float, *, wrong: int = -1) -> None:
    """Write each piece's number where its metal is widest, the one that went wrong struck out; each pierce gets a dot."""
    placed = [profile for _, _, profile in plan.layout.placed()]
    for cut in plan.cuts:
        x, y = map(float, cut.path.points[0])
        ink.box(x - 0.4 / scale, y - 0.4 / scale, 0.8 / scale, 0.8 / scale, fill=(0, 0, 0), stroke=False)
    for index, profile in enumerate(placed):
        x, y, room = widest(profile)
        size = max(1.6, min(4.2, 0.9 * room * scale)) / scale
        ink.text(x, y - 0.36 * size, plan.layout.number(index), size=size, bold=True, align="middle")
        if index == wrong:
            ink.pen(0.4 / scale)
            ink.line(x - size, y - 0.7 * size, x + size, y + 0.7 * size)
            ink.line(x - size, y + 0.7 * size, x + size, y - 0.7 * size)


def _settings(flow: Flow, plan: BurnPlan, options: TravelerOptions) -> None:
    row, unit = plan.row, options.unit
    speed = "in/min" if unit == "in" else "mm/min"
    pressure = "psi" if unit == "in" else "bar"
    flow.title(
        "Settings"
        + (" (starting points: replace with your own coupon results)" if row.starting_point else "")
    )
    pairs = [
        ("amperage", f"{row.amperage:g} A"),
        ("cut speed", show(row.cut_speed, speed, digits=0)),
        ("cut height", show(row.cut_height, unit)),
        ("pierce height", show(row.pierce_height, unit)),
        ("pierce delay", f"{row.pierce_delay:.2g} s"),
        ("kerf", show(row.kerf, unit)),
        ("arc voltage", f"{row.arc_voltage:.0f} V"),
        ("air pressure", show(row.air_pressure, pressure, digits=1)),
        ("consumables", options.consumables or f"for {row.amperage:g} A, {row.process}"),
    ]
    rows = [[name for pair in pairs[i : i + 3] for name in pair] for i in range(0, len(pairs), 3)]
    flow.table(["set", "to"] * 3, rows, widths=[3, 3.4] * 3)


def _setup(flow: Flow, plan: BurnPlan, program: Program, options: TravelerOptions) -> None:
    layout, unit = plan.layout, options.unit
    plate, box = layout.plate, layout.plate.profile.bounds()
    weight = layout.plate.profile.area() * plate.thickness * grade(plate.grade).density
    size = f"{show(box.width, unit, digits=1)} × {show(box.height, unit, digits=1)} × {show(plate.thickness, unit)} {plate.grade}"
    flow.title("Set up")
    where = f", rack {plate.rack}" if plate.rack else ""
    flow.tick(
        f"Plate: {plate.name}{where}: {size}, {show(weight, 'kg', digits=1)} ({show(weight, 'lb', digits=0)}) to lift."
    )
    low = f"({show(box.x0, unit, digits=1)}, {show(box.y0, unit, digits=1)})"
    flow.tick(
        f"Zero the table so that the plate's lower left stands at {low}; touch a second point along the lower edge to see it lies square."
    )
    if layout.keepouts:
        spots = "; ".join(
            f"{k.name} at ({show(x, unit, digits=0)}, {show(y, unit, digits=0)})"
            for k in layout.keepouts
            for x, y in [bounds(k.contour).middle]
        )
        flow.tick(f"Hold-downs only where drawn: {spots}.")
    flow.tick(
        f"Rehearse with the torch off{f': {options.rehearsal}' if options.rehearsal else ''}. Watch that it clears every hold-down and stays on the plate."
    )
    flow.tick(
        f"Run {program.name} (check code {program.sha256()[:12]}): {len(plan.cuts)} pierces, {duration(plan.arc_time)} of arc, {duration(plan.total_time)} in all."
    )


def _pieces(flow: Flow, plan: BurnPlan, options: TravelerOptions) -> None:
    layout = plan.layout
    count = Counter((p.part, p.pose.mirrored) for p in layout.placements)
    rows = []
    for index, part in enumerate(layout.parts):
        box = part.profile.bounds()
        hands = f"{count[index, False]}" + (
            f" + {count[index, True]} other hand" if count[index, True] else ""
        )
        size = f"{show(box.width, options.unit, digits=1)} × {show(box.height, options.unit, digits=1)}"
        pieces = runs(layout.pieces_of(index))
        rows.append([part.name, hands, size, str(len(part.profile.holes)), pieces])
    flow.title("Pieces")
    flow.table(["part", "how many", "size", "holes", "pieces"], rows, widths=[3.2, 2.4, 2.6, 1, 3.4])
    if loose := [
        f"{layout.number(cut.placement)} after cut {called(plan.cuts, n)}"
        for n, cut in enumerate(plan.cuts)
        if cut.kind == "outer"
    ]:
        flow.words(f"They come loose in this order: {', '.join(loose)}.", size=2.8)
    if options.wrong is not None:
        flow.tick(options.wrong[1])
    for part in layout.parts:
        for note in part.notes:
            flow.words(f"{part.name}: {note}", size=2.8)


def _found(flow: Flow, findings: Sequence[Finding]) -> None:
    if not findings:
        return
    flow.title("What the proof found")
    for f in findings:
        flow.words(f"{f.code} {f.severity.upper()}: {f.text} {f.do}", size=2.8)
