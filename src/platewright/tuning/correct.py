"""From readings to a result, and from a result to a chart corrected in the one row it speaks of."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from platewright.errors import RefusedError
from platewright.findings import Finding, finding
from platewright.table.chart import Chart
from platewright.table.model import ChartRow
from platewright.tuning.coupons import STEP
from platewright.tuning.kerf import bevels_of, holes_of, kerf_of
from platewright.tuning.ladder import ladder_of
from platewright.tuning.model import Mean, Readings, Result
from platewright.tuning.square import square_of
from platewright.units import show

__all__ = ["SURE", "corrected", "entry", "result_of", "said"]

SURE = 0.3
"""A kerf whose 95 % uncertainty is more than this [mm] is told, not entered: the proof stops a job for little more."""


def result_of(readings: Readings) -> Result:
    """Return all that the readings say [mm, mm/s, rad], with the findings.

    Raises
    ------
    InputError
        If the kerf they give cannot be.
    """
    kerf, told = kerf_of(readings)
    bevels, leans = bevels_of(readings)
    ladder, rungs = ladder_of(readings)
    holes, round_ = holes_of(readings)
    square, table = square_of(readings, None if kerf is None else kerf.kerf.value)
    result = Result(readings.sheet.job, kerf, bevels, ladder, holes, square)
    findings = (*told, *leans, *rungs, *round_, *table, *_rest(result))
    return replace(result, findings=findings)


def _rest(result: Result) -> list[Finding]:
    """Return what the parts of a result say of one another, and what of them is not fit to be entered."""
    speed = None if result.ladder is None else result.ladder.speed
    kerf = None if result.kerf is None else result.kerf.kerf
    told = []
    if kerf is not None and speed is not None and not 1 / STEP < speed / result.job.speed < STEP:
        told.append(finding("U022", cut_mm_min=round(result.job.speed * 60), speed_mm_min=round(speed * 60)))
    means = (
        ("The kerf", kerf),
        ("The kerf of small holes", None if result.holes is None else result.holes.kerf),
    )
    told += [
        finding("U024", subject=name, value_mm=round(mean.value, 2), spread_mm=round(mean.spread, 2))
        for name, mean in means
        if mean is not None and mean.spread is not None and mean.spread > SURE
    ]
    there = (("The kerf", kerf is not None and kerf.known(SURE)), ("A clean speed", speed is not None))
    return told + [finding("U023", missing=name) for name, known in there if not known]


def corrected(chart: Chart, result: Result, *, note: str = "") -> Chart:
    """Return the chart with the row of the result's job set to what was measured [mm, mm/s]; all other rows stay.

    Only what was measured changes: kerf, speed, edge slope, hole kerf, smallest hole. The row counts as measured once
    kerf and speed both are; otherwise it stays a starting point, as does every thickness that was not cut. A chart
    without that thickness gets a new row there, its other settings worked out between its neighbours.

    Parameters
    ----------
    chart : to correct
    result : of readings
    note : date and hand, from who knows them; what the row was before is added to it

    Raises
    ------
    InputError
        If the chart has no rows for the metal and amperage, or the new speed cannot be (the arc's power is too low for it).
    RefusedError
        If the thickness lies outside the chart's rows: nothing is carried beyond them.
    """
    job = result.job
    picked = chart.row(job.grade, job.thickness, job.amperage, process=job.process)
    row = picked.row
    for found in picked.findings:
        if found.severity == "stop":
            raise RefusedError(found.text, where=chart.name, do="Give the chart the coupon was planned with.")
    changes = _changes(result, row)
    if not changes:
        return chart
    measured = {"kerf", "cut_speed"} <= changes.keys()
    was = f"was ({'computed' if row.starting_point else 'measured'}) {_was(row, changes)}"
    words = "; ".join(w for w in (note, was, row.note) if w)
    return chart.with_rows(
        [replace(row, **changes, starting_point=row.starting_point and not measured, note=words)]
    )


def _changes(result: Result, row: ChartRow) -> dict[str, Any]:
    """Return the fields of the row to set [mm, mm/s]; holes get a kerf of their own only where it is surely another."""
    changes: dict[str, Any] = {}
    kerf = Mean(row.kerf, 0.0, 0)
    if result.kerf is not None and result.kerf.kerf.known(SURE):
        kerf = result.kerf.kerf
        changes["kerf"] = round(kerf.value, 3)
    if result.ladder is not None and result.ladder.speed is not None:
        changes["cut_speed"] = round(result.ladder.speed * 60) / 60
    if result.bevels:
        changes["edge_slope"] = round(max(b.slope for b in result.bevels), 3)
    if result.holes is not None and result.holes.kerf.known(SURE):
        own = result.holes.kerf
        same = abs(own.value - kerf.value) <= math.hypot(own.spread or 0.0, kerf.spread or 0.0)
        changes["kerf_hole"] = 0.0 if same else round(own.value, 3)
        if result.holes.smallest is not None:
            changes["smallest_hole"] = result.holes.smallest
    return {name: value for name, value in changes.items() if name != "kerf_hole" or value != row.kerf_hole}


def _was(row: ChartRow, names: Iterable[str]) -> str:
    """Return what the row said before, in words [mm, mm/min]."""
    said = {name: f"{name.replace('_', ' ')} {getattr(row, name):.2f} mm" for name in names}
    if "cut_speed" in said:
        said["cut_speed"] = f"cut speed {row.cut_speed * 60:.0f} mm/min"
    if "kerf_hole" in said and not row.kerf_hole:
        said["kerf_hole"] = "holes with the kerf"
    return ", ".join(said.values())


def entry(result: Result, *, date: str) -> dict[str, Any]:
    """Return a line for the shop's history: what was measured and when, plain values with units in the names [mm, mm/min, deg]."""

    def one(mean: Mean | None, unit: str) -> dict[str, Any] | None:
        return (
            None
            if mean is None
            else {unit: round(mean.value, 6), "uncertainty_95": mean.spread, "count": mean.count}
        )

    job, ladder, square = result.job, result.ladder, result.square
    return {
        "date": date,
        "process": job.process,
        "grade": job.grade,
        "thickness_mm": job.thickness,
        "amperage_a": job.amperage,
        "cut_with": {"kerf_mm": job.kerf, "cut_speed_mm_min": round(job.speed * 60, 3)},
        "kerf": one(None if result.kerf is None else result.kerf.kerf, "mm"),
        "hole_kerf": one(None if result.holes is None else result.holes.kerf, "mm"),
        "cut_speed_mm_min": None if ladder is None or ladder.speed is None else round(ladder.speed * 60, 3),
        "clean_mm_min": None
        if ladder is None or ladder.speed is None
        else [round(ladder.low * 60, 3), round(ladder.high * 60, 3)],
        "lean": [
            {"way": b.way, "deg": round(math.degrees(b.angle), 4), "slope_mm": round(b.slope, 4)}
            for b in result.bevels
        ],
        "table": square
        and {"x": one(square.x, "scale"), "y": one(square.y, "scale"), "skew": one(square.skew, "rad")},
        "findings": [f.code for f in result.findings],
    }


def said(result: Result, *, unit: str = "mm") -> list[str]:
    """Return the result in sentences, sizes and speeds in a unit [mm or in, mm/min or in/min], lean in [deg], the table in [mm] a metre."""
    lines = [f"Coupon for {result.job.said()}."]
    if (fit := result.kerf) is not None:
        planned = _length(result.job.kerf, unit)
        lines.append(f"Kerf {_with(fit.kerf, unit)} from {fit.kerf.count} sizes (planned with {planned}).")
    if (ladder := result.ladder) is not None and ladder.speed is not None:
        speed, low, high = (show(v, f"{unit}/min", digits=0) for v in (ladder.speed, ladder.low, ladder.high))
        lines.append(
            f"Cut speed {speed}, give or take one step of {100 * ladder.step:.0f} %; "
            f"clean from {low} to {high}. {ladder.why}"
        )
    for lean in result.bevels:
        side = "left and right" if lean.way == "across" else "near and far"
        lines.append(
            f"The {side} sides lean {math.degrees(lean.angle):+.1f} degrees, {_length(lean.slope, unit)} over the plate (+ is wider at the bottom)."
        )
    if (holes := result.holes) is not None:
        good = "none good" if holes.smallest is None else f"good from {_length(holes.smallest, unit)} on"
        lines.append(
            f"Small holes: kerf {_with(holes.kerf, unit)}, {good}, at most {_length(holes.out_of_round, unit)} out of round."
        )
    if (square := result.square) is not None:
        axes = (("X", square.x.value - 1, square.x), ("Y", square.y.value - 1, square.y))
        off = [
            f"{name} {1000 * value:+.2f} ± {1000 * (mean.spread or 0):.2f} mm"
            for name, value, mean in (*axes, ("out of square", square.skew.value, square.skew))
        ]
        lines.append(f"Table, in a metre: {', '.join(off)}.")
    return lines


def _length(value: float, unit: str) -> str:
    return show(value, unit, digits=3 if unit == "in" else 2)


def _with(mean: Mean, unit: str) -> str:
    value = _length(mean.value, unit)
    return (
        value if mean.spread is None else f"{value.removesuffix(f' {unit}')} ± {_length(mean.spread, unit)}"
    )
