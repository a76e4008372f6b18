"""Children that answer, are late, die, babble, or are not there: what they had told counts, and nothing else."""

from __future__ import annotations

import sys
import time

import pytest

from platewright.layout.engines.outside import ask

ROW = (0, 1.0, 2.0, 90.0)
TELL = "import json, sys, time; json.load(sys.stdin); print('[[0, 9, 9, 0]]', flush=True); print('[[0, 1, 2, 90]]', flush=True); "


@pytest.mark.parametrize(
    ("code", "rows", "ended"),
    [
        (TELL, (ROW,), "done"),
        (TELL + "time.sleep(60)", (ROW,), "stopped"),
        (TELL + "sys.exit(3)", (ROW,), "failed"),
        (TELL + "sys.stdout.write('[[0, 7, 7')", (ROW,), "done"),
        ("raise SystemExit(1)", (), "failed"),
        ("print('hello')", (), "done"),
    ],
    ids=["in time", "late", "dies after an answer", "cut off in a line", "dies", "babbles"],
)
def test_the_last_whole_answer_counts(code: str, rows: tuple[object, ...], ended: str) -> None:
    reply = ask((sys.executable, "-c", code), {"height": 1.0}, seconds=3.0 if ended == "stopped" else 20.0)
    assert (reply.rows, reply.ended) == (rows, ended)
    assert reply.seconds < 15


def test_a_library_that_is_not_there_has_no_answer() -> None:
    assert ask(("no-such-program-here",), {}, seconds=1.0).ended == "failed"


def test_no_longer_wanted_ends_the_child_at_once() -> None:
    began = time.monotonic()
    reply = ask((sys.executable, "-c", TELL + "time.sleep(60)"), {}, seconds=60.0, cancelled=lambda: True)
    assert reply.ended == "stopped"
    assert time.monotonic() - began < 10
