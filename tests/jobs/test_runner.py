"""Jobs run in processes of their own: progress, failure in words, cancel, limits, queue."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Iterator

import pytest

from platewright.errors import InputError
from platewright.jobs import child
from platewright.jobs.board import Board
from platewright.jobs.runner import Runner


@pytest.fixture(scope="module")
def runner() -> Iterator[Runner]:
    made = Runner(Board(), slots=1, warm=())
    yield made
    made.close()


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_job_reports_and_gives_its_result(runner: Runner) -> None:
    start = runner.board.tell("mark")
    work = runner.start("tests.jobs.tasks:count", {"to": 5}, about="job-1")
    ended = runner.wait(work.id)
    assert (ended.state, ended.result, ended.done) == ("done", {"sum": 10}, 1.0)
    told = [e.data for e in runner.board.after(runner.board.ident(start)) if e.data["id"] == work.id]
    assert [t["state"] for t in told] == ["waiting", "running"] + ["running"] * 5 + ["done"]
    assert [t["done"] for t in told[2:]] == [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]


@pytest.mark.parametrize(
    ("task", "payload", "text"),
    [
        ("refuse", {}, "The outline is open."),
        ("bug", {"zero": 0}, "made a mistake (ZeroDivisionError"),
        ("deep", {}, "nested too deeply"),
        ("crash", {}, "stopped unexpectedly"),
    ],
)
def test_failures_come_as_words(runner: Runner, task: str, payload: dict[str, int], text: str) -> None:
    ended = runner.wait(runner.start(f"tests.jobs.tasks:{task}", payload).id)
    assert ended.state == "failed"
    assert ended.error is not None
    assert text in ended.error["what"]
    assert ended.error["do"]


def test_cancel_ends_the_process_and_frees_the_slot(runner: Runner) -> None:
    first = runner.start("tests.jobs.tasks:sleep", {"seconds": 60})
    second = runner.start("tests.jobs.tasks:count", {"to": 1})
    third = runner.start("tests.jobs.tasks:count", {"to": 1})
    while not runner.get(first.id).text.startswith("pid"):
        time.sleep(0.01)
    assert runner.get(second.id).state == "waiting"
    assert runner.cancel(third.id).state == "cancelled"
    pid = int(runner.get(first.id).text.split()[1])
    assert runner.cancel(first.id).state == "cancelled"
    assert not _alive(pid)
    assert runner.wait(second.id).state == "done"
    assert runner.cancel(second.id).state == "done"


def test_a_job_over_its_time_is_stopped(runner: Runner) -> None:
    ended = runner.wait(runner.start("tests.jobs.tasks:sleep", {"seconds": 60}, limit=0.5).id)
    assert ended.error is not None
    assert "longer than 0 s" in ended.error["what"]


@pytest.mark.skipif(sys.platform == "win32", reason="no address-space limit on Windows")
def test_a_job_over_its_memory_fails_in_words() -> None:
    small = Runner(Board(), slots=1, warm=(), memory=1 << 30)
    ended = small.wait(small.start("tests.jobs.tasks:hog", {"bytes": 2 << 30}).id)
    small.close()
    assert ended.error is not None
    assert "more memory" in ended.error["what"]


def test_only_our_own_tasks_run(runner: Runner) -> None:
    with pytest.raises(InputError, match="not a task"):
        runner.start("os:system", {})
    with pytest.raises(InputError, match="no such job"):
        runner.get("nothing")


def test_closing_ends_every_process() -> None:
    runner = Runner(Board(), slots=1, warm=())
    work = runner.start("tests.jobs.tasks:sleep", {"seconds": 60})
    while not runner.get(work.id).text.startswith("pid"):
        time.sleep(0.01)
    pid = int(runner.get(work.id).text.split()[1])
    runner.close()
    assert not _alive(pid)


@pytest.mark.parametrize("ordered", [False, True])
def test_an_idle_spare_makes_itself_ready_and_an_order_does_not_wait_for_it(
    ordered: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    called: list[int] = []
    monkeypatch.setattr(child, "IDLE", 0.01)
    monkeypatch.setattr("tests.jobs.tasks.warmed", lambda: called.append(1), raising=False)
    ready = threading.Event()
    if ordered:
        ready.set()
    child._make_ready(
        ("numpy", "no.such.module", "tests.jobs.tasks:warmed", "tests.jobs.tasks:absent"), ready
    )
    assert called == ([] if ordered else [1])


def test_what_the_servers_spare_calls_is_there() -> None:
    from importlib import import_module

    from platewright.web.state import WARM

    for module, _, name in (n.partition(":") for n in WARM):
        assert callable(getattr(import_module(module), name)) if name else import_module(module)
