"""The one place where the stages are joined: a job at one plate of its layout, and the values of its stages.

A value comes from what is kept in the shop's folder, or was given (a command gives what it read from files); what
follows from it is worked out here the same way for both, once, when it is first wanted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypedDict, TypeVar, Unpack, cast

from platewright.errors import InputError
from platewright.shop.document import JobDocument, PartEntry, PlateEntry
from platewright.shop.folder.store import Shop
from platewright.shop.forms.burn import amperage_of, options_of
from platewright.shop.line import ShopFacts, StepKey, line_of, step_id
from platewright.shop.results import LayoutData, PartData, ProgramData, StepResult
from platewright.shop.values import chart_of, plate_of, rates_of, stem_of, table_of

if TYPE_CHECKING:
    from platewright.burn.model import BurnPlan
    from platewright.burn.options import BurnOptions
    from platewright.geometry import Profile
    from platewright.layout.model import Layout
    from platewright.part.model import Part
    from platewright.price.cost import Cost, Rates
    from platewright.program.dialects import Dialect
    from platewright.program.model import Program
    from platewright.proof.model import Proof
    from platewright.proof.prove import Burned
    from platewright.stock.model import Plate
    from platewright.table.chart import Chart
    from platewright.table.model import ChartRow, TableProfile

__all__ = ["Given", "JobContext", "ProofExtras", "line_on"]

D = TypeVar("D")


class Given(TypedDict, total=False):
    """Values a job does not have to look up, each as the method of its name would return it [mm]."""

    layout: Layout
    stock: tuple[Plate, ...]
    program: Program
    rates: Rates


class ProofExtras(TypedDict, total=False):
    """What else a proof may be told, as `prove` takes it: parts to compare with, an earlier program [mm]."""

    against: Sequence[Part | Profile]
    burned: Burned | None


def line_on(shop: Shop, job: JobDocument, facts: ShopFacts) -> tuple[StepKey, ...]:
    """Return every step of a job in order, for as many plates [-] as its kept layout takes."""
    line = line_of(job, facts)
    kept = shop.result(next(k.key for k in line if k.id == "layout"))
    plates = len(kept["data"]["on"]) if kept is not None and kept["state"] == "done" else 1
    return line if plates < 2 else line_of(job, facts, plates)


class JobContext:
    """One job at one plate of its layout, from 1: its document, its keys, and the values of its stages."""

    def __init__(self, shop: Shop, job: JobDocument, facts: ShopFacts, *, on: int = 1) -> None:
        self._shop: Shop | None = shop
        self.job, self.facts, self.on = job, facts, on
        self.keys: dict[str, StepKey] = {k.id: k for k in line_on(shop, job, facts)}
        self._values: dict[str, object] = {}
        self._others: dict[int, JobContext] = {on: self}

    @classmethod
    def of_files(cls, job: JobDocument, facts: ShopFacts, given: Given) -> JobContext:
        """Return a job whose values were read from files; it keeps nothing [mm]."""
        made = cls.__new__(cls)
        made._shop, made.job, made.facts, made.on, made.keys = None, job, facts, 1, {}
        made._values, made._others = dict(given), {1: made}
        return made

    @property
    def shop(self) -> Shop:
        """Return the shop whose folder keeps the results."""
        assert self._shop is not None, "a job of files keeps nothing"
        return self._shop

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
        return sum(k.station == "layout" for k in self.keys.values()) or 1

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
        if name not in self._values:
            self._values[name] = make()
        return cast("D", self._values[name])

    # -- what the shop has ---------------------------------------------------------------------

    def table(self) -> TableProfile:
        """Return the job's table, lengths in [mm]."""
        return self._once("table", lambda: table_of(self.job.burn.table, self.facts.tables))

    def chart(self) -> Chart:
        """Return the job's cut chart, lengths in [mm]."""
        return self._once("chart", lambda: chart_of(self.job.burn.chart, self.facts.charts))

    def dialect(self) -> Dialect:
        """Return the dialect the program is written in: the job's, else the table's; the shop's own come first [mm, s]."""
        from platewright.program.dialects import load_dialect

        name = self.job.program.dialect or self.table().dialect
        return load_dialect(self.facts.dialects.get(name, name))

    def rates(self) -> Rates:
        """Return the rates of the job: the shop's, then the job's own [currency]."""
        return self._once("rates", lambda: rates_of(self.facts.rates, self.job.price.rates))

    def plate(self) -> Plate:
        """Return the job's first plate [mm]."""
        return self.stock()[0]

    def stock(self) -> tuple[Plate, ...]:
        """Return every plate the job may be cut from [mm]."""

        def made() -> tuple[Plate, ...]:
            more = (plate_of(p, f"more_plates.{n}") for n, p in enumerate(self.job.more_plates))
            return (plate_of(self.job.plate), *more)

        return self._once("stock", made)

    def cut_from(self) -> PlateEntry:
        """Return the entry of the plate this one of the layout is [-]."""
        return self.job.plates()[self.data("layout", LayoutData)["on"][self.on - 1]]

    def usual_row(self, metal: Plate | Part) -> ChartRow | None:
        """Return the chart's row for a plate or part before anything is laid [mm], None if the chart has none."""
        process = self.job.burn.options.get("process") or None
        try:
            amperage = amperage_of(self.job)
            return (
                self.chart()
                .row(metal.grade, metal.thickness, amperage, process=process, table=self.table())
                .row
            )
        except InputError:
            return None

    # -- the values of the stages --------------------------------------------------------------

    def part(self, ident: str) -> Part:
        """Return a finished part of the job [mm]."""
        from platewright.part.model import Part

        step = f"part:{ident}"
        return self._once(step, lambda: Part.from_dict(self.data(step, PartData)["part"]))

    def layout(self) -> Layout:
        """Return the layout of this plate [mm]."""
        from platewright.layout.model import Layout

        return self._once("layout", lambda: Layout.from_dict(self.data("layout", LayoutData)["layout"]))

    def _laid(self) -> Layout | None:
        """Return the layout, None where a command gave only a plate [mm]."""
        return self.layout() if "layout" in self._values or self._shop is not None else None

    def options(self) -> BurnOptions:
        """Return the choices the job makes beside those written on its layout [mm, s]."""
        return options_of(self.job, self._laid())

    def chosen(self) -> BurnOptions:
        """Return all the choices the plate is cut with, the job's over its layout's [mm, s]."""
        layout = self._laid()
        return self.options() if layout is None else self.options().over(layout.burn)

    def row(self) -> ChartRow:
        """Return the chart row the torch is set by [mm, s]: the planner takes the same.

        Raises
        ------
        InputError
            If the chart has none.
        """
        layout, chosen = self._laid(), self.chosen()
        plate = self.plate() if layout is None else layout.plate
        chart, table = self.chart(), self.table()
        return chart.row(
            plate.grade, plate.thickness, chosen.amperage, process=chosen.process, table=table
        ).row

    def plan(self) -> BurnPlan:
        """Return the burn plan of this plate [mm, s]; of a kept job it is planned again from the kept layout."""
        from platewright.burn.plan import plan

        def planned() -> BurnPlan:
            controller = self.dialect().controller
            return plan(self.layout(), self.chart(), self.table(), self.options(), controller=controller)

        return self._once("plan", planned)

    def program(self) -> Program:
        """Return the program of this plate as it was kept (its very bytes)."""
        from platewright.program.model import Program

        def read() -> Program:
            data = self.data("program", ProgramData)
            text = self.shop.file(data["program_file"]).decode("ascii", "surrogateescape")
            return Program(data["name"], text, data["dialect"], "cut", tuple(data["cut_lines"]))

        return self._once("program", read)

    def proof(self, *, kerf: float | None = None, **more: Unpack[ProofExtras]) -> Proof:
        """Return what the program's very text will cut, with the choices the job makes as wishes [mm]; a kerf goes before the chart's."""
        from platewright.proof.prove import prove

        layout, wishes = self._laid(), self.options().as_dict()
        if layout is not None and layout.common:  # laid a kerf apart for it
            wishes["common_line"] = True
        return prove(
            self.program().text, dialect=self.dialect(), table=self.table(), row=self.row() if kerf is None else kerf,
            layout=layout, plate=self.plate() if layout is None and "stock" in self._values else None, wishes=wishes, **more,
        )  # fmt: skip

    def plans(self) -> list[BurnPlan]:
        """Return the burn plans of all the layout's plates [mm, s]."""
        return [self.at(n).plan() for n in range(1, self.plates + 1)]

    def cost(self) -> Cost:
        """Return what the job costs on all its plates [currency]."""
        from platewright.price.cost import cost
        from platewright.price.sets import job_of_plates

        return cost(job_of_plates(self.plans()), self.rates())

    def costed_sets(
        self, report: Callable[[float, str], None] = lambda done, text: None
    ) -> Callable[[int], Cost]:
        """Return a function that costs a number of sets [currency], each laid and planned for real."""
        from platewright.price.sets import costed_sets

        return costed_sets(
            self.plans(), self.chart(), options=self.chosen(), rates=self.rates(), on_progress=report
        )
