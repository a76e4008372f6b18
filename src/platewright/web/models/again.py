"""What goes over the API about doing a job again, cutting it anew where it went wrong, and what was made."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from platewright.shop.document import KeepOutEntry, PartEntry, PlateEntry
from platewright.web.models.shop import StockView

__all__ = ["AgainAsk", "EarlierPart", "HeldPart", "JobLine", "MadeView", "OffersView", "TakePart"]


class HeldPart(BaseModel):
    """A part of a job in the list: how many pieces, of what."""

    id: str
    name: str
    count: int
    quantity: int
    pairs: bool
    size: str
    metal: str


class JobLine(BaseModel):
    """A job in the list: how many of its steps are done, whether there is a picture of it, and what it holds."""

    id: str
    number: int
    name: str
    customer: str
    at: str
    parts: int
    done: int
    steps: int
    verdict: Literal["go", "look", "stop"] | None
    drawn: bool = False
    holds: list[HeldPart] = []


class OffersView(BaseModel):
    """What a job may take: plates of the rack in its metal, and the keep-outs of the job before it, where they were."""

    plates: list[StockView]
    keepouts: list[KeepOutEntry]
    of_job: str
    before: PlateEntry
    """The plate the job is done again on if none is chosen."""


class MadeView(BaseModel):
    """Whether a job's plate is cut, and which of its drops are on the rack."""

    cut: bool
    drops: list[StockView]


class AgainAsk(BaseModel):
    """How many of each part by its id (as before where nothing is said), which plate of the rack (empty: as before), and which parts alone."""

    quantities: dict[Annotated[str, Field(max_length=40)], Annotated[int, Field(ge=1, le=5000)]] = Field(
        default={}, max_length=100
    )
    stock: str = Field(default="", max_length=40)
    only: list[Annotated[str, Field(max_length=40)]] = Field(default=[], max_length=100)


class EarlierPart(BaseModel):
    """A part of an earlier job: what it is, and how it was wanted there."""

    job: str
    part: str
    title: str
    name: str
    at: str
    size: str
    thickness: str
    grade: str
    quantity: int
    pairs: bool
    steps: int


class TakePart(BaseModel):
    """Which part of which earlier job."""

    job: str = Field(max_length=40)
    part: str = Field(max_length=40)


class TakenPart(BaseModel):
    """A part of an earlier job as a new one: source, steps, metal, pairs and quantity."""

    entry: PartEntry
