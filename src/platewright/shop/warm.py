"""Compile every slow loop once, in processes of their own, before somebody waits for one.

The compiled loops are kept beside the code, so this is work only once after an installation: a stamp beside them says that a
share is done. Two processes share it, each in the order of need; a loop that two processes want is compiled by one while the other
waits (``compiled``). They run at a low priority, are no job of the page (take none of its places), and end with the server:
`Warming.close` kills them, and a server that dies takes them along because its end of the pipe closes.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import sys
import tempfile
import threading
import zlib
from collections.abc import Callable
from importlib.metadata import version
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from platewright.geometry import Contour, Floats
    from platewright.layout.model import Layout
    from platewright.pattern.model import Captured

__all__ = ["Warming", "is_ready", "kept_ready", "stamp", "warm_up"]

NICE = 10
"""A low priority (POSIX nice) [-], below that of the page's slow work; not the lowest, for that may wait for a loop."""
BELOW_NORMAL = 0x4000
"""The same on Windows: BELOW_NORMAL_PRIORITY_CLASS of SetPriorityClass [-]."""


def warm_up(share: int | None = None) -> list[str]:
    """Do the steps of one of the two shares, or of both, on small examples; return what was warmed (no unit [-])."""
    done = []
    for work in [*SHARES[0], *SHARES[1]] if share is None else SHARES[share]:
        with contextlib.suppress(Exception):  # what is not warm is compiled when it is needed
            work()
            done.append(work.__name__)
    return done


def edges() -> None:
    """Follow the edge through no profiles at all: the loops of capture, with nothing else imported before them [-]."""
    import numpy as np

    from platewright.pattern.capture.edge.kernels import Camera, Scene, closed_path, edge_costs, painted

    one, two, three = np.zeros(0), np.zeros((0, 0)), np.zeros((0, 0, 0))
    scene = Scene(one, one, one, three, one, two, 1.0)
    painted(np.zeros(0, np.int64), two, scene, Camera(two, one, one, one))
    edge_costs(two, one, one, one, one, one)
    closed_path(np.zeros((1, 1, 1)), 1.0, 1.0, 1.0, 1.0)


def read() -> Captured:
    """Read a dark plate with a hole off a pale scan: the loops of capture [-]."""
    import cv2
    import numpy as np

    from platewright.pattern.capture.scan import ScanOptions, read_scan

    picture = np.full((500, 700, 3), 235, np.uint8)
    picture[100:400, 120:560] = (90, 60, 40)
    cv2.circle(picture, (340, 250), 60, (235, 235, 235), -1)
    kept, png = cv2.imencode(".png", picture)
    assert kept
    return read_scan(png.tobytes(), options=ScanOptions(dpi=(100, 100)))


def capture() -> None:
    """Read the same and fit it: the loops of capture and of fitting [-]."""
    from platewright.pattern.shape import ShapeOptions, to_profile

    to_profile(read(), options=ShapeOptions(anyway=True))


def fit() -> None:
    """Fit a plate with round corners and a hole to points of its edge: the loops of fitting [-]."""
    from platewright.fit.profile import fit_profile
    from platewright.geometry import Contour

    outlines = [Contour.rectangle(120, 80, radius=15), Contour.circle(60, 40, 18)]
    outer, hole = (_points(one) for one in outlines)
    fit_profile(outer, [hole])


def _points(contour: Contour) -> Floats:
    """Return points a millimetre apart along a contour, which are a few hundredths off it [mm]."""
    import numpy as np

    from platewright.geometry.flatten import along_ring, flatten

    points = along_ring(flatten(contour, tolerance=0.01), lambda long: np.arange(0.0, long, 1.0))
    off: Floats = 0.03 * np.sin(np.arange(float(len(points))) ** 2)
    return points + off[:, None]


def placed() -> Layout:
    """Return a few parts where they were put by hand [mm]."""
    from math import pi

    from platewright.geometry import Contour, Pose, Profile
    from platewright.layout.model import Layout, Placement
    from platewright.part.model import Part
    from platewright.stock.model import Plate

    plate = Plate(name="warm", profile=Profile(Contour.rectangle(400, 200)), thickness=6.0, kind="drop")
    ring = Part(
        name="ring", profile=Profile(Contour.circle(0, 0, 40), (Contour.circle(0, 0, 20),)), thickness=6.0
    )
    square = Part(name="square", profile=Profile(Contour.rectangle(60, 60)), thickness=6.0)
    put = [(0, 60.0, 60.0, 0.0), (1, 120.0, 20.0, 0.0), (0, 300.0, 120.0, 0.0), (1, 250.0, 40.0, pi / 2)]
    places = (Placement(part, Pose(x, y, turn), n + 1) for n, (part, x, y, turn) in enumerate(put))
    return Layout(plate=plate, parts=(ring, square), placements=tuple(places))


def cuts() -> None:
    """Plan cuts, write and prove the program: the loops from burn to proof [-]."""
    from platewright.burn.options import BurnOptions
    from platewright.burn.plan import plan
    from platewright.program.dialects import load_dialect
    from platewright.program.writer import write
    from platewright.proof.prove import prove
    from platewright.table.chart import starter_chart
    from platewright.table.profile import load_table

    table = load_table("small gantry")
    planned = plan(placed(), starter_chart(), table, BurnOptions())
    program = write(planned, load_dialect(table.dialect), name="warm")
    prove(program.text, dialect=program.dialect, table=table, row=planned.row, layout=planned.layout)


def walls() -> None:
    """Ask for the walls between no pieces at all: the loops that slide pieces together [-]."""
    import numpy as np

    from platewright.layout.search.walls import pair_walls

    ints = np.int64
    pos, form, table, at = np.zeros((0, 2)), np.zeros(0, ints), np.zeros((1, 1), ints), np.zeros(2, ints)
    pair_walls(
        pos, form, table, at, np.zeros((1, 4)), np.zeros((6, 1)), 1.0, np.zeros((1, 3), ints), np.zeros((1, 3))
    )  # fmt: skip


def close_up() -> None:
    """Push parts together on their true edges: the loops of the layout's finish [-]."""
    from platewright.layout.snug import snug

    snug(placed(), 0.0, turns={0, 1})


def layout() -> None:
    """Lay a few parts: the loops of the layout [-]."""
    from platewright.layout.warm import laid

    laid()


def deviations() -> None:
    """Measure many points from a square's edge: the loops of the proof's deviations [-]."""
    import numpy as np

    from platewright.geometry import Contour
    from platewright.proof.edges import Edges, nearest

    nearest(np.zeros((20_000, 2)), Edges.of(Contour.rectangle(60, 60)))


SHARES: tuple[tuple[Callable[[], object], ...], ...] = (
    (edges, walls, close_up, cuts, deviations),
    (fit, layout),
)
"""What the two processes do, in the order of need: a first photo needs the loops of `edges` and `fit`."""


def is_ready() -> bool:
    """Return whether every loop is compiled and kept."""
    return all(stamp(share).exists() for share in range(len(SHARES)))


def kept_ready() -> None:
    """Load the compiled loops into a process that will be given slow work, if they are compiled already [-]."""
    if is_ready():
        capture()
        layout()


def _give_way() -> None:
    """Take a low priority."""
    if sys.platform == "win32":
        import ctypes

        kernel = ctypes.windll.kernel32
        kernel.SetPriorityClass(kernel.GetCurrentProcess(), BELOW_NORMAL)
    else:
        os.nice(NICE)


def _end_with(pipe: Connection) -> None:
    """Wait until the server's end of the pipe closes, and end with it."""
    with contextlib.suppress(EOFError, OSError):
        pipe.recv()
    os._exit(3)


def _child(pipe: Connection, share: int) -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's; it ends this
    threading.Thread(target=_end_with, args=(pipe,), daemon=True).start()
    _give_way()
    warm_up(share)
    with contextlib.suppress(OSError):
        stamp(share).parent.mkdir(parents=True, exist_ok=True)
        stamp(share).touch()
    os._exit(0)


def stamp(share: int) -> Path:
    """Return the file that stands for a share having been warmed, for the sources and compiler as they are."""
    import platewright

    package = Path(platewright.__file__).parent
    state = [sys.version, version("numba")]
    state += sorted(f"{p} {p.stat().st_mtime_ns}" for p in package.rglob("*.py"))
    beside = package / "__pycache__" if os.access(package, os.W_OK) else Path(tempfile.gettempdir())
    kept = Path(os.environ.get("NUMBA_CACHE_DIR") or beside)  # where the compiler keeps the loops, if it may
    return kept / f"platewright-warm-{share}-{zlib.crc32(repr(state).encode()):08x}"


class Warming:
    """The processes that warm up, one for each share that is not warm yet; started at once."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipes, self.processes = [], []
        for share in range(len(SHARES)):
            if stamp(share).exists():
                continue
            pipe, theirs = context.Pipe()
            process = context.Process(
                target=_child, args=(theirs, share), daemon=True, name=f"platewright-warm-{share}"
            )
            process.start()
            theirs.close()
            self._pipes.append(pipe)
            self.processes.append(process)

    def close(self) -> None:
        """End them, done or not, and wait until they are gone."""
        for process in self.processes:
            process.kill()
        for process, pipe in zip(self.processes, self._pipes, strict=True):
            process.join(5.0)
            pipe.close()
