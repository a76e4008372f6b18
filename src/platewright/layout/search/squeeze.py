"""Guided local search that presses a legal layout into less length, or fits pieces that found no room.

Method
------
Shorten the room, let pieces overlap, and separate them again: each pass moves every overlapping piece to the least
weighted overlap, near where it is or over the *whole* room (raster field of exact depths, then exact descent), and
raises the weights of pairs that stay in one another's way (guided local search, Voudouris and Tsang 1999; overlap
minimisation for packing, Umetani et al. 2009 and Imamichi et al. 2009; the field over the room is ours). A hair of
overlap is let stand till all pieces together are set right by a linear programme (``slide``), which then also makes
the legal layout as short as it goes. Two kinds of tries alternate at random:

bold : the length is cut by a bold share. A failure goes into a pool, the least overlap first; the next bold try takes
    one from the front of the pool and swaps two large pieces, the small ones among them along (restarts from
    disturbed failures: Elkeran 2013). A success empties the pool.
bare : the best layout is stirred up likewise and need only come out a little shorter.

A try that fails at its length may still be legal at less than the best length: that too is asked of ``slide``.

Overlap is measured by the shortest push that frees two pieces, read from exact forbidden regions, so "no overlap" is
exact up to their grid, times the pair's size. Steps are counted in moves; with a step budget and one worker the
result depends on the seed alone. Limits: turns come from each shape's list; memory grows with the square of the
number of forms.
"""

from __future__ import annotations

import threading
from bisect import insort
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from platewright.layout.problem import Problem, Spot
from platewright.layout.search.crowd import Crowd, crowded
from platewright.layout.search.press import Press, SqueezeOptions, State
from platewright.layout.search.tables import Tables

__all__ = ["Search", "SqueezeOptions"]


@dataclass(slots=True)
class _Shared:
    """The best answer of all workers."""

    best: State
    right: float
    tell: Callable[[State], None]
    found: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)

    def now(self) -> tuple[State, float]:
        with self.lock:
            return self.best, self.right

    def offer(self, state: State, right: float) -> None:
        with self.lock:
            if right < self.right:
                self.best, self.right, self.found = state, right, True
                self.tell(state)


class Search:
    """The search on one problem: tables made once, a seed, a step budget, a question how much time is used.

    Parameters
    ----------
    problem : shapes and pieces; calls name the pieces they work on
    tables : of the problem
    seed : of the random numbers [-]
    steps : most moves of one worker [-], None for no limit
    used : asked often; the share of the time used, from 1 up ends the search [-]
    workers : threads; more than one is not repeatable [-]
    options : how hard to press
    """

    def __init__(
        self, problem: Problem, tables: Tables, *, seed: int, used: Callable[[], float], steps: int | None = None,
        workers: int = 1, options: SqueezeOptions | None = None,
    ) -> None:  # fmt: skip
        self.problem, self.tables, self.seed, self.steps, self.workers = problem, tables, seed, steps, workers
        self.options = options or SqueezeOptions()
        self.time_used = used
        self.moves = 0

    def used(self) -> float:
        """Return the share of the time or steps used up [-], 1 or more when over."""
        if self.steps is not None and self.moves >= self.steps:
            return 1.0
        return max(self.time_used(), self.moves / self.steps if self.steps else 0.0)

    def over(self) -> bool:
        """Tell whether the time or steps [-] are used up."""
        return self.used() >= 1.0

    def _press(self, pieces: Sequence[int], worker: int = 0) -> Press:
        return Press(self.problem, self.tables, pieces, seed=self.seed + 7919 * worker, options=self.options)

    def shortened(
        self, spots: Sequence[Spot], *, tell: Callable[[tuple[Spot, ...]], None] = lambda spots: None
    ) -> tuple[Spot, ...]:
        """Return the spots pressed into less length [mm], until time or steps are used up."""
        if not spots:
            return ()
        pieces = [s.piece for s in spots]
        presses = [self._press(pieces, k) for k in range(self.workers)]
        state = presses[0].state_of(spots)
        shared = _Shared(state, presses[0].length(state), lambda s: tell(presses[0].spots_of(s)))
        before, begun = self.moves, self.used()

        def share() -> float:
            self.moves = before + max(p.moves for p in presses)
            used = self.used()
            return 1.0 if used >= 1.0 else (used - begun) / (1.0 - begun)

        def run(press: Press, stays: bool) -> None:
            _shorten(press, shared, share, stays=stays)

        threads = [threading.Thread(target=run, args=(p, False)) for p in presses[1:]]
        for thread in threads:
            thread.start()
        run(presses[0], self.workers > 1)
        for thread in threads:
            thread.join()
        self.moves = before + sum(p.moves for p in presses)
        return presses[0].spots_of(shared.best) if shared.found else tuple(spots)

    def filled(
        self, spots: Sequence[Spot], *, tell: Callable[[tuple[Spot, ...]], None] = lambda spots: None
    ) -> tuple[Spot, ...]:
        """Return spots [mm, rad] of the most value that the whole room is found to hold, until all are placed or it is over."""
        before = self.moves

        def over() -> bool:
            self.moves = before + max(w.moves for w in workers)
            return self.over()

        workers = [
            Crowd(
                self.problem,
                self.tables,
                seed=self.seed + 7919 * k,
                over=over,
                options=self.options,
                wide=k % 2 == 1,
            )
            for k in range(self.workers)
        ]
        found = crowded(self.problem, self.tables, tuple(spots), workers=workers, tell=tell)
        self.moves = before + sum(w.moves for w in workers)
        return found


def _shortest(press: Press) -> float:
    """Return where no better layout is to be looked for [mm]."""
    return press.tables.room[0] + press.least_length() * (1 + press.options.least)


def _ended(shared: _Shared, target: float, over: Callable[[], bool]) -> Callable[[], bool]:
    """Return whether a try is over, or outdone by another worker's layout no longer than its target [mm]."""
    return lambda: over() or shared.right <= target


STILL = 25
"""Fewest tries in a row without a gain worth the name after which a worker starts from elsewhere [-]."""

LONG = 1.0
"""How long it must have stood still for that, over the time it took to come where it is [-]."""

LAST = 0.8
"""Share of the time from which nobody starts from elsewhere any more [-]."""

GAIN = 2e-4
"""Least gain worth the name, as a share of the length [-]."""

ANEW = 0.4
"""Share of new starts in which every piece is put elsewhere, not only those of one stretch [-]."""

WIDER = (0.01, 0.04, 0.1, 0.25)
"""How much more length a new start gets than the best layout has, one after the other until it is legal [-]."""


@dataclass(slots=True, kw_only=True)
class _Isle:
    """Where one worker is at: its best layout, the length of that [mm], failures to go on from, tries since it last gained.

    ``begun`` and ``gained`` are its moves when it came here and when it last gained [-].
    """

    best: State
    right: float
    begun: int
    home: bool = True
    pool: list[tuple[float, State]] = field(default_factory=list)
    still: int = 0
    gained: int = 0

    def moved(self, best: State, right: float, left: float, moves: int) -> None:
        """Take a better layout; only a gain worth the name counts against standing still."""
        if self.right - right > GAIN * (self.right - left):
            self.still, self.gained = 0, moves
        self.best, self.right = best, right
        self.pool.clear()

    def stuck(self, moves: int) -> bool:
        """Tell whether it has stood still for long, by its tries and by its moves [-]."""
        gained = max(self.gained, self.begun)
        return self.still > STILL and moves - gained > LONG * (gained - self.begun)


def _shorten(press: Press, shared: _Shared, share: Callable[[], float], *, stays: bool) -> None:
    """Cut the length boldly, from failures stirred up, or barely, from the best stirred up, till the time [-] is used up.

    Workers follow the best of all until it stands still for one of them; that one then starts from elsewhere, alone, until
    it has outdone the best or stands still again. At the end all work on the best, and one that `stays` always does.
    """
    o, left, shortest = press.options, press.tables.room[0], _shortest(press)
    best, right = shared.now()
    isle = _Isle(best=best, right=right, begun=press.moves)
    while share() < 1.0 and shared.right > shortest:
        press.moves += 1  # a try costs a step even if it fails before any move
        best, right = shared.now()
        if not stays and isle.stuck(press.moves) and (share() < LAST or not isle.home):
            isle = _Isle(best=best, right=right, begun=press.moves)
            press.choose(straight=False)
            if share() < LAST:
                isle = _elsewhere(press, best, right, lambda: share() >= 1.0)
        elif isle.home and right < isle.right:
            isle.moved(best, right, left, press.moves)
        isle.still += 1
        barely = bool(press.rng.random() < o.barely)
        target = isle.right - (isle.right - left) * (o.least if barely else o.bold)
        begun = _begun(press, isle, target, barely)
        ended = _ended(shared, target, lambda: share() >= 1.0) if isle.home else lambda: share() >= 1.0
        overlap, state = press.separated(begun, target, ended, o.brief if barely else o.patience)
        if not barely:
            insort(isle.pool, (overlap, state), key=lambda entry: entry[0])
        if share() < 1.0 and (better := press.legal(overlap, state, isle.right)) is not None:
            now = press.length(better)
            isle.moved(better, now, left, press.moves)
            if now < shared.right:
                shared.offer(better, now)
                isle.home = True


def _begun(press: Press, isle: _Isle, target: float, barely: bool) -> State:
    """Return where a try begins: the best stirred up, a failure stirred up, or the best pushed together [mm]."""
    if barely:
        return press.stirred(isle.best)
    if not isle.pool:
        return press.shrunk(isle.best, isle.right - target)
    rank = int(abs(press.rng.normal(0.0, press.options.spread)) * len(isle.pool))
    return press.stirred(isle.pool[min(rank, len(isle.pool) - 1)][1])


def _elsewhere(press: Press, best: State, right: float, over: Callable[[], bool]) -> _Isle:
    """Return a new start: the best with the pieces of one stretch, or all, in one another's places, set apart again [mm]."""
    left, most = press.tables.room[0], press.tables.room[2]
    begun = press.moves
    press.choose(straight=bool(press.rng.random() < 0.5))
    state = press.shaken(best, 1.0 if press.rng.random() < ANEW else float(press.rng.uniform(0.25, 0.6)))
    for wider in WIDER:
        target = min(left + (right - left) * (1 + wider), most)
        overlap, state = press.separated(state, target, over)
        if over():
            break
        if (made := press.legal(overlap, state, target + 1.0)) is not None:
            return _Isle(best=made, right=press.length(made), begun=begun, home=False)
    return _Isle(best=best, right=right, begun=begun)
