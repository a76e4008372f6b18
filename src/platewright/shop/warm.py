"""Compile every slow loop once, in a process of its own, before somebody waits for one.

The compiled loops are kept beside the code, so this is real work only once after an installation; later it takes
seconds. It runs at the lowest priority, is no job of the page (takes none of its places), and ends with the server:
`Warming.close` kills it, and a server that dies takes it along because its end of the pipe closes.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import sys
import threading
from multiprocessing.connection import Connection

__all__ = ["Warming", "capture", "warm_up"]

LAST = 19
"""The lowest priority a process can take (POSIX nice) [-]."""
IDLE = 0x40
"""The same on Windows: IDLE_PRIORITY_CLASS of SetPriorityClass [-]."""


def warm_up() -> list[str]:
    """Work a small job and read one small picture; return what was warmed (no unit [-])."""
    done = []
    for name, work in (("job", job), ("capture", capture)):
        work()
        done.append(name)
    return done


def job() -> None:
    """Lay a few parts, plan their cuts, write and prove the program: the loops from layout to proof [-]."""
    from platewright.burn.options import BurnOptions
    from platewright.burn.plan import plan
    from platewright.layout.warm import laid
    from platewright.program.dialects import load_dialect
    from platewright.program.writer import write
    from platewright.proof.prove import prove
    from platewright.table.chart import starter_chart
    from platewright.table.profile import load_table

    table = load_table("small gantry")
    planned = plan(laid(), starter_chart(), table, BurnOptions())
    program = write(planned, load_dialect(table.dialect), name="warm")
    prove(program.text, dialect=program.dialect, table=table, row=planned.row, layout=planned.layout)


def capture() -> None:
    """Read a dark plate with a hole off a pale scan, and fit it: the loops of capture and of fitting [-]."""
    import cv2
    import numpy as np

    from platewright.pattern.capture.scan import ScanOptions, read_scan
    from platewright.pattern.shape import ShapeOptions, to_profile

    picture = np.full((500, 700, 3), 235, np.uint8)
    picture[100:400, 120:560] = (90, 60, 40)
    cv2.circle(picture, (340, 250), 60, (235, 235, 235), -1)
    kept, png = cv2.imencode(".png", picture)
    assert kept
    to_profile(
        read_scan(png.tobytes(), options=ScanOptions(dpi=(100, 100))), options=ShapeOptions(anyway=True)
    )


def _give_way() -> None:
    """Take the lowest priority."""
    if sys.platform == "win32":
        import ctypes

        kernel = ctypes.windll.kernel32
        kernel.SetPriorityClass(kernel.GetCurrentProcess(), IDLE)
    else:
        os.nice(LAST)


def _end_with(pipe: Connection) -> None:
    """Wait until the server's end of the pipe closes, and end with it."""
    with contextlib.suppress(EOFError, OSError):
        pipe.recv()
    os._exit(3)


def _child(pipe: Connection) -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's; it ends this
    threading.Thread(target=_end_with, args=(pipe,), daemon=True).start()
    _give_way()
    with contextlib.suppress(
        Exception
    ):  # nothing depends on it: what is not warm is compiled when it is needed
        warm_up()
    os._exit(0)


class Warming:
    """The process that warms up; started at once."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self.process = context.Process(target=_child, args=(theirs,), daemon=True, name="platewright-warm")
        self.process.start()
        theirs.close()

    def close(self) -> None:
        """End it, done or not, and wait until it is gone."""
        self.process.kill()
        self.process.join(5.0)
        self._pipe.close()
