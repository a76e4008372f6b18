"""Fuzz the interpreter: no crash, no hang, memory bounded.

Coverage-guided (atheris, if it is installed) and grammar-based (hypothesis strategies drawn in a loop), each in a child
process. Run alone: ``python -m benchmarks.fuzz.program --seconds 600``. Any text must give a Run; an InputError about
its size is the only exception allowed.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

from benchmarks.figure import Figure
from benchmarks.fuzz import WORDS

SLOW = 2.0
"""An input of at most a few kilobytes must be read in this time [s]."""

DIALECTS = ("plain-mm", "anywhere", "probe-mm", "flat-inch", "chords-mm", "small-mm", "marker-mm")
FUNCTIONS = ["ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"]
OPERATORS = ["+", "-", "*", "/", "**", " MOD ", " AND ", " OR ", " XOR "]
ODD = [
    "%", "/", "(", ")", "(MSG, hi)", "(a(b))", ";", "\t", "\r", "\x00", "é", "\ud800", "#", "[", "]", "=", ".", "1e9", "N5", "O7", "~", "\u2028",
]  # fmt: skip


def value(rng: random.Random, depth: int = 0) -> str:
    """A value of the language, or nearly one."""
    pick = rng.random()
    if pick < 0.6 or depth > 6:
        return rng.choice(
            [f"{rng.uniform(-99, 99):.4f}", str(rng.randint(-9, 9999)), ".5", "5.", "-.0", "9" * 30, "0"]
        )
    if pick < 0.7:
        return "#" + value(rng, depth + 1)
    if pick < 0.85:
        inner = "".join(rng.choice(OPERATORS) + value(rng, depth + 1) for _ in range(rng.randint(0, 4)))
        return f"[{value(rng, depth + 1)}{inner}]"
    return f"{rng.choice(FUNCTIONS)}[{value(rng, depth + 1)}]" + (
        f"/[{value(rng, depth + 1)}]" if rng.random() < 0.3 else ""
    )


def line(rng: random.Random) -> str:
    """A line of the language, or nearly one."""
    words = [rng.choice(WORDS) for _ in range(rng.choice([0, 1, 1, 2]))]
    words += [rng.choice("XYZIJKRFPLQSTDHABCN") + value(rng) for _ in range(rng.randint(0, 5))]
    if rng.random() < 0.1:
        words.append(f"#{value(rng)}={value(rng)}")
    if rng.random() < 0.15:
        words.insert(rng.randint(0, len(words)), rng.choice(ODD))
    if rng.random() < 0.02:
        words.append("[" * rng.randint(1, 300))
    if rng.random() < 0.3:
        rng.shuffle(words)
    return rng.choice([" ", ""]).join(words)


def program(rng: random.Random) -> str:
    """A short program, sometimes with a sound head so that much of it is run."""
    head = ["G21", "G17 G90 G94", "G1 X1 Y1 F600"] if rng.random() < 0.7 else []
    body = [line(rng) for _ in range(rng.randint(0, 30))]
    return rng.choice(["\n", "\n", "\r\n"]).join([*head, *body, *rng.choice([["M2"], [], ["%"]])])


def check(text: str, which: int) -> None:
    """Read one text both ways; raise on anything but a Run."""
    from platewright.program import moves
    from platewright.program.interpreter import ReadOptions, interpret

    moves.FEWEST = 1  # the shortest stretch takes the short way too
    dialect = DIALECTS[which % len(DIALECTS)]
    plain = interpret(text, dialect, options=ReadOptions(short=False, block_delete=bool(which & 8)))
    short = interpret(text, dialect, options=ReadOptions(block_delete=bool(which & 8)))
    if plain.findings != short.findings or plain.moves.end.tobytes() != short.moves.end.tobytes():
        raise AssertionError(f"the two ways differ in {dialect}: {text!r}")


def _memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def by_grammar(seconds: float, seed: int) -> dict[str, float]:
    """Fuzz by grammar; return counts, the slowest input [s] and memory grown [MB]."""
    rng, until = random.Random(seed), time.monotonic() + seconds
    for _ in range(50):
        check(program(rng), rng.randint(0, 99))
    count, slowest, before = 0, 0.0, _memory()
    while time.monotonic() < until:
        text, which = program(rng), rng.randint(0, 99)
        start = time.process_time()
        check(text, which)
        slowest = max(slowest, time.process_time() - start)
        count += 1
    return {"inputs": count, "slowest_s": slowest, "grown_mb": _memory() - before}


def by_coverage(seconds: float, seed: int) -> None:
    """Fuzz guided by coverage; atheris ends the process itself, non-zero on a crash, a hang or too much memory."""
    import atheris

    with atheris.instrument_imports(include=["platewright.program"]):
        from platewright.program import interpreter, machine, reading  # noqa: F401

    def one(data: bytes) -> None:
        if data:
            check(data[1:].decode("utf-8", "surrogateescape"), data[0])

    with tempfile.TemporaryDirectory() as folder:
        rng = random.Random(seed)
        for i in range(40):
            (Path(folder) / str(i)).write_bytes(bytes([i]) + program(rng).encode("utf-8", "replace"))
        arguments = [
            sys.argv[0],
            folder,
            f"-max_total_time={int(seconds)}",
            f"-seed={seed}",
            "-timeout=10",
            "-rss_limit_mb=1500",
            "-max_len=2000",
            "-verbosity=0",
            "-print_final_stats=1",
        ]
        atheris.Setup(arguments, one)
        atheris.Fuzz()


def _child(mode: str, seconds: float) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "benchmarks.fuzz.program", f"--{mode}", "--seconds", str(seconds)]
    return subprocess.run(command, capture_output=True, text=True, timeout=seconds * 3 + 120, check=False)


def figures(quick: bool = False) -> Iterable[Figure]:
    """Yield the figures of both kinds of fuzzing."""
    seconds = 10.0 if quick else 300.0
    made = _child("grammar", seconds)
    bar = "no crash, no hang, memory bounded"
    if made.returncode == 0:
        said = json.loads(made.stdout.strip().split("\n")[-1])
        note = f"slowest {said['slowest_s']:.2f} s, memory grew {said['grown_mb']:.0f} MB"
        good = said["slowest_s"] < SLOW and said["grown_mb"] < 200
        yield Figure(
            name=f"grammar-based fuzzing, {seconds:.0f} s",
            ours=f"{said['inputs']:.0f} inputs",
            bar=bar,
            holds=good,
            note=note,
        )
    else:
        yield Figure(
            name=f"grammar-based fuzzing, {seconds:.0f} s",
            ours="failed",
            bar=bar,
            holds=False,
            note=made.stderr.strip()[-300:],
        )
    if importlib.util.find_spec("atheris") is None:
        yield Figure(
            name="coverage-guided fuzzing",
            ours="absent",
            bar=bar,
            note="atheris is not installed; grammar only",
        )
        return
    made = _child("coverage", seconds)
    runs = (
        next((w for w in made.stderr.split("\n") if "number_of_executed_units" in w), "")
        .split(":")[-1]
        .strip()
    )
    yield Figure(
        name=f"coverage-guided fuzzing, {seconds:.0f} s",
        ours=f"{runs or '?'} inputs",
        bar=bar,
        holds=made.returncode == 0,
        note="" if made.returncode == 0 else made.stderr.strip()[-300:],
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--grammar", action="store_true")
    parser.add_argument("--coverage", action="store_true")
    requested = parser.parse_args()
    if requested.coverage:
        by_coverage(requested.seconds, requested.seed)
    elif requested.grammar:
        print(json.dumps(by_grammar(requested.seconds, requested.seed)))
    else:
        for mode in ("grammar", "coverage"):
            if mode == "coverage" and importlib.util.find_spec("atheris") is None:
                print("atheris is not installed")
                continue
            done = _child(mode, requested.seconds / 2)
            print(mode, done.returncode, done.stdout[-500:], done.stderr[-800:])
    return 0


if __name__ == "__main__":
    sys.exit(main())
