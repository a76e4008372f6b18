"""What the big square says of the table, in the shop's words: its scales and skew come from all readings at once (`estimate`)."""

from __future__ import annotations

import math

from platewright.findings import Finding, finding
from platewright.tuning.estimate import CALIPER, TAPE, Estimate
from platewright.tuning.model import Mean, Readings, SquareFit

__all__ = ["square_of"]

KEYS = ("X", "Y", "R", "L")


def square_of(readings: Readings, fit: Estimate) -> tuple[SquareFit | None, list[Finding]]:
    """Return the table's scales [-] and skew [rad], None unless all four sizes were read, and what to do about them.

    Parameters
    ----------
    readings : with X, Y, R and L [mm]
    fit : of all readings [mm]
    """
    import numpy as np

    if not all(readings.measured.get(key) for key in KEYS):
        return None, []
    sizes = {s.key: s for s in readings.sheet.sizes}
    x, y, r, left = (float(np.mean(readings.measured[key])) for key in KEYS)
    # sides and diagonals of any parallelogram: R² + L² = 2 (p² + q²); half of what is left over, on one reading
    lean = math.cos(math.atan(fit.mean("skew").value))
    misfit = abs(math.hypot(r, left) - math.sqrt(2) * math.hypot(x, y / lean)) / 2
    skew = fit.mean("skew")
    found = SquareFit(
        fit.mean("x"), fit.mean("y"), Mean(math.atan(skew.value), skew.spread, skew.count), misfit
    )
    return found, _findings(found, sizes["X"].nominal, TAPE if readings.square_by == "tape" else 4 * CALIPER)


def _findings(fit: SquareFit, side: float, allowed: float) -> list[Finding]:
    findings = []
    if fit.misfit > allowed:
        findings.append(finding("U018", misfit_mm=fit.misfit))
    for name, scale in (("X", fit.x), ("Y", fit.y)):
        if scale.spread is not None and abs(scale.value - 1) > scale.spread:
            findings.append(
                finding(
                    "U019", subject=name, off_mm=round(1000 * abs(scale.value - 1), 2), factor=f"{1 / scale.value:.5f}",
                    way="long" if scale.value > 1 else "short", spread_mm=round(1000 * scale.spread, 2),
                )
            )  # fmt: skip
    if fit.skew.spread is not None and abs(fit.skew.value) > fit.skew.spread:
        way = "towards" if fit.skew.value > 0 else "away from"
        findings.append(
            finding(
                "U020",
                off_mm=round(1000 * math.tan(abs(fit.skew.value)), 2),
                way=way,
                angle_deg=round(math.degrees(abs(fit.skew.value)), 2),
            )
        )
    return findings or [finding("U021", side_mm=side)]
