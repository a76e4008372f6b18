"""Proof stage: speed, closed forms, a second library's areas, and the trial against the witness.

The witness (``benchmarks/witness``) reads a program and sweeps its kerf by itself and shares nothing with ``src``;
``benchmarks/proving`` draws jobs by number, changes their programs, and asks both. ``run.py bench proof-changes``,
``proof-good``, ``proof-agreement`` and ``proof-absurd`` run alone; ``--share 0.1`` runs a tenth, ``--told FILE`` writes out every
case on which they disagree.
"""

from __future__ import annotations

import math
import os
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.figure import Figure
from benchmarks.proving.trials import (
    PLANNER_STOPS,
    Agreed,
    Changed,
    Good,
    agreed,
    changed_programs,
    good_programs,
)
from benchmarks.witness.dialect import names
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate

PROGRAMS, CHANGES, JOBS = 40, 20000, 500
"""Programs changed, changes in all, and good jobs of the full trial (issue 16)."""


def washers_of_chords(nx: int, ny: int, chords: int) -> tuple[str, Layout]:
    """A program of washers whose circles are chords, and its layout."""
    kerf, lines, places = 1.5, ["%", "G21", "G17 G40 G49 G80 G90 G94", "G54", "G0 Z20"], list[Placement]()
    turn = np.linspace(0, 2 * np.pi, chords + 1)
    part = Part(
        name="washer", profile=Profile(Contour.circle(0, 0, 12), (Contour.circle(0, 0, 5),)), thickness=6.0
    )
    for i in range(nx * ny):
        x, y = 20.0 + 30 * (i // ny), 20.0 + 30 * (i % ny)
        places.append(Placement(0, Pose(x, y), i + 1))
        for radius, lead, way in ((5 - kerf / 2, -3.0, 1), (12 + kerf / 2, 2.0, -1)):
            lines += [f"G0 X{x + radius + lead:.3f} Y{y:.3f}", "G0 Z3.8", "M3", "G4 P0.5", "G1 Z1.5 F2400"]
            lines += [
                f"X{x + radius * math.cos(way * a):.3f} Y{y + radius * math.sin(way * a):.3f}" for a in turn
            ]
            lines += ["M5", "G0 Z20"]
    plate = Plate.sheet("sheet", 40.0 + 30 * nx, 40.0 + 30 * ny, 6.0)
    return "\n".join([*lines, "M5", "M2", "%", ""]), Layout(
        plate=plate, parts=(part,), placements=tuple(places)
    )


def _speed(nx: int, ny: int, chords: int) -> Figure:
    from platewright.proof.prove import prove
    from platewright.table.profile import load_table

    table = load_table("long gantry")
    small, layout = washers_of_chords(3, 3, 300)
    prove(small, dialect="plain-mm", table=table, row=1.5, layout=layout)
    text, layout = washers_of_chords(nx, ny, chords)
    start = time.process_time()
    proof = prove(text, dialect="plain-mm", table=table, row=1.5, layout=layout)
    took = time.process_time() - start
    name = f"{proof.lines} lines, {nx * ny} parts: read, timed, proven [s CPU]"
    return Figure(
        name=name,
        ours=f"{took:.2f}",
        peer="10",
        ratio=took / 10,
        bar="below 10 s",
        holds=took < 10,
        note=f"{len(proof.parts())} parts found",
    )


def absurd_program(kind: str, count: int) -> str:
    """A program of very many pierces, bare or with a slit of 2 mm each, or of one burn with very many rapids lit."""
    from tests.proof.helpers import program

    if kind == "slits":
        spots = [(10 + k % 60 * 4.5, 10 + k // 60 * 2.0) for k in range(count)]
        return program(*([f"X{x:.1f} Y{y:.1f}", f"G1 X{x + 2:.1f} Y{y:.1f} F2400"] for x, y in spots))
    if kind == "pierces":
        return program(*([f"X{10 + k % 60 * 4.5:.1f} Y{10 + k // 60 * 0.2:.1f}"] for k in range(count)))
    return program(["X10 Y10", *(f"G0 X{10 + k * 37 % 280} Y{10 + k * 91 % 180}" for k in range(count))])


_ABSURD = """
import resource, sys, time
from benchmarks.proof import absurd_program
from tests.proof.helpers import WASHER, layout_of, proved
text = absurd_program(sys.argv[1], int(sys.argv[2]))
start = time.process_time()
proof = proved(text, layout_of(WASHER))
print(time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, proof.verdict, len(proof.findings))
"""


def absurd(quick: bool = False) -> Iterable[Figure]:
    """Time and memory of the proof of programs nobody would cut, each in a process of its own."""
    import subprocess
    import sys

    count = 5_000 if quick else 50_000
    for kind in ("pierces", "slits", "lit rapids"):
        words = [sys.executable, "-c", _ABSURD, kind, str(count)]
        output = subprocess.run(words, capture_output=True, text=True, check=True).stdout.split()
        seconds, memory, stopped = float(output[0]), float(output[1]), output[2] == "stop"
        yield Figure(
            name=f"prove {count} {kind} [s CPU]", ours=f"{seconds:.1f}", peer="60", ratio=seconds / 60, bar="below 60 s and 1,500 MB, stop",
            holds=seconds < 60 and memory < 1500 and stopped, note=f"{memory:.0f} MB in all, {output[2]}, {output[3]} findings",
        )  # fmt: skip


def _closed_forms() -> Figure:
    from tests.proof.helpers import HOLE, KERF, OUTER, WASHER, R, box, circle, layout_of, program, proved

    worst = 0.0
    for error in (-0.4, -0.1, 0.0, 0.1, 0.4):
        (part,) = proved(program(HOLE, OUTER), layout_of(WASHER), row=KERF + error).parts()
        for d in part.deviations:
            worst = max(worst, float(np.abs(d.values[d.weights > 0] + error / 2).max()))
        requested = Profile(Contour.rectangle(100, 60, x=80, y=60))
        out = R + error
        (part,) = proved(program(box(80 - out, 60 - out, 180 + out, 120 + out)), layout_of(requested)).parts()
        worst = max(
            worst,
            abs(part.deviations[0].median - error),
            abs(part.deviations[0].worst - abs(error) * math.sqrt(2)),
        )
        disc = Profile(Contour.circle(150, 100, 40))
        (part,) = proved(
            program(circle(150, 100, 40 + R + error, lead=6, ccw=False)), layout_of(disc)
        ).parts()
        worst = max(worst, abs(part.deviations[0].worst - abs(error)))
    return Figure(
        name="as-cut deviation against closed forms, worst [mm]",
        ours=f"{worst:.5f}",
        peer="0",
        bar="within 0.01 mm",
        holds=worst <= 0.01,
    )


def _second_library() -> Figure:
    """Area of a piece as cut against an integer polygon library's offset of the same path."""
    import pyclipper
    from tests.proof.helpers import R, box, program, proved

    from platewright.stock.model import Plate

    text = program(box(80, 60, 180, 120))
    (piece,) = [p for p in proved(text, None, plate=Plate.sheet("s", 300, 200, 6.0)).pieces if p.order]
    tool, scale = pyclipper.PyclipperOffset(), 1e5
    tool.AddPath(
        [(int(x * scale), int(y * scale)) for x, y in ((80, 60), (180, 60), (180, 120), (80, 120))],
        pyclipper.JT_MITER,
        pyclipper.ET_CLOSEDPOLYGON,
    )
    (ring,) = tool.Execute(-R * scale)
    peer = abs(pyclipper.Area(ring)) / scale**2
    return Figure(
        name="area of a piece as cut [mm²]",
        ours=f"{piece.area:.4f}",
        peer=f"{peer:.4f}",
        ratio=piece.area / peer,
        bar="within 0.001 %",
        holds=abs(piece.area / peer - 1) < 1e-5,
    )


def _pooled(work: Callable[[Any], Any], cases: Sequence[Any]) -> Iterator[Any]:
    """Run cases in two niced processes."""
    from multiprocessing import get_context

    with get_context("spawn").Pool(2, os.nice, (10,)) as pool:
        yield from pool.imap_unordered(work, cases)


def _change(case: tuple[int, int, str, int, tuple[int, int]]) -> list[Changed]:
    return changed_programs(*case)


def _good_one(case: tuple[int, int, tuple[str, ...]]) -> list[Good]:
    return good_programs(*case)


def changes(
    quick: bool = False, share: float = 1.0, seed: int = 16, told: Path | None = None
) -> Iterable[Figure]:
    """Single changes to 40 programs over all dialects: what the witness calls ruined must never be GO."""
    share = share * (0.05 if quick else 1.0)
    each = max(4, round(CHANGES / PROGRAMS * share))
    portions = max(1, each // 50)
    cases = [
        (seed, n, names()[n % len(names())], each, (k, portions))
        for k in range(portions)
        for n in range(PROGRAMS)
    ]
    found = list[Changed]()
    for batch in _pooled(_change, cases):
        found += batch
        if told:
            told.write_text("\n".join(_change_lines(found)) + "\n", encoding="utf-8")
    said = Counter((c.ruling, c.verdict) for c in found)
    kinds = len({c.kind for c in found})
    yield Figure(
        name="single changes to good programs", ours=f"{len(found)}", peer=f"{CHANGES}", ratio=len(found) / CHANGES,
        bar=f"at least {share:.3g} of the peer", holds=len(found) >= 0.95 * CHANGES * share, note=f"{PROGRAMS} programs, {kinds} kinds, seed {seed}",
    )  # fmt: skip
    for ruling, name in (
        ("ruined", "ruined by the witness, GO by the proof"),
        ("wrong", "process wrong by the witness, GO by the proof"),
        ("unreadable", "unreadable by the witness, GO by the proof"),
    ):
        of = sum(n for (r, _), n in said.items() if r == ruling)
        classes = Counter(k for c in found if c.ruling == ruling and c.verdict == "go" for k in c.classes)
        note = f"look {said[ruling, 'look']}, stop {said[ruling, 'stop']}" + (
            f"; {dict(classes)}" if classes else ""
        )
        yield Figure(
            name=name,
            ours=f"{said[ruling, 'go']}",
            peer=f"of {of}",
            bar="none",
            holds=said[ruling, "go"] == 0 < of,
            note=note,
        )
    of = sum(n for (r, _), n in said.items() if r == "good")
    yield Figure(
        name="harmless by the witness, STOP by the proof", ours=f"{said['good', 'stop']}", peer=f"of {of}", ratio=said["good", "stop"] / max(of, 1),
        bar="at most 1 in 100", holds=said["good", "stop"] <= 0.01 * of, note=f"go {said['good', 'go']}, look {said['good', 'look']}",
    )  # fmt: skip


def _change_lines(found: Sequence[Changed]) -> Iterator[str]:
    """One line for each disagreement, the gravest first."""
    for ruling, verdict in (
        ("ruined", "go"),
        ("unreadable", "go"),
        ("wrong", "go"),
        ("good", "stop"),
        ("ruined", "look"),
    ):
        some = [c for c in found if (c.ruling, c.verdict) == (ruling, verdict)]
        yield f"## witness: {ruling}; proof: {verdict}: {len(some)}"
        for c in some:
            yield (
                f"job {c.job} {c.dialect} | {c.kind} | line {c.line}: {c.what} | witness: {'; '.join(c.reasons)} | "
                f"proof: {'; '.join(c.findings[:4])}"
            )


def good(
    quick: bool = False, share: float = 1.0, seed: int = 16, told: Path | None = None
) -> Iterable[Figure]:
    """Good programs, 500 jobs in all dialects: no STOP, few LOOK, and plan and proof agree."""
    share = share * (0.02 if quick else 1.0)
    jobs = max(2, round(JOBS * share))
    # Every job in four dialects, all dialects in turn: 2,000 programs of 500 jobs.
    turn = names() * 2
    cases = [(seed, n, tuple(turn[(4 * n + k) % len(names())] for k in range(4))) for n in range(jobs)]
    found = [g for batch in _pooled(_good_one, cases) for g in batch]
    if told:
        told.write_text("\n".join(_good_lines(found)) + "\n", encoding="utf-8")
    # A plan that the planner itself stops, as where no lead fits into a hole, makes no good program.
    stopped = sum(PLANNER_STOPS in g.about for g in found)
    found = [g for g in found if PLANNER_STOPS not in g.about]
    said = Counter(g.verdict for g in found)
    few = [g for g in found if g.ruling != "good"]
    n = len(found)
    stops = Counter(c for g in found for c in {c for c, s, _ in g.findings if s == "stop"})
    looks = Counter(c for g in found for c in {c for c, s, _ in g.findings if s == "look"})
    yield Figure(
        name="good programs, not good by the witness", ours=f"{len(few)}", peer=f"of {n}", bar="none", holds=not few,
        note="; ".join([f"{stopped} more stopped by the planner", *(f"job {g.job} {g.dialect}: {g.reasons[0]}" for g in few[:3])]),
    )  # fmt: skip
    yield Figure(
        name="good programs told STOP",
        ours=f"{said['stop']}",
        peer=f"of {n}",
        bar="none",
        holds=said["stop"] == 0,
        note=str(dict(stops)),
    )
    yield Figure(
        name="good programs told LOOK", ours=f"{said['look']}", peer=f"of {n}", ratio=said["look"] / n, bar="at most 1 in 5", holds=said["look"] <= n / 5,
        note=str(dict(looks.most_common())),
    )  # fmt: skip
    yield from _agreement(found)


def _good_lines(found: Sequence[Good]) -> Iterator[str]:
    for g in sorted(found, key=lambda g: (g.verdict != "stop", g.job)):
        sentences = [f"{c} {s} {t}" for c, s, t in g.findings if s in {"stop", "look"}]
        if sentences or g.ruling != "good":
            yield f"job {g.job} {g.dialect} [{g.about}] {g.verdict}: {'; '.join(sentences)} | witness {g.ruling} {'; '.join(g.reasons[:3])}"


def _agreement(found: Sequence[Good]) -> Iterable[Figure]:
    """Kerf and times of plan and proof, each handed the same chart row."""
    for name, values, bar in (
        ("edges of good programs, worst median off by the proof [mm]", [g.edge_off for g in found], 0.005),
        (
            "worst deviation by proof and by witness, furthest apart [mm]",
            [g.worst_apart for g in found],
            0.02,
        ),
        ("job time of the plan and of the proof, worst share", [abs(g.time_off) for g in found], 0.01),
        ("arc time of the plan and of the proof, worst share", [abs(g.arc_off) for g in found], 0.01),
    ):
        worst = max(range(len(found)), key=values.__getitem__)
        where = f"job {found[worst].job} {found[worst].dialect}; {sum(v > bar for v in values)} of {len(values)} beyond"
        yield Figure(
            name=name,
            ours=f"{values[worst]:.4f}",
            peer="0",
            bar=f"at most {bar}",
            holds=values[worst] <= bar,
            note=where,
        )


def _agreed_one(case: tuple[int, int, str]) -> Agreed:
    return agreed(*case)


def agreement(quick: bool = False, share: float = 1.0, seed: int = 16) -> Iterable[Figure]:
    """``burn`` and ``prove`` by the command line, the amperage left to both: 500 jobs, all dialects in turn."""
    jobs = max(3, round(JOBS * share * (0.02 if quick else 1.0)))
    cases = [(seed, n, names()[n % len(names())]) for n in range(jobs)]
    found = list(_pooled(_agreed_one, cases))
    for name, offs, bar in (
        ("kerf by chart row, burn and prove, worst apart [mm]", [abs(a.kerfs[0] - a.kerfs[1]) for a in found], 0.01),
        ("job time, burn and prove, worst share apart", [abs(a.times[1] / a.times[0] - 1) for a in found], 0.01),
        ("arc time, burn and prove, worst share apart", [abs(a.arc_times[1] / a.arc_times[0] - 1) for a in found], 0.01),
    ):  # fmt: skip
        worst = max(range(len(found)), key=offs.__getitem__)
        where = f"job {found[worst].job} {found[worst].dialect}; {sum(v > bar for v in offs)} of {len(offs)} jobs beyond"
        yield Figure(
            name=name,
            ours=f"{offs[worst]:.4f}",
            peer="0",
            bar=f"at most {bar}",
            holds=offs[worst] <= bar,
            note=where,
        )


PARTS: dict[str, Callable[..., Iterable[Figure]]] = {
    "changes": changes,
    "good": good,
    "agreement": agreement,
    "absurd": absurd,
}


def figures(
    quick: bool = False, share: float = 1.0, seed: int = 16, told: Path | None = None
) -> Iterable[Figure]:
    """Yield the figures of the stage."""
    if quick:
        yield _speed(5, 6, 100)
    else:
        yield _speed(25, 28, 64)
        yield _speed(5, 10, 992)
    yield _closed_forms()
    yield _second_library()
    yield from changes(quick, share, seed, told)
    yield from good(quick, share, seed, told and told.with_suffix(".good.txt"))
    yield from agreement(quick, share, seed)
