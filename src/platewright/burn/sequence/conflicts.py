"""Leads of different cuts that come too near one another, and how the quarrel is settled.

Starts are found one loop at a time against parts, plate and keep-outs; two that are legal alone may still meet in the
scrap between two parts. After the order is known the chosen leads are compared through a spatial tree; of a pair in conflict the
one with another start free of conflict takes that, the later cut if it can; if neither has one the later cut is given up and reported.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from platewright.burn.cuts.edges import at_distance
from platewright.burn.cuts.leads import Start, lead_line, lead_outs
from platewright.burn.cuts.loops import Loop
from platewright.burn.cuts.obstacles import Clear
from platewright.geometry import Floats, length

__all__ = ["settle", "start_lines"]


def start_lines(loop: Loop, start: Start) -> tuple[list[Floats], Floats]:
    """Return the sampled lead-ins (K, 2), pierce first, and the lead-out (M, 2) of a start [mm]."""
    places = np.array([along for along, _, _ in start.leads])
    point, _, _, _ = at_distance(loop.path, np.mod(places, length(loop.path)))
    leads = [lead_line(p, b, at) for (_, p, b), at in zip(start.leads, point, strict=True)]
    out = lead_outs(loop, places[:1] + start.past, np.array([start.exit_radius]))[0]
    return leads, out


class _Lines:
    """The lines of starts as shapes, made once."""

    def __init__(self, loops: Sequence[Loop], starts: Sequence[Sequence[Start]]) -> None:
        self._loops, self._starts = loops, starts
        self._made: dict[tuple[int, int], tuple[Any, Any, Any]] = {}

    def of(self, i: int, k: int) -> tuple[Any, Any, Any]:
        import shapely

        if (i, k) not in self._made:
            leads, out = start_lines(self._loops[i], self._starts[i][k])
            both = shapely.MultiLineString([*leads, out])
            self._made[i, k] = (both, shapely.MultiPoint([lead[0] for lead in leads]), both.bounds)
        return self._made[i, k]


def _meet(a: tuple[Any, Any, Any], b: tuple[Any, Any, Any], clear: Clear) -> bool:
    import shapely

    grow = max(clear.pierce_other, clear.lead_other)
    (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = a[2], b[2]
    if ax0 > bx1 + grow or bx0 > ax1 + grow or ay0 > by1 + grow or by0 > ay1 + grow:
        return False
    if shapely.distance(a[0], b[0]) < clear.lead_other:
        return True
    return bool(min(shapely.distance(a[1], b[0]), shapely.distance(b[1], a[0])) < clear.pierce_other)


def settle(
    loops: Sequence[Loop],
    starts: Sequence[Sequence[Start]],
    order: Sequence[int],
    choice: Sequence[int],
    clear: Sequence[Clear],
) -> dict[int, int]:
    """Return the start [-] of every loop that keeps one, free of conflict with all others; missing ones have none.

    Parameters
    ----------
    loops, starts : all loops and their legal starts
    order : loops in burning order [-]
    choice : start chosen for each loop [-]
    clear : free distances for each loop [mm]
    """
    import shapely

    lines = _Lines(loops, starts)
    chosen: dict[int, int] = {}
    everything = [lines.of(i, choice[i]) for i in range(len(loops))]
    grow = max(max(c.pierce_other, c.lead_other) for c in clear)
    tree = shapely.STRtree([e[0] for e in everything])
    a, b = tree.query([e[0] for e in everything], predicate="dwithin", distance=grow)
    trouble = {
        int(i)
        for i, j in zip(a, b, strict=True)
        if i < j and _meet(everything[i], everything[j], _wider(clear[i], clear[j]))
        for i in (i, j)
    }
    chosen = {i: choice[i] for i in order if i not in trouble}

    def blocked(i: int, k: int) -> list[int]:
        mine = lines.of(i, k)
        return [j for j, h in chosen.items() if _meet(mine, lines.of(j, h), _wider(clear[i], clear[j]))]

    def cleared(i: int, k: int) -> dict[int, int]:
        """Return both starts where the one cut in the way can take another, or nothing."""
        (j, *more) = blocked(i, k)
        before = chosen.pop(j)
        chosen[i] = k
        free = next(
            (h for h in range(len(starts[j])) if starts[j][h].kind != "common" and not blocked(j, h)), -1
        )
        del chosen[i]
        chosen[j] = before
        return {} if more or free < 0 or starts[j][before].kind == "common" else {i: k, j: free}

    for i in (i for i in order if i in trouble):
        ranked = [choice[i], *(k for k in range(len(starts[i])) if k != choice[i])]
        if (own := next((k for k in ranked if not blocked(i, k)), -1)) >= 0:
            chosen[i] = own
        else:
            chosen.update(next((both for k in ranked if (both := cleared(i, k))), {}))
    return chosen


def _wider(a: Clear, b: Clear) -> Clear:
    return a if a.lead_other + a.pierce_other >= b.lead_other + b.pierce_other else b
