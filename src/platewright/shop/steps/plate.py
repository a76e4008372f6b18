"""Stations plate and layout: what is cut from, and where each part lies on it."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Contour
from platewright.shop.first import example_plate
from platewright.shop.forms.burn import amperage_of
from platewright.shop.forms.layout import own_clearance, seconds_said
from platewright.shop.results import FailureData, LayoutData, NumberData, PhotoOfPlate, PlateData
from platewright.shop.scene import Item, box_of, item, layout_items, scene
from platewright.shop.steps.common import Bench, Made, Report, enough, number, show
from platewright.shop.values import chart_of, clearance_of, keepouts_of, pose_of

if TYPE_CHECKING:
    from platewright.layout.lay import LaidOut, Progress
    from platewright.layout.model import KeepOut, Layout, Placement, Wanted
    from platewright.layout.skew import Skew
    from platewright.stock.model import Plate
    from platewright.table.model import ChartRow

__all__ = ["arranged", "make_layout", "make_plate"]


EVERY = 0.6
"""Shortest time between two pictures of a better layout [s]."""


def make_plate(bench: Bench, report: Report) -> Made:
    """Make the job's plate from its entry [mm]."""
    from platewright.layout.model import Layout
    from platewright.stock.plates import cautions, mass, released

    report(0.2, "measuring the plate")
    plate = bench.plate()
    keepouts = keepouts_of(bench.job.keepouts)
    _on_plate(keepouts, plate)
    shown = layout_items(Layout(plate, (), (), keepouts))
    box = plate.profile.bounds()
    numbers = [
        number("size", f"{box.width:.0f} × {box.height:.0f} mm"), number("thickness", f"{plate.thickness:.2f} mm"),
        number("weight", f"{mass(plate):.1f} kg"), number("old holes", str(len(plate.profile.holes))),
        number("worth", str(plate.cost) if plate.cost is not None else "not said"),
    ]  # fmt: skip
    outline = box_of([plate.profile.outer])
    drawn = scene(shown, outline)
    data: PlateData = {"plate": plate.as_dict()}
    if bench.job.plate.photo and bench.job.plate.from_photo:
        from platewright.shop.steps.plate_photo import seen_plate

        seen = seen_plate(bench, plate.thickness, report)
        data["seen"] = {"outline_mm": seen["outline_mm"], "holes_mm": seen["holes_mm"], "said": seen["said"]}
        if not bench.job.plate.outline_mm:
            return _no_outline(data, seen)
        drawn = scene(shown, outline, image=seen["image"])
    said = f"{plate.name}: {box.width:.0f} × {box.height:.0f} mm, {plate.thickness:g} mm {plate.grade}"
    found = cautions(released(plate) if plate.held_for == bench.job.name else plate)
    if example_plate(bench.job.plate):
        found = (*found, finding("S005", subject=f"{plate.name}, {box.width:.0f} x {box.height:.0f} mm"))
    return Made(
        said,
        numbers,
        found,
        data,
        drawn,
    )


def _on_plate(keepouts: Sequence[KeepOut], plate: Plate) -> None:
    """Refuse a keep-out that lies wholly off the plate: it would keep nothing clear of the real magnet.

    Raises
    ------
    InputError
        Naming the first one, and how far off it lies.
    """
    import shapely

    from platewright.geometry import flatten

    metal = shapely.Polygon(flatten(plate.profile.outer, tolerance=0.05))
    for n, keepout in enumerate(keepouts):
        shape = shapely.Polygon(flatten(keepout.contour, tolerance=0.05))
        if (off := shapely.distance(metal, shape)) > 0:
            box, at = plate.profile.bounds(), shape.centroid
            raise InputError(
                f"The {keepout.name or 'keep-out'} at {at.x:.0f}, {at.y:.0f} mm lies {off:.0f} mm off the plate.",
                where=f"keepouts.{n}.place.x",
                allowed=f"on the plate: {box.x0:.0f} to {box.x1:.0f} mm and {box.y0:.0f} to {box.y1:.0f} mm",
                do="Move it to where it lies, or take it out.",
            )


def _no_outline(data: PlateData, seen: PhotoOfPlate) -> Made:
    """Return a plate that has still to be drawn over its photo; what was found is shown [mm]."""
    image = seen["image"]
    box = (
        [0.0, -100.0, 100.0, 100.0]
        if image is None
        else [image["x"], image["y"], image["width"], image["height"]]
    )
    loops = [Contour(np.array(rows)) for rows in (seen["outline_mm"], *seen["holes_mm"]) if rows]
    items = [item([loop], "outline", ident=f"seen:{n}") for n, loop in enumerate(loops)]
    failure: FailureData = {
        "what": seen["said"] or "The plate has no outline yet.", "where": "plate.outline_mm", "allowed": "",
        "do": "Take the outline found on the photo, or tap the corners." if loops else "Take the photo again, or tap the corners.",
    }  # fmt: skip
    return Made(failure["what"], data=data, scene=scene(items, box, image=image), failure=failure)


def _wanted(bench: Bench) -> list[Wanted]:
    from platewright.layout.model import Wanted

    if not bench.job.parts:
        raise InputError("There is no part to lay yet.", where="parts", do="Add a part first.")
    plate, wanted = bench.plate(), []
    own = {e.part: (n, e) for n, e in enumerate(bench.job.layout.own)}
    for i, entry in enumerate(bench.job.parts):
        part = bench.part(entry.id)
        if abs(part.thickness - plate.thickness) > 0.01 or part.grade != plate.grade:
            raise InputError(
                f"'{part.name}' wants {part.thickness:.3g} mm {part.grade}, the plate is {plate.thickness:.3g} mm {plate.grade}.",
                where=f"parts.{i}.thickness", do="Change the part's metal, or choose another plate.",
            )  # fmt: skip
        one = Wanted(part, entry.quantity, entry.pairs, entry.first, entry.filler)
        if entry.id in own:
            n, mine = own[entry.id]
            clear = own_clearance(mine, f"layout.own.{n}.clear")
            one = replace(one, turns=mine.turns or None, face_down=mine.face_down, clearance=clear)
        wanted.append(one)
    return wanted


def _by_hand(bench: Bench) -> tuple[Placement, ...]:
    """Return the copies placed by hand that still belong to a part of the job [mm, rad]."""
    from platewright.layout.model import Placement

    index = {entry.id: i for i, entry in enumerate(bench.job.parts)}
    return tuple(
        Placement(index[p.part], pose_of(p), p.copy_number, p.locked)
        for p in bench.job.layout.placements
        if p.part in index and p.copy_number <= bench.job.parts[index[p.part]].quantity * 2
    )


def _skew(bench: Bench) -> Skew | None:
    from platewright.layout.skew import plate_pose

    said = bench.job.layout.skew
    if len(said.drawn_mm) < 2:
        return None
    return plate_pose(said.drawn_mm, said.touched_mm)


def _row(bench: Bench) -> ChartRow | None:
    """Return the job's chart row for its plate, None if the chart has none."""
    plate, process = bench.plate(), bench.job.burn.options.get("process") or None
    try:
        chart = chart_of(bench.job.burn.chart, bench.facts.charts)
        amperage = amperage_of(bench.job)
        return chart.row(plate.grade, plate.thickness, amperage, process=process, table=bench.table()).row
    except InputError:
        return None


def arranged(bench: Bench, *, report: Report) -> tuple[Layout, LaidOut]:
    """Return the job's layout: copies locked by hand stay, the others are laid [mm, rad]."""
    from platewright.layout.lay import LaidOut, LayOptions, lay
    from platewright.layout.model import Layout
    from platewright.layout.shape.reach import reach_of, seat_on

    entry = bench.job.layout
    seconds = seconds_said(entry.seconds)
    shown = [-math.inf]

    def told(progress: Progress) -> None:
        if progress.seconds - shown[0] >= EVERY:
            shown[0] = progress.seconds
            show(report, scene(layout_items(progress.layout), box_of([progress.layout.plate.profile.outer])))
        share = min(progress.seconds / max(seconds, 0.1), 1.0)
        report(
            0.1 + 0.85 * share,
            f"{progress.placed} of {progress.wanted} placed, {progress.used:.0f} mm of plate used",
        )

    wanted, fixed = _wanted(bench), _by_hand(bench)
    locked = fixed if entry.by_hand else tuple(p for p in fixed if p.locked)
    asked = sum(w.quantity * (2 if w.pairs else 1) for w in wanted)
    keepouts, clearance = keepouts_of(bench.job.keepouts), clearance_of(entry, _row(bench))
    if entry.by_hand and len(fixed) == asked:
        kept = replace(clearance, own=tuple(w.clearance for w in wanted))
        made = LaidOut((Layout(bench.plate(), tuple(w.part for w in wanted), fixed, keepouts, kept),))
    else:
        options = LayOptions(
            seconds=0.0 if entry.by_hand else seconds, steps=entry.steps, seed=entry.seed,
            rotations=entry.turns, goal=entry.goal, locked=locked, workers=1 if entry.steps is not None else min(os.cpu_count() or 1, 16),
        )  # fmt: skip
        made = lay(
            wanted, bench.plate(), keepouts=keepouts, clearance=clearance, reach=reach_of(bench.table()),
            options=options, progress=told, cancelled=lambda: enough(report),
        )  # fmt: skip
    layout, skew = made.layouts[0], _skew(bench)
    if layout.seat is None:
        layout = replace(layout, seat=seat_on(layout.plate, reach_of(bench.table())))
    return (layout if skew is None else replace(layout, seat=skew.pose)), made


def make_layout(bench: Bench, report: Report) -> Made:
    """Lay the job's parts on its plate and check every distance [mm]."""
    from platewright.layout.advice import tight
    from platewright.layout.check import check
    from platewright.layout.shape.reach import reach_of, reached

    report(0.05, "laying the parts")
    layout, made = arranged(bench, report=report)
    reach = reach_of(bench.table())
    skew = _skew(bench)
    findings: list[Finding] = [*made.findings, *check(layout, reach=reach), *(skew.findings if skew else ())]
    row = _row(bench)
    findings += () if row is None else tight(layout.clearance, row)
    missing = sum(left.drawn + left.other for left in made.left_over)
    items = layout_items(layout)
    if layout.seat is not None:
        items.insert(0, _reach_item(reached(reach, layout.seat)))
    data: LayoutData = {
        "layout": layout.as_dict(), "missing": missing, "parts": [p.id for p in bench.job.parts],
        "corners": layout.plate.profile.outer.points.round(3).tolist(),
    }  # fmt: skip
    drawn = scene(items, box_of([layout.plate.profile.outer]))
    said = f"{len(layout.placements)} pieces on {layout.plate.name}" + (
        f", {missing} did not fit" if missing else ""
    )
    return Made(said, _numbers(layout, missing) + _touched(skew), _once(findings), data, drawn)


def _touched(skew: Skew | None) -> list[NumberData]:
    """Return how the plate lies and how well the touched places agree [deg, mm]."""
    if skew is None:
        return []
    return [
        number("plate turned by", f"{math.degrees(skew.pose.angle):.2f}°"),
        number("touched places agree to", f"{max(skew.residuals):.2f} mm"),
    ]


def _reach_item(contours: Sequence[Contour]) -> Item:
    return item(contours, "reach", ident="reach", title="what the torch can reach")


def _once(findings: list[Finding]) -> list[Finding]:
    seen: dict[tuple[str, str, str], Finding] = {}
    for one in findings:
        seen.setdefault((one.code, one.text, one.subject), one)
    return list(seen.values())


def _numbers(layout: Layout, missing: int) -> list[NumberData]:
    area = sum(profile.area() for _, _, profile in layout.placed())
    whole = layout.plate.profile.area()
    boxes = [profile.bounds() for _, _, profile in layout.placed()]
    span = max(b.x1 for b in boxes) - min(b.x0 for b in boxes) if boxes else 0.0
    return [
        number("placed", str(len(layout.placements))), number("did not fit", str(missing)),
        number("between parts", f"{layout.clearance.part:g} mm"), number("to the edge", f"{layout.clearance.edge:g} mm"),
        number("plate used", f"{100 * area / whole:.0f} %"), number("length taken", f"{span:.0f} mm of {layout.plate.profile.bounds().width:.0f} mm"),
    ]  # fmt: skip
