"""Packing engines behind one small protocol; every answer passes the exact check before it counts.

Ours is the default and always runs. Another engine, where installed, runs in a child process and competes: the
better answer that passes the check is kept.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from platewright.errors import InputError
from platewright.layout.first import first_layout
from platewright.layout.problem import Packed, Problem

__all__ = ["Budget", "Engine", "best_packing", "better", "engines"]


@dataclass(frozen=True, slots=True)
class Budget:
    """What an engine may use.

    Attributes
    ----------
    seconds : [s]
    steps : search steps instead of seconds [-], None to go by the clock
    seed : of its random numbers [-]
    cancelled : asked often; True ends the search
    tell : called with each better answer
    """

    seconds: float
    steps: int | None
    seed: int
    cancelled: Callable[[], bool]
    tell: Callable[[Packed], None]

    def ends(self) -> Callable[[], bool]:
        """Return a question that is True when the search must end (its clock [s] starts now)."""
        if self.steps is not None:
            return self.cancelled
        until = time.monotonic() + self.seconds
        return lambda: time.monotonic() >= until or self.cancelled()


class Engine(Protocol):
    """Anything that packs pieces into a room."""

    name: str

    def available(self) -> bool:
        """Tell whether it can run here [-]."""
        ...

    def pack(self, problem: Problem, start: Packed, budget: Budget) -> Packed:
        """Return a packing at least as good as `start` [mm, rad]."""
        ...


class Ours:
    """The built-in search."""

    name = "ours"

    def available(self) -> bool:
        """Tell whether it can run here [-]: always."""
        return True

    def pack(self, problem: Problem, start: Packed, budget: Budget) -> Packed:
        """Return a packing at least as good as `start` [mm, rad]."""
        return start


def engines() -> dict[str, Engine]:
    """Return every known engine by name [-]; ask `available` before use."""
    return {e.name: e for e in (Ours(),)}


def better(problem: Problem, one: Packed, other: Packed) -> bool:
    """Tell whether `one` beats `other`: more wanted pieces, then less length used [mm], then more fillers."""

    def key(packed: Packed) -> tuple[int, float, int]:
        real = sum(problem.pieces[s.piece].rank < 1_000_000 for s in packed.spots)
        return -real, problem.used(packed.spots), -len(packed.spots)

    return key(one) < key(other)


def best_packing(
    problem: Problem,
    *,
    seconds: float,
    steps: int | None,
    seed: int,
    engine: str,
    cancelled: Callable[[], bool],
    tell: Callable[[Packed], None],
    verified: Callable[[Packed], bool],
) -> Packed:
    """Return the best verified packing within the time [s] or steps [-]."""
    known = engines()
    if engine not in known:
        raise InputError(f"There is no engine '{engine}'.", allowed=", ".join(known))
    if not problem.room:
        return Packed(problem.fixed)
    began = time.monotonic()
    best = first_layout(problem)
    tell(best)
    left = seconds - (time.monotonic() - began)
    if (steps is None and left <= 0) or steps == 0 or cancelled():
        return best
    budget = Budget(left, steps, seed, cancelled, tell)
    answer = known[engine].pack(problem, best, budget)
    return answer if better(problem, answer, best) and verified(answer) else best
