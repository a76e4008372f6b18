"""A photo of a cut part in the shop: compared with the job's part, its report kept, its kerf offered to the job's chart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import BaseModel, Field

from platewright.errors import InputError, RefusedError
from platewright.findings import Finding
from platewright.shop.context import JobContext
from platewright.shop.coupons import Key, Short
from platewright.shop.document import read_job
from platewright.shop.first import settings_of
from platewright.shop.folder.own import keep_own
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import facts_of
from platewright.shop.results import FileData
from platewright.shop.steps.common import kept_file

if TYPE_CHECKING:
    from platewright.geometry import Profile
    from platewright.pattern.capture.photo import PhotoOptions
    from platewright.tuning.check import Check
    from platewright.tuning.faces import Lean

__all__ = ["CheckAsk", "Checked", "look"]


class CheckAsk(BaseModel):
    """What is checked: the job and its part, the photo's file and that of the under face if there is one, where the cards lay, the check bars as said.

    With ``save_as`` the kerf found is put into the job's chart under that name, if it is sure.
    """

    job: Key
    part: Key
    photo: Annotated[str, Field(max_length=64)]
    under: Annotated[str, Field(max_length=64)] = ""
    cards_on: Literal["bench", "offcuts"] = "bench"
    bars: tuple[Short, Short] = ("", "")
    save_as: Annotated[str, Field(max_length=100)] = ""


@dataclass(frozen=True, slots=True)
class Checked:
    """What the photo says: sentences, files kept (the difference as SVG among them), findings, the kerf before and after [mm] if it is sure."""

    found: Check
    lines: list[str]
    files: list[FileData]
    findings: tuple[Finding, ...]
    kerf: tuple[float, float] | None


def look(shop: Shop, request: CheckAsk) -> Checked:
    """Compare a photo with a job's part [mm].

    Raises
    ------
    InputError
        If the photo does not show that part, or the part is not made yet.
    RefusedError
        If the photo cannot be measured, or a kerf that is not sure is asked to be saved.
    """
    from platewright.pattern.capture.photo import PhotoOptions, read_photo
    from platewright.tuning.check import ROUGH, check
    from platewright.tuning.check_paper import ReportOptions, difference, lean_lines, lines_of, report
    from platewright.units import parse

    context = JobContext(shop, read_job(shop.load("job", request.job).doc), facts_of(shop))
    part = context.part(request.part)
    given = [w.strip() for w in request.bars]
    if any(given) != all(given):
        raise InputError(
            "Only one of the two check bars was said.", where="bars", do="Measure both, or neither."
        )
    bars = (parse(given[0], where="bars"), parse(given[1], where="bars")) if all(given) else None
    photo = PhotoOptions(thickness=part.thickness, cards_on=request.cards_on, bars=bars)
    captured = read_photo([shop.file(request.photo)], options=photo)
    found = check(captured, part.profile, thickness=part.thickness)
    lean, more = _lean(shop, request, photo, found, part.profile)
    prefers = settings_of(shop)
    on_paper = ReportOptions(
        name=part.name, paper=prefers.paper, unit=prefers.unit, day=shop.now()[:10], shop=context.facts.name,
        photo=shop.file_info(request.photo).name, leans=lean,
    )  # fmt: skip
    picture = difference(found, part.profile)
    kept = [
        ("check-report", "Report", f"check-{request.part}.pdf", report(found, part.profile, on_paper), "application/pdf"),
        ("check-picture", "Difference", f"check-{request.part}.svg", picture.encode(), "image/svg+xml"),
    ]  # fmt: skip
    files = [
        kept_file(shop.put_file(data, name=name, media=media), role=role, label=label)
        for role, label, name, data, media in kept
    ]
    planned = _planned(context)
    sure = planned is not None and found.rest <= ROUGH and abs(found.kerf.value) > (found.kerf.spread or 0.0)
    kerf = (planned, planned + found.kerf.value) if planned is not None and sure else None
    if name := request.save_as.strip():
        _saved(shop, context, kerf, name)
    lines = [*lines_of(found, kerf=planned, unit=prefers.unit), *lean_lines(lean, unit=prefers.unit)]
    return Checked(found, lines, files, (*captured.findings, *found.findings, *more), kerf)


def _lean(
    shop: Shop, request: CheckAsk, photo: PhotoOptions, upper: Check, profile: Profile
) -> tuple[tuple[Lean, ...], tuple[Finding, ...]]:
    """Return how the edges lean by a photo of the under face, and its findings; nothing without one [mm]."""
    if not request.under:
        return (), ()
    from platewright.pattern.capture.photo import read_photo
    from platewright.tuning.check import check
    from platewright.tuning.faces import leans

    under = read_photo([shop.file(request.under)], options=photo)
    below = check(under, profile, thickness=photo.thickness, mirrored=not upper.mirrored)
    lean, findings = leans(upper, below, thickness=photo.thickness)
    return lean, (*under.findings, *(f for f in below.findings if f.severity == "stop"), *findings)


def _planned(context: JobContext) -> float | None:
    """Return the kerf the job is planned with [mm], None if it is not laid out."""
    try:
        return context.plan().row.kerf
    except InputError:
        return None


def _saved(shop: Shop, context: JobContext, kerf: tuple[float, float] | None, name: str) -> None:
    """Put a kerf [mm] into the job's chart and keep that under a name; the row says where it comes from."""
    from platewright.shop.values import chart_of
    from platewright.table.chart_file import write_chart

    if kerf is None:
        raise RefusedError(
            "The photo does not know the kerf well enough to change the chart.",
            do="Measure a coupon with a caliper.",
        )
    row = context.plan().row
    day = shop.now()[:10]
    note = f"kerf by photo {day}; was kerf {row.kerf:.2f} mm" + (f"; {row.note}" if row.note else "")
    delta = kerf[1] - kerf[0]
    wider = replace(
        row,
        kerf=round(kerf[1], 3),
        kerf_hole=round(row.kerf_hole + delta, 3) if row.kerf_hole else 0.0,
        note=note[:1000],
    )
    # a chart of that name keeps its other rows
    base = chart_of(name if name in context.facts.charts else context.job.burn.chart, context.facts.charts)
    made = replace(base.with_rows([wider]), name=name)
    keep_own(shop, "chart", name, write_chart(made), note=f"kerf by photo of {day}")
