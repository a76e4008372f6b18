"""What goes over the API of tuning: coupons asked for, what was read on them, what came of it."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel

from platewright.shop.results import FileData
from platewright.web.models.jobs import FindingView

__all__ = ["CheckView", "CouponView", "LookView", "ReadView", "TuneView"]


class SizeView(BaseModel):
    """One size to measure: its key, where it is, what was asked, as shown."""

    key: str
    what: str
    asked: str
    kind: str


class StripView(BaseModel):
    """One strip of the speed ladder: its number, length and speed as shown."""

    number: int
    length: str
    speed: str


class ChangeView(BaseModel):
    """One setting or number as it was and as it becomes, how sure, and why."""

    label: str
    before: str
    after: str
    sure: str = ""
    why: str = ""


class CautionView(BaseModel):
    """A caution: what it is about, what to do, where it comes from, how sure we are of that, and whether it is this metal's own."""

    title: str
    text: str
    source: str
    status: str
    own: bool


class CouponView(BaseModel):
    """A coupon: what it is for, with how many pieces of a job it is cut, its files, what there is to measure, what was written down, whether it was saved, the cautions of its metal, and the figures it starts from (label, value, band, origin)."""

    id: str
    at: str
    said: str
    chart: str
    pieces: int = 0
    verdict: str
    done: bool
    files: list[FileData]
    sizes: list[SizeView]
    strips: list[StripView]
    findings: list[FindingView]
    measured: dict[str, list[str]] = {}
    dross: dict[str, str] = {}
    looks: list[str] = []
    square_by: Literal["tape", "caliper"] = "tape"
    cautions: list[CautionView] = []
    closing: str = ""
    starts: list[ChangeView] = []


class LookView(BaseModel):
    """One look of a cut: its word, title, what is seen, the setting it moves and how, why."""

    word: str
    title: str
    seen: str
    moves: str
    why: str
    do: str


class TuneView(BaseModel):
    """What Shop > Tune shows: coupons newest first, looks, words for dross, and the set of consumables fitted."""

    coupons: list[CouponView]
    looks: list[LookView]
    dross: dict[str, str]
    fitted: str
    pierces: int
    arc_minutes: float
    worn: list[FindingView]


class ReadView(BaseModel):
    """What a coupon says: sentences, what changes in the chart's row, what that changes in a job, findings, and where it was saved."""

    lines: list[str]
    changes: list[ChangeView]
    job: list[ChangeView]
    job_note: str
    findings: list[FindingView]
    saved: str


class MeasuredSize(BaseModel):
    """A size as asked and as seen, and the classes it meets."""

    name: str
    asked: str
    seen: str
    classes: str


class CheckView(BaseModel):
    """What a photo says of a cut part: sentences, sizes, files (the difference as SVG among them), findings, the kerf offered."""

    lines: list[str]
    sizes: list[MeasuredSize]
    files: list[FileData]
    findings: list[FindingView]
    kerf: ChangeView | None
    saved: str
