"""From readings to a result, and from a result to a chart corrected in the one row it speaks of."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from platewright.errors import InputError, RefusedError
from platewright.findings import Finding, finding
from platewright.table.chart import Chart
from platewright.table.model import ChartRow
from platewright.tuning.coupons import STEP
from platewright.tuning.estimate import estimate
from platewright.tuning.kerf import bevels_of, good_holes, holes_of, kerf_of
from platewright.tuning.ladder import ladder_of
from platewright.tuning.looks import UNSURE, moves_of
from platewright.tuning.model import Change, Mean, Readings, Result
from platewright.tuning.square import square_of
from platewright.units import show

__all__ = ["SURE", "changes", "corrected", "entry", "result_of", "setting_text", "summary"]

MOST_WORDS = 1000
"""A row's note keeps at most so many letters: the newest."""
SURE = 0.3
"""A kerf whose 95 % uncertainty is more than this [mm] is told, not entered: the proof stops a job for little more."""


def result_of(readings: Readings, *, earlier: Sequence[Readings] = ()) -> Result:
    """Return all that the readings say [mm, mm/s, rad], with the findings.

    Parameters
    ----------
    readings : of the last coupon: the result speaks of its row
    earlier : coupons cut before on the same table, read with the same caliper; they help with table, caliper and speed

    Raises
    ------
    InputError
        If the kerf they give cannot be, or an earlier coupon is for another job.
    """
    coupons = (*earlier, readings)
    _same_job(coupons)
    fit = estimate(coupons, holes=[_hole_keys(c) for c in coupons])
    last = len(coupons) - 1
    kerf, new_findings = kerf_of(readings, fit, coupon=last)
    bevels, leans = bevels_of(readings)
    ladder, rungs = ladder_of(readings, earlier=earlier)
    holes, round_ = holes_of(readings, fit, coupon=last)
    squared = next((c for c in reversed(coupons) if all(c.measured.get(k) for k in "XYRL")), readings)
    square, table = square_of(squared, fit)
    result = Result(
        job=readings.sheet.job, kerf=kerf, bevels=bevels, ladder=ladder, holes=holes, square=square
    )
    moves, looked = moves_of(readings.looks, measured=_measured(result))
    findings = (*new_findings, *leans, *rungs, *round_, *table, *_rest(result), *looked)
    return replace(result, moves=moves, findings=findings)


def _measured(result: Result) -> set[str]:
    """Return the settings the readings themselves give."""
    found = set()
    if result.kerf is not None and result.kerf.kerf.known(SURE):
        found.add("kerf")
    if result.ladder is not None and result.ladder.speed is not None:
        found.add("cut_speed")
    return found


def _hole_keys(readings: Readings) -> list[str] | None:
    """Return the sizes of the good holes, or None for all where none is good."""
    good = good_holes(readings)
    return [f"{name}_{way}" for name in good for way in ("across", "up")] or None


def _same_job(coupons: Sequence[Readings]) -> None:
    jobs = {(c.sheet.job.grade, round(c.sheet.job.thickness, 2), c.sheet.job.amperage) for c in coupons}
    if len(jobs) > 1:
        raise InputError(
            f"These coupons are for different jobs: {'; '.join(c.sheet.job.text() for c in coupons)}.",
            do="Read together only coupons of one metal, thickness and amperage.",
        )


def _rest(result: Result) -> list[Finding]:
    """Return what the parts of a result say of one another, and what of them is not fit to be entered."""
    speed = None if result.ladder is None else result.ladder.speed
    kerf = None if result.kerf is None else result.kerf.kerf
    findings = []
    if kerf is not None and speed is not None and not 1 / STEP < speed / result.job.speed < STEP:
        findings.append(
            finding("U022", cut_mm_min=round(result.job.speed * 60), speed_mm_min=round(speed * 60))
        )
    means = (
        ("The kerf", kerf),
        ("The kerf of small holes", None if result.holes is None else result.holes.kerf),
    )
    findings += [
        finding("U024", subject=name, value_mm=round(mean.value, 2), spread_mm=round(mean.spread, 2))
        for name, mean in means
        if mean is not None and mean.spread is not None and mean.spread > SURE
    ]
    there = (("The kerf", kerf is not None and kerf.known(SURE)), ("A clean speed", speed is not None))
    return findings + [finding("U023", missing=name) for name, known in there if not known]


def corrected(chart: Chart, result: Result, *, note: str = "") -> Chart:
    """Return the chart with the row of the result's job set to what was measured [mm, mm/s]; all other rows stay.

    Only what was measured, or moved by a look, changes: kerf, speed, edge slope, hole kerf, smallest hole. The row counts as measured once
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
    changed = changes(result, row)
    if not changed:
        return chart
    new: dict[str, Any] = {c.setting: c.after for c in changed}
    measured = {"kerf", "cut_speed"} <= _measured(result)
    was = f"was ({'computed' if row.starting_point else 'measured'}) {_was(row, new)}"
    words = "; ".join(w for w in (note, was, _sure(changed), row.note) if w)
    return chart.with_rows(
        [replace(row, **new, starting_point=row.starting_point and not measured, note=words[:MOST_WORDS])]
    )


def changes(result: Result, row: ChartRow) -> tuple[Change, ...]:
    """Return what of a chart row changes [mm, mm/s, -], with why and how sure; holes get a kerf of their own only where it is surely another."""
    found: list[Change] = []

    def to(setting: str, after: float, spread: float | None, why: str) -> None:
        if after != getattr(row, setting):
            found.append(Change(setting, getattr(row, setting), after, spread, why))

    kerf = Mean(row.kerf, 0.0, 0)
    if result.kerf is not None and result.kerf.kerf.known(SURE):
        kerf = result.kerf.kerf
        to("kerf", round(kerf.value, 3), kerf.spread, f"measured on {kerf.count} sizes")
    if result.ladder is not None and result.ladder.speed is not None:
        speed = round(result.ladder.speed * 60) / 60
        to("cut_speed", speed, speed * result.ladder.spread, result.ladder.why)
    if result.bevels:
        most = max(result.bevels, key=lambda b: b.slope)
        to("edge_slope", round(most.slope, 3), most.spread, "bottom less top width, halved")
    if result.holes is not None and result.holes.kerf.known(SURE):
        own = result.holes.kerf
        same = abs(own.value - kerf.value) <= math.hypot(own.spread or 0.0, kerf.spread or 0.0)
        why = "holes have the kerf of the plate" if same else f"measured on {own.count} widths of holes"
        to("kerf_hole", 0.0 if same else round(own.value, 3), own.spread, why)
        if result.holes.smallest is not None:
            to(
                "smallest_hole",
                result.holes.smallest,
                None,
                "from here on holes keep class 2 of ISO 9013:2017",
            )
    for move in result.moves:
        value = getattr(row, move.setting)
        to(move.setting, round(value * (1 + move.share), 3), UNSURE * value, f"{move.why} (common practice)")
    return tuple(found)


_UNIT = {"cut_speed": ("mm/min", 60.0, 0), "hole_speed_factor": ("", 1.0, 2)}
"""Unit a setting is said in, its factor from house units, digits; [mm] to the hundredth where it does not stand here."""


def setting_text(setting: str, value: float) -> str:
    """Return a setting's value [mm, mm/s, -] in words."""
    if setting == "kerf_hole" and not value:
        return "as the plate's"
    unit, factor, digits = _UNIT.get(setting, ("mm", 1.0, 2))
    return f"{value * factor:.{digits}f} {unit}".strip()


def _was(row: ChartRow, names: Iterable[str]) -> str:
    """Return what the row said before, in words [mm, mm/min]."""
    values = {name: f"{name.replace('_', ' ')} {setting_text(name, getattr(row, name))}" for name in names}
    if "kerf_hole" in values and not row.kerf_hole:
        values["kerf_hole"] = "holes with the kerf"
    return ", ".join(values.values())


def _sure(found: Iterable[Change]) -> str:
    """Return how sure the new settings are, in words [mm, mm/min]."""
    known = [
        f"{c.setting.replace('_', ' ')} {setting_text(c.setting, c.after)} ± {setting_text(c.setting, c.spread)}"
        for c in found
        if c.spread is not None and c.after
    ]
    return f"now (95 %) {', '.join(known)}" if known else ""


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
        "cut_speed_uncertainty_95": None
        if ladder is None or ladder.speed is None
        else round(ladder.spread, 4),
        "clean_mm_min": None
        if ladder is None or ladder.speed is None
        else [round(ladder.low * 60, 3), round(ladder.high * 60, 3)],
        "lean": [
            {"way": b.way, "deg": round(math.degrees(b.angle), 4), "slope_mm": round(b.slope, 4)}
            for b in result.bevels
        ],
        "table": square
        and {"x": one(square.x, "scale"), "y": one(square.y, "scale"), "skew": one(square.skew, "rad")},
        "moves": [{"setting": m.setting, "share": m.share, "why": m.why} for m in result.moves],
        "findings": [f.code for f in result.findings],
    }


def summary(result: Result, *, unit: str = "mm") -> list[str]:
    """Return the result in sentences, sizes and speeds in a unit [mm or in, mm/min or in/min], lean in [deg], the table in [mm] a metre."""
    lines = [f"Coupon for {result.job.text()}."]
    if (fit := result.kerf) is not None:
        planned = _length(result.job.kerf, unit)
        lines.append(f"Kerf {_with(fit.kerf, unit)} from {fit.kerf.count} sizes (planned with {planned}).")
    if (ladder := result.ladder) is not None and ladder.speed is not None:
        speed, low, high = (show(v, f"{unit}/min", digits=0) for v in (ladder.speed, ladder.low, ladder.high))
        lines.append(
            f"Cut speed {speed} ± {100 * ladder.spread:.0f} %; clean from {low} to {high}. {ladder.why}"
        )
    for lean in result.bevels:
        side = "left and right" if lean.way == "across" else "near and far"
        lines.append(
            f"The {side} sides lean {math.degrees(lean.angle):+.1f} degrees, {_length(lean.slope, unit)} ± {_length(lean.spread, unit)} over the plate{' (+ is wider at the bottom)' if lean.sure else ': square as far as a caliper tells'}."
        )
    if (holes := result.holes) is not None:
        good = "none good" if holes.smallest is None else f"good from {_length(holes.smallest, unit)} on"
        lines.append(
            f"Small holes: kerf {_with(holes.kerf, unit)}, {good}, at most {_length(holes.out_of_round, unit)} out of round."
        )
    lines += [f"{m.setting.replace('_', ' ').capitalize()}: {m.why} (common practice)." for m in result.moves]
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
