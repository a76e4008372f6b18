"""The pipeline: works a job's line step by step, keeps every result under the hash of its inputs.

The page runs it in a child process (`compute`), the command line in its own. A step whose result is
already kept costs one look-up; a failed step says why, beside the field, and the ones after it wait.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import NotRequired, TypedDict, TypeVar, cast

from platewright.errors import PlatewrightError
from platewright.shop.context import JobContext, line_on
from platewright.shop.document import JobDocument, read_job
from platewright.shop.first import settings_of
from platewright.shop.folder.own import own_files
from platewright.shop.folder.storage import StorageError
from platewright.shop.folder.store import Shop
from platewright.shop.forms.spoken import spoken
from platewright.shop.line import STEPS, ShopFacts, StepKey, last_of, step_id
from platewright.shop.results import StepResult
from platewright.shop.steps.common import Made, Passed, Report
from platewright.shop.typed import unit_of

__all__ = ["StepState", "compute", "facts_of", "run", "states"]


D = TypeVar("D")


@dataclass(frozen=True, slots=True)
class StepState:
    """One step as the page shows it: its key, and its result if there is one.

    ``state`` is ``done``, ``failed``, ``ready`` (can be worked now) or ``waiting`` (something before it is missing).
    """

    step: StepKey
    state: str
    result: StepResult | None

    def as_dict(self, *, whole: bool = False) -> Mapping[str, object]:
        """Return plain JSON values, with data and scene only if `whole`; coordinates in [mm]."""
        shown = (
            "summary",
            "verdict",
            "numbers",
            "findings",
            "files",
            "error",
            *(("data", "scene") if whole else ()),
        )
        kept: Mapping[str, object] = self.result or {}
        return {
            "id": self.step.id, "station": self.step.station, "part": self.step.part, "plate": self.step.plate,
            "key": self.step.key, "state": self.state, **{k: kept.get(k) for k in shown},
        }  # fmt: skip

    def data(self, kind: type[D]) -> D:
        """Return what a step that is done holds, which is of its station's kind."""
        assert self.result is not None
        return cast("D", self.result.get("data"))


def facts_of(shop: Shop) -> ShopFacts:
    """Return what jobs take from their shop: own tables, charts, rates and name."""
    settings = settings_of(shop)
    return ShopFacts(
        tables=own_files(shop, "table"), charts=own_files(shop, "chart"), dialects=own_files(shop, "dialect"),
        rates=settings.rates, address=tuple(settings.address),
        name=settings.name, terms=settings.terms, tax=settings.tax,
    )  # fmt: skip


def _needs(step: StepKey, line: tuple[StepKey, ...]) -> list[str]:
    """Return the ids of the steps that must be done before one."""
    if step.station == "part":
        return [f"pattern:{step.part}"]
    if step.station == "layout":
        first = [k.id for k in line if k.station == "part"] + ["plate"]
        return first if step.plate == 1 else ["layout"]
    if step.station == "price":
        return [k.id for k in line if k.station == "burn"]
    before = {
        "burn": "layout",
        "program": "burn",
        "proof": "program",
        "rescue": "proof",
        "paper": "proof",
    }
    return [step_id(before[step.station], step.plate)] if step.station in before else []


def states(shop: Shop, job: JobDocument, facts: ShopFacts | None = None) -> list[StepState]:
    """Return every step of a job as it stands, computing nothing."""
    line = line_on(shop, job, facts or facts_of(shop))
    found: dict[str, StepState] = {}
    for step in line:
        kept = shop.result(step.key)
        if kept is not None:
            state = str(kept["state"])
        else:
            state = "ready" if all(found[n].state == "done" for n in _needs(step, line)) else "waiting"
        if step.station == "layout" and not job.parts:
            state = "waiting"
        found[step.id] = StepState(step, state, cast("StepResult | None", kept))
    return list(found.values())


_MAKERS = {
    "plate": ("plate", "make_plate"),
    "layout": ("layout", "make_layout"),
    "burn": ("burn", "make_burn"),
    "program": ("burn", "make_program"),
    "proof": ("proof", "make_proof"),
    "rescue": ("rescue", "make_rescue"),
    "paper": ("paper", "make_paper"),
    "price": ("paper", "make_price"),
}


def _maker(step: StepKey) -> Callable[[JobContext, Report], Made]:
    """Return the function that works a station (its imports are made only now)."""
    if step.station == "pattern":
        from platewright.shop.steps.pattern import make_pattern

        return lambda context, report: make_pattern(context, step.part, report)
    if step.station == "part":
        from platewright.shop.steps.part import make_part

        return lambda context, report: make_part(context, step.part, report)
    module, name = _MAKERS[step.station]
    maker: Callable[[JobContext, Report], Made] = getattr(
        import_module(f"platewright.shop.steps.{module}"), name
    )
    return maker


def _work(context: JobContext, step: StepKey, report: Report) -> StepResult:
    """Work one step and keep its result; bad input is a kept result too, a fault is not."""
    made: StepResult
    try:
        made = _maker(step)(context, report).as_dict()
    except StorageError:
        raise  # of the disk, not of the job: nothing to keep
    except PlatewrightError as bad:
        made = {
            "state": "failed",
            "summary": bad.what,
            "error": bad.as_dict(),
            "numbers": [],
            "findings": [],
            "files": [],
        }
    context.shop.keep_result(step.key, step=step.id, doc=made)
    return made


def run(
    shop: Shop,
    job: JobDocument,
    *,
    until: str | None = None,
    report: Report = lambda done, text: None,
    on_step: Callable[[StepState], None] = lambda state: None,
) -> list[StepState]:
    """Work every step of a job that is not done and can be, up to a station.

    Parameters
    ----------
    shop : where results are kept and facts come from
    until : the last station to work; all of them if None
    report : told how far the whole is [-] and what is being done
    on_step : told each step as it is done

    Returns
    -------
    every step as it stands after
    """
    facts = facts_of(shop)
    context = JobContext(shop, job, facts)
    last = last_of(until)
    worked, reached = 0, 0.0
    while True:
        now = states(shop, job, facts)
        todo = [s for s in now if STEPS.index(s.step.station) <= last and s.state in ("ready", "waiting")]
        one = next((s.step for s in todo if s.state == "ready"), None)
        if one is None:
            return now

        def part_of(done: float, text: str, begun: int = worked, left: int = len(todo)) -> None:
            nonlocal reached  # a layout that takes more plates adds steps: how far it is never falls back
            reached = max(reached, (begun + min(max(done, 0.0), 1.0)) / (begun + left))
            report(reached, text)

        part_of(0.0, _called(one, now))
        made = _work(context.at(one.plate), one, Passed(report, part_of))
        worked += 1
        on_step(StepState(one, str(made["state"]), made))
        if one.id == "layout":
            context = JobContext(shop, job, facts)  # over how many plates it goes is known now


def _called(step: StepKey, line: list[StepState]) -> str:
    """Return what is worked, with the plate's number where there is more than one [-]."""
    several = sum(s.step.station == step.station for s in line) > 1 and not step.part
    return f"{step.station}, plate {step.plate}" if several else step.station


class Payload(TypedDict):
    """What a child process is asked to work: the shop's folder, a job, its revision, and up to which station."""

    folder: str
    job: str
    number: int
    until: NotRequired[str | None]


def compute(payload: Payload, report: Report) -> dict[str, dict[str, str]]:
    """Work a job in a child process.

    Parameters
    ----------
    payload : ``folder`` of the shop, ``job`` id, ``number`` of its revision, ``until`` a station or None
    report : told how far it is [-]
    """
    with Shop(Path(payload["folder"])) as shop:
        job = read_job(shop.load("job", payload["job"], number=payload["number"]).doc)
        unit = unit_of(shop)
        in_its_unit = Passed(report, lambda done, text: report(done, spoken(text, unit)))
        after = run(shop, job, until=payload.get("until"), report=in_its_unit)
        return {"states": {s.step.id: s.state for s in after}}
