"""What goes over the API of tuning: coupons asked for, what was read on them, what came of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from platewright.shop.results import FileData
from platewright.web.models.jobs import FindingView

__all__ = ["CheckAsk", "CheckView", "CouponAsk", "CouponView", "LookView", "ReadAsk", "ReadView", "TuneView"]

Short = Annotated[str, Field(max_length=60)]
Key = Annotated[str, Field(max_length=40)]


class CouponAsk(BaseModel):
    """What coupon is asked for, as said: metal, thickness, amperage, table, chart, plate on the rack, side of the big square."""

    grade: Short = "mild steel"
    thickness: Short = "6 mm"
    amperage: Short = ""
    table: Short = "small gantry"
    chart: Annotated[str, Field(max_length=200)] = ""
    stock: Short = ""
    square: Short = ""
    job: Short = ""


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


class ReadAsk(BaseModel):
    """What was written down, alone or together with the last coupon of the same job; with a chart's name it is saved under it; with a job, what changes in that job is told."""

    measured: Annotated[dict[Key, Annotated[list[Short], Field(max_length=10)]], Field(max_length=200)] = {}
    dross: Annotated[dict[Key, Short], Field(max_length=100)] = {}
    looks: Annotated[list[Short], Field(max_length=20)] = []
    square_by: Literal["tape", "caliper"] = "tape"
    together: bool = False
    save_as: Annotated[str, Field(max_length=100)] = ""
    job: Annotated[str, Field(max_length=40)] = ""


class ReadView(BaseModel):
    """What a coupon says: sentences, what changes in the chart's row, what that changes in a job, findings, and where it was saved."""

    lines: list[str]
    changes: list[ChangeView]
    job: list[ChangeView]
    job_note: str
    findings: list[FindingView]
    saved: str


class CheckAsk(BaseModel):
    """A photo of a cut part, and of its under face if there is one: the job and part it is held against, the files, where the cards lay, the check bars as said."""

    job: Key
    part: Key
    photo: Annotated[str, Field(max_length=64)]
    under: Annotated[str, Field(max_length=64)] = ""
    cards_on: Literal["bench", "offcuts"] = "bench"
    bars: tuple[Short, Short] = ("", "")
    save_as: Annotated[str, Field(max_length=100)] = ""


class SizeSeen(BaseModel):
    """A size as asked and as seen, and the classes it meets."""

    name: str
    asked: str
    seen: str
    classes: str


class CheckView(BaseModel):
    """What a photo says of a cut part: sentences, sizes, files (the difference as SVG among them), findings, the kerf offered."""

    lines: list[str]
    sizes: list[SizeSeen]
    files: list[FileData]
    findings: list[FindingView]
    kerf: ChangeView | None
    saved: str
