"""How much of each pixel a polygon covers, exactly.

Each edge is cut where it crosses pixel lines; each piece adds its signed area to its pixel and its height to all
pixels right of it (one running sum along the row does that). No samples, no fattened borders: a straight edge at
any sub-pixel place gives exactly the right grey. Pixel (i, j) covers [j - 0.5, j + 0.5] by [i - 0.5, i + 0.5].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Patch:
    """Coverage [-] of a window of the picture whose upper left pixel is (`row`, `column`)."""

    row: int
    column: int
    cover: NDArray[np.float32]

    @property
    def window(self) -> tuple[slice, slice]:
        """The rows and columns it covers."""
        high, wide = self.cover.shape
        return slice(self.row, self.row + high), slice(self.column, self.column + wide)


def _cut(starts: Floats, ends: Floats, axis: int) -> tuple[Floats, Floats]:
    """Cut pieces shorter than one pixel where they cross a whole number in `axis`."""
    low = np.floor(np.minimum(starts[:, axis], ends[:, axis]))
    step = ends[:, axis] - starts[:, axis]
    line = low + 1
    crossing = np.maximum(starts[:, axis], ends[:, axis]) > line
    t = np.where(crossing, (line - starts[:, axis]) / np.where(step == 0, 1, step), 1.0)
    middle = starts + (ends - starts) * t[:, None]
    middle[crossing, axis] = line[crossing]
    return np.vstack([starts, middle]), np.vstack([middle, ends])


def _pieces(loops: list[Floats]) -> tuple[Floats, Floats]:
    starts = np.vstack(loops)
    ends = np.vstack([np.roll(loop, -1, axis=0) for loop in loops])
    count = np.maximum(np.ceil(np.abs(ends - starts).max(axis=1) / 0.9), 1).astype(int)
    which = np.repeat(np.arange(len(starts)), count)
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    share = (ends - starts)[which] / count[which, None]
    first = starts[which] + share * step[:, None]
    return first, first + share


def cover(loops: list[Floats], size: tuple[int, int], *, pad: int = 0) -> Patch | None:
    """Return the signed coverage of closed loops of (N, 2) pixel coordinates, or None if off the picture.

    A loop that turns from x to y counts positive; holes turn the other way. `size` is (height, width) [px].
    """
    every = np.vstack(loops)
    x0, y0 = np.maximum(np.floor(every.min(axis=0)).astype(int) - 1 - pad, 0)
    x1 = min(int(np.ceil(every[:, 0].max())) + 2 + pad, size[1])
    y1 = min(int(np.ceil(every[:, 1].max())) + 2 + pad, size[0])
    if x1 <= x0 or y1 <= y0:
        return None
    shift = np.array([x0 - 0.5, y0 - 0.5])
    starts, ends = _pieces([loop - shift for loop in loops])
    starts, ends = _cut(*_cut(starts, ends, 1), 0)
    high, wide = y1 - y0, x1 - x0
    middle = (starts + ends) / 2
    row, rise = np.floor(middle[:, 1]).astype(int), ends[:, 1] - starts[:, 1]
    across = np.clip(middle[:, 0], 0, wide)
    column = np.minimum(np.floor(across).astype(int), wide)
    keep = (row >= 0) & (row < high) & (rise != 0)
    row, rise, across, column = row[keep], rise[keep], across[keep], column[keep]
    part = across - column
    flat = row * (wide + 2) + column
    total = np.bincount(flat, -rise * (1 - part), minlength=high * (wide + 2))
    total = total + np.bincount(flat + 1, -rise * part, minlength=high * (wide + 2))[: len(total)]
    grid = np.cumsum(total.reshape(high, wide + 2), axis=1)[:, :wide]
    return Patch(y0, x0, grid.astype(np.float32))
