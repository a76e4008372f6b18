"""Where moves are written down: growing columns, one entry a move; arcs and dwells keep what only they have apart.

A move starts where the one before it ended, the first one at the origin, so starts are not written.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from platewright.program.run import Moves

__all__ = ["KnownAxes", "Recorder"]


class Recorder:
    """Growing columns of moves: ends [mm], feeds [mm/s], kinds, lines, flags (1 torch, 2 follow, 4 marking, plane times 16)."""

    __slots__ = ("arcs", "dwells", "feed", "flags", "kind", "line", "x", "y", "z")

    def __init__(self) -> None:
        self.x, self.y, self.z, self.feed = array("d"), array("d"), array("d"), array("d")
        self.kind, self.flags, self.line = array("B"), array("B"), array("i")
        self.arcs, self.dwells = array("d"), array("d")

    @property
    def count(self) -> int:
        """Number of moves written down [-]."""
        return len(self.kind)

    def add(self, kind: int, line: int, flags: int, end: Sequence[float], feed: float = 0.0) -> None:
        """Write one move: kind, line, flags [-], end [mm], feed [mm/s]."""
        self.x.append(end[0])
        self.y.append(end[1])
        self.z.append(end[2])
        self.feed.append(feed)
        self.kind.append(kind)
        self.line.append(line)
        self.flags.append(flags)

    def add_all(
        self,
        kinds: NDArray[np.uint8],
        lines: NDArray[np.int64],
        flags: NDArray[np.uint8],
        columns: Sequence[NDArray[np.float64]],
    ) -> None:
        """Write moves as columns: kinds, lines, flags [-], and x, y, z [mm] and feed [mm/s]."""
        for column, values in zip((self.x, self.y, self.z, self.feed), columns, strict=True):
            column.frombytes(np.ascontiguousarray(values).tobytes())
        self.kind.frombytes(kinds.tobytes())
        self.line.frombytes(lines.astype(np.intc).tobytes())
        self.flags.frombytes(flags.tobytes())

    def arc(self, row: int, cx: float, cy: float, sweep: float, mismatch: float) -> None:
        """Write what an arc has of its own, for its row [-]: centre [mm], sweep [rad], mismatch [mm]."""
        self.arcs.extend((row, cx, cy, sweep, mismatch))

    def dwell(self, row: int, seconds: float) -> None:
        """Write how long a dwell is, for its row [-], [s]."""
        self.dwells.extend((row, seconds))

    def moves(self) -> Moves:
        """Return the rows as read-only arrays [mm, rad, mm/s, s]."""
        n, flags = self.count, np.array(self.flags, dtype=np.uint8)
        end = np.column_stack([np.array(c) for c in (self.x, self.y, self.z)]) + 0.0  # no -0
        centre, turned, seconds = np.full((n, 2), np.nan), np.zeros((n, 2)), np.zeros(n)
        arcs, dwells = np.array(self.arcs).reshape(-1, 5), np.array(self.dwells).reshape(-1, 2)
        rows = arcs[:, 0].astype(np.intp)
        centre[rows], turned[rows] = arcs[:, 1:3], arcs[:, 3:5]
        seconds[dwells[:, 0].astype(np.intp)] = dwells[:, 1]
        made = Moves(
            kind=np.array(self.kind, dtype=np.int8),
            line=np.array(self.line, dtype=np.int32),
            start=np.vstack([np.zeros((1, 3)), end])[:n],
            end=end,
            centre=centre,
            sweep=np.ascontiguousarray(turned[:, 0]),
            feed=np.array(self.feed),
            seconds=seconds,
            torch=(flags & 1) > 0,
            follow=(flags & 2) > 0,
            marking=(flags & 4) > 0,
            plane=(flags >> 4).astype(np.int8),
            mismatch=np.ascontiguousarray(turned[:, 1]),
        )
        for name in made.__slots__:
            getattr(made, name).setflags(write=False)
        return made


class KnownAxes:
    """The first move [-] from which each of X, Y and Z is known from the text alone, None while it is not."""

    __slots__ = ("adrift", "first", "open")

    def __init__(self) -> None:
        self.first: list[int | None] = [None, None, None]
        self.adrift = [False, False, False]
        self.open = True

    def moved(self, axes: Iterable[int], move: int, known: bool) -> None:
        """Note that a move [-] names axes, as places (G90, or a touch-off) or, not `known`, as steps from where the torch stands."""
        for i in axes if known else ():
            if self.first[i] is None and not self.adrift[i]:
                self.first[i] = move
        self.open = None in self.first

    def shifted(self, axis: int) -> None:
        """Note that G92 gives an axis [-] a new count where the torch stands; if nobody knows where, its places tell nothing after that."""
        if self.first[axis] is None:
            self.adrift[axis] = True
