"""An optional second engine: the strip-packing library spyrrow, in a child process, for plain rectangles.

Only asked for by name. It packs strips: one rectangular room, no holes, no keep-outs, all pieces at once; anything
else is answered with the start. It runs in a child process because its inner library may end the process on a part
taller than the strip, and it may overshoot its time by some seconds. Its answer counts only if it passes the exact
check.
"""

from __future__ import annotations

import importlib.util
import math
import sys
from collections.abc import Sequence
from typing import Any

from platewright.layout.engines.ours import grouped
from platewright.layout.engines.outside import ask
from platewright.layout.problem import Budget, Packed, Problem, Shape, Spot

__all__ = ["CHILD", "StripLibrary", "question"]

OVERSHOOT = 6.0
"""How long the library may run beyond its time [s]."""

CHILD = (sys.executable, "-m", "platewright.layout.engines.spyrrow_child")
"""Words that start the child."""


class StripLibrary:
    """spyrrow behind the engine protocol."""

    name = "spyrrow"

    def available(self) -> bool:
        """Tell whether it is installed [-]."""
        return importlib.util.find_spec("spyrrow") is not None

    def pack(self, problem: Problem, start: Packed, budget: Budget) -> Packed:
        """Return its packing if it can take the problem and has one in time, else `start` [mm, rad]."""
        if not self.available() or problem.fixed or len(problem.room) != 1 or len(problem.room[0]) != 4:
            return start
        group = grouped(problem, start.spots)
        if group.missing or budget.seconds < 1:
            return start
        hosts = group.problem
        reply = ask(
            CHILD, question(hosts, budget), seconds=budget.seconds + OVERSHOOT, cancelled=budget.cancelled
        )
        spots = _placed(hosts, reply.rows)
        return Packed(group.whole(spots)) if spots else start


def question(problem: Problem, budget: Budget) -> dict[str, Any]:
    """Return a problem as a child is asked it: shapes [mm] with counts and turns [degrees], the strip, time [s].

    Shapes nobody wants are left out; an answer's item numbers count those that stay.
    """
    _, y0, _, y1 = problem.box()
    return {
        "height": y1 - y0,
        "seconds": budget.seconds,
        "seed": budget.seed,
        "workers": budget.workers,
        "apart": growth_of(problem.shapes[0]),
        "shapes": [
            {
                "loops": [p.tolist() for p in problem.shapes[k].raw],
                "count": sum(p.shape == k for p in problem.pieces),
                "degrees": None
                if problem.any_turn and not problem.shapes[k].few
                else [math.degrees(a) for a in problem.shapes[k].angles],
            }
            for k in _used(problem)
        ],
    }


def _used(problem: Problem) -> list[int]:
    return sorted({p.shape for p in problem.pieces})


def growth_of(shape: Shape) -> float:
    """Return how far a shape's loops were grown [mm]."""
    return float(shape.raw[0][:, 0].min() - shape.big[0][:, 0].min())


def _placed(problem: Problem, rows: Sequence[tuple[int, float, float, float]]) -> tuple[Spot, ...]:
    """Return the library's rows of shape, x, y, degrees as spots from the room's left end; none if they are not ours."""
    x0, y0, _, _ = problem.box()
    used = _used(problem)
    free: dict[int, list[int]] = {}
    for i, piece in enumerate(problem.pieces):
        free.setdefault(piece.shape, []).append(i)
    if not rows or any(sum(r[0] == i for r in rows) > len(free[used[i]]) for i in {r[0] for r in rows}):
        return ()
    spots = [Spot(free[used[i]].pop(0), x, y + y0, math.radians(degrees)) for i, x, y, degrees in rows]
    low = min(float(problem.placed(s)[0][:, 0].min()) for s in spots)
    return tuple(Spot(s.piece, s.x + x0 - low, s.y, s.angle) for s in spots)
