"""Hold the length norm: half the functions at most 10 code lines, 95 % at most 40, none above 80; files at most 450.

Prints the ten longest functions. A function above 80 passes only if its first comment says why
(``# Long because ...``). Standard library only.
"""

from __future__ import annotations

import ast
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
MEDIAN, TAIL, MOST, FILE = 10, 40, 80, 450


def _code_lines(node: ast.FunctionDef | ast.AsyncFunctionDef, source: list[str]) -> int:
    """Count lines of code [lines], without docstring, comments and blanks."""
    body = node.body[1:] if ast.get_docstring(node) else node.body
    if not body:
        return 0
    lines = source[body[0].lineno - 1 : node.end_lineno]
    return sum(1 for line in lines if line.strip() and not line.strip().startswith("#"))


def main() -> int:
    """Print the measure and the breaches; return 1 if there are any."""
    found: list[tuple[int, str, bool]] = []
    bad: list[str] = []
    for path in sorted((ROOT / "src").rglob("*.py")):
        source = path.read_text(encoding="utf-8").splitlines()
        if len(source) > FILE:
            bad.append(f"{path.relative_to(ROOT)} has {len(source)} lines (at most {FILE})")
        for node in ast.walk(ast.parse("\n".join(source))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                excused = any("# Long because" in line for line in source[node.lineno - 1 : node.lineno + 25])
                name = f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
                found.append((_code_lines(node, source), name, excused))
    found.sort(reverse=True)
    counts = sorted(n for n, _, _ in found)
    median, tail = counts[len(counts) // 2], counts[int(len(counts) * 0.95)]
    print(f"functions: {len(counts)}, median {median} code lines, 95 % {tail}, longest {counts[-1]}")
    for lines, name, _ in found[:10]:
        print(f"  {lines:4d} {name}")
    bad += [
        f"{name} has {n} code lines (at most {MOST}, or '# Long because ...')"
        for n, name, excused in found
        if n > MOST and not excused
    ]
    bad += [f"half the functions must have at most {MEDIAN} code lines, median is {median}"] * (
        median > MEDIAN
    )
    bad += [f"95 % of functions must have at most {TAIL} code lines, it is {tail}"] * (tail > TAIL)
    for line in bad:
        print(f"too long: {line}", file=sys.stderr)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
