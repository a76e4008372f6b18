"""Program stage: interpreter speed beside a general reader, and what the writer's digits cost."""

from __future__ import annotations

import random
import time
import warnings
from collections.abc import Iterable

import numpy as np

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


def _speed(lines: int) -> Figure:
    from platewright.program.interpreter import interpret

    text = long_program(lines)
    interpret(text)
    ours = _best(lambda: interpret(text))
    name, bar = f"read {lines} lines [s CPU]", "at least 5 times faster"
    try:
        from gcodeparser import GcodeParser
    except ImportError:
        return Figure(name, f"{ours:.3f}", "absent", None, bar, False, "gcodeparser is not installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        peer = _best(lambda: GcodeParser(text).lines)
    note = "ours also runs the modal state, arcs, feeds and checks; both warm"
    return Figure(name, f"{ours:.3f}", f"{peer:.3f}", ours / peer, bar, peer / ours >= 5, note)


def _plain(lines: int) -> Figure:
    """The ordinary way, used where a line is not plain."""
    from platewright.program.interpreter import ReadOptions, interpret

    text = long_program(lines)
    swift, plain = ReadOptions(compiled=True), ReadOptions(compiled=False)
    one = interpret(text, options=swift).moves
    two = interpret(text, options=plain).moves
    off = max(
        float(np.nanmax(np.abs(getattr(one, n).astype(float) - getattr(two, n).astype(float))))
        for n in ("end", "feed", "line")
    )
    each = _best(lambda: interpret(text, options=plain), 1) / lines * 1e6
    return Figure(
        "compiled way against plain way, largest difference",
        f"{off:.1e}",
        "0",
        None,
        "below 1e-9",
        off < 1e-9,
        f"plain way {each:.0f} µs a line",
    )


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
    asked = Edges.joined([Edges.of(c.path) for c in plan.cuts])
    for name in dialect_names():
        dialect = load_dialect(name)
        torch = read_torch(interpret(write(plan, name, name="b").text, name), 1.6)
        points, _ = flattened(torch.edges, 1e-4)
        off = float(nearest(points, asked).distance.max())
        allowed = 2 * 10.0**-dialect.decimals * dialect.unit + (
            dialect.chord_tolerance if dialect.arcs == "chords" else 0.0
        )
        yield Figure(
            f"written path off the planned one, {name} [mm]",
            f"{off:.4f}",
            f"{allowed:.4f}",
            off / allowed,
            "within digits and chord",
            off <= allowed,
        )


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of the stage."""
    yield _speed(20_000 if quick else 100_000)
    yield _plain(5_000)
    yield from _digits()
