"""Compiled loops: each by one process, once for the types it takes, and not more of them than there were."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

SRC = Path(__file__).parents[1] / "src" / "platewright"
MOST = 120
"""Compiled functions there may be [-]: each costs a new machine about half a second of processor time."""

LOOP = """
from platewright.compiled import njit

@njit(cache=True)
def inner(x, k):
    total = 0.0
    for i in range(k):
        total += x[i] * i
    return total

@njit(cache=True)
def outer(x):
    return inner(x, 3) + inner(x, len(x)) + inner(x, 0)
"""

RUN = """
import sys, numpy
sys.path.insert(0, sys.argv[1])
import platewright.compiled, loops
sys.stdout.write("ready\\n"); sys.stdout.flush(); sys.stdin.readline()
assert loops.outer(numpy.ones(4)) == 9.0
print([sum(one.stats.cache_misses.values()) for one in (loops.inner, loops.outer)])
"""


def _compiled(source: str) -> list[str]:
    return [
        node.name
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef) and any("njit" in ast.dump(d) for d in node.decorator_list)
    ]


def test_there_are_no_more_compiled_functions_than_there_were() -> None:
    found = [
        (path.name, name)
        for path in SRC.rglob("*.py")
        for name in _compiled(path.read_text(encoding="utf-8"))
    ]
    assert 0 < len(found) <= MOST


def test_every_compiled_function_is_compiled_by_one_process_only() -> None:
    for path in SRC.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            from_where = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            from_where += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert path.name == "compiled.py" or not any(one.startswith("numba") for one in from_where), path


def test_two_processes_that_want_a_loop_compile_it_once(tmp_path: Path) -> None:
    (tmp_path / "loops.py").write_text(LOOP, encoding="utf-8")
    started = [
        subprocess.Popen(
            [sys.executable, "-c", RUN, str(tmp_path)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONPATH": str(SRC.parent)},
        )
        for _ in range(2)
    ]  # fmt: skip
    for one in started:
        assert one.stdout is not None
        assert one.stdout.readline() == "ready\n"
    for one in started:
        assert one.stdin is not None
        one.stdin.write("go\n")
        one.stdin.flush()
    missed = [one.communicate(timeout=300)[0].strip() for one in started]
    assert all(one.returncode == 0 for one in started)
    # the one that comes second to the outer loop reads it whole, and never asks for the inner one
    assert sorted(missed) == ["[0, 0]", "[1, 1]"]


def test_a_loop_that_fails_to_compile_does_not_stay_locked(tmp_path: Path) -> None:
    source = "from platewright.compiled import njit\n\n@njit(cache=True)\ndef bad(x):\n    return x.absent\n"
    (tmp_path / "bad_loop.py").write_text(source, encoding="utf-8")
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path)!r})\n"
        "import bad_loop, platewright.compiled as compiled\nfrom numba.core.errors import TypingError\n"
        "try:\n    bad_loop.bad(1.0)\nexcept TypingError:\n    pass\nelse:\n    raise AssertionError\n"
        "assert compiled.place_of(bad_loop.bad) is not None and not compiled._held\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, env=os.environ | {"PYTHONPATH": str(SRC.parent)})
