"""All pieces moved at once by linear programmes: less length without overlap, or less overlap within a length.

Between two pieces that lie near one another a few half-planes of their shift are free of overlap (``walls``); within
them and a bound on each move, the least length (or the least sum of what the half-planes are missed by) is a linear
programme, solved exactly; then the half-planes are chosen anew where the pieces came to lie. (Compaction and
separation by linear programmes: Li and Milenkovic 1995; Gomes and Oliveira 2006; the choice of half-planes is ours.)
Turns stay as they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.search.tables import Tables
from platewright.layout.search.walls import pair_walls

__all__ = ["Slide"]

Entries = tuple[Any, Any, Any]
"""Rows, columns and values of a sparse matrix."""

SPARE = 1e-6
"""How far pieces are kept apart where they may be [mm]."""

REACH = 3.0
"""How far half-planes hold, over the most a piece may move along an axis [-]: more than twice the root of two."""

TILT = 1e-4
"""What a piece's move counts for beside the length [-]."""

EXACT = {"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9}


@dataclass(frozen=True, slots=True, eq=False)
class _Near:
    """Half-planes of near pairs: still and moving piece, pair [-]; nx, ny [-] and room left [mm]."""

    who: Any
    rows: Floats

    def pairs(self) -> int:
        return int(self.who[-1, 2]) + 1 if len(self.who) else 0


class Slide:
    """Linear programmes on the pieces of one search."""

    def __init__(self, tables: Tables, movable: Any) -> None:
        self.tables = tables
        self.column = np.full(len(movable), -1)
        self.column[movable] = np.arange(int(movable.sum()))
        self.free = np.flatnonzero(movable)
        self.who = np.zeros((64 * len(movable), 3), dtype=np.int64)
        self.rows = np.zeros((64 * len(movable), 3))

    def _near(self, pos: Floats, form: Any, reach: float) -> _Near:
        t = self.tables
        while (
            count := pair_walls(pos, form, t.table, t.at, t.boxes, t.sides, reach, self.who, self.rows)
        ) < 0:
            self.who, self.rows = np.vstack([self.who] * 2), np.vstack([self.rows] * 2)
        return _Near(self.who[:count].copy(), self.rows[:count].copy())

    def _entries(self, near: _Near) -> list[Entries]:
        """Return the entries of rows -n . (moving - still) over moves along x, then along y."""
        k = np.arange(len(near.who))
        still, moving = self.column[near.who[:, 0]], self.column[near.who[:, 1]]
        out = []
        for column, sign in ((still, 1.0), (moving, -1.0)):
            on = column >= 0
            out.append((k[on], column[on], sign * near.rows[on, 0]))
            out.append((k[on], len(self.free) + column[on], sign * near.rows[on, 1]))
        return out

    def _bounds(self, pos: Floats, form: Any, right: float, step: float) -> tuple[Floats, Floats]:
        t = self.tables
        p, f = pos[self.free], form[self.free]
        low = np.array(t.room[:2]) - t.lows[f] - p
        high = np.array([right, t.room[3]]) - t.highs[f] - p
        low, high = np.minimum(np.maximum(low, -step), 0.0), np.maximum(np.minimum(high, step), 0.0)
        return low.T.ravel(), high.T.ravel()

    def compacted(self, pos: Floats, form: Any, step: float, pull: Floats) -> Floats:
        """Return places of least length within moves of `step` [mm] of legal ones; among equals those along `pull` [-]."""
        near = self._near(pos, form, REACH * step)
        m = len(self.free)
        ends = pos[self.free, 0] + self.tables.highs[form[self.free], 0]
        end = float(ends.max())
        k = np.arange(m)
        rows = len(near.who) + k
        gap = near.rows[:, 2]
        low, high = self._bounds(pos, form, self.tables.room[2], step)
        return self._moved(
            pos,
            np.append(TILT / m * pull, 1.0),
            [*self._entries(near), (rows, k, np.ones(m)), (rows, np.full(m, 2 * m), -np.ones(m))],
            np.concatenate([gap - np.minimum(gap, SPARE), end - ends]),
            np.append(low, -step),
            np.append(high, 0.0),
        )

    def separated(self, pos: Floats, form: Any, right: float, step: float) -> Floats:
        """Return places of least overlap within moves of `step` [mm] and a room that ends at `right` [mm]."""
        near = self._near(pos, form, REACH * step)
        m, pairs = len(self.free), near.pairs()
        low, high = self._bounds(pos, form, right, step)
        k = np.arange(len(near.who))
        return self._moved(
            pos,
            np.concatenate([np.zeros(2 * m), np.ones(pairs)]),
            [*self._entries(near), (k, 2 * m + near.who[:, 2], -np.ones(len(k)))],
            near.rows[:, 2] - SPARE,
            np.append(low, np.zeros(pairs)),
            np.append(high, np.full(pairs, np.inf)),
        )

    def _moved(
        self, pos: Floats, cost: Floats, entries: list[Entries], most: Floats, low: Floats, high: Floats
    ) -> Floats:
        """Return the places [mm] after the moves of least cost with rows at most `most`; as they are if there are none."""
        from scipy.optimize import linprog  # slow to load, and not needed before the first legal layout
        from scipy.sparse import csr_array

        r, c, v = (np.concatenate(x) for x in zip(*entries, strict=True))
        rows = csr_array((v, (r, c)), shape=(len(most), len(cost)))
        bounds = np.column_stack([low, high])
        found = linprog(cost, rows, most, bounds=bounds, method="highs-ds", options=EXACT)
        if found.x is None:
            return pos
        new = pos.copy()
        new[self.free] += np.round(found.x[: 2 * len(self.free)].reshape(2, -1).T, 7)
        return new
