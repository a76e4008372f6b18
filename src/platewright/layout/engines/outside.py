"""Ask a packing library in a child process: the question as one JSON document, every better answer as one JSON line.

The last whole line counts, so an engine that is stopped, killed or dies loses only what it had not yet told.
Assumptions: the child prints nothing else. Cost: a process; the answer's size.
"""

from __future__ import annotations

import json
import subprocess
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import IO, Any

__all__ = ["Reply", "ask"]

LOOK = 0.05
"""How often the child is looked at [s]."""


@dataclass(frozen=True, slots=True)
class Reply:
    """What a child answered.

    Attributes
    ----------
    rows : item [-], x, y [mm], turn [degrees] of every piece in its last answer; empty for no answer
    seconds : how long it ran [s]
    ended : ``done``, ``stopped`` (too late, or no longer wanted) or ``failed``
    """

    rows: tuple[tuple[int, float, float, float], ...]
    seconds: float
    ended: str


def ask(
    command: Sequence[str],
    question: Mapping[str, Any],
    *,
    seconds: float,
    cancelled: Callable[[], bool] = lambda: False,
) -> Reply:
    """Run a child and return its last answer.

    Parameters
    ----------
    command : the child's words
    question : what to pack, with lengths [mm]
    seconds : it is stopped after this time [s]
    cancelled : asked often; True stops it
    """
    began = time.monotonic()
    try:
        child = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
    except OSError:
        return Reply((), 0.0, "failed")
    last: list[str] = []
    assert child.stdin is not None
    assert child.stdout is not None
    reader = threading.Thread(target=_read, args=(child.stdout, last), daemon=True)
    reader.start()
    _send(child.stdin, question)
    while child.poll() is None and time.monotonic() - began < seconds and not cancelled():
        time.sleep(LOOK)
    stopped = child.poll() is None
    if stopped:
        child.kill()
    code = child.wait()
    reader.join()
    child.stdout.close()
    ended = "stopped" if stopped else "failed" if code else "done"
    return Reply(_rows(last), time.monotonic() - began, ended)


def _send(pipe: IO[str], question: Mapping[str, Any]) -> None:
    try:
        with pipe:
            json.dump(question, pipe)
    except BrokenPipeError:
        pass  # it died at once; its exit code tells


def _read(pipe: IO[str], last: list[str]) -> None:
    for line in pipe:
        if line.endswith("\n"):
            last[:] = [line]


def _rows(last: Sequence[str]) -> tuple[tuple[int, float, float, float], ...]:
    try:
        return tuple((int(i), float(x), float(y), float(d)) for i, x, y, d in json.loads(last[0]))
    except (IndexError, ValueError, TypeError):
        return ()
