"""Noise that changes slowly along an outline: frayed board, an unsteady hand, a camera's compression.

Such wobble is smooth from sample to sample and looks like shape. But it has no scale of its own: the finer
one looks, the more edges it asks for, while a shape asks for the same edges over a range of finenesses. So
cuts are made at noise levels doubling from the finest, and the first is taken from which one more
doubling changes (nearly) nothing. Wobble counts as noise only if it hangs together over less than
`LONGEST_WOBBLE`, or over less than `DRIFT` if several doublings leave the same edges; what changes more slowly is
shape. Where a doubling makes the misfit leap, an edge of the shape itself was lost, and the search ends.

Cost: at most twelve dynamic programmes, and only if long runs of samples are noisier than short ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.fit.edges.kernels import misfits
from platewright.fit.edges.segment import Cut, Price, cut_closed, residuals
from platewright.fit.prepare import LEAST_NOISE, noise_of, steps_of
from platewright.geometry.contour import Floats

__all__ = ["Noise", "wobble"]

LONGEST_WOBBLE = 8.0
"""Longest stretch of outline over which noise may be correlated [mm] if one doubling confirms it."""

DRIFT = 24.0
"""The same if `LASTING` doublings in a row change nothing [mm]: a hand's slow drift."""

LOST = 2.4
"""Misfit that grows by more than this where the noise level doubles is shape lost, not wobble ironed out [-]."""

LASTING = 3
"""Doublings over which a shape's edges stay the same, if its noise is slow [-]."""

MOST = 0.6
"""Largest noise sd that is tried [mm]."""

RUNGS = 12
"""Noise levels tried [-]."""


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise of an outline: sd [mm] and stretch, the samples that carry the news of one [-]."""

    sd: float
    stretch: float


def suspected(points: Floats) -> bool:
    """Tell whether long runs of samples [mm] are noisier than short ones; corners may raise a false alarm."""
    n = len(points)
    short = noise_of(points)
    spacing = float(np.median(steps_of(points)))
    for reach in (10.0, 20.0, 30.0):
        run = max(20, round(reach / spacing))
        if n < 3 * run:
            break
        starts = np.arange(0, n, max(1, run // 20))
        long = misfits(points, starts, starts + run)[:, 1]
        if math.sqrt(float(np.quantile(long, 0.1)) / (run - 3)) > 1.5 * short:
            return True
    return False


def _residuals(points: Floats, cut: Cut) -> Floats:
    n, count = len(points), len(cut.starts)
    out = np.zeros(n)
    for k in range(count):
        stop = cut.starts[k + 1] if k + 1 < count else cut.starts[0] + n
        span = np.arange(cut.starts[k], stop) % n
        out[span] = residuals(points[span], points[span], arc=cut.arcs[k])
    return out


def _stretch(rest: Floats) -> float:
    own = float(rest @ rest)
    total = 1.0
    for lag in range(1, min(200, len(rest) // 8)):
        rho = float(rest[lag:] @ rest[:-lag]) / max(own, 1e-30)
        if rho < 0.05:
            break
        total += 2 * rho
    return total


def _steady(tried: list[tuple[int, Noise]], spacing: float) -> Noise | None:
    """Return the noise from which the last doublings changed (nearly) nothing, None if they did; spacing in [mm]."""
    counts = [count for count, _ in tried]
    if len(tried) > 1 and counts[-2] - counts[-1] <= max(1.0, 0.07 * counts[-2]):
        noise = tried[-2][1]
        if noise.stretch * spacing <= LONGEST_WOBBLE:
            return noise
    if len(tried) > LASTING and len(set(counts[-1 - LASTING :])) == 1:
        noise = tried[-1 - LASTING][1]
        if noise.stretch * spacing <= DRIFT:
            return noise
    return None


def wobble(points: Floats) -> Noise | None:
    """Return the noise of dense samples [mm] if it is slower than short runs tell, else None."""
    if not suspected(points):
        return None
    spacing = float(np.median(steps_of(points)))
    least = noise_of(points)
    tried: list[tuple[int, Noise]] = []
    for rung in range(RUNGS):
        found = cut_closed(points, Price.of(least * 2**rung, stretch=1.0, samples=len(points)))
        rest = _residuals(points, found)
        here = Noise(max(float(np.sqrt(np.mean(rest**2))), LEAST_NOISE), _stretch(rest))
        if here.sd > MOST or (tried and here.sd > LOST * tried[-1][1].sd):
            return None
        tried.append((len(found.starts), here))
        noise = _steady(tried, spacing)
        if noise is not None:
            return noise
    return None
