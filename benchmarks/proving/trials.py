"""One job planned, written, proven and witnessed; and the same for changed programs."""

from __future__ import annotations

import contextlib
import io
import json
import math
import random
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from benchmarks.proving.changes import some
from benchmarks.proving.jobs import Drawn, draw
from benchmarks.witness import asked, dialect, judge
from platewright.burn.model import BurnPlan
from platewright.burn.plan import plan
from platewright.program.dialects import load_dialect
from platewright.program.writer import write
from platewright.proof.model import Proof
from platewright.proof.prove import prove
from platewright.table.profile import load_table

__all__ = [
    "PLANNER_STOPS",
    "Agreed",
    "Changed",
    "Good",
    "agreed",
    "changed_programs",
    "good_programs",
    "only_marked",
    "planned",
    "tried",
    "witness_job",
]

PLANNER_STOPS = "planner stops"
"""What is said of a job whose plan the planner itself stops."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Good:
    """A program as planned: what the proof and the witness say, and how plan and proof agree."""

    job: int
    dialect: str
    about: str
    verdict: str
    findings: tuple[tuple[str, str, str], ...]
    ruling: str
    reasons: tuple[str, ...]
    edge_off: float = 0.0
    worst_apart: float = 0.0
    time_off: float = 0.0
    arc_off: float = 0.0
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Agreed:
    """What plan and proof say of one job by the command line, the amperage left to both: kerf [mm], times [s]."""

    job: int
    dialect: str
    kerfs: tuple[float, float]
    times: tuple[float, float]
    arc_times: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """A changed program: the change, what the proof said, and what the witness saw."""

    job: int
    dialect: str
    kind: str
    line: int
    what: str
    verdict: str
    findings: tuple[str, ...]
    ruling: str
    classes: tuple[str, ...]
    reasons: tuple[str, ...]


def _feeds(burn: BurnPlan) -> tuple[tuple[tuple[tuple[float, float], ...], float], ...]:
    found = []
    for cut in burn.cuts:
        rows = [tuple(map(float, r)) for r in cut.path.rows]
        for a, b, speed in zip(rows, rows[1:], cut.speeds, strict=False):
            if a[:2] == b[:2]:
                continue
            points = asked.ring([a, (b[0], b[1], 0.0)]) if a[2] else [a[:2], b[:2]]
            found.append((tuple((float(x), float(y)) for x, y in points), float(speed)))
    return tuple(found)


def witness_job(burn: BurnPlan) -> asked.Job:
    """What the witness is told: the layout document, and of the plan its row, its feeds and where tabs are."""
    row, options = burn.row, burn.options
    tabs: dict[int, list[asked.Tab]] = {}
    for cut in burn.cuts:
        for tab in cut.tabs:
            tabs.setdefault(cut.placement, []).append(asked.Tab(tab.at, tab.width))
    reach = burn.table.reach
    process = asked.Process(
        kerf=row.kerf, cut_speed=row.cut_speed, pierce_delay=row.pierce_delay, pierce_height=row.pierce_height, cut_height=row.cut_height, safe_height=burn.table.safe_height,
        feeds=_feeds(burn), reach=(reach.x0, reach.y0, reach.x1, reach.y1), inside_radius=options.round_inside, overburn=options.overburn or 0.0,
        kerfs=tuple((share, kerf) for share, kerf in ((row.hole_speed_factor, row.kerf_hole), (0.5, row.kerf_slow)) if kerf),
        acceleration=burn.table.acceleration, top_speed=burn.table.max_cut_speed,
    )  # fmt: skip
    document = burn.layout.as_dict()
    marked = only_marked(document, options.mark_below)
    return replace(asked.job_of(document, process, tabs=tabs, only_marked=marked), dimpled=options.dimple)


def only_marked(document: dict[str, Any], below: float) -> list[tuple[int, int]]:
    """Holes the shop asked to have marked for the drill: narrower than `below`, and between two circles half a millimetre apart."""
    import shapely

    found = []
    for i, placed in enumerate(document["placements"]):
        for k, hole in enumerate(document["parts"][placed["part"]]["profile"]["holes"], 1):
            shape = asked.Polygon(asked.ring(hole["rows_mm_mm_bulge"]))
            within = shapely.maximum_inscribed_circle(shape, tolerance=0.001).length
            about = shapely.minimum_bounding_radius(shape)
            if 2 * within < below and shape.area < 3.1416 / 4 * below**2 and about - within <= 0.5:
                found.append((i, k))
    return found


def planned(drawn: Drawn, name: str) -> BurnPlan:
    """Plan a drawn job for the dialect it will be written in."""
    writes = load_dialect(name).controller
    return plan(drawn.layout, drawn.chart, load_table(drawn.table), drawn.options, controller=writes)


def _proof(text: str, name: str, burn: BurnPlan) -> Proof:
    return prove(text, dialect=name, table=burn.table, row=burn.row, layout=burn.layout)


def _edge_off(proof: Proof, job: asked.Job) -> float:
    """The median the proof finds a straight outline or a round hole off [mm]: half of what its kerf and the plan's differ by.

    Other holes are cut with one offset at several speeds, and arcs written as chords lie off by their chords: neither
    says anything of one kerf.
    """
    found = [0.0]
    for part in proof.parts():
        shape = job.parts[part.placement or 0].shape
        rounds = [0, *(k for k, ring in enumerate(shape.interiors, 1) if _round(asked.Polygon(ring)))]
        found += [abs(d.median) for d in part.deviations if d.contour in rounds]
    return max(found)


def _round(hole: asked.Polygon) -> bool:
    return abs(4 * math.pi * hole.area / hole.length**2 - 1) < 1e-3


def _worst_apart(proof: Proof, text: str, name: str, job: asked.Job) -> float:
    """How far apart the worst deviations of a part are by the proof and by the witness, the worst of all parts [mm]."""
    if job.process.kerfs or job.process.inside_radius or any(p.tabs for p in job.parts):
        return 0.0
    by_witness = judge.deviations(text, dialect.load(name), job)
    return max((abs((p.worst or 0.0) - by_witness[p.placement or 0]) for p in proof.parts()), default=0.0)


def good_programs(
    seed: int, number: int, names: Sequence[str], parts: tuple[int, int] = (2, 5)
) -> list[Good]:
    """Plan a job, write it in each dialect, prove and witness it."""
    return tried(draw(seed, number, parts=parts), number, names)


def tried(drawn: Drawn, number: int, names: Sequence[str]) -> list[Good]:
    """Plan a drawn job, write it in each dialect, prove and witness it."""
    found = []
    for name in names:
        burn = planned(drawn, name)
        stops = [f for f in burn.findings if f.severity == "stop"]
        job = witness_job(burn)
        text = write(burn, name, name=f"job {number}").text
        start = time.process_time()
        proof = _proof(text, name, burn)
        took = time.process_time() - start
        seen = judge.judge(text, dialect.load(name), job)
        reasons = [f"{k}: {t}" for k, t in (*seen.ruined, *seen.wrong)] + (
            [seen.unreadable] if seen.unreadable else []
        )
        found.append(
            Good(
                job=number, dialect=name, about=drawn.about + (f"; {PLANNER_STOPS}: {stops[0].code}" if stops else ""), verdict=proof.verdict,
                findings=tuple((f.code, f.severity, f.text) for f in proof.findings), ruling=seen.ruling, reasons=tuple(reasons),
                edge_off=0.0 if dialect.load(name).chords else _edge_off(proof, job), worst_apart=_worst_apart(proof, text, name, job), time_off=proof.time / burn.total_time - 1, arc_off=proof.arc_time / burn.arc_time - 1, seconds=took,
            )
        )  # fmt: skip
    return found


def agreed(seed: int, number: int, name: str) -> Agreed:
    """Burn and prove a job by the command line, as a shop does, with neither told the amperage nor helped by comments."""
    drawn = draw(seed, number)
    document = drawn.layout.as_dict()
    with tempfile.TemporaryDirectory() as folder:
        layout, program = Path(folder, "a.layout.json"), Path(folder, "a.ngc")
        layout.write_text(json.dumps(document), encoding="utf-8")
        common = ["--table", drawn.table, "--dialect", name, "--json"]
        burn = _said("burn", str(layout), "-o", str(program), *common)
        lines = program.read_bytes().decode("ascii").splitlines(keepends=True)
        program.write_bytes("".join(line for line in lines if "(" not in line).encode("ascii"))
        proof = _said("prove", str(program), "--layout", str(layout), *common)
    return Agreed(
        number, name, (burn["kerf_mm"], proof["kerf_mm"]), (burn["total_time_s"], proof["time_s"]),
        (burn["arc_time_s"], proof["arc_time_s"]),
    )  # fmt: skip


def _said(*words: str) -> dict[str, Any]:
    from platewright.cli import main

    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        main(list(words))
    found: dict[str, Any] = json.loads(out.getvalue())
    return found


def changed_programs(
    seed: int, number: int, name: str, count: int, portion: tuple[int, int] = (0, 1)
) -> list[Changed]:
    """Change one good program `count` times, one thing each, and hear proof and witness on each of a portion of them."""
    n = number
    while True:
        drawn = draw(seed, n, parts=(1, 3))
        burn = planned(drawn, name)
        job = witness_job(burn)
        text = write(burn, name, name=f"job {number}").text
        good = judge.judge(text, dialect.load(name), job)
        # A program the proof stops already would teach nothing by its changes.
        if good.ruling == "good" and len(text) < 5000 and _proof(text, name, burn).verdict != "stop":
            break
        n += 1000
    found = []
    rng = random.Random(f"{seed} {number} {name}")
    for change in some(text, count, rng)[portion[0] :: portion[1]]:
        seen = judge.judge(change.text, dialect.load(name), job)
        proof = _proof(change.text, name, burn)
        reasons = [f"{k}: {t}" for k, t in (*seen.ruined, *seen.wrong)] + (
            [seen.unreadable] if seen.unreadable else []
        )
        found.append(
            Changed(
                job=n, dialect=name, kind=change.kind, line=change.line, what=change.what, verdict=proof.verdict,
                findings=tuple(f"{f.code} {f.severity} {f.text}" for f in proof.findings), ruling=seen.ruling,
                classes=tuple(sorted({k for k, _ in (seen.ruined or seen.wrong)})), reasons=tuple(reasons[:4]),
            )
        )  # fmt: skip
    return found
