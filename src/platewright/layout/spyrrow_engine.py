"""An optional second engine: the strip-packing library spyrrow, in a child process, for plain rectangles.

Only asked for by name. It packs strips: one rectangular room, no holes, no keep-outs, all pieces at once; anything
else is answered with the start. It runs in a child process because its inner library may end the process on a part
taller than the strip, and it may overshoot its time by some seconds. Its answer counts only if it passes the exact
check.
"""

from __future__ import annotations

import importlib.util
import json
import math
import subprocess
import sys
from typing import Any

from platewright.layout.ours import grouped
from platewright.layout.problem import Budget, Packed, Problem, Shape, Spot

__all__ = ["StripLibrary"]

OVERSHOOT = 6.0
"""How long the library may run beyond its time [s]."""

_CHILD = """
import json, sys
import spyrrow
asked = json.load(sys.stdin)
items = [spyrrow.Item(str(i), [tuple(p) for p in s["points"]], s["count"], s["degrees"]) for i, s in enumerate(asked["shapes"])]
strip = spyrrow.StripPackingInstance("room", asked["height"], items)
config = spyrrow.StripPackingConfig(early_termination=False, total_computation_time=max(1, int(asked["seconds"])), num_workers=asked["workers"], seed=asked["seed"], min_items_separation=asked["apart"])
found = strip.solve(config)
json.dump([[int(p.id), p.translation[0], p.translation[1], p.rotation] for p in found.placed_items], sys.stdout)
"""


class StripLibrary:
    """spyrrow behind the engine protocol."""

    name = "spyrrow"

    def available(self) -> bool:
        """Tell whether it is installed [-]."""
        return importlib.util.find_spec("spyrrow") is not None

    def pack(self, problem: Problem, start: Packed, budget: Budget) -> Packed:
        """Return its packing if it can take the problem and finishes in time, else `start` [mm, rad]."""
        if not self.available() or problem.fixed or len(problem.room) != 1 or len(problem.room[0]) != 4:
            return start
        group = grouped(problem, start.spots)
        if group.missing or budget.seconds < 1:
            return start
        hosts = group.problem
        counts = [sum(p.shape == i for p in hosts.pieces) for i in range(len(hosts.shapes))]
        answer = _asked(_document(hosts, counts, budget), budget.seconds + OVERSHOOT)
        if answer is None:
            return start
        return Packed(group.whole(_placed(hosts, [i for i, c in enumerate(counts) if c], answer)))


def _document(problem: Problem, counts: list[int], budget: Budget) -> dict[str, Any]:
    _, y0, _, y1 = problem.box()
    shapes = [
        {
            "points": s.raw[0].tolist(),
            "count": c,
            "degrees": None if problem.any_turn else [math.degrees(a) for a in s.angles],
        }
        for s, c in zip(problem.shapes, counts, strict=True)
        if c
    ]
    return {
        "height": y1 - y0,
        "seconds": budget.seconds,
        "seed": budget.seed,
        "workers": budget.workers,
        "apart": apart_of(problem.shapes[0]) or None,
        "shapes": shapes,
    }


def apart_of(shape: Shape) -> float:
    """Return how far a shape's loops were grown [mm]."""
    return float(shape.raw[0][:, 0].min() - shape.big[0][:, 0].min())


def _asked(document: dict[str, Any], seconds: float) -> list[Any] | None:
    try:
        done = subprocess.run(
            [sys.executable, "-c", _CHILD],
            input=json.dumps(document),
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
        )
        answer: list[Any] = json.loads(done.stdout) if done.returncode == 0 else []
    except (subprocess.TimeoutExpired, ValueError):
        return None
    return answer or None


def _placed(problem: Problem, used: list[int], answer: list[Any]) -> tuple[Spot, ...]:
    """Return the library's rows of shape, x, y, degrees as spots from the room's left end."""
    x0, y0, _, _ = problem.box()
    free: dict[int, list[int]] = {}
    for i, piece in enumerate(problem.pieces):
        free.setdefault(piece.shape, []).append(i)
    spots = [Spot(free[used[i]].pop(0), x, y + y0, math.radians(degrees)) for i, x, y, degrees in answer]
    low = min(float(problem.placed(s)[0][:, 0].min()) for s in spots)
    return tuple(Spot(s.piece, s.x + x0 - low, s.y, s.angle) for s in spots)
