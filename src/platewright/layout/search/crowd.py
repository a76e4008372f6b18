"""Fill a room that cannot hold everything: a knapsack problem whose items must not overlap.

Method: two kinds of trades take turns, each with as much work, counted in moves.

clear and fill : what lies in one place, or in two, is taken out, and all that is missing is tried there in an order of value
    and chance, each piece where it touches most (``trades``, ``corners``; touching perimeter: Lodi, Martello and Vigo 1999;
    ruin and recreate: Schrimpf and others 2000).
part : a missing piece is put in, with none or some of the placed ones taken out, and what overlaps is separated (``press``).
    If overlap stays, the piece that has most of it is ejected and the rest separated again, as long as the trade may
    still pay; then other missing pieces are tried in what came free.

A better whole is kept as the best. A poorer one may be gone on from, the less likely the more is lost (annealing at one
temperature); now and then the search returns to its best, and after ``STILL`` trades without a better one each worker starts
anew from part of the first layout. Every state in hand is legal.

Pieces count by rank first (what matters more is never given up for what matters less), then by value.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from platewright.layout.problem import Problem, Spot
from platewright.layout.search.kernels import Room
from platewright.layout.search.press import TOUCH, Press, SqueezeOptions
from platewright.layout.search.tables import Tables
from platewright.layout.search.trades import HOME, Deal, Hand, Hands, copy_hand, gain, trades

__all__ = ["Crowd", "Worth", "crowded", "worth_of"]

STILL, KEPT = 1500, 0.5
"""Trades without a better layout after which a worker starts anew, and the share of the first layout it then keeps [-]."""

STRETCH = 100
"""Moves of clearing and filling between two looks at the clock [-]."""

DEARER = 0.15
"""Largest value ejected for a piece, and largest loss of the layout accepted then, as shares of the piece's value [-]."""

PATIENCE = 20
"""Passes without a smaller total overlap before a separation is given up [-]."""

GIVEN = 0.3
"""Share of trades that insert a piece without removing one first [-]."""

SHALLOW = 0.3
"""Least overlap over a piece's narrowest side from which no insertion is tried [-]."""

RUINED = 0.2
"""Share of the other trades that clear one region and refill it by separation, whatever its value [-]."""

EJECTED = 3
"""Most pieces ejected in one trade [-]."""

Worth = tuple[float, ...]
"""Value placed of each rank, the first rank first."""


def worth_of(problem: Problem, pieces: Sequence[int]) -> Worth:
    """Return the value of pieces by rank [-], to be compared rank by rank."""
    ranks = sorted({p.rank for p in problem.pieces})
    total = dict.fromkeys(ranks, 0.0)
    for i in pieces:
        total[problem.pieces[i].rank] += problem.value(i)
    return tuple(round(total[r], 6) for r in ranks)


@dataclass(slots=True)
class _Shared:
    """The best layout found by any worker."""

    spots: tuple[Spot, ...]
    worth: Worth
    tell: Callable[[tuple[Spot, ...]], None]
    lock: threading.Lock = field(default_factory=threading.Lock)

    def offer(self, spots: tuple[Spot, ...], worth: Worth) -> None:
        with self.lock:
            if worth > self.worth:
                self.spots, self.worth = spots, worth
                self.tell(spots)


class Crowd:
    """One worker's trades on one problem.

    Parameters
    ----------
    problem, tables : the room and the pieces
    seed : of the random numbers [-]
    over : asked often; True ends the search
    options : how hard separations press
    wide : whether regions of many pieces are cleared too
    """

    def __init__(
        self,
        problem: Problem,
        tables: Tables,
        *,
        seed: int,
        over: Callable[[], bool],
        options: SqueezeOptions,
        wide: bool = False,
    ) -> None:
        self.problem, self.tables, self.over = problem, tables, over
        self.rng = np.random.default_rng(seed)
        self.held = {s.piece for s in problem.fixed}
        self.areas = np.array([s.area() for s in problem.shapes])
        self.moves = 0
        self.filling = 0
        self.book = np.zeros(2, dtype=np.int64)
        pieces = range(len(problem.pieces))
        self.press = Press(problem, tables, pieces, seed=int(self.rng.integers(2**31)), options=options)
        kinds = np.array([p.shape for p in problem.pieces])
        self.deal = Deal(
            values=np.array([problem.value(i) for i in pieces]),
            ranks=np.unique([p.rank for p in problem.pieces], return_inverse=True)[1],
            kinds=kinds, areas=self.areas[kinds], free=np.array([i not in self.held for i in pieces]),
            room=tables.area, touch=TOUCH, turns=options.turns, wide=wide, still=STILL, stretch=STRETCH,
        )  # fmt: skip

    def run(self, shared: _Shared) -> None:
        """Trade until the time is over or nothing is missing."""
        start = shared.spots
        hands = Hands(*(self._hand(start) for _ in range(3)))
        while not self.over() and len(shared.spots) < len(self.problem.pieces):
            if self.book[1] > self.deal.still:
                some = tuple(s for s in start if s.piece in self.held or self.rng.random() < KEPT)
                hands = Hands(*(self._hand(some) for _ in range(3)))
                self.book[1] = 0
            before = self.moves
            if self.filling <= 0:
                better = self._refilled(hands)
                self.filling += self.moves - before
            else:
                better = self._parted_from(hands)
                self.filling -= self.moves - before
            if better:
                spots = self._spots(hands.home)
                shared.offer(spots, worth_of(self.problem, [s.piece for s in spots]))

    def _hand(self, spots: Sequence[Spot]) -> Hand:
        """Return spots as arrays."""
        state, here = self.press.state_of(spots), np.zeros(len(self.problem.pieces), dtype=np.bool_)
        here[[s.piece for s in spots]] = True
        worth = np.bincount(
            self.deal.ranks[here], self.deal.values[here], int(self.deal.ranks.max()) + 1
        ).astype(float)
        return Hand(state.pos, state.form, here, worth)

    def _spots(self, hand: Hand) -> tuple[Spot, ...]:
        """Return a layout of arrays as spots [mm, rad]."""
        here = np.flatnonzero(hand.here)
        angles = self.tables.angles[hand.form[here]].tolist()
        rows = zip(here.tolist(), hand.pos[here].tolist(), angles, strict=True)
        return tuple(Spot(i, x, y, angle) for i, (x, y), angle in rows)

    def _refilled(self, hands: Hands) -> bool:
        """Clear places and fill them again for ``STRETCH`` moves, or until the best is better; tell whether it is."""
        t, press, before = self.tables, self.press, int(self.book[0])
        anyhow, straight = (
            press.pieces_of(hands.now.pos, hands.now.form, counts) for counts in (press.many, press.few)
        )
        room = Room(np.array(t.room), t.lows, t.highs)
        better = trades(t.look(), room, anyhow, straight, press.work, self.deal, hands, self.book)
        self.moves += int(self.book[0]) - before
        return bool(better)

    def _parted_from(self, hands: Hands) -> bool:
        """Make one trade by separation; tell whether the best is better for it."""
        now, home = hands.now, hands.home
        self.moves += 1  # a trade costs a step even if nothing moves
        self.book[1] += 1
        if gain(home.worth, now.worth) > 0.0 and self.rng.random() < HOME:
            copy_hand(home, now)
        spots, poorer = self._parting(self._spots(now))
        if spots is None:
            return False
        made = self._hand(spots)
        better = gain(made.worth, home.worth) > 0.0
        if better:
            copy_hand(made, home)
            self.book[1] = 0
        if gain(made.worth, now.worth) >= -poorer:
            copy_hand(made, now)
        return better

    def _parting(self, spots: tuple[Spot, ...]) -> tuple[tuple[Spot, ...] | None, float]:
        """Return the spots after a trade by separation, or None if it failed, and the loss at which they are still accepted."""
        if self.rng.random() < RUINED and (
            out := self._neighbourhood(spots, 1 + int(self.rng.integers(EJECTED)))
        ):
            others = tuple(s for s in spots if s.piece not in out)
            return self._topped(others, len(self.problem.shapes)), DEARER * sum(map(self.problem.value, out))
        piece = self._wanted(spots)
        value, rank = self.problem.value(piece), self.problem.pieces[piece].rank
        out = self._given_up(spots, piece)
        kept = [s for s in spots if s.piece not in out]
        given = sum(self.problem.value(i) for i in out)
        made = self._parted([*kept, self._anywhere(piece)], piece, rank, value - given)
        if made is None:
            return None, 0.0
        return self._topped(made), DEARER * value

    def _wanted(self, spots: Sequence[Spot]) -> int:
        """Return a missing piece of a random shape of the lowest ranks, valuable ones more often."""
        placed = {s.piece for s in spots}
        first: dict[int, int] = {}
        for i, p in enumerate(self.problem.pieces):
            if i not in placed:
                first.setdefault(p.shape, i)
        pieces = list(first.values())
        odds = np.array([self.problem.value(i) for i in pieces]) ** 0.5
        return int(self.rng.choice(pieces, p=odds / odds.sum()))

    def _given_up(self, spots: Sequence[Spot], piece: int) -> set[int]:
        """Return the pieces to remove for one to go in: often none, else one or two neighbours of less value."""
        if self.rng.random() < GIVEN:
            return set()
        rank, left = self.problem.pieces[piece].rank, self.problem.value(piece) * (1 + DEARER)
        free = [s for s in spots if s.piece not in self.held and self.problem.pieces[s.piece].rank >= rank]
        free = [
            s for s in free if self.problem.value(s.piece) <= left or self.problem.pieces[s.piece].rank > rank
        ]
        if not free:
            return set()
        first = free[int(self.rng.integers(len(free)))]
        out = {first.piece}
        left -= self.problem.value(first.piece)
        near = sorted(free, key=lambda s: (s.x - first.x) ** 2 + (s.y - first.y) ** 2)
        for s in near[1 : 1 + int(self.rng.integers(0, EJECTED))]:
            if self.problem.value(s.piece) <= left:
                out.add(s.piece)
                left -= self.problem.value(s.piece)
        return out

    def _neighbourhood(self, spots: Sequence[Spot], many: int) -> set[int]:
        """Return so many pieces that lie near one another, all if there are fewer [-]."""
        free = [s for s in spots if s.piece not in self.held]
        if not free:
            return set()
        first = free[int(self.rng.integers(len(free)))]
        near = sorted(free, key=lambda s: (s.x - first.x) ** 2 + (s.y - first.y) ** 2)
        return {s.piece for s in near[:many]}

    def _anywhere(self, piece: int) -> Spot:
        """Return a random spot of a piece in the room [mm, rad]."""
        t, shape = self.tables, self.problem.pieces[piece].shape
        form = t.first[shape] + int(self.rng.integers(len(self.problem.shapes[shape].angles)))
        low, high = np.array(t.room[:2]) - t.lows[form], np.array(t.room[2:]) - t.highs[form]
        x, y = self.rng.uniform(low, np.maximum(high, low + 1e-6))
        return Spot(piece, float(x), float(y), float(t.angles[form]))

    def _parted(self, spots: Sequence[Spot], new: int, rank: int, spare: float) -> tuple[Spot, ...] | None:
        """Return the spots separated, ejecting pieces other than the `new` ones as far as their value allows; None if that fails."""
        press = self.press
        for ejected in range(EJECTED + 1):
            press.keep(s.piece for s in spots)
            before = press.moves
            overlap, state = press.separated(press.state_of(spots), self.tables.room[2], self.over, PATIENCE)
            self.moves += press.moves - before
            if overlap == 0.0:
                return press.spots_of(state)
            if self.over() or not np.isfinite(overlap) or ejected == EJECTED:
                return None
            spots = press.spots_of(state)
            press.overlap(state.pos, state.form)
            worst = press.depths[: press.n].sum(axis=1)
            for i in np.argsort(-worst).tolist():
                piece = press.pieces[i]
                value, other = self.problem.value(piece), self.problem.pieces[piece].rank
                may = piece != new and piece not in self.held and other >= rank
                if worst[i] > 0 and may and (value <= spare * (1 + DEARER) or other > rank):
                    spots = tuple(s for s in spots if s.piece != piece)
                    spare -= value if other == rank else 0.0
                    break
            else:
                return None
        return None

    def _may(self, spots: Sequence[Spot], piece: int) -> bool:
        """Tell whether some place would let a piece in with little overlap."""
        self.moves += 1  # about what it costs
        self.press.keep([*(s.piece for s in spots), piece])
        return self.press.glance(self.press.state_of(spots), piece) < SHALLOW

    def _topped(self, spots: tuple[Spot, ...], tries: int = 2) -> tuple[Spot, ...]:
        """Return the spots with further missing pieces of some random shapes, as long as one finds room."""
        placed = {s.piece for s in spots}
        first: dict[int, int] = {}
        for i, p in enumerate(self.problem.pieces):
            if i not in placed:
                first.setdefault(p.shape, i)
        room = self.tables.area - sum(self.areas[self.problem.pieces[i].shape] for i in placed)
        for piece in self.rng.permutation(list(first.values())).tolist()[:tries]:
            if (
                self.areas[self.problem.pieces[piece].shape] < room
                and not self.over()
                and self._may(spots, piece)
            ):
                more = self._parted([*spots, self._anywhere(piece)], piece, 10**9, 0.0)
                if more is not None:
                    return self._topped(more, tries)
        return spots


def crowded(
    problem: Problem, tables: Tables, spots: tuple[Spot, ...], *, workers: Sequence[Crowd],
    tell: Callable[[tuple[Spot, ...]], None],
) -> tuple[Spot, ...]:  # fmt: skip
    """Return the spots [mm, rad] of the most valuable layout found by the workers."""
    shared = _Shared(spots, worth_of(problem, [s.piece for s in spots]), tell)
    threads = [threading.Thread(target=w.run, args=(shared,)) for w in workers[1:]]
    for thread in threads:
        thread.start()
    workers[0].run(shared)
    for thread in threads:
        thread.join()
    return shared.spots
