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
from platewright.errors import InputError
from platewright.shop.document import JobDocument

__all__ = ["PER_PLATE", "STEPS", "ShopFacts", "StepKey", "last_of", "line_of", "short_key", "step_id"]

RECIPE = 6
"""Raised when a step would compute something else from the same inputs (old results are then left behind)."""
STEPS = ("pattern", "part", "plate", "layout", "burn", "program", "proof", "rescue", "paper", "price")
"""The stations of the line in order; ``rescue`` is there only once something went wrong at the table."""
PER_PLATE = ("layout", "burn", "program", "proof", "paper")
"""Stations that have a step for each plate of the layout."""


@dataclass(frozen=True, slots=True, kw_only=True)
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
    """One step of one job: its id ("part:ab12", "burn" or "burn:2"), station, the part or plate it is of, its result's key."""

    id: str
    station: str
    part: str
    key: str
    plate: int = 1


def step_id(station: str, plate: int = 1) -> str:
    """Return the id of a station's step for a plate of the layout, from 1; the first plate's is the station's own [-]."""
    return station if plate == 1 or station not in PER_PLATE else f"{station}:{plate}"


def last_of(until: str | None) -> int:
    """Return the place in `STEPS` of the last station to work, from 0 [-]; of all of them if none is named."""
    if until is not None and until not in STEPS:
        raise InputError(f"'{until}' is not a step.", where="until", allowed=", ".join(STEPS))
    return len(STEPS) - 1 if until is None else STEPS.index(until)


def short_key(*parts: Any) -> str:
    """Return the hash of plain JSON values as hex, the same on every machine."""
    text = json.dumps(parts, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _of(station: str, *parts: Any) -> str:
    return short_key(__version__, RECIPE, station, *parts)


def line_of(job: JobDocument, facts: ShopFacts, plates: int = 1) -> tuple[StepKey, ...]:
    """Return every step of a job in order, with its key, for a layout of so many plates [-].

    How many plates a layout takes is known once it is laid; until then the line is told for one.
    """
    keys: list[StepKey] = []
    wanted = []
    chart = [job.burn.chart, facts.charts.get(job.burn.chart, "")]
    table = [job.burn.table, facts.tables.get(job.burn.table, "")]
    row = [chart, table, job.burn.amperage, job.burn.options.get("process", "")]
    for entry in job.parts:
        pattern = _of("pattern", entry.source.model_dump(mode="json"))
        operations = [o.model_dump(mode="json") for o in entry.operations if not o.off]
        part = _of("part", pattern, entry.name, entry.thickness, entry.grade, operations, row)
        keys += [
            StepKey(f"pattern:{entry.id}", "pattern", entry.id, pattern),
            StepKey(f"part:{entry.id}", "part", entry.id, part),
        ]
        wanted.append([entry.id, part, entry.quantity, entry.pairs, entry.first, entry.filler, entry.worth])
    keepouts = [k.model_dump(mode="json") for k in job.keepouts]
    stock = [p.model_dump(mode="json", exclude={"owned"}) for p in job.plates()]
    plate = _of("plate", stock, keepouts)
    seen = _of("plate", plate, job.plate.owned)  # whose sheet it is changes no layout
    layout = _of("layout", wanted, plate, job.layout.model_dump(mode="json"), table, row)
    keys.append(StepKey("plate", "plate", "", seen))
    choices = job.burn.model_dump(mode="json")
    how = [choices, table, chart, job.program.dialect, facts.dialects]
    burns = []
    for number in range(1, plates + 1):
        mine = layout if number == 1 else _of("layout", layout, number)
        burn = _of("burn", mine, how)
        burns.append(burn)
        made = _on_plate(
            job, facts, number, {"layout": mine, "burn": burn, "seen": seen, "several": plates > 1}
        )
        keys += [StepKey(step_id(s, number), s, "", key, number) for s, key in made.items()]
    price = _of(
        "price", burns, job.price.model_dump(mode="json"), facts.rates, [job.name, job.customer],
        [facts.name, facts.address, facts.terms, facts.tax], job.paper.model_dump(mode="json"),
    )  # fmt: skip
    keys.append(StepKey("price", "price", "", price))
    return tuple(sorted(keys, key=lambda k: STEPS.index(k.station)))


def _on_plate(job: JobDocument, facts: ShopFacts, number: int, before: Mapping[str, Any]) -> dict[str, str]:
    """Return the keys of the stations of one plate of the layout, from what comes before them."""
    name = [job.program.model_dump(mode="json"), job.name, number if before["several"] else 0]
    program = _of("program", before["burn"], name)
    proof = _of("proof", program, before["seen"])
    made = {"layout": before["layout"], "burn": before["burn"], "program": program, "proof": proof}
    last = proof
    if job.wrong is not None and job.wrong.plate == number:
        last = made["rescue"] = _of("rescue", proof, job.wrong.model_dump(mode="json"))
    made["paper"] = _of("paper", last, job.paper.model_dump(mode="json"), job.name, job.customer, facts.name)
    return made
