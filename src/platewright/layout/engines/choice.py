"""Packing engines behind one small protocol; every answer passes the exact check before it counts.

Ours is the default and always runs. Another engine, where installed, runs in a child process and competes: the
better answer that passes the check is kept.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol

from platewright.errors import InputError
from platewright.layout.engines.ours import Ours, quick_layout, start_layout, with_fillers
from platewright.layout.engines.spyrrow_engine import StripLibrary
from platewright.layout.problem import FILLER, Budget, Packed, Problem
from platewright.layout.search.crowd import worth_of

__all__ = ["Engine", "best_packing", "better", "engines"]


class Engine(Protocol):
    """Anything that packs pieces into a room."""

    name: str

    def available(self) -> bool:
        """Tell whether it can run here [-]."""
        ...

    def pack(self, problem: Problem, start: Packed, budget: Budget) -> Packed:
        """Return a packing at least as good as `start` [mm, rad]."""
        ...


def engines() -> dict[str, Engine]:
    """Return every known engine by name [-]; ask `available` before use."""
    return {e.name: e for e in (Ours(), StripLibrary())}


def better(problem: Problem, one: Packed, other: Packed) -> bool:
    """Tell whether `one` beats `other`: more value of wanted pieces by rank, then less length used [mm], then more fillers."""

    def key(packed: Packed) -> tuple[tuple[float, ...], float, int]:
        real = [s.piece for s in packed.spots if problem.pieces[s.piece].rank < FILLER]
        return tuple(-v for v in worth_of(problem, real)), problem.used(packed.spots), -len(packed.spots)

    return key(one) < key(other)


def best_packing(
    problem: Problem,
    budget: Budget,
    *,
    engine: str,
    verified: Callable[[Packed], bool],
    quick: Packed | None = None,
    before: Sequence[Packed] = (),
) -> Packed:
    """Return the best verified packing within a budget of time [s] or steps [-]; the search starts from the best of `before`, if that is any.

    `quick` is the problem's quick layout, if that is made already.
    """
    every = engines()
    if engine not in every:
        raise InputError(f"There is no engine '{engine}'.", allowed=", ".join(every))
    if not problem.room:
        return Packed(problem.fixed)
    began = time.monotonic()
    quick = quick_layout(problem) if quick is None else quick
    start, held = quick, {s.piece for s in problem.fixed}
    for known in before:
        if held <= {s.piece for s in known.spots} and better(problem, known, start) and verified(known):
            start = known
    budget.tell(start)
    fuller = start_layout(problem, quick)
    if fuller is not quick and better(problem, fuller, start) and verified(fuller):
        start = fuller
        budget.tell(start)
    best = start
    left = budget.seconds - (time.monotonic() - began)
    if (budget.steps is None and left <= 0) or budget.steps == 0:
        return with_fillers(problem, best, budget.cancelled)
    # another engine gets half of the time, so that the better one wins
    budget = replace(budget, seconds=left if engine == Ours.name else left / 2)
    for name in dict.fromkeys((engine, Ours.name)):
        answer = with_fillers(problem, every[name].pack(problem, start, budget), budget.cancelled)
        if better(problem, answer, best) and verified(answer):
            best = answer
    return best if best is not start else with_fillers(problem, start, budget.cancelled)
