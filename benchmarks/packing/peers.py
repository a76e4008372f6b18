"""The other packing libraries, each alone in a child process, asked the same question for the same time.

A peer counts with the last answer it told, whether it came to its end or was stopped; what it had not found is no
answer, never somebody else's. Running past its time is allowed, and told.

packingsolver needs a Python of its own (3.12 or newer): put its command into ``PLATEWRIGHT_BENCH_PYTHON``, for
example ``/opt/newer/bin/python3`` or ``chroot /opt/newer python3``, with packingsolver 0.1.1233 installed there.
"""

from __future__ import annotations

import math
import os
import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.engines.choice import engines
from platewright.layout.engines.outside import ask
from platewright.layout.engines.spyrrow_engine import CHILD, question
from platewright.layout.problem import Budget, Problem
from platewright.layout.shape.loops import Loops

__all__ = ["Answer", "Peer", "legal", "packingsolver", "spyrrow"]

VARIABLE = "PLATEWRIGHT_BENCH_PYTHON"
GRACE = 15.0
"""How long a peer may run past its time before it is stopped [s]."""


@dataclass(frozen=True)
class Answer:
    """A peer's last answer: each piece's shape [-] and where it lies [mm], and what there is to tell of the run."""

    shapes: tuple[int, ...]
    placed: tuple[Loops, ...]
    note: str

    def outer(self) -> list[Floats]:
        return [loops[0] for loops in self.placed]


@dataclass(frozen=True)
class Peer:
    """A library: its name, the words that start its child, and what to add to the question."""

    name: str
    command: tuple[str, ...]

    def answer(self, problem: Problem, seconds: float, **more: Any) -> Answer:
        """Ask for `seconds` [s] with two threads; `more` goes into the question as it is."""
        requested = question(problem, Budget(seconds=seconds, seed=1, workers=2)) | more
        reply = ask(self.command, requested, seconds=seconds + GRACE)
        over = reply.seconds - seconds
        text = {"done": "", "stopped": f"stopped {GRACE:g} s late", "failed": "died"}[reply.ended]
        if reply.ended == "done" and over > 1.0:
            text = f"{over:.1f} s over its time"
        if not reply.rows:
            text = f"no answer{', ' + text if text else ''}"
        return Answer(
            tuple(r[0] for r in reply.rows),
            tuple(_laid(requested["shapes"][r[0]], r) for r in reply.rows),
            text,
        )


def _laid(shape: dict[str, Any], row: Sequence[float]) -> Loops:
    """Return a shape's loops turned about its origin, then moved [mm]."""
    _, x, y, degrees = row
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turn = np.array([[c, s], [-s, c]])
    return tuple(np.array(p) @ turn + (x, y) for p in shape["loops"])


def spyrrow() -> Peer | None:
    """Return the strip library if it is installed here."""
    return Peer("spyrrow", CHILD) if engines()["spyrrow"].available() else None


def packingsolver() -> Peer | None:
    """Return packingsolver if a Python that has it is named."""
    words = tuple(shlex.split(os.environ.get(VARIABLE, "")))
    child = Path(__file__).with_name("ask_packingsolver.py").read_text()
    return Peer("packingsolver", (*words, "-c", child)) if words else None


def legal(answer: Answer, apart: float) -> bool:
    """Tell by a second library whether no two pieces lie closer than `apart` [mm] (a hundredth allowed)."""
    from shapely import Polygon, STRtree

    made = [Polygon(loops[0], loops[1:]) for loops in answer.placed]
    near = STRtree(made).query(made, predicate="dwithin", distance=apart - 0.01)
    return not any(i < j for i, j in near.T.tolist())
