"""What runs in a child process: one task, its progress up a pipe, and an end when the parent is gone."""

from __future__ import annotations

import contextlib
import importlib
import os
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any

from platewright.errors import InputError, PlatewrightError
from platewright.report import write_report
from platewright.shop.folder.database import utc_now
from platewright.shop.folder.storage import trouble

__all__ = ["Report", "Task", "main"]

Report = Callable[[float, str], None]
"""Called by a task with how far it is (0 to 1) [-] and what it is doing."""
Task = Callable[[dict[str, Any], Report], dict[str, Any]]
"""A task: plain values in, plain values out."""

NICE = 5
"""Child processes give way to the page's server."""
WARM = ("numpy", "platewright.geometry")
IDLE = 6.0
"""How long a spare process waits for an order before it makes more ready than imports [s]."""


def _limit_memory(limit: int) -> None:
    """Cap the address space [bytes] where the system can (not on Windows)."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))


def _listen(pipe: Connection, inbox: list[Any], ready: threading.Event, enough: threading.Event) -> None:
    """Take the one order and a word that it is enough; when the parent's end of the pipe closes, die with it."""
    with contextlib.suppress(EOFError, OSError):
        inbox.append(pipe.recv())
        ready.set()
        while pipe.recv() == "enough":
            enough.set()
    os._exit(3)


class _Reporter:
    """What a task reports with; it may also ask whether the best so far is wanted, and show a picture of how far it is."""

    def __init__(self, send: Callable[[tuple[Any, ...]], None], enough: threading.Event) -> None:
        self._send, self.enough = send, enough.is_set

    def __call__(self, done: float, text: str) -> None:
        self._send(("progress", float(done), text))

    def show(self, picture: dict[str, Any]) -> None:
        self._send(("picture", picture))


def _run(order: dict[str, Any], send: Callable[[tuple[Any, ...]], None], enough: threading.Event) -> None:
    module, _, name = order["task"].partition(":")

    def fail(what: str, do: str) -> None:
        send(("failed", {**InputError(what, do=do).as_dict(), "kind": "Fault"}))

    try:
        task: Task = getattr(importlib.import_module(module), name)
        result = task(order["payload"], _Reporter(send, enough))
        send(("done", result))
    except PlatewrightError as bad:
        send(("failed", {**bad.as_dict(), "kind": type(bad).__name__}))
    except MemoryError:
        fail("This needs more memory than one job may use.", "Use a smaller picture or drawing.")
    except RecursionError:
        fail("This file is nested too deeply.", "Save it again as a plain drawing.")
    except Exception as bug:  # noqa: BLE001  the child's last line of defence: the page is told, never left waiting
        if (wrong := trouble(bug)) is not None:
            send(("failed", {**wrong.as_dict(), "kind": "StorageError"}))
            return
        made = write_report(bug, command=f"{order['task']} {order['payload']!r}", moment=utc_now())
        where = f" It is written down in {made}." if made else ""
        what = f"The program made a mistake ({type(bug).__name__}: {str(bug)[:200]}).{where}"
        fail(what, "Report it with the job's backup.")


def _make_ready(warm: tuple[str, ...], ready: threading.Event) -> None:
    for name in (n for n in warm if ":" not in n):
        if ready.is_set():  # the order imports what it needs, and no more
            return
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    calls = [n.partition(":") for n in warm if ":" in n]
    if not calls or ready.wait(IDLE):
        return
    for module, _, name in calls:
        if not ready.is_set():
            with contextlib.suppress(Exception):  # nothing depends on it
                getattr(importlib.import_module(module), name)()


def main(pipe: Connection, warm: tuple[str, ...], memory: int) -> None:
    """Import what tasks need, wait for the one order, run it, and leave [bytes].

    Names in `warm` are modules to import, or ``module:function`` to call, one after another, once no order has come
    for ``IDLE``: a call loads compiled loops, which takes seconds, and must not delay an order that is already there.
    """
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's; it ends its children
    if hasattr(os, "nice"):
        os.nice(NICE)
    inbox: list[Any] = []
    ready, enough = threading.Event(), threading.Event()
    threading.Thread(target=_listen, args=(pipe, inbox, ready, enough), daemon=True).start()
    _make_ready(warm, ready)
    ready.wait()
    order = inbox[0]
    _limit_memory(memory)
    lock = threading.Lock()

    def send(message: tuple[Any, ...]) -> None:
        with lock, contextlib.suppress(OSError):
            pipe.send(message)

    _run(order, send, enough)
    os._exit(0)
