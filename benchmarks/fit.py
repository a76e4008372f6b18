"""The fit: how many of 300 plate parts come back exactly, how well radii are known, and how long it takes.

Shapes, captures and the judge are those of ``tests/geometry/fit_helpers.py``: 4 to 40 edges, radii 3 to 300 mm,
every edge moving the outline by more than four standard errors of the points if taken away. The peer is
the figure of an earlier prototype (dynamic programming in plain arrays, then relations) on its own
shapes at 1 mm spacing, whose noise hung together over about 5 mm.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from tests.fit.helpers import clicks, dense, judge, part

from benchmarks.figure import Figure
from platewright.fit.profile import fit_outline
from platewright.geometry import Contour

SHAPES = 300
FIRST = 2000
"""First seed of the shapes measured: those under 2000 were looked at while the fit was made."""
PROTOTYPE = {0.05: 0.85, 0.1: 0.78, 0.2: 0.55}


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A set of fits: share exact, failures by kind, radius errors [mm], largest deviation [mm], mean CPU time [s]."""

    exact: float
    failures: Counter[str]
    radii: np.ndarray
    worst: float
    over: int
    seconds: float


def recover(count: int, *, spacing: float, sd: float, clicked: bool = False, length: float = 0.0) -> Run:
    """Fit `count` parts and judge them [mm, s]."""
    failures: Counter[str] = Counter()
    radii: list[float] = []
    worst, seconds, over = 0.0, 0.0, 0
    for seed in range(FIRST, FIRST + count):
        rng = np.random.default_rng([2026, seed])
        truth = part(rng, spacing=spacing, sd=sd)
        points = (
            clicks(truth, rng, sd=sd) if clicked else dense(truth, rng, spacing=spacing, sd=sd, length=length)
        )
        began = time.process_time()
        fit = fit_outline(points)
        seconds += time.process_time() - began
        verdict = judge(truth, fit.contour)
        radii += verdict.radius_errors
        worst = max(worst, verdict.deviation)
        over += verdict.deviation > 5 * sd
        if verdict.failure:
            failures[verdict.failure] += 1
    exact = 1 - sum(failures.values()) / count
    return Run(
        exact=exact, failures=failures, radii=np.array(radii), worst=worst, over=over, seconds=seconds / count
    )


def _told(failures: Counter[str]) -> str:
    return "; ".join(f"{n} x {kind}" for kind, n in failures.most_common()) or "no failures"


def _recovery(count: int) -> Iterable[Figure]:
    for spacing in (0.25, 1.0):
        for sd in (0.05, 0.1, 0.2):
            run = recover(count, spacing=spacing, sd=sd)
            name = f"noise {sd} mm, spacing {spacing} mm"
            yield Figure(
                name=f"parts exact, {name}", ours=f"{run.exact:.1%} of {count}", peer=f"{PROTOTYPE[sd]:.0%}",
                ratio=run.exact / PROTOTYPE[sd], bar="at least 95 %", holds=run.exact >= 0.95, note=_told(run.failures),
            )  # fmt: skip
            median, high = np.quantile(run.radii, [0.5, 0.9])
            yield Figure(
                name=f"radius error, median [mm], {name}", ours=f"{median:.4f}", peer="0.003", ratio=median / 0.003,
                bar="under 0.05", holds=bool(median < 0.05), note=f"90 % under {high:.3f}; {run.seconds * 1000:.0f} ms a fit",
            )  # fmt: skip
            yield Figure(
                name=f"deviation, worst [mm], {name}", ours=f"{run.worst:.3f}", bar=f"tolerance {5 * sd:.2f}",
                holds=run.over == 0, note=f"{run.over} of {count} over it",
            )  # fmt: skip


def _clicked(count: int) -> Iterable[Figure]:
    run = recover(count, spacing=1.0, sd=0.3, clicked=True)
    yield Figure(
        name="parts exact, clicked, noise 0.3 mm, open by 1 mm", ours=f"{run.exact:.1%} of {count}", peer="72 % (0.35 mm)",
        ratio=run.exact / 0.72, bar="at least 90 %", holds=run.exact >= 0.90, note=_told(run.failures),
    )  # fmt: skip


def _correlated(count: int) -> Iterable[Figure]:
    """Measure wobble whose kernel is 5 mm wide, so that what it says of one place holds for some 9 mm along."""
    for sd in (0.05, 0.1):
        run = recover(count, spacing=1.0, sd=sd, length=5.0)
        yield Figure(
            name=f"parts exact, wobble {sd} mm over 5 mm, spacing 1 mm", ours=f"{run.exact:.1%} of {count}",
            peer=f"{PROTOTYPE[sd]:.0%}", ratio=run.exact / PROTOTYPE[sd], bar="told, no bar", holds=True, note="no bar to meet, told only: " + _told(run.failures),
        )  # fmt: skip


def cog(teeth: int, radius: float) -> Contour:
    """A wheel of hollows and humps joined by straights [mm]."""
    turn = math.tau / teeth
    rows = [
        (r * math.cos(turn * (k + at)), r * math.sin(turn * (k + at)), bulge)
        for k in range(teeth)
        for at, r, bulge in (
            (0.0, radius, 0.4), (0.25, radius, 0.0), (0.5, radius + 12, 0.1), (0.75, radius + 12, 0.0),
        )
    ]  # fmt: skip
    return Contour(np.array(rows))


def _speed() -> Iterable[Figure]:
    rng = np.random.default_rng(1)
    for name, shape in (
        ("8 edges", Contour.rectangle(400, 225, radius=20)),
        ("1 circle", Contour.circle(0, 0, 198.9)),
    ):
        points = dense(shape, rng, spacing=0.25, sd=0.1)[:5000]
        fit_outline(points)
        began = time.process_time()
        fit = fit_outline(points)
        took = time.process_time() - began
        gap = fit.cost - fit.bound
        yield Figure(
            name=f"fit of {len(points)} points, {name} [s]", ours=f"{took:.2f}", bar="under 1", holds=took < 1.0,
            note=f"cost within {gap:.1f} of the least there is",
        )  # fmt: skip
    plate = cog(10, 360.0)
    points = clicks(plate, rng)
    fit_outline(points)  # compiles the loops for clicks if they were not: no part of the figure
    began = time.process_time()
    fit_outline(points)
    took = time.process_time() - began
    yield Figure(
        name=f"fit of {len(points)} clicks, {len(plate)} edges [s]",
        ours=f"{took:.2f}",
        bar="under 1",
        holds=took < 1.0,
    )


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of the fit; `quick` takes 20 shapes a row instead of 300 [-]."""
    count = 20 if quick else SHAPES
    yield from _speed()
    yield from _recovery(count)
    yield from _clicked(count)
    yield from _correlated(min(count, 100))
