"""Kerf, lean of the edges and small holes from what a caliper says of the coupon.

Method
------
Kerf and hole kerf come from all readings at once (`estimate`). By themselves, a piece asked for with width A and set off by
K0 says ``K = K0 + (A - M)``, an opening ``K = K0 + (M - A)``; a table that runs long by a share e, or a caliper that reads
long, shifts the two by opposite amounts (e A), so that their difference shows it.

Lean: with the bottom width less the top width d, each of the two sides leans atan(d / 2t) on the mean and lies d/2 out
of square. ISO 9013:2017 measures u the same way but leaves out a zone at both edges, so d/2 is a fair stand-in, not the
standard's measurement. Widths cannot see a torch that leans: one side in, the other out by as much.

What a lean usually comes from is common practice of plasma cutting, no standard.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.table.energy import starter_kerf
from platewright.table.iso9013 import limit_deviation, u_range
from platewright.tuning.estimate import CALIPER, Estimate, student
from platewright.tuning.model import Bevel, HoleFit, Job, KerfFit, Mean, Readings, Size

__all__ = ["FLOOR", "bevels_of", "good_holes", "holes_of", "kerf_of", "mean_of"]

FLOOR = 0.03
"""No uncertainty is told smaller than this [mm]: a shop caliper divides 0.02 to 0.05 mm (common practice)."""
AGREE = 0.1
"""Outside and inside kerfs this close agree whatever the scatter [mm]."""
APART = 0.3
"""Readings of one size that lie further apart are named [mm]."""
PLAUSIBLE = (0.4, 2.5)
"""A kerf outside these shares of what the tip should cut is a slip of measuring, not a kerf [-]."""
FAR = 0.25
"""A kerf further than this share from the one planned with is named [-]."""


def mean_of(values: Sequence[float]) -> Mean:
    """Return mean and 95 % uncertainty of values [mm]."""
    count = len(values)
    if count < 2:
        return Mean(float(values[0]), None, count)
    error = float(np.std(values, ddof=1)) / math.sqrt(count)
    return Mean(float(np.mean(values)), max(FLOOR, student(count - 1) * error), count)


def _mean(readings: Readings, size: Size) -> float | None:
    got = readings.measured.get(size.key)
    return float(np.mean(got)) if got else None


def _widths(readings: Readings, kind: str) -> Iterator[tuple[Size, float]]:
    """Yield each width of a kind with its mean reading [mm]; top and bottom of one width are taken together."""
    groups: dict[tuple[str, str], list[tuple[Size, float]]] = {}
    for size in readings.sheet.sizes:
        if size.kind == kind and (value := _mean(readings, size)) is not None:
            stem = size.key.removesuffix(f"_{size.edge}") if size.edge else size.key
            groups.setdefault((kind, stem), []).append((size, value))
    for group in groups.values():
        yield group[0][0], float(np.mean([v for _, v in group]))


def _kerf(size: Size, value: float) -> float:
    """Return the kerf [mm] a width says, by the formulas above."""
    return size.kerf + (size.nominal - value if size.kind == "outside" else value - size.nominal)


def kerf_of(readings: Readings, fit: Estimate, *, coupon: int = 0) -> tuple[KerfFit | None, list[Finding]]:
    """Return the kerf [mm] with its uncertainty, None if no width was measured, and what is odd about it.

    Parameters
    ----------
    readings : of the coupon
    fit : of all readings [mm]
    coupon : which of the fit's coupons this is [-]

    Raises
    ------
    InputError
        If the kerf cannot be one a tip of this amperage cuts.
    """
    outside = [_kerf(*pair) for pair in _widths(readings, "outside")]
    inside = [_kerf(*pair) for pair in _widths(readings, "inside")]
    if not outside and not inside:
        return None, []
    allowed = AGREE
    groups = [np.array(g) for g in (outside, inside) if g]
    if free := sum(len(g) - 1 for g in groups):
        scatter = math.sqrt(sum(float(((g - g.mean()) ** 2).sum()) for g in groups) / free)
        allowed = max(AGREE, student(free) * scatter * math.sqrt(sum(1 / len(g) for g in groups)))
    found = KerfFit(
        fit.mean("kerf", coupon=coupon),
        mean_of(outside) if outside else None,
        mean_of(inside) if inside else None,
    )
    _plausible(readings.sheet.job, found.kerf.value)
    return found, [
        *_kerf_findings(readings.sheet.job, found, allowed),
        *_ways(readings),
        *_scatter(readings),
    ]


def _plausible(job: Job, kerf: float) -> None:
    usual = starter_kerf(job.amperage, job.thickness) if job.amperage else job.kerf
    low, high = (share * usual for share in PLAUSIBLE)
    if not low <= kerf <= high:
        tip = f"a {job.amperage:g} A tip" if job.amperage else "this flame"
        raise InputError(
            f"The readings say the kerf is {kerf:.2f} mm, which {tip} does not cut in {job.thickness:g} mm plate.",
            allowed=f"{low:.2f} to {high:.2f} mm",
            do="File off the dross and measure again; check that each reading stands beside its own letter, and that the tip is the one for this amperage.",
        )


def _kerf_findings(job: Job, fit: KerfFit, allowed: float) -> Iterator[Finding]:
    out, inn = fit.outside, fit.inside
    if out and inn and abs(out.value - inn.value) > allowed:
        yield finding("U001", outside_mm=out.value, inside_mm=inn.value, allowed_mm=allowed)
    if abs(fit.kerf.value - job.kerf) > FAR * job.kerf:
        yield finding("U002", kerf_mm=fit.kerf.value, planned_mm=job.kerf)
    if fit.kerf.spread is None:
        yield finding("U003", subject="the kerf")


def _ways(readings: Readings) -> Iterator[Finding]:
    """Yield a finding if the frame came out longer one way than the other [mm]."""
    by_way = {size.way: _kerf(size, value) for size, value in _widths(readings, "outside") if size.way}
    if len(by_way) == 2 and abs(by_way["across"] - by_way["up"]) > 2 * AGREE:
        yield finding("U004", across_mm=by_way["across"], up_mm=by_way["up"])


def _scatter(readings: Readings) -> Iterator[Finding]:
    for size in readings.sheet.sizes:
        got = readings.measured.get(size.key, ())
        if got and max(got) - min(got) > APART and size.kind not in ("square", "diagonal"):
            yield finding("U005", subject=f"{size.key} ({size.what})", apart_mm=max(got) - min(got))


def bevels_of(readings: Readings) -> tuple[tuple[Bevel, ...], list[Finding]]:
    """Return how the frame's sides lean [rad, mm], each way by itself, and what it usually comes from where a caliper tells it from square."""
    thickness, found, findings = readings.sheet.job.thickness, [], []
    sizes = [s for s in readings.sheet.sizes if s.edge]
    for way in dict.fromkeys(s.way for s in sizes):
        face = {s.edge: _mean(readings, s) for s in sizes if s.way == way}
        top, bottom = face.get("top"), face.get("bottom")
        if top is None or bottom is None:
            continue
        read = [len(readings.measured[s.key]) for s in sizes if s.way == way]
        sure = 1.96 * CALIPER / 2 * math.sqrt(sum(1 / n for n in read))
        lean = Bevel(way, math.atan((bottom - top) / (2 * thickness)), abs(bottom - top) / 2, sure)
        found.append(lean)
        if not lean.sure:
            continue  # nothing to find a cause for
        got = u_range(lean.slope, thickness)
        findings.append(
            finding(
                "U006" if bottom >= top else "U007", subject="left and right" if way == "across" else "near and far",
                severity="look" if got is None or got > 3 else "note", angle_deg=round(math.degrees(abs(lean.angle)), 1), slope_mm=round(lean.slope, 2),
                range=f"range {got}" if got else "outside ranges 1 to 5",
            )
        )  # fmt: skip
    if len(found) == 2 and abs(found[0].angle - found[1].angle) > math.radians(1.5):
        findings.append(
            finding("U008", apart_deg=round(math.degrees(abs(found[0].angle - found[1].angle)), 1))
        )
    return tuple(found), findings


def _holes(readings: Readings) -> dict[str, list[tuple[Size, float]]]:
    """Return the diameters read of each small hole [mm], by its name."""
    holes: dict[str, list[tuple[Size, float]]] = {}
    for size in readings.sheet.sizes:
        if size.kind == "hole" and (value := _mean(readings, size)) is not None:
            holes.setdefault(size.key.rsplit("_", 1)[0], []).append((size, value))
    return holes


def good_holes(readings: Readings) -> list[str]:
    """Return the names of the good holes, largest first.

    A hole is good if, with the kerf set right, both its diameters keep within the limit deviation of class 2 of ISO 9013:2017
    [mm], and every larger one is good too.
    """
    holes = _holes(readings)
    if not holes:
        return []
    middle = float(np.median([float(np.mean([v - s.nominal for s, v in pair])) for pair in holes.values()]))
    good: list[str] = []
    for key in sorted(holes, key=lambda k: -holes[k][0][0].nominal):
        limit = limit_deviation(2, thickness=readings.sheet.job.thickness, nominal=holes[key][0][0].nominal)
        if limit is None or any(abs(v - s.nominal - middle) > limit for s, v in holes[key]):
            break
        good.append(key)
    return good


def holes_of(readings: Readings, fit: Estimate, *, coupon: int = 0) -> tuple[HoleFit | None, list[Finding]]:
    """Return the kerf of small holes [mm], from which size on they are good, and how far out of round they are.

    Parameters
    ----------
    readings : of the coupon
    fit : of all readings, its holes the good ones [mm]
    coupon : which of the fit's coupons this is [-]

    Raises
    ------
    InputError
        If the kerf cannot be one a tip of this amperage cuts.
    """
    holes = _holes(readings)
    if not holes:
        return None, []
    good = good_holes(readings)
    kerf = fit.mean("hole kerf", coupon=coupon)
    _plausible(readings.sheet.job, kerf.value)
    nominal = [holes[k][0][0].nominal for k in holes]
    found = HoleFit(
        kerf,
        _tilt(nominal, [float(np.mean([v - s.nominal for s, v in pair])) for pair in holes.values()]),
        holes[good[-1]][0][0].nominal if good else None,
        max(max(v for _, v in pair) - min(v for _, v in pair) for pair in holes.values()),
    )
    return found, list(_hole_findings(found, nominal))


def _tilt(nominal: Sequence[float], errors: Sequence[float]) -> Mean:
    """Return the slope of error over size [-] by least squares, with its 95 % uncertainty from three sizes on."""
    if len(nominal) < 3:
        return Mean(0.0, None, len(nominal))
    x, y = np.array(nominal), np.array(errors)
    away = x - x.mean()
    slope = float(away @ y / (away @ away))
    rest = y - y.mean() - slope * away
    error = math.sqrt(float(rest @ rest) / (len(x) - 2) / float(away @ away))
    return Mean(slope, student(len(x) - 2) * error, len(x))


def _hole_findings(fit: HoleFit, nominal: Sequence[float]) -> Iterator[Finding]:
    change = fit.tilt.value * (max(nominal) - min(nominal))
    if fit.tilt.spread is not None and abs(fit.tilt.value) > fit.tilt.spread and abs(change) > 2 * AGREE:
        yield finding("U009", change_mm=change, low_mm=min(nominal), high_mm=max(nominal))
    if fit.smallest is None:
        yield finding("U010", high_mm=max(nominal))
    elif fit.smallest > min(nominal):
        yield finding("U011", least_mm=fit.smallest)
    if fit.out_of_round > APART:
        yield finding("U012", round_mm=fit.out_of_round)
