"""Kerf, hole kerf, scale and skew of the table from every reading at once, by least squares, with their covariance.

Model
-----
A program point (u, v) lands at ``(x u + k y v, y v)``: x and y the scales of the axes, k the skew, tan of the angle by which
the table's Y leans over towards X. The torch takes the kerf K (K' in small holes) beside that path, which was set off by K0.
A caliper's outside jaws read b too much, its inside jaws b'. So a size asked for with A reads

    outside, across:  x (A + K0) - K + b        (up: y; of a ring the mean of two ways square to one another: the mean of x and y)
    inside, across:   x (A - K0) + K + b'
    small hole:       x (A - K0) + K' + b'
    big square:       p = x (A + K0) - K,  q = y (A + K0) - K along the leaning axis, diagonals sqrt(p² + q² ± 2 p q k);
                      each + b if a caliper reads them

Several coupons share table and caliper; each has kerfs of its own, for kerf changes with speed. What is known beforehand enters as
readings of the unknown itself: a caliper's zero, and loosely scale and kerf, so that a coupon half measured is not singular.

A size's mean is off for two reasons: its readings scatter, the less the more there are, and the size has a fault of its own (dross
left on, a nick), which repeats share. How much a size is off is estimated from the residuals, and how much of that is scatter from
its repeats: by that share a size read oftener counts for more. A tape's scatter is taken as known (four readings are too few to judge it). The 95 % uncertainty is Student's t
with the effective degrees of freedom of Welch and Satterthwaite (JCGM 100:2008 "GUM", G.4, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from platewright.geometry import Floats
from platewright.tuning.model import Mean, Readings, Size

__all__ = ["CALIPER", "TAPE", "ZERO", "Estimate", "estimate", "student"]

CALIPER = 0.05
"""A size of a cut edge read with a caliper is off by about this, one standard deviation [mm] (common practice); the residuals correct it."""
ZERO = 0.02
"""A caliper's own zero, outside or inside jaws, one standard deviation [mm]: it divides 0.02 to 0.05 mm (common practice)."""
TAPE = 0.5
"""95 % uncertainty of a good steel tape read by eye [mm] (common practice)."""
LOOSE_SCALE, LOOSE_KERF = 0.01, 10.0
"""What is known of scale and skew [-] and of a kerf to be measured [mm] beforehand, one standard deviation: as good as nothing."""
PLANNED_KERF = 0.25
"""How far a kerf that no size speaks of may be from the one planned with, one standard deviation [mm] (the starter chart's own)."""
QUIET = 0.1
"""Scatter is not believed below this share of `CALIPER` [-]."""
REPEATS = 10
"""The scatter of readings is told by this many repeats or more [-]; with fewer each size counts the same, however often it was read."""
SAME_SPEED = 0.02
"""Coupons cut at speeds this close share their kerfs [-]."""


def student(degrees: float) -> float:
    """Return Student's t for 95 % both sides [-] at degrees of freedom [-]."""
    from scipy.special import stdtrit

    return float(stdtrit(degrees, 0.975)) if degrees < 1e6 else 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What all readings together say.

    Attributes
    ----------
    names : of the unknowns: ``kerf 0``, ``hole kerf 0``, ... by coupon, ``x``, ``y``, ``skew``, ``outside zero``, ``inside zero``
    values : of them [mm, -]
    covariance : of them [mm², mm, -]
    spreads : 95 % uncertainty of each [mm, -], None where the scatter could not be judged
    kerf_of : for each coupon, which kerfs are its own (coupons of one speed share them) [-]
    scatter : of a size read with a caliper, one standard deviation [mm]
    counts : sizes that speak of each unknown [-]
    """

    names: tuple[str, ...]
    values: Floats
    covariance: Floats
    spreads: tuple[float | None, ...]
    kerf_of: tuple[int, ...]
    scatter: float
    counts: Mapping[str, int]

    def mean(self, name: str, *, coupon: int | None = None) -> Mean:
        """Return one unknown [mm, -] with its uncertainty; a kerf by its coupon [-]."""
        key = name if coupon is None else f"{name} {self.kerf_of[coupon]}"
        at = self.names.index(key)
        return Mean(float(self.values[at]), self.spreads[at], self.counts.get(key, 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One size read, or a few taken together: the coupon, the mean [mm], how many sizes, readings of each, the squares of their repeats [mm²] and how many of these are free, and how many widths it tells."""

    coupon: int
    size: Size
    value: float
    sizes: int
    readings: float
    squares: float
    free: int
    by_tape: bool
    count: int

    def deviation(self, fault: float, usual: float) -> float:
        """Return the standard deviation it is weighed by [mm] before the residuals correct it.

        Parameters
        ----------
        fault : share of a usual size's variance that is its own fault, not scatter [-]
        usual : readings of a usual size [-]
        """
        if self.by_tape:
            return TAPE / 1.959964
        return CALIPER * math.sqrt((fault + (1 - fault) * usual / self.readings) / self.sizes)


def _stem(size: Size) -> tuple[str, str]:
    """Return what is taken together with a size: top and bottom of one width, and the two ways across a ring, however it was turned."""
    if size.edge:
        return size.key.removesuffix(f"_{size.edge}"), ""
    return ("", size.kind) if not size.way and size.kind != "diagonal" else (size.key, "")


def _rows(number: int, readings: Readings, holes: Iterable[str] | None) -> list[_Row]:
    """Return every size read on a coupon [mm]."""
    wanted = None if holes is None else set(holes)
    groups: dict[tuple[str, str], list[tuple[Size, Floats]]] = {}
    for size in sorted(readings.sheet.sizes, key=lambda z: z.key):
        got = sorted(readings.measured.get(size.key, ()))
        if got and not (size.kind == "hole" and wanted is not None and size.key not in wanted):
            groups.setdefault(_stem(size), []).append((size, np.array(got)))
    found = []
    for group in groups.values():
        size, every = group[0][0], [got for _, got in group]
        counts = [len(got) for got in every]
        found.append(
            _Row(
                coupon=number, size=size, value=float(np.mean([float(got.mean()) for got in every])), sizes=len(every), readings=len(every) / sum(1 / n for n in counts),
                squares=float(sum(float(((got - got.mean()) ** 2).sum()) for got in every)), free=sum(counts) - len(counts),
                by_tape=size.kind in ("square", "diagonal") and readings.square_by == "tape", count=1 if size.edge else len(group),
            )
        )  # fmt: skip
    return found


def _by_scatter(rows: Sequence[_Row], usual: float) -> float | None:
    """Return the standard deviation a usual size's mean has by the scatter of readings alone [mm]; None where repeats are too few to tell."""
    mine = [r for r in rows if not r.by_tape]
    free = sum(r.free for r in mine)
    return math.sqrt(sum(r.squares for r in mine) / free / usual) if free >= REPEATS else None


def _shared(coupons: Sequence[Readings]) -> tuple[int, ...]:
    """Return which kerf each coupon has [-]: the first coupon of a speed [mm/s] gives it its number."""
    speeds = [c.sheet.job.speed for c in coupons]
    return tuple(
        next(k for k, other in enumerate(speeds) if abs(other / speed - 1) < SAME_SPEED) for speed in speeds
    )


def _predicted(row: _Row, at: Mapping[str, float], kerf_of: Sequence[int]) -> float:
    """Return what a size should read [mm] with the unknowns given [mm, -]."""
    size, own = row.size, kerf_of[row.coupon]
    kerf = at[f"hole kerf {own}" if size.kind == "hole" else f"kerf {own}"]
    x, y, k = at["x"], at["y"], at["skew"]
    scale = {"across": x, "up": y}.get(size.way, (x + y) / 2)
    if size.kind in ("inside", "hole"):
        return scale * (size.nominal - size.kerf) + kerf + at["inside zero"]
    zero = 0.0 if row.by_tape else at["outside zero"]
    if size.kind == "diagonal":
        side = size.nominal / math.sqrt(2) + size.kerf
        p, q = x * side - kerf, y * side - kerf * math.sqrt(1 + k * k)
        cross = 2 * p * q * k
        return zero + math.sqrt(p * p + q * q * (1 + k * k) + (cross if size.key == "R" else -cross))
    lean = math.sqrt(1 + k * k) if size.kind == "square" and size.way == "across" else 1.0
    return scale * (size.nominal + size.kerf) - kerf * lean + zero


def estimate(
    coupons: Sequence[Readings],
    *,
    holes: Sequence[Iterable[str] | None] = (),
    kerf: float | None = None,
) -> Estimate:
    """Fit every unknown to the readings of one or more coupons [mm].

    Parameters
    ----------
    coupons : cut on one table and read with one caliper, in the order they were cut
    holes : for each coupon the keys of the holes to go by; None takes all
    kerf : known from elsewhere [mm]; None has it measured
    """
    from scipy.optimize import least_squares

    kerf_of = _shared(coupons)
    chosen = (*holes, *[None] * (len(coupons) - len(holes)))
    rows = [r for n, (c, keys) in enumerate(zip(coupons, chosen, strict=True)) for r in _rows(n, c, keys)]
    own = sorted(set(kerf_of))
    names = (
        *(f"{kind} {n}" for n in own for kind in ("kerf", "hole kerf")),
        *("x", "y", "skew", "outside zero", "inside zero"),
    )
    planned = {n: coupons[n].sheet.job.kerf if kerf is None else kerf for n in own}
    start = np.array([planned[int(n.split()[-1])] if "kerf" in n else float(n in "xy") for n in names])
    squared = {r.size.key for r in rows if r.size.kind in ("square", "diagonal")} == {"X", "Y", "R", "L"}
    loose = math.inf if squared else LOOSE_SCALE
    counts = _counts(rows, kerf_of)
    unsaid = PLANNED_KERF if kerf is None else 1e-6
    known = np.array(
        [
            (LOOSE_KERF if n in counts else unsaid) if "kerf" in n else ZERO if "zero" in n else loose
            for n in names
        ]
    )
    value = np.array([r.value for r in rows])
    tape = np.array([r.by_tape for r in rows], dtype=bool)
    usual = float(np.median([r.readings for r in rows if not r.by_tape] or [1.0]))
    noise, fault, scatter = _by_scatter(rows, usual), 1.0, 1.0
    for _ in range(5):
        weigh = np.array([r.deviation(fault, usual) * (1.0 if r.by_tape else scatter) for r in rows])

        def residuals(unknown: Floats, weigh: Floats = weigh) -> Floats:
            at = dict(zip(names, unknown.tolist(), strict=True))
            predicted = np.array([_predicted(r, at, kerf_of) for r in rows])
            return np.concatenate([(predicted - value) / weigh, (unknown - start) / known])

        fit = least_squares(
            residuals, start, jac="3-point", x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14
        )
        jacobian = np.asarray(fit.jac)
        covariance = np.linalg.inv(jacobian.T @ jacobian)
        hat = np.einsum("ij,jk,ik->i", jacobian, covariance, jacobian)[: len(rows)]
        free = float((1 - hat[~tape]).sum())
        rest = fit.fun[: len(rows)][~tape] * scatter
        if free < 0.5:
            break
        scatter = max(QUIET, math.sqrt(float(rest @ rest) / free))
        if noise is not None:
            fault = max(0.0, 1.0 - (noise / (scatter * CALIPER)) ** 2)
    gain = covariance @ jacobian.T
    guessed = (gain[:, : len(rows)][:, ~tape] ** 2).sum(axis=1)
    spreads = tuple(_spread(float(covariance[n, n]), float(guessed[n]), free) for n in range(len(names)))
    return Estimate(
        names=names, values=np.asarray(fit.x), covariance=covariance, spreads=spreads, kerf_of=kerf_of,
        scatter=scatter * CALIPER, counts=counts,
    )  # fmt: skip


def _spread(variance: float, guessed: float, free: float) -> float | None:
    """Return the 95 % uncertainty of a variance of which a part is guessed from residuals with so many degrees of freedom [-]."""
    if guessed < 1e-9 * variance:
        return 1.959964 * math.sqrt(variance)
    if free < 0.5:
        return None
    return student(free * (variance / guessed) ** 2) * math.sqrt(variance)


def _counts(rows: Sequence[_Row], kerf_of: Sequence[int]) -> dict[str, int]:
    """Return how many widths speak of each kerf and of the table [-]."""
    counts: dict[str, int] = {}
    for row in rows:
        kind = row.size.kind
        if kind in ("square", "diagonal"):
            names = ["x", "y", "skew"]
        else:
            names = [f"{'hole kerf' if kind == 'hole' else 'kerf'} {kerf_of[row.coupon]}"]
        for name in names:
            counts[name] = counts.get(name, 0) + row.count
    return counts
