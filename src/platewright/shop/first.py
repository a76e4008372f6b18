"""The three questions of the first evening, what follows from their answers, and what rests on examples until then."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from platewright.errors import RefusedError
from platewright.shop.document import BurnEntry, JobDocument, LayoutEntry, PaperEntry, PlateEntry
from platewright.shop.folder.own import own_files
from platewright.shop.folder.store import MissingError, Shop
from platewright.shop.line import ShopFacts

__all__ = [
    "QUESTIONS", "Settings", "begun", "example_plate", "needs_letterhead", "open_questions", "rests_on",
    "settings_of",
]  # fmt: skip

Question = Literal["units", "table", "shop"]
QUESTIONS: tuple[Question, ...] = ("units", "table", "shop")


class Settings(BaseModel):
    """The shop's name, address, rates as typed, and what the page prefers."""

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
    answered: list[Question] = []
    table: str = Field(default="", max_length=200)
    chart: str = Field(default="", max_length=200)
    burn: dict[Annotated[str, Field(max_length=60)], Annotated[str, Field(max_length=80)]] = Field(
        default={}, max_length=60
    )


def settings_of(shop: Shop) -> Settings:
    """Return the shop's settings as kept, the usual ones if nothing was said yet (no unit [-])."""
    try:
        return Settings.model_validate(shop.load("settings", "shop").doc)
    except MissingError:
        return Settings()


def open_questions(shop: Shop) -> list[Question]:
    """Return the questions nobody has answered yet: a table of the shop's own and a name answer theirs [-]."""
    settings = settings_of(shop)
    answered = {
        "units": "units" in settings.answered,
        "table": settings.table in own_files(shop, "table"),
        "shop": bool(settings.name.strip() and settings.rates),
    }
    return [q for q in QUESTIONS if not answered[q]]


def begun(job: JobDocument, settings: Settings) -> JobDocument:
    """Return a new job with the shop's own table, chart, standing choices, paper and unit where it says nothing itself."""
    plain = BurnEntry()
    if job.burn == plain:
        table = settings.table or plain.table
        burn = BurnEntry(table=table, chart=settings.chart, options=dict(settings.burn))
        job = job.model_copy(update={"burn": burn})
    if settings.unit == "in":
        job = _in_inches(job)
    if job.paper == PaperEntry():
        job = job.model_copy(
            update={"paper": PaperEntry(paper=settings.paper or "letter", unit=settings.unit)}
        )
    return job


INCHES = "48 x 24 in"
"""Size of the sheet every job of a shop in inches begins with."""


def _in_inches(job: JobDocument) -> JobDocument:
    """Return a job as it begins where sizes are said in inches, as far as it says nothing itself (no unit [-])."""
    if job.plate == PlateEntry():
        job = job.model_copy(update={"plate": PlateEntry(size=INCHES, thickness="1/4 in")})
    if job.layout.keepout == LayoutEntry().keepout:
        job = job.model_copy(update={"layout": job.layout.model_copy(update={"keepout": "3/8 in"})})
    return job


def example_plate(plate: PlateEntry) -> bool:
    """Tell whether a job's plate is still the sheet every job begins with, which nobody has said is there."""
    plain = PlateEntry()
    owned = plate.owned or plate.stock or plate.outline_mm or plate.photo or plate.rack or plate.cost
    return not owned and plate.name == plain.name and plate.size in (plain.size, INCHES)


def rests_on(job: JobDocument, facts: ShopFacts, *, price: bool = False) -> list[str]:
    """Return in sentences what a verdict or a price rests on that is an example and not the shop's own (no unit [-])."""
    defaults = []
    if job.burn.table not in facts.tables:
        defaults.append(
            f"The table is not yet yours: '{job.burn.table}' is an example that ships with Platewright."
            + (f" Choose '{next(iter(facts.tables))}' at Burn." if facts.tables else "")
        )
    if not job.burn.chart:
        defaults.append("The cut chart is the starter chart: computed, not measured on your machine.")
    if price and not any(v.strip() for v in facts.rates.values()):
        defaults.append("The rates are examples, not yours.")
    return defaults


def needs_letterhead(facts: ShopFacts) -> None:
    """Refuse to issue anything under a placeholder letterhead.

    Raises
    ------
    RefusedError
        If the shop has not said its name.
    """
    if not facts.name.strip():
        raise RefusedError(
            "A quote goes out under your shop's name, and the shop has not said it yet.", where="name",
            do="Answer the third question of the first evening: name, address and rates.",
        )  # fmt: skip
