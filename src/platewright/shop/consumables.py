"""What the consumables have done: one document of kind ``consumables``, a new count for each new set.

It holds the set fitted, its pierces and arc time, and the kerfs measured with it; the sets before stay in its history.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict, cast

from platewright.shop.folder.store import MissingError, Shop

if TYPE_CHECKING:
    from platewright.tuning.model import Result
    from platewright.tuning.wear import Drift, Wear

__all__ = ["add_wear", "new_set", "note_kerf", "wear_of"]

SET = "consumables"


class KerfNoted(TypedDict):
    """A kerf measured [mm], the job it was measured for, and what the set had done by then [-, s]."""

    job: list[str | float]
    kerf: float
    spread: float | None
    pierces: int
    arc_seconds: float


class SetDone(TypedDict):
    """What the set fitted now has done [-, s], since which day, and the kerfs measured with it."""

    fitted: str
    pierces: int
    arc_seconds: float
    kerfs: list[KerfNoted]


def _set(shop: Shop) -> SetDone:
    try:
        return cast("SetDone", dict(shop.load(SET, "set").doc))
    except MissingError:
        return {"fitted": "", "pierces": 0, "arc_seconds": 0.0, "kerfs": []}


def wear_of(shop: Shop) -> tuple[Wear, str, Drift | None]:
    """Return what the set fitted now has done [-, s], the day it was fitted, and the drift of its kerf [mm]."""
    from platewright.tuning.model import Mean
    from platewright.tuning.wear import Wear, drift_of

    doc = _set(shop)
    jobs = {tuple(k["job"]) for k in doc["kerfs"]}
    last = tuple(doc["kerfs"][-1]["job"]) if jobs else ()
    points = [
        (Wear(k["pierces"], k["arc_seconds"]), Mean(k["kerf"], k["spread"], 8))
        for k in doc["kerfs"]
        if tuple(k["job"]) == last
    ]
    return Wear(doc["pierces"], doc["arc_seconds"]), doc["fitted"], drift_of(points)


def add_wear(shop: Shop, pierces: int, arc_seconds: float) -> None:
    """Count pierces [-] and arc time [s] on the set fitted now."""
    doc = _set(shop)
    doc["pierces"], doc["arc_seconds"] = doc["pierces"] + pierces, doc["arc_seconds"] + arc_seconds
    shop.save(SET, "set", doc, note=f"{pierces} pierces, {arc_seconds / 60:.1f} min of arc")


def new_set(shop: Shop) -> None:
    """Fit a new set: its count and drift begin at nothing [-]."""
    fresh = {"fitted": shop.now()[:10], "pierces": 0, "arc_seconds": 0.0, "kerfs": []}
    shop.save(SET, "set", fresh, note="new set fitted")


def note_kerf(shop: Shop, result: Result) -> None:
    """Note a kerf [mm] surely measured beside what the set had done [-, s]."""
    from platewright.tuning.correct import SURE

    if result.kerf is None or not result.kerf.kerf.known(SURE):
        return
    doc, mean, job = _set(shop), result.kerf.kerf, result.job
    doc["kerfs"] = [*doc["kerfs"][-99:], {
        "job": [job.grade, job.thickness, job.amperage, round(job.speed, 2)], "kerf": mean.value, "spread": mean.spread,
        "pierces": doc["pierces"], "arc_seconds": doc["arc_seconds"],
    }]  # fmt: skip
    shop.save(SET, "set", doc, note=f"kerf {mean.value:.2f} mm measured")
