"""What goes over the API: the job document as it is, and these views of it. All lengths carry their unit in the name."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Request
from pydantic import BaseModel, Field

from platewright.shop.document import JobDocument, PlateEntry
from platewright.shop.results import Station
from platewright.shop.scene import EdgeData, PoseData

__all__ = [
    "Ask",
    "BurnFormView",
    "Compute",
    "DeviceView",
    "DialectView",
    "Failure",
    "FamilyView",
    "FieldView",
    "FileView",
    "FindingView",
    "HelloView",
    "HistoryLine",
    "IssueAsk",
    "IssuedView",
    "JobView",
    "LayoutFormView",
    "LedgerAsk",
    "LedgerMove",
    "LedgerView",
    "LiveAsk",
    "LivePart",
    "MoveAnswer",
    "MoveAsk",
    "NewJob",
    "NumberLine",
    "OperationView",
    "PairAsk",
    "PairingView",
    "ParameterView",
    "PaybackView",
    "ProbeAsk",
    "ProbeView",
    "RateView",
    "Request",
    "RestoreAsk",
    "RestoreView",
    "ResultFile",
    "SaveJob",
    "SayAnswer",
    "SayAsk",
    "Scene",
    "SceneImage",
    "SceneItem",
    "SettingsView",
    "StepView",
    "StepWhole",
    "StickAnswer",
    "StickAsk",
    "StockView",
    "TomlView",
    "WorkView",
]  # fmt: skip


Count = Annotated[int, Field(ge=0, le=2**53)]
"""A revision or other count; no more than every language keeps exactly."""


class NumberLine(BaseModel):
    """One number to show, with its unit in the text."""

    label: str
    value: str


class FindingView(BaseModel):
    """A finding, with its place also in picture coordinates (x, -y)."""

    code: str
    slug: str
    severity: Literal["stop", "look", "note"]
    text: str
    do: str
    place_mm: tuple[float, float] | None = None
    subject: str = ""
    number: Count = 0
    spot: tuple[float, float] | None = None


class ResultFile(BaseModel):
    """A file a step made."""

    role: str
    label: str
    sha256: str
    name: str
    media: str
    size: int


class Failure(BaseModel):
    """Why a step failed."""

    what: str
    where: str = ""
    allowed: str = ""
    do: str = ""


class StepView(BaseModel):
    """A step as it stands."""

    id: str
    station: Station | Literal["rescue"]
    part: str
    plate: int = 1
    key: str
    state: Literal["done", "failed", "ready", "waiting"]
    summary: str | None = None
    verdict: Literal["go", "look", "stop"] | None = None
    numbers: list[NumberLine] | None = None
    findings: list[FindingView] | None = None
    files: list[ResultFile] | None = None
    error: Failure | None = None


class SceneItem(BaseModel):
    """One drawable: SVG path data in picture coordinates [mm], its kind, and what may be done with it."""

    d: str = ""
    kind: str
    id: str = ""
    title: str = ""
    spot: tuple[float, float] | None = None
    label: str = ""
    locked: bool = False
    pose: PoseData | None = None
    ref: EdgeData | None = None
    length_mm: float | None = None
    radius_mm: float | None = None
    cut: int | None = None


class SceneImage(BaseModel):
    """A picture beneath the drawing: a kept file and where it lies in picture coordinates [mm]."""

    file: str
    x: float
    y: float
    width: float
    height: float


class Scene(BaseModel):
    """What the page draws: view box x, y, width, height in picture coordinates [mm], and items, first ones below."""

    box: tuple[float, float, float, float]
    items: list[SceneItem]
    image: SceneImage | None = None


class StepWhole(StepView):
    """A step with its data and its scene."""

    data: dict[str, Any] | None = None
    scene: Scene | None = None


class WorkView(BaseModel):
    """Slow work: waiting, running, done, failed or cancelled, and how far it is (0 to 1)."""

    id: str
    about: str
    state: Literal["waiting", "running", "done", "failed", "cancelled"]
    done: float
    text: str
    seconds: float
    error: dict[str, str] | None = None
    pictures: int = 0


class JobView(BaseModel):
    """A job: its document, its revision, and its line of steps."""

    id: str
    number: int
    at: str
    note: str
    can_undo: bool
    can_redo: bool
    document: JobDocument
    steps: list[StepView]
    works: list[WorkView] = []


class NewJob(BaseModel):
    """A job to start."""

    document: JobDocument = Field(default_factory=JobDocument)


class SaveJob(BaseModel):
    """A changed document, the revision it was made from, and a word on what changed."""

    document: JobDocument
    expected: Count
    note: str = Field(default="", max_length=400)


class Ask(BaseModel):
    """The revision the page shows, so that a change made elsewhere is noticed."""

    expected: Count


class RestoreAsk(Ask):
    """Which revision to bring back."""

    number: Count


class Compute(BaseModel):
    """Work the line up to a station (all of it if none is named)."""

    until: str | None = None


class HistoryLine(BaseModel):
    """One revision of a job."""

    number: int
    parent: int | None
    aside: bool
    at: str
    note: str
    head: bool


class FileView(BaseModel):
    """A kept file."""

    sha256: str
    size: int
    media: str
    name: str
    at: str


class ProbeAsk(BaseModel):
    """What a probe touched, in the stream's unit: points of the open loop, a hole (x, y, diameter); or what to undo."""

    points: list[tuple[float, float]] = Field(default=[], max_length=20_000)
    hole: tuple[float, float, float] | None = None
    undo: int = Field(default=0, ge=0, le=1000)
    without_hole: bool = False
    next_loop: bool = False
    unit: Literal["", "mm", "in"] = ""


class ProbeView(BaseModel):
    """The points so far: their picture, how many in each loop, and the last one in the stream's unit."""

    scene: Scene
    unit: Literal["mm", "in"]
    loops: list[int]
    holes: int
    last: tuple[float, float] | None


class ParameterView(BaseModel):
    """One dimension or choice of a family; the range is in the house unit."""

    name: str
    label: str
    kind: str
    default: str
    low: float | None = None
    high: float | None = None
    choices: list[str] = []
    help: str = ""


class FamilyView(BaseModel):
    """A family of shapes."""

    name: str
    title: str
    help: str
    parameters: list[ParameterView]


class FieldView(BaseModel):
    """One field of an operation's form."""

    name: str
    label: str
    kind: str
    default: str
    choices: list[str]
    optional: bool
    help: str = ""
    allowed: str = ""
    low: float | None = None
    high: float | None = None


class OperationView(BaseModel):
    """What can be done to a part, and the fields of its form."""

    op: str
    title: str
    help: str
    fields: list[FieldView]


class BurnFormView(BaseModel):
    """What may be chosen about a burn: for the whole plan in groups, and for one cut; ``default`` says what is done else."""

    plan: list[OperationView]
    cut: OperationView


class LayoutFormView(BaseModel):
    """What may be chosen about a layout: for all parts in groups, and for one part; ``default`` says what is done else."""

    plan: list[OperationView]
    own: OperationView


class DialectView(BaseModel):
    """A way of writing programs."""

    name: str
    title: str
    about: str


class RateView(BaseModel):
    """One rate of the price: what the program assumes, and how to find your own."""

    name: str
    assumed: str
    how: str


class StickAsk(BaseModel):
    """Which kept file goes onto which stick, under which name."""

    sha256: str
    stick: str
    name: str = ""


class StickAnswer(BaseModel):
    """What was done."""

    said: str


class PieceView(BaseModel):
    """One of the parts that a family's dimensions stand for: its name, and its dimensions as said."""

    name: str
    values: dict[str, str]


class LivePart(BaseModel):
    """A family's shape as its dimensions stand, what was found, and the parts it stands for if they are several."""

    scene: Scene
    numbers: list[NumberLine]
    notes: list[str]
    findings: list[FindingView] = []
    pieces: list[PieceView] = []
    template: bool = False


class LiveAsk(BaseModel):
    """Dimensions as said."""

    values: dict[Annotated[str, Field(max_length=60)], Annotated[str, Field(max_length=200)]] = Field(
        default={}, max_length=100
    )


class MoveAsk(BaseModel):
    """A placed copy in the hand: which one, on which plate of the layout, and where it would lie."""

    index: Count
    plate: int = Field(default=1, ge=1, le=99)
    x_mm: float
    y_mm: float
    angle_rad: float
    mirrored: bool


class MoveAnswer(BaseModel):
    """Whether it may lie there, and the nearest place where it may [mm]; both None if there is none."""

    legal: bool
    x_mm: float | None
    y_mm: float | None


class SayAsk(BaseModel):
    """A quantity as said, what kind it must be, and the unit to say it in (empty: the shop's)."""

    text: str = Field(max_length=200)
    kind: Literal[
        "length", "angle", "share", "time", "sheet", "place", "hole", "count", "speed", "current"
    ] = "length"
    metal: str = Field(default="", max_length=60)
    unit: Literal["", "mm", "in"] = ""


class SayAnswer(BaseModel):
    """A quantity in the house unit, and both ways of saying it."""

    value: float
    shown: str


class SettingsView(BaseModel):
    """The shop's name, address, rates as said, and what the page prefers."""

    name: str = Field(default="", max_length=120)
    address: list[Annotated[str, Field(max_length=120)]] = Field(default=[], max_length=12)
    rates: dict[Annotated[str, Field(max_length=60)], Annotated[str, Field(max_length=40)]] = Field(
        default={}, max_length=60
    )
    unit: Literal["mm", "in"] = "mm"
    paper: str = "letter"
    terms: str = Field(default="", max_length=1200)
    tax: str = Field(default="", max_length=40)
    investment: str = Field(default="", max_length=40)
    share: str = Field(default="40 %", max_length=40)
    answered: list[Literal["units", "table", "shop"]] = []
    table: str = Field(default="", max_length=200)
    chart: str = Field(default="", max_length=200)
    burn: dict[Annotated[str, Field(max_length=60)], Annotated[str, Field(max_length=80)]] = Field(
        default={}, max_length=60
    )
    number: Count = 0


class IssuedView(BaseModel):
    """A numbered quote or invoice: where it stands, what it may become, and what stands for it."""

    number: str
    kind: Literal["quote", "invoice"]
    state: Literal["quoted", "accepted", "made", "delivered", "paid", "void"]
    next: list[Literal["accepted", "made", "delivered", "paid", "void"]]
    customer: str
    title: str
    job: str
    day: str
    net: str
    tax: str
    total: str
    currency: str
    replaces: str
    quote: str
    invoice: str
    rests_on: list[str] = []


class LedgerView(BaseModel):
    """The ledger: which revision it is, and its documents, newest first."""

    number: int
    documents: list[IssuedView]


class LedgerAsk(BaseModel):
    """How many entries of the ledger the page shows, and whether to go on although the clock seems set back."""

    expected: Count
    anyway: bool = False


class IssueAsk(LedgerAsk):
    """Issue a quote: for which job as it stands (its revision)."""

    job: str = Field(max_length=40)
    number: Count


class LedgerMove(LedgerAsk):
    """Move a document on."""

    state: Literal["accepted", "made", "delivered", "paid", "void"]


class PaybackView(BaseModel):
    """What the table has earned and has still to earn; empty texts where that cannot be said yet."""

    investment: str
    earned: str
    left: str
    per_week: str
    on: str
    per_job: str
    weeks: str
    currency: str


class TomlView(BaseModel):
    """A table or chart of the shop's own as TOML text."""

    name: str = Field(max_length=200)
    toml: str = Field(max_length=1_000_000)
    own: bool = True


class StockView(BaseModel):
    """A plate on the rack: its document as a job takes it, and its photo."""

    id: str = ""
    number: Count = 0
    plate: PlateEntry
    photo: str = ""
    picture: Scene | None = None
    weight_kg: float = 0.0
    note: str = ""


class HoldAsk(BaseModel):
    """Who a plate is held for; empty releases it."""

    owner: str = Field(default="", max_length=80)


class CutAsk(BaseModel):
    """How wide a piece must be to be kept as a drop, as said, and which plate of the layout is cut, from 1."""

    smallest: str = Field(default="60 mm", max_length=80)
    plate: int = Field(default=1, ge=1, le=99)


class StockEvent(BaseModel):
    """Something that happened to a plate; no time for what happened before it came on the rack."""

    at: str
    what: str


class HelloView(BaseModel):
    """Who answers: version, whether this device may come in, whether it is the shop's own computer, whether phones may come in,
    and whether that was opened on the page.
    """

    version: str
    paired: bool
    here: bool
    lan: bool
    closable: bool = False


class PairAsk(BaseModel):
    """A one-use code, and what to call the device."""

    code: str = Field(max_length=200)
    name: str = Field(default="phone", max_length=60)


class RestoreView(BaseModel):
    """What was done with a backup, in words, and the folder that was made beside the shop's."""

    said: str
    folder: str


class DeviceView(BaseModel):
    """A paired device."""

    id: str
    name: str
    at: str
    seen: str


class PairingView(BaseModel):
    """A fresh pairing code as addresses to open and a QR picture (SVG) of the first."""

    urls: list[str]
    qr: str
    minutes: int
