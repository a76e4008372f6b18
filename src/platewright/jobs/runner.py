"""The runner: one process a job, a few at a time, one warm spare, cancel at any moment.

A job runs in its own spawned process (native code cannot be stopped any other way), reports progress up a
pipe, and ends with the server. A spare process that has already imported the numerical libraries waits
for the next job, so that starting one costs milliseconds. Cost of a job: one process, at most `memory`.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, Literal

from platewright.errors import InputError
from platewright.jobs import child
from platewright.jobs.board import Board

__all__ = ["Runner", "State", "Work"]

State = Literal["waiting", "running", "done", "failed", "cancelled"]
MEMORY = 4 << 30
"""Address space one job may take [bytes]."""
KEEP_ENDED = 200
"""Ended jobs remembered [count]."""
FIRST_TIME = "slower this first time: fast parts are being compiled"
"""Said beside a job's progress until the loops are compiled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One job as the page sees it.

    Attributes
    ----------
    id, task, about : its name here, what runs, and what it is about (a document's id)
    key : what exactly is asked; the same is not done twice at once
    state : waiting, running, done, failed or cancelled
    done : how far [-], 0 to 1; text says what it is doing
    result, error : plain values once it ended
    seconds : running time so far or in all [s]
    pictures : how many pictures of how far it is have been shown [-]; the last can be asked for
    """

    id: str
    task: str
    about: str
    key: str = ""
    state: State = "waiting"
    done: float = 0.0
    text: str = ""
    result: dict[str, Any] | None = field(default=None, hash=False)
    error: dict[str, str] | None = field(default=None, hash=False)
    seconds: float = 0.0
    pictures: int = 0

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values; times in seconds [s]."""
        return {
            "id": self.id, "about": self.about, "state": self.state, "done": round(self.done, 4),
            "text": self.text, "error": self.error, "seconds": round(self.seconds, 2), "pictures": self.pictures,
        }  # fmt: skip


@dataclass(slots=True)
class _Child:
    process: BaseProcess
    pipe: Connection
    lock: threading.Lock = field(default_factory=threading.Lock)


@dataclass(slots=True)
class _Order:
    payload: dict[str, Any]
    limit: float


class Runner:
    """Start, watch and stop jobs.

    Parameters
    ----------
    board : where events are told
    slots : jobs running at once [count]; None leaves one core to the page's server
    warm : modules a process imports before it gets its order, and ``module:function`` it calls if none comes
    memory : address space one job may take [bytes]
    ready : whether the loops are compiled; until then no spare is made beside a job, and its progress says why it is slow
    """

    def __init__(
        self,
        board: Board,
        *,
        slots: int | None = None,
        warm: tuple[str, ...] = child.WARM,
        memory: int = MEMORY,
        ready: Callable[[], bool] = lambda: True,
    ) -> None:
        self.board = board
        self._ready = ready
        self._slots = slots or max(1, (os.cpu_count() or 2) - 1)
        self._warm, self._memory = warm, memory
        self._context = multiprocessing.get_context("spawn")
        self._lock = threading.RLock()
        self._works: dict[str, Work] = {}
        self._orders: dict[str, _Order] = {}
        self._queue: deque[str] = deque()
        self._running: dict[str, _Child] = {}
        self._pictures: dict[str, dict[str, Any]] = {}
        self._spare: _Child | None = None
        self._closed = False

    # -- what others call --------------------------------------------------------------------

    def start(
        self, task: str, payload: dict[str, Any], *, about: str = "", key: str = "", limit: float = 600.0
    ) -> Work:
        """Queue a job and return it at once; if the same is waiting or running already, return that.

        Parameters
        ----------
        task : ``module:function`` of this package, taking (payload, report)
        payload : plain values
        about : the document it works on
        key : what exactly is asked, "" for something that is never the same
        limit : running time after which it is stopped [s]
        """
        if not task.startswith("platewright.") and not task.startswith("tests."):
            raise InputError(f"'{task}' is not a task of this program.")
        work = Work(id=secrets.token_hex(6), task=task, about=about, key=key)
        with self._lock:
            same = [
                w for w in self._works.values() if key and w.key == key and w.state in ("waiting", "running")
            ]
            if same:
                return same[-1]
            self._works[work.id] = work
            self._orders[work.id] = _Order(payload, limit)
            self._queue.append(work.id)
            self._forget()
        self._tell(work)
        self._pump()
        return work

    def get(self, ident: str) -> Work:
        """Return a job as it stands; its times in seconds [s].

        Raises
        ------
        InputError
            If there is no such job.
        """
        with self._lock:
            work = self._works.get(ident)
        if work is None:
            raise InputError("There is no such job any more.", do="Start it again.")
        return work

    def listing(self, about: str | None = None) -> list[Work]:
        """Return the jobs remembered, oldest first."""
        with self._lock:
            return [w for w in self._works.values() if about is None or w.about == about]

    def cancel(self, ident: str) -> Work:
        """Stop a job now, whatever it is doing; an ended one stays as it is."""
        with self._lock:
            work = self.get(ident)
            if work.state not in ("waiting", "running"):
                return work
            if ident in self._queue:
                self._queue.remove(ident)
            held = self._running.pop(ident, None)
            work = self._change(ident, state="cancelled", text="stopped")
        if held is not None:
            _end(held)
        self._pump()
        return work

    def enough(self, ident: str) -> Work:
        """Ask a running job to end with the best it has; one that has shown nothing yet goes on."""
        with self._lock:
            work, held = self.get(ident), self._running.get(ident)
        if held is not None and work.pictures:
            with contextlib.suppress(OSError):
                held.pipe.send("enough")
        return work

    def picture(self, ident: str) -> dict[str, Any] | None:
        """Return the last picture a job has shown, lengths in it [mm], or None."""
        with self._lock:
            self.get(ident)
            return self._pictures.get(ident)

    def wait(self, ident: str, *, limit: float = 60.0) -> Work:
        """Wait until a job has ended, at most `limit` seconds [s], and return it as it stands."""
        end = time.monotonic() + limit
        while (work := self.get(ident)).state in ("waiting", "running") and time.monotonic() < end:
            time.sleep(0.01)
        return work

    def warm_up(self) -> None:
        """Start the spare process now, so that the first job does not wait for it."""
        with self._lock:
            if self._spare is None and not self._closed:
                self._spare = self._spawn()

    def close(self) -> None:
        """End every job and the spare."""
        with self._lock:
            self._closed = True
            held = [*self._running.values(), *([self._spare] if self._spare else [])]
            self._running.clear()
            self._queue.clear()
            self._spare = None
        for process in held:
            _end(process)

    # -- inside ------------------------------------------------------------------------------

    def _spawn(self) -> _Child:
        ours, theirs = self._context.Pipe()
        process = self._context.Process(
            target=child.main, args=(theirs, self._warm, self._memory), daemon=True, name="platewright-job"
        )
        process.start()
        theirs.close()
        return _Child(process, ours)

    def _pump(self) -> None:
        """Start queued jobs while there are slots."""
        with self._lock:
            while self._queue and len(self._running) < self._slots and not self._closed:
                ident = self._queue.popleft()
                held = self._spare if self._spare and self._spare.process.is_alive() else self._spawn()
                self._spare = None
                self._running[ident] = held
                order = self._orders.pop(ident)
                self._change(ident, state="running", text="starting")
                name = f"job-{ident}"
                threading.Thread(
                    target=self._watch, args=(ident, held, order), daemon=True, name=name
                ).start()

    def _watch(self, ident: str, held: _Child, order: _Order) -> None:
        """Follow one job to its end (own thread)."""
        started = time.monotonic()
        outcome: dict[str, Any] = {}
        try:
            held.pipe.send({"task": self.get(ident).task, "payload": order.payload})
            if self._ready():
                self.warm_up()
            while not outcome:
                left = started + order.limit - time.monotonic()
                if left <= 0 or not held.pipe.poll(left):
                    outcome = _failed(f"This took longer than {order.limit:.0f} s and was stopped.")
                    break
                outcome = self._on_message(ident, held.pipe.recv(), time.monotonic() - started)
        except (EOFError, OSError):
            outcome = _failed("The work stopped unexpectedly (perhaps for want of memory).")
        with self._lock:
            self._running.pop(ident, None)
            self._pictures.pop(ident, None)
            if self._works[ident].state == "running":
                self._change(ident, seconds=time.monotonic() - started, **outcome)
        _end(held)
        held.pipe.close()
        self._pump()
        self.warm_up()

    def _on_message(self, ident: str, message: tuple[Any, ...], seconds: float) -> dict[str, Any]:
        """Take one message of a child; return the outcome if it is the last."""
        if message[0] == "progress":
            text = message[2] if self._ready() else f"{message[2]} ({FIRST_TIME})"
            with self._lock:
                if self._works[ident].state == "running":
                    self._change(ident, done=message[1], text=text, seconds=seconds)
            return {}
        if message[0] == "picture":
            with self._lock:
                if self._works[ident].state == "running":
                    self._pictures[ident] = message[1]
                    self._change(ident, pictures=self._works[ident].pictures + 1)
            return {}
        if message[0] == "done":
            return {"state": "done", "done": 1.0, "text": "done", "result": message[1]}
        return {"state": "failed", "text": message[1]["what"], "error": message[1]}

    def _change(self, ident: str, **changes: Any) -> Work:
        work = self._works[ident] = replace(self._works[ident], **changes)
        self._tell(work)
        return work

    def _tell(self, work: Work) -> None:
        self.board.tell("work", **work.as_dict())

    def _forget(self) -> None:
        ended = [i for i, w in self._works.items() if w.state not in ("waiting", "running")]
        for ident in ended[:-KEEP_ENDED]:
            del self._works[ident]


def _failed(what: str) -> dict[str, Any]:
    error = InputError(what, do="Try again with less, or a simpler file.")
    return {"state": "failed", "text": what, "error": {**error.as_dict(), "kind": "Fault"}}


def _end(held: _Child) -> None:
    """Kill a child and wait until it is gone; twice does no harm (its watcher and a cancel may both come)."""
    with held.lock:
        held.process.kill()
        held.process.join(5.0)
