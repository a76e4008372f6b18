"""Small hostile files: each is answered with a sentence or a result under 5 s of processor time and 1 GB, in a process of its own."""

from __future__ import annotations

import math
import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

from tests.pattern.drawing_files import bare_dxf

SECONDS, BYTES = 12.0, 1_000_000_000  # of a busy machine: its processors count the same work nearly double
CHILD = """
import sys
from pathlib import Path
from platewright.errors import PlatewrightError
file = Path(sys.argv[1])
try:
    if file.suffix in (".dxf", ".svg"):
        from platewright.pattern.drawing.read import read_drawing
        print("read", len(read_drawing(file.read_bytes(), file.name).profiles))
    elif file.suffix in (".csv", ".json"):
        from platewright.pattern.points import read_points
        print("read", len(read_points(file.read_bytes(), where=file.name).outer.points))
    else:
        from platewright.table.profile import load_table
        print("read", load_table(file.read_text(), where=file.name).name)
except PlatewrightError as told:
    print(told.sentence())
# what this process took at most; the one a parent's wait tells starts from the parent's own size
with open("/proc/self/status") as status:
    print(next(line for line in status if line.startswith("VmHWM")).split()[1], file=sys.stderr)
"""


def _nested_circles() -> bytes:
    return bare_dxf(
        [
            w
            for i in range(10_000)
            for w in ("0", "CIRCLE", "8", "0", "10", "0", "20", "0", "40", f"{1 + i * 0.05:.3f}")
        ]
    )


def _plain_outline() -> bytes:
    turn = [2 * math.pi * i / 10_000 for i in range(10_000)]
    spots = [(500 * math.cos(t) * (1 + 0.01 * math.sin(40 * t)), 500 * math.sin(t)) for t in turn]
    ends = zip(spots, spots[1:] + spots[:1], strict=True)
    return bare_dxf(
        [
            w
            for a, b in ends
            for w in (
                "0",
                "LINE",
                "8",
                "0",
                "10",
                f"{a[0]:.4f}",
                "20",
                f"{a[1]:.4f}",
                "11",
                f"{b[0]:.4f}",
                "21",
                f"{b[1]:.4f}",
            )
        ]
    )


def _random(count: int) -> bytes:
    chance = random.Random(7)
    return "\n".join(
        f"{chance.uniform(0, 300):.3f},{chance.uniform(0, 300):.3f}" for _ in range(count)
    ).encode()


def _long_path() -> bytes:
    steps = "".join(f"L{250 + 200 * math.cos(i):.1f} {250 + 200 * math.sin(i):.1f}" for i in range(300_000))
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="500mm" viewBox="0 0 500 500"><path d="M0 0{steps}Z"/></svg>'.encode()


def _many_loops() -> bytes:
    return "\n".join(
        "\n".join(f"{(k + 1) * math.cos(i):.2f},{(k + 1) * math.sin(i):.2f}" for i in range(6)) + "\n"
        for k in range(3_000)
    ).encode()


CASES = {
    "circles.dxf": (_nested_circles, "within or over each other"),
    "outline.dxf": (_plain_outline, "read 1"),
    "random.csv": (lambda: _random(5_000), "criss-cross"),
    "loops.csv": (_many_loops, "loops or holes"),
    "path.svg": (_long_path, "paths are too long"),
    "deep.json": (lambda: b"[" * 100_000, "nested too deeply"),
    "digits.json": (lambda: b"[[" + b"9" * 5_000 + b", 1]]", "cannot be kept"),
    "overflow.json": (lambda: b"[[" + b"9" * 4_000 + b", 1], [1, 2], [3, 4]]", "loops.0.0"),
    "digits.csv": (lambda: b"9" * 5_000 + b",1\n1,2\n3,4\n", "is not a number"),
    "newlines.toml": (lambda: b"\n" * 10_000_000, "10000000 letters"),
    "deep.toml": (lambda: b"a = " + b"[" * 100_000, "nested too deeply"),
    "digits.toml": (lambda: b"a = " + b"9" * 5_000, "cannot be kept"),
}


@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="needs a system that tells a process's memory"
)
@pytest.mark.parametrize("name", CASES)
def test_a_small_hostile_file_is_answered_in_time_and_memory(name: str, tmp_path: Path) -> None:
    make, said = CASES[name]
    (tmp_path / name).write_bytes(make())
    with (tmp_path / "out").open("wb") as out_file, (tmp_path / "err").open("wb") as err_file:
        child = subprocess.Popen(
            [sys.executable, "-c", CHILD, str(tmp_path / name)], stdout=out_file, stderr=err_file
        )
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    out, wrong = ((tmp_path / f).read_text() for f in ("out", "err"))
    assert child.returncode == 0, wrong[-500:]
    assert said in out
    assert len(out) < 500
    assert used.ru_utime + used.ru_stime < SECONDS
    assert int(wrong.split()[-1]) * 1024 < BYTES
