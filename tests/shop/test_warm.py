"""Warming up: compiles the loops somebody would wait for, and is gone when the server is."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from platewright.shop import warm
from platewright.shop.warm import Warming, stamp, warm_up


def test_it_compiles_the_loops_from_photo_to_proof() -> None:
    from platewright.burn.sequence.kernels import search
    from platewright.fit.edges.kernels import partition
    from platewright.layout.search.walls import pair_walls
    from platewright.layout.shape.kernels import slide
    from platewright.pattern.capture.edge.kernels import closed_path, edge_costs
    from platewright.proof.kernels import nearest_edges

    assert warm_up() == ["edges", "walls", "close_up", "cuts", "deviations", "fit", "layout"]
    for loop in (partition, slide, search, closed_path, edge_costs, pair_walls, nearest_edges):
        assert loop.signatures, loop


@pytest.fixture(autouse=True)
def cold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nothing is stamped as warm."""
    monkeypatch.setattr(warm, "stamp", lambda share: tmp_path / str(share))
    return tmp_path


def test_a_photo_asks_for_no_other_loops_than_were_warmed() -> None:
    from platewright.pattern.capture.edge import kernels

    warm.edges()
    loops = (kernels.painted, kernels.edge_costs, kernels.closed_path)
    before = [list(loop.signatures) for loop in loops]
    warm.capture()
    assert [list(loop.signatures) for loop in loops] == before


def test_what_is_warm_is_not_warmed_again(cold: Path) -> None:
    (cold / "1").touch()
    warming = Warming()
    names = [one.name for one in warming.processes]
    warming.close()
    assert names == ["platewright-warm-0"]


def test_a_stamp_is_for_the_sources_as_they_are() -> None:
    first, second, again = stamp(0), stamp(1), stamp(0)
    assert first == again
    assert first != second
    assert first.parent.name == "__pycache__"


def test_it_ends_when_it_is_closed() -> None:
    warming = Warming()
    began = time.monotonic()
    warming.close()
    assert time.monotonic() - began < 5
    assert not any(one.is_alive() for one in warming.processes)


@pytest.mark.skipif(os.name == "nt", reason="reads the process table of POSIX")
def test_it_ends_when_the_server_is_killed() -> None:
    code = (
        "import time; from platewright.shop import warm; from platewright.shop.warm import Warming; from pathlib import Path\n"
        "warm.stamp = lambda share: Path('nowhere')\n"
        "if __name__ == '__main__':\n    w = Warming(); print(w.processes[1].pid, flush=True); time.sleep(60)"
    )
    server = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    child = int(server.stdout.readline())
    server.kill()
    server.wait(5)
    server.stdout.close()
    end = time.monotonic() + 20
    while time.monotonic() < end:
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            return
        if _is_ended(child):
            return
        time.sleep(0.05)
    raise AssertionError("the warming process outlived its server")


def _is_ended(pid: int) -> bool:
    """Tell whether a process is only a name waiting to be collected."""
    output = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False
    )
    return output.stdout.strip().startswith("Z") or not output.stdout.strip()
