"""What every station shares: the shape of a result, and the context in which a job is worked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar, cast

from platewright.errors import InputError
from platewright.findings import Finding, FindingData, verdict
from platewright.shop.document import JobDocument, PartEntry, PlateEntry
from platewright.shop.folder.store import FileInfo, Shop
from platewright.shop.line import ShopFacts, StepKey, line_of, step_id
from platewright.shop.results import (
    FailureData,
    FileData,
    LayoutData,
    NumberData,
    PartData,
    ProgramData,
    StepResult,
)
from platewright.shop.scene import SceneData, spots

if TYPE_CHECKING:
    from platewright.burn.model import BurnPlan
    from platewright.layout.model import Layout
    from platewright.part.model import Part
    from platewright.program.dialects import Dialect
    from platewright.program.model import Program
    from platewright.stock.model import Plate
    from platewright.table.model import TableProfile

__all__ = [
    "JobContext", "Made", "Passed", "Report", "enough", "kept_file", "line_on", "number", "refound", "show", "stem_of",
]  # fmt: skip

D = TypeVar("D")

Report = Callable[[float, str], None]
"""Told how far a step is (0 to 1) [-] and what it does. One from the page may also be asked and shown: see ``enough`` and ``show``."""


def enough(report: Report) -> bool:
    """Tell whether whoever waits wants the best so far, now."""
    ask = getattr(report, "enough", None)
    return bool(ask()) if ask else False


def show(report: Report, drawn: SceneData) -> None:
    """Show whoever waits a scene [mm] of how far it is."""
    if shown := getattr(report, "show", None):
        shown(drawn)


class Passed:
    """The report of one step passed on as one of the whole, with a way to say it."""

    def __init__(self, report: Report, say: Callable[[float, str], None]) -> None:
        self._report, self._say = report, say

    def __call__(self, done: float, text: str) -> None:
        """Say how far the step is [-]."""
        self._say(done, text)

    def enough(self) -> bool:
        """Tell whether the best so far is wanted."""
        return enough(self._report)

    def show(self, drawn: SceneData) -> None:
        """Show a scene [mm]."""
        show(self._report, drawn)


@dataclass(frozen=True, slots=True)
class Made:
    """What a station made: a sentence, numbers to show, findings, data for the next station, a scene, files.

    With a ``failure`` the step counts as failed, though what was found is shown.
    """

    summary: str
    numbers: list[NumberData] = field(default_factory=list)
    findings: Iterable[Finding] = ()
    data: Mapping[str, object] = field(default_factory=dict)
    scene: SceneData | None = None
    files: list[FileData] = field(default_factory=list)
    failure: FailureData | None = None

    def as_dict(self) -> StepResult:
        """Return the result document: plain JSON values, coordinates in [mm]."""
        found = list(self.findings)
        return {
            "state": "failed" if self.failure else "done", "summary": self.summary, "verdict": verdict(found),
            "numbers": self.numbers, "findings": spots(found), "data": self.data, "scene": self.scene,
            "files": self.files, "error": self.failure,
        }  # fmt: skip


def number(label: str, value: str) -> NumberData:
    """Return one number to show, already with its unit [-]."""
    return {"label": label, "value": value}


def stem_of(name: str) -> str:
    """Return a name fit for a file on any controller and computer: small letters, digits, dashes (no unit [-])."""
    kept = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in name.lower()).strip("-")
    return kept[:40] or "job"


def kept_file(info: FileInfo, *, role: str, label: str) -> FileData:
    """Return a kept file as results name it; size in [bytes]."""
    return {
        "role": role,
        "label": label,
        "sha256": info.sha256,
        "name": info.name,
        "media": info.media,
        "size": info.size,
    }


def refound(documents: Iterable[FindingData]) -> list[Finding]:
    """Return findings read back from a result document, places in [mm]."""
    found = []
    for d in documents:
        place = None if d["place_mm"] is None else (d["place_mm"][0], d["place_mm"][1])
        found.append(
            Finding(d["code"], d["slug"], d["severity"], d["text"], d["do"], place, d["subject"], d["values"])
        )
    return found


def line_on(shop: Shop, job: JobDocument, facts: ShopFacts) -> tuple[StepKey, ...]:
    """Return every step of a job in order, for as many plates [-] as its kept layout takes."""
    line = line_of(job, facts)
    kept = shop.result(next(k.key for k in line if k.id == "layout"))
    plates = len(kept["data"]["on"]) if kept is not None and kept["state"] == "done" else 1
    return line if plates < 2 else line_of(job, facts, plates)


class JobContext:
    """One job being worked at one plate of its layout, from 1: its document, its keys, and the values already at hand."""

    def __init__(self, shop: Shop, job: JobDocument, facts: ShopFacts, *, on: int = 1) -> None:
        self.shop, self.job, self.facts, self.on = shop, job, facts, on
        self.keys: dict[str, StepKey] = {k.id: k for k in line_on(shop, job, facts)}
        self.memo: dict[str, object] = {}
        self._others: dict[int, JobContext] = {on: self}

    def at(self, plate: int) -> JobContext:
        """Return the same job at another plate of its layout, from 1 [-]."""
        if plate not in self._others:
            if plate > self.plates:
                raise InputError(
                    f"This layout has no plate {plate}.", where="plate", allowed=f"1 to {self.plates}"
                )
            other = JobContext(self.shop, self.job, self.facts, on=plate)
            other._others, self._others[plate] = self._others, other
        return self._others[plate]

    @property
    def plates(self) -> int:
        """Return over how many plates the layout goes [-]."""
        return sum(k.station == "layout" for k in self.keys.values())

    def key(self, step: str) -> StepKey:
        """Return the key of a step, of a station's step at this plate."""
        return self.keys[step_id(step, self.on)]

    def named(self, name: str) -> str:
        """Return a name for a file of this plate: with its number where there is more than one [-]."""
        return f"{stem_of(name)}-plate-{self.on}" if self.plates > 1 else stem_of(name)

    def entry(self, part: str) -> PartEntry:
        """Return a part's entry by its id."""
        for one in self.job.parts:
            if one.id == part:
                return one
        raise InputError(f"This job has no part '{part}'.", allowed=", ".join(p.id for p in self.job.parts))

    def result(self, step: str) -> StepResult | None:
        """Return the kept result of a step of this job at this plate, or None."""
        return cast("StepResult | None", self.shop.result(self.key(step).key))

    def data(self, step: str, kind: type[D]) -> D:
        """Return the data of an earlier step's kept result, which is of its station's kind.

        Raises
        ------
        InputError
            If that step is not done or failed; the sentence says which.
        """
        return cast("D", self.needed(step).get("data"))

    def needed(self, step: str) -> StepResult:
        """Return the kept result of an earlier step.

        Raises
        ------
        InputError
            If that step is not done or failed; the sentence says which.
        """
        found = self.result(step)
        if found is None or found["state"] != "done":
            raise InputError(
                f"The step before this one is not done: {step.split(':')[0]}.", do="Open it and finish it."
            )
        return found

    def _once(self, name: str, make: Callable[[], D]) -> D:
        if name not in self.memo:
            self.memo[name] = make()
        return cast("D", self.memo[name])

    # -- the values of the stages --------------------------------------------------------------

    def table(self) -> TableProfile:
        """Return the job's table, lengths in [mm]."""
        from platewright.shop.values import table_of

        return self._once("table", lambda: table_of(self.job.burn.table, self.facts.tables))

    def plate(self) -> Plate:
        """Return the job's first plate [mm]."""
        return self.stock()[0]

    def stock(self) -> tuple[Plate, ...]:
        """Return every plate the job may be cut from [mm]."""
        from platewright.shop.values import plate_of

        def made() -> tuple[Plate, ...]:
            more = (plate_of(p, f"more_plates.{n}") for n, p in enumerate(self.job.more_plates))
            return (plate_of(self.job.plate), *more)

        return self._once("stock", made)

    def cut_from(self) -> PlateEntry:
        """Return the entry of the plate this one of the layout is [-]."""
        return self.job.plates()[self.data("layout", LayoutData)["on"][self.on - 1]]

    def part(self, ident: str) -> Part:
        """Return a finished part of the job [mm]."""
        from platewright.part.model import Part

        step = f"part:{ident}"
        return self._once(step, lambda: Part.from_dict(self.data(step, PartData)["part"]))

    def layout(self) -> Layout:
        """Return the layout of this plate [mm]."""
        from platewright.layout.model import Layout

        return self._once("layout", lambda: Layout.from_dict(self.data("layout", LayoutData)["layout"]))

    def plan(self) -> BurnPlan:
        """Return the burn plan of this plate, planned again from its kept layout [mm, s]."""
        from platewright.burn.plan import plan
        from platewright.shop.forms.burn import options_of
        from platewright.shop.values import chart_of

        def planned() -> BurnPlan:
            layout = self.layout()
            chart = chart_of(self.job.burn.chart, self.facts.charts)
            table = self.table()
            return plan(
                layout, chart, table, options_of(self.job, layout), controller=self.dialect().controller
            )

        return self._once("plan", planned)

    def dialect(self) -> Dialect:
        """Return the dialect the program is written in: the job's, else the table's; the shop's own come first [mm, s]."""
        from platewright.program.dialects import load_dialect

        name = self.job.program.dialect or self.table().dialect
        return load_dialect(self.facts.dialects.get(name, name))

    def program(self) -> Program:
        """Return the program of this plate as it was kept (its very bytes)."""
        from platewright.program.model import Program

        def read() -> Program:
            data = self.data("program", ProgramData)
            text = self.shop.file(data["program_file"]).decode("ascii", "surrogateescape")
            return Program(data["name"], text, data["dialect"], "cut", tuple(data["cut_lines"]))

        return self._once("program", read)
