"""What goes over the API about jobs: the job document as it is, and these views of it. All lengths carry their unit in the name."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from platewright.errors import FailureData
from platewright.shop.document import JobDocument
from platewright.shop.results import FileData, NumberData, Station
from platewright.shop.scene import SceneData

__all__ = [
    "Ask", "Compute", "Count", "FindingView", "JobView", "NewJob", "ProbeAsk", "ProbeView",
    "RestoreAsk", "SaveJob", "StepView", "StepWhole", "WorkView",
]  # fmt: skip


Count = Annotated[int, Field(ge=0, le=2**53)]
"""A revision or other count; no more than every language keeps exactly."""


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
    numbers: list[NumberData] | None = None
    findings: list[FindingView] | None = None
    files: list[FileData] | None = None
    error: FailureData | None = None


class StepWhole(StepView):
    """A step with its data and its scene."""

    data: dict[str, Any] | None = None
    scene: SceneData | None = None


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

    scene: SceneData
    unit: Literal["mm", "in"]
    loops: list[int]
    holes: int
    last: tuple[float, float] | None
