"""The line of a job, from pattern to price: which steps there are, and the key under which each one's result is kept.

A key is the hash of everything a step's result depends on: its own entries, the keys of the steps before
it, and the version of this program. Equal inputs find the old result; changed ones do not.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from platewright import __version__
from platewright.shop.document import JobDocument, PartEntry

__all__ = ["STEPS", "ShopFacts", "StepKey", "line_of", "short_key"]

RECIPE = 5
"""Raised when a step would compute something else from the same inputs (old results are then left behind)."""
STEPS = ("pattern", "part", "plate", "layout", "burn", "program", "proof", "rescue", "paper", "price")
"""The stations of the line in order; ``rescue`` is there only once something went wrong at the table."""


@dataclass(frozen=True, slots=True)
class ShopFacts:
    """What a job takes from its shop: own tables and charts as TOML text, rates as said, and whose shop it is."""

    tables: dict[str, str]
    charts: dict[str, str]
    rates: dict[str, str]
    name: str = ""
    address: tuple[str, ...] = ()
    terms: str = ""
    tax: str = ""
    dialects: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StepKey:
    """One step of one job: its id ("part:ab12" or "layout"), station, the part it is of, and its result's key."""

    id: str
    station: str
    part: str
    key: str


def short_key(*parts: Any) -> str:
    """Return the hash of plain JSON values as hex, the same on every machine."""
    text = json.dumps(parts, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _of(station: str, *parts: Any) -> str:
    return short_key(__version__, RECIPE, station, *parts)


def line_of(job: JobDocument, facts: ShopFacts) -> tuple[StepKey, ...]:
    """Return every step of a job in order, with its key."""
    keys: list[StepKey] = []
    wanted = []
    chart = [job.burn.chart, facts.charts.get(job.burn.chart, "")]
    table = [job.burn.table, facts.tables.get(job.burn.table, "")]
    row = [chart, table, job.burn.amperage, job.burn.options.get("process", "")]
    for entry in job.parts:
        pattern = _of("pattern", entry.source.model_dump(mode="json"))
        part = _part_key(entry, pattern, row)
        keys += [
            StepKey(f"pattern:{entry.id}", "pattern", entry.id, pattern),
            StepKey(f"part:{entry.id}", "part", entry.id, part),
        ]
        wanted.append([entry.id, part, entry.quantity, entry.pairs, entry.first, entry.filler])
    keys.sort(key=lambda k: STEPS.index(k.station))
    keepouts = [k.model_dump(mode="json") for k in job.keepouts]
    plate = _of("plate", job.plate.model_dump(mode="json", exclude={"owned"}), keepouts)
    seen = _of("plate", plate, job.plate.owned)  # whose sheet it is changes no layout
    layout = _of("layout", wanted, plate, job.layout.model_dump(mode="json"), table, row)
    burn = _of(
        "burn", layout, job.burn.model_dump(mode="json"), table, chart, job.program.dialect, facts.dialects
    )
    program = _of("program", burn, job.program.model_dump(mode="json"), job.name)
    proof = _of("proof", program, seen)
    wrong = None if job.wrong is None else job.wrong.model_dump(mode="json")
    rescue = _of("rescue", proof, wrong)
    before = proof if wrong is None else rescue
    paper = _of("paper", before, job.paper.model_dump(mode="json"), job.name, job.customer, facts.name)
    price = _of(
        "price", burn, job.price.model_dump(mode="json"), facts.rates, [job.name, job.customer],
        [facts.name, facts.address, facts.terms, facts.tax], job.paper.model_dump(mode="json"),
    )  # fmt: skip
    ends = zip(STEPS[2:], (seen, layout, burn, program, proof, rescue, paper, price), strict=True)
    steps = (StepKey(station, station, "", key) for station, key in ends)
    return (*keys, *(s for s in steps if s.station != "rescue" or wrong is not None))


def _part_key(entry: PartEntry, pattern: str, row: list[Any]) -> str:
    operations = [o.model_dump(mode="json") for o in entry.operations if not o.off]
    return _of("part", pattern, entry.name, entry.thickness, entry.grade, operations, row)
