"""Station layout: where each part lies, on as many plates as it takes; plates after the first are steps of their own.

The first plate's step lays everything and keeps all the layouts; the step of each other plate takes its own from there,
so that what comes after it (burn, program, proof, paper) is kept for that plate alone.
"""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from platewright.errors import InputError
from platewright.findings import Finding
from platewright.geometry import Box
from platewright.layout.model import Layout, Placement
from platewright.shop.context import JobContext
from platewright.shop.forms.layout import lying_wishes, own_clearance, seconds_text
from platewright.shop.results import LayoutData, NumberData, PlacedData
from platewright.shop.scene import box_of, item, layout_items, scene
from platewright.shop.steps.common import Made, Report, enough, number, show
from platewright.shop.values import clearance_of, keepouts_of, pose_of

if TYPE_CHECKING:
    from platewright.layout.lay import LayOptions, Progress
    from platewright.layout.model import Wanted
    from platewright.layout.skew import Skew
    from platewright.shop.document import LayoutEntry
    from platewright.stock.model import Plate

__all__ = ["make_layout"]

EVERY = 0.6
"""Shortest time between two pictures of a better layout [s]."""


@dataclass(frozen=True, slots=True)
class _Laid:
    """Layouts, which plate entry each lies on, how many copies found no room [-], and what is told of the whole."""

    layouts: tuple[Layout, ...]
    on: tuple[int, ...]
    missing: int = 0
    notes: tuple[Finding, ...] = ()


def make_layout(context: JobContext, report: Report) -> Made:
    """Lay the job's parts on its plates, or show what one of them holds; check every distance [mm]."""
    if context.on > 1:
        data = context.at(1).data("layout", LayoutData)
        laid = _Laid(
            tuple(Layout.from_dict(d) for d in (data["layout"], *data["more"])),
            tuple(data["on"]),
            data["missing"],
        )
        return _shown(context, laid, ())
    report(0.05, "laying the parts")
    laid = _arranged(context, report)
    laid = replace(laid, layouts=tuple(_seated(context, n, one) for n, one in enumerate(laid.layouts, 1)))
    names = {one.plate.name for one in laid.layouts[1:]} - {laid.layouts[0].plate.name}
    return _shown(context, laid, tuple(f for f in laid.notes if f.subject not in names))


def _shown(context: JobContext, laid: _Laid, notes: Sequence[Finding]) -> Made:
    from platewright.layout.advice import tight
    from platewright.layout.check import check
    from platewright.layout.lying.asked import lying_findings
    from platewright.layout.shape.reach import reach_of, reached

    layout, skew, row = (
        laid.layouts[context.on - 1],
        _skew(context, context.on),
        context.usual_row(context.plate()),
    )
    reach = reach_of(context.table())
    findings: list[Finding] = [*check(layout, reach=reach), *notes, *(skew.findings if skew else ())]
    findings += () if row is None else tight(layout.clearance, row)
    findings += lying_findings(layout, _options(context))
    items = layout_items(layout)
    if layout.seat is not None:
        items.insert(
            0, item(reached(reach, layout.seat), "reach", ident="reach", title="what the torch can reach")
        )
    data: LayoutData = {
        "layout": layout.as_dict(), "more": [one.as_dict() for one in laid.layouts[1:]] if context.on == 1 else [],
        "missing": laid.missing, "parts": [p.id for p in context.job.parts],
        "corners": layout.plate.profile.outer.points.round(3).tolist(), "on": list(laid.on),
        "placements": _placements(context, laid.layouts),
    }  # fmt: skip
    return Made(
        summary=_summary(context, laid), numbers=_numbers(layout, laid) + _touched(skew), findings=_once(findings), data=data,
        scene=scene(items, box_of([layout.plate.profile.outer])),
    )  # fmt: skip


def _summary(context: JobContext, laid: _Laid) -> str:
    here = laid.layouts[context.on - 1]
    if context.on > 1 or len(laid.layouts) == 1:
        count = len(here.placements)
        summary = f"{count} {'piece' if count == 1 else 'pieces'} on {here.plate.name}"
    else:
        parts = (f"{len(one.placements)} on {one.plate.name}" for one in laid.layouts)
        total = sum(len(one.placements) for one in laid.layouts)
        summary = f"{total} pieces on {len(laid.layouts)} plates: {', '.join(parts)}"
    return summary + (f"; {laid.missing} did not fit" if laid.missing and context.on == 1 else "")


def _placements(context: JobContext, layouts: Sequence[Layout]) -> list[PlacedData]:
    """Return every copy as a job's entry places it by hand [mm, rad]."""
    ids = [p.id for p in context.job.parts]
    return [
        {
            "part": ids[p.part], "plate": plate, "copy_number": p.copy, "x_mm": p.pose.x, "y_mm": p.pose.y,
            "angle_rad": p.pose.angle, "mirrored": p.pose.mirrored, "locked": p.locked,
        }
        for plate, layout in enumerate(layouts, 1)
        for p in layout.placements
    ]  # fmt: skip


def _seated(context: JobContext, plate: int, layout: Layout) -> Layout:
    from platewright.layout.shape.reach import reach_of, seat_on

    skew = _skew(context, plate)
    if skew is not None:
        return replace(layout, seat=skew.pose)
    return layout if layout.seat else replace(layout, seat=seat_on(layout.plate, reach_of(context.table())))


# -- what is asked for -------------------------------------------------------------------------


def _wanted(context: JobContext) -> list[Wanted]:
    from platewright.layout.model import Wanted
    from platewright.price.money import money

    if not context.job.parts:
        raise InputError("There is no part to lay yet.", where="parts", do="Add a part first.")
    wanted = []
    own = {e.part: (n, e) for n, e in enumerate(context.job.layout.own)}
    for i, entry in enumerate(context.job.parts):
        part = context.part(entry.id)
        for n, plate in enumerate(context.stock()):
            if abs(part.thickness - plate.thickness) > 0.01 or part.grade != plate.grade:
                name = "the plate" if n == 0 else f"the plate '{plate.name}'"
                raise InputError(
                    f"'{part.name}' wants {part.thickness:.3g} mm {part.grade}, {name} is {plate.thickness:.3g} mm {plate.grade}.",
                    where=f"parts.{i}.thickness", do="Change the part's metal, or choose another plate.",
                )  # fmt: skip
        worth = float(money(entry.worth, where=f"parts.{i}.worth")) if entry.worth.strip() else None
        one = Wanted(
            part=part,
            quantity=entry.quantity,
            pairs=entry.pairs,
            priority=entry.first,
            filler=entry.filler,
            worth=worth,
        )
        if entry.id in own:
            n, mine = own[entry.id]
            clear = own_clearance(mine, f"layout.own.{n}.clear")
            one = replace(one, turns=mine.turns or None, face_down=mine.face_down, clearance=clear)
        wanted.append(one)
    return wanted


def _by_hand(context: JobContext, plates: int) -> dict[int, tuple[Placement, ...]]:
    """Return the copies placed by hand that still belong to a part of the job, by the plate of the layout [mm, rad].

    If a plate they lie on is not there any more, none of them counts.
    """
    entry = context.job.layout
    index = {one.id: i for i, one in enumerate(context.job.parts)}
    on = entry.on or [0]
    here = [p for p in entry.placements if p.part in index]
    if any(n >= plates for n in on) or any(p.plate > len(on) for p in here):
        return {}
    made: dict[int, tuple[Placement, ...]] = {}
    for p in here:
        if p.copy_number <= context.job.parts[index[p.part]].quantity * 2:
            one = Placement(index[p.part], pose_of(p), p.copy_number, p.locked)
            made[p.plate] = (*made.get(p.plate, ()), one)
    return made


def _skew(context: JobContext, plate: int) -> Skew | None:
    from platewright.layout.skew import plate_pose

    touched = context.job.layout.skew_on(plate)
    if len(touched.drawn_mm) < 2:
        return None
    return plate_pose(touched.drawn_mm, touched.touched_mm)


def _kerf(context: JobContext) -> float:
    """Return how far apart parts lie that share a cut [mm]."""
    row = context.usual_row(context.plate())
    if row is None:
        raise InputError(
            "Common lines need the kerf, and the cut chart has no row for this metal and thickness.",
            where="layout.common", do="Lay without common lines, or add the row to the chart.",
        )  # fmt: skip
    return row.kerf


def _options(context: JobContext) -> LayOptions:
    from platewright.layout.lay import LayOptions

    entry = context.job.layout
    before = _before(context, entry)
    slats, first_slat, leeway = lying_wishes(entry)
    return LayOptions(
        seconds=entry.longer if before else 0.0 if entry.by_hand else seconds_text(entry.seconds), steps=entry.steps, seed=entry.seed, rotations=entry.turns,
        goal=entry.goal, workers=1 if entry.steps is not None else min(os.cpu_count() or 1, 16),
        repeat_sheets=entry.repeat_sheets, cut_off=entry.cut_off, common=_kerf(context) if entry.common else 0.0,
        before=before, heat=entry.heat, slats=slats, slats_run=entry.slats_run, first_slat=first_slat, leeway=leeway,
    )  # fmt: skip


def _before(context: JobContext, entry: LayoutEntry) -> tuple[Layout, ...]:
    """Return the layouts it is to go on from, if they are kept still and of these very parts."""
    kept = context.shop.result(entry.go_on) if entry.go_on and not entry.by_hand else None
    if kept is None or kept["state"] != "done":
        return ()
    made = tuple(Layout.from_dict(d) for d in (kept["data"]["layout"], *kept["data"]["more"]))
    parts = [context.part(p.id).profile for p in context.job.parts]
    return made if [p.profile for p in made[0].parts] == parts else ()


# -- laying ------------------------------------------------------------------------------------


class _Layer:
    """One laying of a job: what is wanted, on which plates, and who is told of better ones."""

    def __init__(self, context: JobContext, report: Report) -> None:
        from platewright.layout.shape.reach import reach_of

        self.wanted, self.plates, self.report = _wanted(context), context.stock(), report
        self.keepouts = keepouts_of(context.job.keepouts)
        clearance = clearance_of(context.job.layout, context.usual_row(context.plate()))
        own = tuple(w.clearance for w in self.wanted)
        self.clearance = replace(clearance, own=own if any(own) else ())
        self.reach, self.options = reach_of(context.table()), _options(context)
        self.parts = tuple(w.part for w in self.wanted)
        self._shown = -math.inf

    def bare(self, plate: Plate, placements: tuple[Placement, ...]) -> Layout:
        """Return a plate with copies where they were put by hand [mm, rad]."""
        return Layout(
            plate=plate,
            parts=self.parts,
            placements=placements,
            keepouts=self.keepouts,
            clearance=self.clearance,
        )

    def named(self, on: Sequence[int]) -> list[Plate]:
        """Return the plates of entries, one taken twice with a number of its own."""
        seen: Counter[int] = Counter()
        made = []
        for entry in on:
            seen[entry] += 1
            plate = self.plates[entry]
            made.append(plate if seen[entry] == 1 else replace(plate, name=f"{plate.name} {seen[entry]}"))
        return made

    def lay(
        self,
        counts: Mapping[int, int],
        on: Sequence[int],
        plates: Sequence[Plate],
        locked: tuple[Placement, ...] = (),
    ) -> _Laid:
        """Lay so many copies, or pairs, of each part on plates of given entries; copies locked stay [mm, rad]."""
        from platewright.layout.lay import lay

        here = [i for i, n in counts.items() if n > 0]
        at = {part: k for k, part in enumerate(here)}
        stay = tuple(replace(p, part=at[p.part]) for p in locked if p.part in at)
        made = lay(
            [replace(self.wanted[i], quantity=counts[i]) for i in here], plates, keepouts=self.keepouts,
            clearance=replace(self.clearance, own=()), reach=self.reach, options=replace(self.options, locked=stay),
            progress=self._on_better, cancelled=lambda: enough(self.report),
        )  # fmt: skip
        layouts = tuple(
            replace(
                one, parts=self.parts, placements=tuple(replace(p, part=here[p.part]) for p in one.placements),
                clearance=self.clearance,
            )
            for one in made.layouts
        )  # fmt: skip
        whose = [
            next(e for e, p in zip(on, plates, strict=True) if p.profile is one.plate.profile)
            for one in layouts
        ]
        notes = [f for f in made.findings if all(f not in one.findings for one in made.layouts)]
        missing = sum(x.drawn + x.other for x in made.left_over)
        return _Laid(layouts, tuple(whose), missing, tuple(notes))

    def _on_better(self, progress: Progress) -> None:
        if progress.seconds - self._shown >= EVERY:
            self._shown = progress.seconds
            layout = progress.layout
            show(self.report, scene(layout_items(layout), box_of([layout.plate.profile.outer])))
        share = min(progress.seconds / max(self.options.seconds, 0.1), 1.0)
        many = f" on {len(progress.layouts)} plates" if len(progress.layouts) > 1 else ""
        self.report(
            0.1 + 0.85 * share,
            f"{progress.placed} of {progress.wanted} placed{many}, {progress.used:.0f} mm of plate used",
        )


def _arranged(context: JobContext, report: Report) -> _Laid:
    """Return the job's layouts: copies locked by hand stay, the others are laid [mm, rad]."""
    layer, entry = _Layer(context, report), context.job.layout
    fixed = _by_hand(context, len(layer.plates))
    if not entry.by_hand:
        fixed = {n: mine for n, all_ in fixed.items() if (mine := tuple(p for p in all_ if p.locked))}
    wanted = sum(w.quantity * (2 if w.pairs else 1) for w in layer.wanted)
    on = (entry.on or [0])[: max(fixed, default=0)]
    if not fixed:
        layer.options = replace(
            layer.options, seconds=entry.longer if layer.options.before else seconds_text(entry.seconds)
        )
        every = list(range(len(layer.plates)))
        counts = {i: w.quantity for i, w in enumerate(layer.wanted)}
        return _numbered(layer.lay(counts, every, layer.plates))
    if entry.by_hand and sum(map(len, fixed.values())) == wanted:
        pairs = zip(on, layer.named(on), strict=True)
        made = [(e, layer.bare(p, fixed[n])) for n, (e, p) in enumerate(pairs, 1) if n in fixed]
        return _Laid(tuple(layout for _, layout in made), tuple(e for e, _ in made))
    return _numbered(_around(layer, fixed, on))


def _around(layer: _Layer, fixed: Mapping[int, tuple[Placement, ...]], on: Sequence[int]) -> _Laid:
    """Lay the other copies round those that stay, plate after plate, then on the plates that are left [mm, rad]."""
    left = {i: w.quantity for i, w in enumerate(layer.wanted)}
    held = {n: _pieces(layer, mine) for n, mine in fixed.items()}
    layouts, entries, last = list[Layout](), list[int](), _Laid((), ())
    for n, (entry, plate) in enumerate(zip(on, layer.named(on), strict=True), 1):
        later = sum((c for m, c in held.items() if m > n), Counter[int]())
        counts = {i: left[i] - later[i] for i in left}
        if not any(c > 0 for c in counts.values()):
            continue
        last = layer.lay(counts, [entry], [plate], fixed.get(n, ()))
        layouts += [one for one in last.layouts if one.placements]
        entries += [entry] * sum(bool(one.placements) for one in last.layouts)
        laid = _pieces(layer, [p for one in last.layouts for p in one.placements])
        left = {i: left[i] - laid[i] for i in left}
    spare = [e for e in range(len(layer.plates)) if e not in on]
    if layer.options.repeat_sheets:
        spare += [e for e in dict.fromkeys(on) if layer.plates[e].kind == "sheet"]
    if last.missing and spare:
        last = layer.lay(
            left, spare, [replace(layer.plates[e], name=_fresh(layer, e, entries)) for e in spare]
        )
        layouts += [one for one in last.layouts if one.placements]
        entries += [e for e, one in zip(last.on, last.layouts, strict=True) if one.placements]
    return replace(last, layouts=tuple(layouts) or last.layouts, on=tuple(entries) or last.on)


def _fresh(layer: _Layer, entry: int, used: Sequence[int]) -> str:
    """Return the name of one more plate of an entry [-]."""
    name, times = layer.plates[entry].name, used.count(entry)
    return name if not times else f"{name} {times + 1}"


def _pieces(layer: _Layer, placements: Sequence[Placement]) -> Counter[int]:
    """Return how many copies, or pairs, of each part these are [-]."""
    hands = Counter((p.part, p.pose.mirrored) for p in placements)
    return Counter(
        {
            i: max(hands[i, False], hands[i, True]) if w.pairs else hands[i, False] + hands[i, True]
            for i, w in enumerate(layer.wanted)
        }
    )


def _numbered(laid: _Laid) -> _Laid:
    """Return the layouts with each copy's number its own on all plates together [-]: what is said of a copy follows it."""
    most: Counter[tuple[int, bool]] = Counter()
    layouts = []
    for one in laid.layouts:
        moved = tuple(replace(p, copy=p.copy + most[p.part, p.pose.mirrored]) for p in one.placements)
        for p in moved:
            most[p.part, p.pose.mirrored] = max(most[p.part, p.pose.mirrored], p.copy)
        layouts.append(replace(one, placements=moved))
    return replace(laid, layouts=tuple(layouts))


# -- what is shown -----------------------------------------------------------------------------


def _touched(skew: Skew | None) -> list[NumberData]:
    """Return how the plate lies and how well the touched places agree [deg, mm]."""
    if skew is None:
        return []
    return [
        number("plate turned by", f"{math.degrees(skew.pose.angle):.2f}°"),
        number("touched places agree to", f"{max(skew.residuals):.2f} mm"),
    ]


def _once(findings: list[Finding]) -> list[Finding]:
    seen: dict[tuple[str, str, str], Finding] = {}
    for one in findings:
        seen.setdefault((one.code, one.text, one.subject), one)
    return list(seen.values())


def _numbers(layout: Layout, laid: _Laid) -> list[NumberData]:
    area = sum(profile.area() for _, _, profile in layout.placed())
    whole = layout.plate.profile.area()
    boxes = [profile.bounds() for _, _, profile in layout.placed()]
    span = Box.round(boxes).width if boxes else 0.0
    many = len(laid.layouts) > 1
    several = [number("plate", layout.plate.name), number("plates", str(len(laid.layouts)))] if many else []
    return [
        number("placed", str(len(layout.placements))), number("did not fit", str(laid.missing)), *several,
        number("between parts", f"{layout.clearance.part:g} mm"), number("to the edge", f"{layout.clearance.edge:g} mm"),
        number("plate used", f"{100 * area / whole:.0f} %"), number("length taken", f"{span:.0f} mm of {layout.plate.profile.bounds().width:.0f} mm"),
    ]  # fmt: skip
