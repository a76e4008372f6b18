"""Program stage: interpreter speed beside a general reader, and what the writer's digits cost."""

from __future__ import annotations

import random
import time
from collections.abc import Iterable

from benchmarks.figure import Figure


def long_program(lines: int, seed: int = 3) -> str:
    """A program of cuts with 40 short moves each, every line with its words (so that any reader reads it whole)."""
    rng = random.Random(seed)
    out = ["G21", "G17 G40 G49 G80 G90 G94", "G54", "G0 Z20"]
    while len(out) < lines - 2:
        x, y = rng.uniform(20, 1200), rng.uniform(20, 1200)
        out += [f"G0 X{x:.3f} Y{y:.3f}", "G0 Z3.8", "M3", "G4 P0.5", "G1 Z1.5 F2400"]
        for _ in range(40):
            x, y = x + rng.uniform(-1, 1), y + rng.uniform(-1, 1)
            out.append(f"G1 X{x:.3f} Y{y:.3f} F2400")
        out += ["M5", "G0 Z20"]
    return "\n".join([*out, "M5", "M2", ""])


def _best(work: object, rounds: int = 3) -> float:
    """Least process time of a few rounds [s]."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        work()  # type: ignore[operator]
        times.append(time.process_time() - start)
    return min(times)


def arcs_program(lines: int, seed: int = 4) -> str:
    """Cuts of a few lines and arcs each, words left out where they stay: what a writer of parts makes."""
    rng = random.Random(seed)
    out = ["G21", "G17 G40 G49 G80 G90 G94", "G54", "G0 Z20"]
    while len(out) < lines - 2:
        x, y, r = rng.uniform(20, 1200), rng.uniform(20, 1200), rng.uniform(3, 30)
        out += [
            f"G0 X{x + 2:.3f} Y{y:.3f}",
            "G0 Z3.8",
            "M3",
            "G4 P0.5",
            "G1 Z1.5 F2400",
            f"G1 X{x:.3f} F1800",
        ]
        out += [
            f"G3 X{x - 2 * r:.3f} Y{y:.3f} I{-r:.4f} J0",
            f"X{x:.3f} Y{y:.3f} I{r:.4f} J0",
            f"G1 Y{y - 1:.3f}",
            "M5",
            "G0 Z20",
        ]
    return "\n".join([*out, "M5", "M2", ""])


def _speed(name: str, text: str, *, times: float) -> Figure:
    """Processor time to read a text beside a general reader; `times` as fast is the bar."""
    from platewright.program.interpreter import interpret

    lines = text.count("\n")
    interpret(text)
    ours = _best(lambda: interpret(text), 5)
    name = f"read {lines} lines of {name} [s CPU]"
    bar = f"at least {times:g} times faster"
    try:
        from gcodeparser import parse_gcode_lines
    except ImportError:
        return Figure(
            name=name,
            ours=f"{ours:.3f}",
            peer="absent",
            bar=bar,
            note="gcodeparser is not installed",
        )
    peer = _best(lambda: list(parse_gcode_lines(text)), 5)
    good = peer / ours >= times
    note = (
        f"{peer / ours:.1f} times faster; ours also runs the modal state, arcs, feeds and checks; both warm"
    )
    return Figure(
        name=name, ours=f"{ours:.3f}", peer=f"{peer:.3f}", ratio=ours / peer, bar=bar, holds=good, note=note
    )


def _line_by_line(lines: int) -> Figure:
    """The ordinary way for every line, against stretches of moves by the short way."""
    from platewright.program.interpreter import ReadOptions, interpret

    text, ordinary = long_program(lines), ReadOptions(short=False)
    one, two = interpret(text).moves, interpret(text, options=ordinary).moves
    alike = all(getattr(one, n).tobytes() == getattr(two, n).tobytes() for n in one.__slots__)
    each = _best(lambda: interpret(text, options=ordinary), 2) / lines * 1e6
    name = "moves by the short way against line by line"
    return Figure(
        name=name,
        ours="the same" if alike else "differ",
        peer="the same",
        bar="bit for bit",
        holds=alike,
        note=f"line by line {each:.1f} µs a line",
    )


def _many_pierces(pierces: int) -> Figure:
    """Time and memory to read a program of very many pierces, in a process of its own."""
    import subprocess
    import sys

    code = (
        "import resource, time; from benchmarks.program import pierced; from platewright.program.interpreter import interpret;"
        f"text = pierced({pierces}); before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss; start = time.process_time();"
        "run = interpret(text); spent = time.process_time() - start;"
        "print(spent, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024, len(run.moves))"
    )
    output = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    seconds, grown = float(output[0]), float(output[1])
    good = seconds < 5 and grown < 300
    return Figure(
        name=f"read {pierces} pierces [s CPU]",
        ours=f"{seconds:.2f}",
        peer="5",
        ratio=seconds / 5,
        bar="under 5 s and 300 MB",
        holds=good,
        note=f"{grown:.0f} MB more, {output[2]} moves",
    )


def pierced(pierces: int) -> str:
    """A program of small cuts, each with its pierce, lit by M3."""
    rng = random.Random(5)
    out = ["G21", "G17 G40 G49 G80 G90 G94", "G54", "G0 Z20"]
    for _ in range(pierces):
        x, y = rng.uniform(20, 1200), rng.uniform(20, 1200)
        out += [f"G0 X{x:.3f} Y{y:.3f}", "G0 Z3.8", "M3", "G4 P0.5", "G1 Z1.5 F2400"]
        out += [f"G1 X{x + 2:.3f} Y{y:.3f} F2400", f"G3 X{x + 2:.3f} Y{y:.3f} I-2 J0", "M5", "G0 Z20"]
    return "\n".join([*out, "M2", ""])


def _digits() -> Iterable[Figure]:
    """How far the written path lies from the planned one, each dialect."""
    from tests.program.helpers import washer_plan

    from platewright.program.dialects import dialect_names, load_dialect
    from platewright.program.interpreter import interpret
    from platewright.program.writer import write
    from platewright.proof.burns import read_torch
    from platewright.proof.edges import Edges, nearest
    from platewright.proof.faces import flattened

    plan = washer_plan()
    requested = Edges.joined([Edges.of(c.path) for c in plan.cuts])
    for name in dialect_names():
        dialect = load_dialect(name)
        torch = read_torch(interpret(write(plan, name, name="b").text, name), 1.6)
        points, _ = flattened(torch.edges, 1e-4)
        off = float(nearest(points, requested).distance.max())
        allowed = 2 * 10.0**-dialect.decimals * dialect.unit + (
            dialect.chord_tolerance if dialect.arcs == "chords" else 0.0
        )
        yield Figure(
            name=f"written path off the planned one, {name} [mm]",
            ours=f"{off:.4f}",
            peer=f"{allowed:.4f}",
            ratio=off / allowed,
            bar="within digits and chord",
            holds=off <= allowed,
        )


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of the stage."""
    lines = 20_000 if quick else 100_000
    yield _speed("short straights", long_program(lines), times=5)
    yield _speed("parts with arcs", arcs_program(lines), times=5)
    yield _line_by_line(5_000)
    yield _many_pierces(5_000 if quick else 50_000)
    yield from _digits()
