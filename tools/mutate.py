"""Change the source at random, one place at a time, and list the changes no test notices.

``run.py mutate PACKAGE`` (or a file of one, as ``program/writer.py``) copies ``src`` aside, spoils one operator or constant of the
copy, runs the package's tests against it and puts it back. A change that every test passes is a survivor: a law no test
holds, or code that makes no difference. Not changed: docstrings, type annotations, decorators, defaults of private names, messages.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOME = Path("platewright")
SWAPS: dict[type[ast.AST], tuple[str, str]] = {
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"),
    ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="), ast.Is: ("is", "is not"), ast.IsNot: ("is not", "is"),
    ast.In: ("in", "not in"), ast.NotIn: ("not in", "in"), ast.And: ("and", "or"), ast.Or: ("or", "and"),
}  # fmt: skip
"""An operator -> how it is written, and what is written in its place."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: the file below ``src``, where in it [-], what stood there and what stands there now."""

    file: Path
    start: int
    before: str
    after: str
    line: int

    def applied(self, source: str) -> str:
        """Return the source with the change made."""
        return source[: self.start] + self.after + source[self.start + len(self.before) :]

    def __str__(self) -> str:
        """Name the place and the change."""
        return f"src/{self.file.as_posix()}:{self.line}: {self.before} -> {self.after}"


def _kept(tree: ast.AST) -> set[int]:
    """Return the nodes that are not changed: annotations, decorators, what is raised and what is imported for types only."""
    off: list[ast.AST] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            off += node.decorator_list
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.returns:
            off.append(node.returns)
        if isinstance(node, ast.arg | ast.AnnAssign) and node.annotation:
            off.append(node.annotation)
        if isinstance(node, ast.Raise | ast.JoinedStr | ast.Assert):
            off.append(node)
    return {id(inner) for node in off for inner in ast.walk(node)}


def mutants(file: Path, source: str) -> Iterator[Mutant]:
    """Yield every change there is for a file: operators swapped, numbers doubled, conditions and signs turned."""
    tree = ast.parse(source)
    kept = _kept(tree)
    lines = [0]
    for line in source.encode().splitlines(keepends=True):
        lines.append(lines[-1] + len(line))
    raw = source.encode()

    def at(line: int, column: int) -> int:
        return len(raw[: lines[line - 1] + column].decode())

    def between(left: ast.expr, right: ast.expr, operator: ast.AST) -> Iterator[Mutant]:
        if type(operator) in SWAPS and left.end_lineno is not None and left.end_col_offset is not None:
            old, new = SWAPS[type(operator)]
            start, end = at(left.end_lineno, left.end_col_offset), at(right.lineno, right.col_offset)
            place = source.find(old, start, end)
            if place >= 0:
                yield Mutant(file, place, old, new, source.count("\n", 0, place) + 1)

    for node in ast.walk(tree):
        if id(node) in kept:
            continue
        if isinstance(node, ast.BinOp):
            yield from between(node.left, node.right, node.op)
        elif isinstance(node, ast.Compare):
            for left, operator, right in zip(
                [node.left, *node.comparators], node.ops, node.comparators, strict=False
            ):
                yield from between(left, right, operator)
        elif isinstance(node, ast.BoolOp):
            for left, right in zip(node.values, node.values[1:], strict=False):
                yield from between(left, right, node.op)
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float):
            written = ast.get_source_segment(source, node) or ""
            value = node.value
            new = str(not value) if isinstance(value, bool) else "1" if value == 0 else f"({written} * 2)"
            yield Mutant(file, at(node.lineno, node.col_offset), written, new, node.lineno)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            sign = "not " if isinstance(node.op, ast.Not) else "-"
            if source.startswith(sign, start := at(node.lineno, node.col_offset)):
                yield Mutant(file, start, sign, "", node.lineno)


def _files(target: str) -> list[Path]:
    """Return the files of a package, or the one file named, below ``src``."""
    place = ROOT / "src" / HOME / target
    found = sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
    if not found or not found[0].is_file():
        raise SystemExit(f"there is no package or file src/{HOME.as_posix()}/{target}")
    return [f.relative_to(ROOT / "src") for f in found]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a run: how many changes were tried, and those that no test noticed."""

    tried: int
    survivors: tuple[Mutant, ...]


def run(target: str, *, count: int, seed: int, tests: Sequence[str] = (), only: str = "") -> Outcome:
    """Try some changes of a package, drawn by number, against its tests (those of its name unless others are given)."""
    requested = list(tests) or [f"tests/{target.split('/')[0]}"]
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "src"
        shutil.copytree(ROOT / "src", copy, ignore=shutil.ignore_patterns("*.pyc", "static"))
        every = [m for f in _files(target) for m in mutants(f, (copy / f).read_text(encoding="utf-8"))]
        every = [m for m in every if only in str(m)]
        drawn = random.Random(seed).sample(every, min(count, len(every)))
        print(f"{target}: {len(drawn)} of {len(every)} changes, against {' '.join(requested)}", flush=True)
        began = time.monotonic()
        if not _passes(copy, requested, None):
            raise SystemExit("the tests do not pass on the source as it is")
        limit = 30 + 5 * (time.monotonic() - began)
        survivors = []
        for mutant in drawn:
            place = copy / mutant.file
            source = place.read_text(encoding="utf-8")
            place.write_text(mutant.applied(source), encoding="utf-8")
            if _passes(copy, requested, limit):
                survivors.append(mutant)
                print(f"survived  {mutant}", flush=True)
            place.write_text(source, encoding="utf-8")
    print(f"{target}: {len(drawn) - len(survivors)} of {len(drawn)} noticed", flush=True)
    return Outcome(len(drawn), tuple(survivors))


def _passes(copy: Path, tests: Sequence[str], limit: float | None) -> bool:
    """Tell whether tests pass against a copy of the source; too long counts as noticed."""
    words = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-q",
        "-m",
        "not browser",
        "-p",
        "no:cacheprovider",
        *tests,
    ]
    env = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(words, cwd=ROOT, env=env, capture_output=True, timeout=limit, check=False)
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


def main() -> int:
    """Read the words, run, and list the survivors."""
    parser = argparse.ArgumentParser(prog="run.py mutate", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("target", nargs="+", help="a package (table), or a file of one (program/writer.py)")
    parser.add_argument("--count", type=int, default=24, help="how many changes (24)")
    parser.add_argument("--seed", type=int, default=1, help="which ones (1)")
    parser.add_argument(
        "--only", default="", metavar="WORDS", help="only changes whose line says this, as 'law.py:4'"
    )
    parser.add_argument("--tests", nargs="*", default=[], help="the tests to run (those of the package)")
    requested = parser.parse_args()
    for target in requested.target:
        run(target, count=requested.count, seed=requested.seed, tests=requested.tests, only=requested.only)
    return 0


if __name__ == "__main__":
    sys.exit(main())
