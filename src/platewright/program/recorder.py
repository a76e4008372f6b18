"""Where moves are written down: two growing arrays that plain and compiled code share."""

from __future__ import annotations

import numpy as np

from platewright.program.run import Moves

__all__ = ["REAL", "WHOLE", "Recorder"]

REAL = 12
"""Columns of `real`: x0 y0 z0 x1 y1 z1 cx cy [mm], sweep [rad], feed [mm/s], seconds [s], mismatch [mm]."""

WHOLE = 3
"""Columns of `whole`: kind, line, flags (1 torch, 2 follow, 4 marking, plane times 16)."""


class Recorder:
    """Growing arrays of moves; `count` rows are filled."""

    __slots__ = ("count", "real", "whole")

    def __init__(self, room: int = 256) -> None:
        self.real = np.empty((room, REAL))
        self.whole = np.empty((room, WHOLE), np.int32)
        self.count = 0

    def ensure(self, rows: int) -> None:
        """Make room for `rows` more rows [-], doubling."""
        need = self.count + rows
        if need > len(self.real):
            room = max(need, 2 * len(self.real))
            self.real = np.resize(self.real, (room, REAL))
            self.whole = np.resize(self.whole, (room, WHOLE))

    def add(self, real: tuple[float, ...], whole: tuple[int, int, int]) -> None:
        """Add one row: values as in `REAL` [mm, rad, mm/s, s] and `WHOLE`."""
        self.ensure(1)
        self.real[self.count] = real
        self.whole[self.count] = whole
        self.count += 1

    def moves(self) -> Moves:
        """Return the rows as read-only arrays [mm, rad, mm/s, s]."""
        real, whole = self.real[: self.count].copy(), self.whole[: self.count].copy()
        real.setflags(write=False)
        whole.setflags(write=False)
        flags = whole[:, 2]
        return Moves(
            kind=whole[:, 0].astype(np.int8),
            line=whole[:, 1],
            start=real[:, 0:3],
            end=real[:, 3:6],
            centre=real[:, 6:8],
            sweep=real[:, 8],
            feed=real[:, 9],
            seconds=real[:, 10],
            torch=(flags & 1) > 0,
            follow=(flags & 2) > 0,
            marking=(flags & 4) > 0,
            plane=(flags >> 4).astype(np.int8),
            mismatch=real[:, 11],
        )
