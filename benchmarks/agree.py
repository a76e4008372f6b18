"""Plan and proof side by side: kerf of every cut, chart row and time, over random jobs in every dialect and on every built-in table.

The plan's figures are the planner's; the proof's are read from the text. Both ask ``table`` for the law of kerf, the row and the clock;
what is measured is that plan, writer, reader and proof put the same questions.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from multiprocessing import get_context

import numpy as np
from tests.burn.helpers import random_layout

from benchmarks.figure import Figure
from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions, CutChoice
from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.program.dialects import Dialect, dialect_names, load_dialect
from platewright.program.interpreter import interpret
from platewright.program.writer import write
from platewright.proof.burns import at_real_speed, read_torch
from platewright.proof.timing import timed_run
from platewright.table.arm import seated
from platewright.table.chart import starter_chart
from platewright.table.profile import builtin_tables, load_table

KERF, TIME = 0.01, 0.01
"""What they may differ by: kerf [mm], time [-]."""
STEADY = 0.33
"""The plan holds one kerf a cut, for its feed or what a tight hole allows; the proof has one a move, by the speed really reached.
They must agree at the feed, or over this share of the cut [-]. Where the table only ramps, the proof's is wider: it tells that."""


def job(seed: int, dialect: Dialect) -> BurnPlan | None:
    """Plan a random job: thickness, amperage, table, choices by hand; None if the chart has no row for it."""
    draw = np.random.default_rng(seed)
    table = load_table(builtin_tables()[seed % len(builtin_tables())])
    layout = random_layout(seed, thickness=float(draw.choice([1.5, 2.0, 3.0, 4.7625, 6.0, 8.0, 10.0])))
    cuts = tuple(
        CutChoice(placement=int(draw.integers(0, len(layout.placements))), contour=int(draw.integers(0, 3)), speed_factor=float(draw.uniform(0.3, 1.2)))
        for _ in range(2)
    )  # fmt: skip
    options = BurnOptions(
        amperage=None if draw.random() < 0.5 else float(draw.uniform(30, 120)), effort=0.01, cuts=cuts,
        tab_below=float(draw.choice([0.0, 60.0])), chain=bool(draw.random() < 0.2), common_line=bool(draw.random() < 0.2),
        touch_every=float(draw.choice([0.0, 120.0])), post_flow=float(draw.choice([0.0, 3.0])), pause_duty=bool(draw.random() < 0.3),
    )  # fmt: skip
    try:
        return plan(layout, starter_chart(), table, options, controller=dialect.controller)
    except InputError:
        return None


def kerf_apart(made: BurnPlan, dialect: Dialect) -> tuple[float, float]:
    """Return by how much the kerfs of a cut part at most [mm], and the times [-]."""
    run = interpret(write(made, dialect, name="job").text, dialect)
    requested = read_torch(run, made.row)
    timing = timed_run(run, requested, seated(made.table, made.layout.seat))
    real = at_real_speed(requested, made.row, timing.speeds)
    worst = 0.0
    for number, cut in enumerate(c for c in made.cuts if c.kind != "mark"):
        mine = requested.burn == number
        at_feed = abs(float(np.median(requested.kerf[mine])) - cut.kerf)
        off = np.abs(real.kerf[mine] - cut.kerf)
        order = np.argsort(off)
        share = np.cumsum(requested.length[mine][order]) / requested.length[mine].sum()
        worst = max(worst, min(at_feed, float(off[order][np.searchsorted(share, STEADY)])))
    return worst, abs(timing.total / made.total_time - 1)


def _job_apart(number: int) -> list[tuple[int, str, float, float]]:
    """Return number, dialect, kerf apart [mm] and time apart [-] of one job in every dialect."""
    found = []
    for name in dialect_names():
        dialect = load_dialect(name)
        made = job(number, dialect)
        if made is not None and any(c.kind != "mark" for c in made.cuts):
            found.append((number, name, *kerf_apart(made, dialect)))
    return found


def figures(quick: bool = False, share: float = 1.0, seed: int = 0) -> Iterable[Figure]:
    """Yield how far plan and proof part over 500 jobs in every dialect (5 if quick), or a share of them [-], in two processes."""
    jobs = 5 if quick else max(1, round(500 * share))
    with get_context("spawn").Pool(2, os.nice, (10,)) as pool:
        found = [f for some in pool.imap_unordered(_job_apart, range(seed, seed + jobs)) for f in some]
    kerf, clock = (max((f[k] for f in found), default=0.0) for k in (2, 3))
    bad = [f for f in found if f[2] > KERF or f[3] > TIME]
    text = f"{len(found)} programs of {jobs} jobs from {seed}"
    text += "".join(f"; job {n} in {name}: {k:.3f} mm, {100 * t:.2f} %" for n, name, k, t in bad[:1])
    yield Figure(
        name="kerf, plan against text, worst [mm]",
        ours=f"{kerf:.4f}",
        bar=f"<= {KERF}",
        holds=kerf <= KERF,
        note=text,
    )
    yield Figure(
        name="time, plan against text, worst [%]",
        ours=f"{100 * clock:.3f}",
        bar="<= 1",
        holds=clock <= TIME,
        note=text,
    )
