"""Routes of tuning: coupons made, read, saved as a corrected chart; consumables counted."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from platewright.cautions import cautions, closing
from platewright.errors import InputError
from platewright.shop import checks, consumables, coupons
from platewright.shop.first import settings_of
from platewright.shop.folder.store import Revision
from platewright.shop.scene import spots
from platewright.web.models import tune as t
from platewright.web.models.jobs import FindingView
from platewright.web.state import Held, ServerState

__all__ = ["router"]

router = APIRouter(prefix="/api/tune", tags=["tune"])


def _coupon_view(kept: Revision) -> t.CouponView:
    from platewright.tuning.readings import sheet_in
    from platewright.units import show

    doc = kept.doc
    sheet, unit = sheet_in(doc["readings"])
    speed = "in/min" if unit == "in" else "mm/min"
    filled = coupons.filled(doc)
    return t.CouponView.model_validate(
        {
            "id": kept.info.id, "at": kept.info.at, "said": doc["said"], "chart": doc["chart"], "pieces": doc.get("pieces", 0), "verdict": doc["verdict"],
            "done": doc["done"], "files": doc["files"],
            "findings": [f | {"number": n} for n, f in enumerate(doc["findings"], 1)],
            "sizes": [{"key": s.key, "what": s.what, "asked": show(s.nominal, unit), "kind": s.kind} for s in sheet.sizes],
            "strips": [
                {"number": r.number, "length": show(r.length, unit, digits=2), "speed": show(r.speed, speed, digits=0)}
                for r in sheet.rungs
            ],
            "measured": {k: list(v) for k, v in filled.measured.items()}, "dross": dict(filled.dross),
            "looks": list(filled.looks), "square_by": filled.square_by,
            "cautions": [
                {"title": c.title, "text": c.text, "source": c.source, "status": c.status, "own": c not in cautions("mild steel")}
                for c in cautions(sheet.job.grade)
            ],
            "closing": closing(),
            "starts": [
                {"label": label, "before": spread, "after": value, "why": origin} for label, value, spread, origin in doc.get("starts", [])
            ],
        }
    )  # fmt: skip


def _findings(found: Any) -> list[FindingView]:
    return [FindingView.model_validate(f) for f in spots(found)]


@router.get("")
def show_tune(server: Held, table: str = "small gantry") -> t.TuneView:
    """Show the coupons made, the looks a cut may have, and what the set of consumables has done."""
    from platewright.tuning.looks import LOOKS
    from platewright.tuning.model import DROSS
    from platewright.tuning.wear import worn

    wear, fitted, drift = consumables.wear_of(server.shop)
    life = coupons.table_named(server.shop, table).consumables
    looks = [
        t.LookView(
            word=k.word, title=k.title, seen=k.signs, why=k.why, do=k.do,
            moves=f"{k.setting.replace('_', ' ')} {100 * k.share:+.0f} %" if k.setting else "",
        )
        for k in LOOKS.values()
    ]  # fmt: skip
    return t.TuneView(
        coupons=[_coupon_view(kept) for kept in server.shop.listing(coupons.KIND)[:20]], looks=looks, dross=dict(DROSS),
        fitted=fitted, pierces=wear.pierces, arc_minutes=round(wear.arc_seconds / 60, 1),
        worn=_findings(worn(wear, life, drift)),
    )  # fmt: skip


@router.post("/coupons", status_code=201)
def make_coupon(server: Held, body: coupons.CouponAsk) -> t.CouponView:
    """Make a coupon: planned, proven, with a sheet to write on."""
    return _coupon_view(coupons.make(server.shop, body))


@router.post("/coupons/{ident}/read")
def read_coupon(server: Held, ident: str, body: coupons.ReadAsk) -> t.ReadView:
    """Read a coupon: what it says, what changes in the chart and in a job; with a chart's name, save it."""
    from platewright.tuning.correct import setting_text, summary
    from platewright.tuning.preview import named

    found = coupons.read_back(server.shop, ident, body)
    changes = [
        t.ChangeView(
            label=named(c.setting), before=setting_text(c.setting, c.before), after=setting_text(c.setting, c.after),
            sure="" if c.spread is None or not c.after else f"± {setting_text(c.setting, c.spread)}", why=c.why,
        )
        for c in found.changes
    ]  # fmt: skip
    lines, note = _job_lines(server, body.job, found)
    unit = settings_of(server.shop).unit
    return t.ReadView(
        lines=summary(found.result, unit=unit), changes=changes, job=lines, job_note=note,
        findings=_findings(found.result.findings), saved=body.save_as.strip(),
    )  # fmt: skip


def _job_lines(server: ServerState, job: str, found: coupons.ReadBack) -> tuple[list[t.ChangeView], str]:
    """Return what changes in a job, or why that cannot be told."""
    if not job:
        return [], ""
    try:
        lines = coupons.next_job(server.shop, job, found.before, found.after)
    except InputError as bad:
        return [], f"What changes in that job cannot be told yet. {bad.what}"
    if all(old == new for _, old, new in lines):
        return [], "Nothing changes in that job: it is cut with another row of the chart."
    return [t.ChangeView(label=label, before=old, after=new) for label, old, new in lines], ""


@router.post("/set")
def fit_new_set(server: Held) -> t.TuneView:
    """Say that a new set of consumables is fitted: its count and the kerf's drift begin anew."""
    consumables.new_set(server.shop)
    return show_tune(server)


@router.post("/check")
def check_part(server: Held, body: checks.CheckAsk) -> t.CheckView:
    """Compare a photo of a cut part with a job's part; with a chart's name, save the kerf if it is sure."""
    from platewright.units import show

    unit = settings_of(server.shop).unit
    digits = 3 if unit == "in" else 2
    found = checks.look(server.shop, body)
    sizes = [
        t.MeasuredSize(
            name=s.name, asked=show(s.nominal, unit, digits=digits), classes="; ".join(f"{label}: {met}" for label, met in s.classes),
            seen=f"{show(s.measured.value, unit, digits=digits)} ± {show(s.measured.spread or 0.0, unit, digits=digits)}",
        )
        for s in found.found.sizes
    ]  # fmt: skip
    kerf = found.kerf and t.ChangeView(
        label="kerf", before=f"{found.kerf[0]:.2f} mm", after=f"{found.kerf[1]:.2f} mm",
        sure=f"± {found.found.kerf.spread or 0.0:.2f} mm", why="seen from above on the cut part",
    )  # fmt: skip
    return t.CheckView(
        lines=found.lines, sizes=sizes, files=found.files,
        findings=_findings(found.findings), kerf=kerf, saved=body.save_as.strip(),
    )  # fmt: skip
