"""Consumables: what a set has done, and whether the kerf drifts with it.

A set is counted by its pierces and arc time from when it was fitted; a new set starts at nothing and resets the drift. Kerfs
measured at different counts of one set give a straight line over arc time by least squares; its slope is a
drift only where it is surely not nothing (95 %), else it is noise and said to be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.findings import Finding, finding
from platewright.table.model import Consumables
from platewright.tuning.estimate import student
from platewright.tuning.model import Mean

__all__ = ["Drift", "Wear", "drift_of", "worn"]

HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Wear:
    """What a set of consumables has done: pierces [-], arc time [s]."""

    pierces: int = 0
    arc_seconds: float = 0.0

    def share(self, life: Consumables | None) -> float | None:
        """Return how much of its life is gone [-], None where the table's profile names no life."""
        if life is None:
            return None
        return max(self.pierces / life.pierces, self.arc_seconds / life.arc_seconds)


@dataclass(frozen=True, slots=True)
class Drift:
    """How the kerf goes with one set: growth an hour of arc [mm], kerf of the new set [mm], and whether the growth is sure."""

    per_hour: Mean
    new: float
    sure: bool

    def kerf(self, wear: Wear) -> float:
        """Return the kerf to plan with now [mm]."""
        return self.new + (self.per_hour.value * wear.arc_seconds / HOUR if self.sure else 0.0)


def drift_of(points: Sequence[tuple[Wear, Mean]]) -> Drift | None:
    """Return the drift of the kerf over one set's arc time, None from fewer than two measurements.

    Parameters
    ----------
    points : what the set had done, and the kerf measured then [mm], each known to its own 95 %
    """
    hours = np.array([w.arc_seconds / HOUR for w, _ in points])
    if len(points) < 2 or float(np.ptp(hours)) < 1e-3:
        return None
    kerf = np.array([m.value for _, m in points])
    weight = 1 / np.array([(m.spread or 0.3) / 1.96 for _, m in points])
    design = np.column_stack([np.ones(len(points)), hours])
    covariance = np.linalg.inv((design * weight[:, None] ** 2).T @ design)
    new, slope = covariance @ (design * weight[:, None] ** 2).T @ kerf
    rest = (kerf - design @ (new, slope)) * weight
    free = len(points) - 2
    # scatter beyond what each measurement states of itself counts too, but never for less
    birge = max(1.0, float(rest @ rest) / free) if free else 1.0
    spread = (student(free) if free and birge > 1 else 1.96) * math.sqrt(float(covariance[1, 1]) * birge)
    return Drift(Mean(float(slope), spread, len(points)), float(new), abs(float(slope)) > spread)


def worn(wear: Wear, life: Consumables | None, drift: Drift | None = None) -> list[Finding]:
    """Return what is to be told of a set of consumables [mm, -]."""
    findings = []
    share = wear.share(life)
    if share is not None and share >= 1:
        minutes = round(wear.arc_seconds / 60)
        findings.append(finding("U029", pierces=wear.pierces, minutes=minutes, percent=round(100 * share)))
    if drift is not None and drift.sure and drift.per_hour.spread is not None:
        findings.append(
            finding(
                "U028", rate_mm=round(drift.per_hour.value, 2), spread_mm=round(drift.per_hour.spread, 2),
                kerf_mm=round(drift.kerf(wear), 2), new_mm=round(drift.new, 2),
            )
        )  # fmt: skip
    return findings
