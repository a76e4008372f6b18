"""Coupons in the shop: made, kept with their sheet, read back, and their chart row saved.

A coupon is a document of kind ``coupon``: its readings file with nothing filled in (the coupon's own memory), its files, and
later what was filled in and what came of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, Field

from platewright.errors import InputError
from platewright.shop import rack
from platewright.shop.consumables import add_wear, note_kerf
from platewright.shop.context import JobContext
from platewright.shop.document import read_job
from platewright.shop.first import settings_of
from platewright.shop.folder.own import keep_own
from platewright.shop.folder.store import Revision, Shop
from platewright.shop.pipeline import facts_of
from platewright.shop.steps.common import kept_file

if TYPE_CHECKING:
    from platewright.stock.model import Plate
    from platewright.table.chart import Chart
    from platewright.table.model import TableProfile
    from platewright.tuning.kit import Kit
    from platewright.tuning.model import Change, Readings, Result

__all__ = ["CouponAsk", "ReadAsk", "filled", "make", "next_job", "read_back"]

KIND = "coupon"


Short = Annotated[str, Field(max_length=60)]
Key = Annotated[str, Field(max_length=40)]


class CouponAsk(BaseModel):
    """What coupon is asked for, in words: metal, thickness, amperage, table, chart, plate on the rack, side of the big square; or a job it is laid with, whose plate, table and dialect count."""

    grade: Short = "mild steel"
    thickness: Short = "6 mm"
    amperage: Short = ""
    table: Short = "small gantry"
    chart: Annotated[str, Field(max_length=200)] = ""
    stock: Short = ""
    square: Short = ""
    job: Short = ""


def make(shop: Shop, request: CouponAsk) -> Revision:
    """Plan, prove and keep a coupon [mm, A].

    Raises
    ------
    InputError
        If something said is not understood, or the proof stops the coupon.
    """
    from platewright.tuning.preview import starting_point
    from platewright.tuning.readings import blank
    from platewright.tuning.sheet import SheetOptions, picture, readings_sheet
    from platewright.units import parse

    amps = (
        parse(request.amperage, "current", unit="A", where="amperage") if request.amperage.strip() else None
    )
    side = parse(request.square, where="square") if request.square.strip() else 0.0
    if side and not 100 <= side <= 3000:
        raise InputError(
            f"A square of {side:g} mm does not measure a table.", where="square", allowed="100 to 3000 mm"
        )
    kit, at = (_with_job if request.job else _alone)(shop, request, amps, side)
    if kit.stopped:
        stop = next(f for f in kit.findings if f.severity == "stop")
        raise InputError(f"The coupon cannot be cut as it is: {stop.text}", where="thickness", do=stop.do)
    prefers = settings_of(shop)
    on_paper = SheetOptions(prefers.paper, prefers.unit, kit.program.name, kit.program.sha256(), kit.verdict)
    kept = [
        ("program", "Program", kit.program.name, kit.program.text.encode("ascii", "surrogateescape"), "text/plain"),
        ("rehearsal", "Rehearsal, torch off", kit.rehearsal.name, kit.rehearsal.text.encode("ascii", "surrogateescape"), "text/plain"),
        ("sheet", "Sheet to write on", "coupon.pdf", readings_sheet(kit.coupon, kit.sheet, on_paper), "application/pdf"),
        ("picture", "Where to measure", "coupon.svg", picture(kit.coupon).encode(), "image/svg+xml"),
    ]  # fmt: skip
    files = [
        kept_file(shop.put_file(data, name=name, media=media), role=role, label=label)
        for role, label, name, data, media in kept
    ]
    doc = {
        "said": kit.sheet.job.text(), "table": at, "with": request.job, "pieces": kit.coupon.first, "chart": request.chart, "unit": prefers.unit, "files": files,
        "readings": blank(kit.sheet, unit=prefers.unit), "verdict": kit.verdict, "pierces": kit.pierces,
        "arc_seconds": kit.arc_seconds, "minutes": kit.minutes, "findings": [f.as_dict() for f in kit.findings],
        "filled": {}, "done": False, "starts": [list(line) for line in starting_point(kit.coupon.row)],
    }  # fmt: skip
    return shop.create(KIND, doc, note=f"made for {kit.sheet.job.text()}")


def _alone(shop: Shop, request: CouponAsk, amps: float | None, side: float) -> tuple[Kit, str]:
    """Return a coupon on a plate of its own or a drop, and its table's name [mm, A]."""
    from platewright.materials import grade
    from platewright.shop.values import chart_of, table_of
    from platewright.tuning.coupons import coupon, picked_row
    from platewright.tuning.kit import kit_of
    from platewright.units import parse

    facts, metal = facts_of(shop), grade(request.grade).name
    table, chart = table_of(request.table, facts.tables), chart_of(request.chart, facts.charts)
    thick = parse(request.thickness, metal=metal, where="thickness")
    row = picked_row(chart, metal, thick, amperage=amps, table=table).row
    return kit_of(
        coupon(row, table, square=side, plate=_drop(shop, request.stock)), chart, table
    ), request.table


def _with_job(shop: Shop, request: CouponAsk, amps: float | None, side: float) -> tuple[Kit, str]:
    """Return a coupon laid with a job, and the name of the job's table [mm, A]."""
    from dataclasses import replace

    from platewright.shop.values import chart_of
    from platewright.tuning.coupons import beside, picked_row
    from platewright.tuning.kit import kit_of

    facts = facts_of(shop)
    context = JobContext(shop, read_job(shop.load("job", request.job).doc), facts)
    layout, table, chart = context.layout(), context.table(), chart_of(request.chart, facts.charts)
    options = context.chosen()
    plate = layout.plate
    row = picked_row(chart, plate.grade, plate.thickness, amperage=amps or options.amperage, table=table).row
    made = beside(replace(layout, burn=options.as_dict()), row, table, square=side)
    return kit_of(made, chart, table, dialect=context.dialect()), context.job.burn.table


def _drop(shop: Shop, ident: str) -> Plate | None:
    from platewright.shop.values import plate_of

    return plate_of(rack.entry_on(shop.load("stock", ident).doc)) if ident else None


class ReadAsk(BaseModel):
    """What the shop wrote down, in words: readings by size, dross by strip, looks, and what the big square was measured with.

    ``together`` reads it with the last coupon of the same job: right if tip and table are as they were then. With a chart's
    name it is saved under it; with a job, what changes in that job is told.
    """

    measured: Annotated[dict[Key, Annotated[list[Short], Field(max_length=10)]], Field(max_length=200)] = {}
    dross: Annotated[dict[Key, Short], Field(max_length=100)] = {}
    looks: Annotated[list[Short], Field(max_length=20)] = []
    square_by: Literal["tape", "caliper"] = "tape"
    together: bool = False
    save_as: Annotated[str, Field(max_length=100)] = ""
    job: Annotated[str, Field(max_length=40)] = ""


WRITTEN = {"measured", "dross", "looks", "square_by"}
"""What of it is kept with the coupon."""


def readings_of(doc: Mapping[str, Any], entries: ReadAsk) -> Readings:
    """Return a coupon's readings [mm] with what was written down filled in.

    Raises
    ------
    InputError
        Naming the size or strip: not read, or it cannot be.
    """
    from platewright.tuning.readings import filled_in

    return filled_in(doc["readings"], **entries.model_dump(include=WRITTEN))


def filled(doc: Mapping[str, Any]) -> ReadAsk:
    """Return what was written down on a coupon so far."""
    return ReadAsk.model_validate(doc.get("filled", {}))


@dataclass(frozen=True, slots=True)
class ReadBack:
    """What a coupon says: the result, the chart before and after, and what changes in its row."""

    result: Result
    before: Chart
    after: Chart
    changes: tuple[Change, ...]


def read_back(shop: Shop, ident: str, entries: ReadAsk) -> ReadBack:
    """Read a coupon; with a name, save the corrected chart under it and count the coupon's wear [mm, s]."""
    from dataclasses import replace

    from platewright.shop.values import chart_of
    from platewright.table.chart_file import write_chart
    from platewright.tuning.correct import changes, corrected, entry, result_of

    kept = shop.load(KIND, ident)
    last = readings_of(kept.doc, entries)
    result = result_of(last, earlier=_earlier(shop, kept) if entries.together else ())
    before = chart_of(kept.doc["chart"], facts_of(shop).charts)
    job = result.job
    row = before.row(job.grade, job.thickness, job.amperage, process=job.process).row
    day = shop.now()[:10]
    note = f"measured {day} on a coupon"
    after = corrected(before, result, note=note)
    found = ReadBack(result, before, after, changes(result, row))
    if save_as := entries.save_as.strip():
        own = facts_of(shop).charts
        kept_rows = after if save_as == kept.doc["chart"] or save_as not in own else None
        # a chart of that name keeps its other rows: it is the one that is corrected
        chart = replace(kept_rows or corrected(chart_of(save_as, own), result, note=note), name=save_as)
        doc = kept.doc | {"done": True, "chart_saved": save_as, "entry": entry(result, date=day)}
        doc["filled"] = entries.model_dump(mode="json", include=WRITTEN)
        with shop.database.atomic():
            keep_own(shop, "chart", save_as, write_chart(chart), note=f"coupon of {day}")
            shop.save(KIND, ident, doc, note="read")
            if not kept.doc["done"]:
                add_wear(shop, kept.doc["pierces"], kept.doc["arc_seconds"])
                note_kerf(shop, result)
    return found


def _earlier(shop: Shop, kept: Revision) -> list[Readings]:
    """Return the readings of the latest coupon of the same job and table that was saved before."""
    found = []
    for other in shop.listing(KIND):
        if other.info.id == kept.info.id or not other.doc["done"] or other.doc["table"] != kept.doc["table"]:
            continue
        if other.doc["said"] == kept.doc["said"]:
            found.append((other.info.at, readings_of(other.doc, filled(other.doc))))
    return [readings for _, readings in sorted(found, key=lambda f: f[0])[-1:]]


# -- the next job ------------------------------------------------------------------------------


def next_job(shop: Shop, job: str, before: Chart, after: Chart) -> tuple[tuple[str, str, str], ...]:
    """Return what changes in a job if it is planned with another chart: label, before, after, each with its unit [mm, s].

    Raises
    ------
    InputError
        If the job is not laid out yet.
    """
    from platewright.tuning.preview import compared

    context = JobContext(shop, read_job(shop.load("job", job).doc), facts_of(shop))
    layout = context.layout()
    return compared(
        layout,
        (before, after),
        context.table(),
        dialect=context.dialect(),
        options=context.options(),
    )


def table_named(shop: Shop, name: str) -> TableProfile:
    """Return a table by the name a coupon keeps (lengths in it [mm])."""
    from platewright.shop.values import table_of

    return table_of(name, facts_of(shop).tables)
