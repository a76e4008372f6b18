"""Compiled: one place of a crowded room, or two, cleared and filled again from all that is missing, trade after trade.

A thread runs many trades at a stretch without the interpreter, so that workers do not wait for one another.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit
from platewright.layout.search.corners import Aim, refill
from platewright.layout.search.kernels import AWAY, Flags, Look, Pieces, Room, Words, Work, _random

__all__ = ["HOME", "Deal", "Hand", "Hands", "copy_hand", "gain", "trades"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

HOME = 0.1
"""Probability of returning to the best layout since then at a trade from a worse one [-]."""

POORER = 0.04
"""Mean loss at which a worse layout is still accepted, as a share of the value traded [-]."""

CLEARED, WIDE, TWICE = 5, 7.0, 0.3
"""Most pieces that every other worker clears in one region, how many the rest clear beside the first on average, and share of such
trades that clear two regions [-]. Few at a time fill a drop better; many find what must be laid anew as a whole."""

STRAIGHT = 0.7
"""Share of those that use straight turns only [-]."""

NOISES = (0.1, 0.3, 1.0)
"""Random spread of the filling order about the order of value [-]."""

TOUCHING = 0.3
"""How much chance counts beside how long a piece touches [-]."""

PAIRS = 1500
"""Pairs of edges, or of an edge and a region, looked at in the corners that take about the time of one move [-]."""


class Deal(NamedTuple):
    """What is dealt in: value [-], rank (0 first), kind and area [mm²] of each piece, which may be taken out; the room's area [mm²],
    depth that counts as touching [mm], most turns tried of a piece [-], whether many are cleared at a time, and trades without a
    better layout after which it is over, and moves made at a stretch [-].
    """

    values: Floats
    ranks: Ints
    kinds: Ints
    areas: Floats
    free: Flags
    room: float
    touch: float
    turns: int
    wide: bool
    still: int
    stretch: int


class Hand(NamedTuple):
    """A legal layout: places [mm], forms, which pieces lie in the room, and the value of these by rank [-]."""

    pos: Floats
    form: Ints
    here: Flags
    worth: Floats


class Hands(NamedTuple):
    """The layout that is traded from, the best since the start, and room for the one before the trade."""

    now: Hand
    home: Hand
    last: Hand


@njit(cache=True, nogil=True)
def gain(one: Floats, other: Floats) -> float:
    """Return how much more one worth is than another in the first rank in which they differ [-]."""
    for k in range(len(one)):
        if abs(one[k] - other[k]) > 1e-6:
            return float(one[k] - other[k])
    return 0.0


@njit(cache=True, nogil=True)
def copy_hand(of: Hand, to: Hand) -> None:
    """Make one layout equal to another."""
    to.pos[:] = of.pos
    to.form[:] = of.form
    to.here[:] = of.here
    to.worth[:] = of.worth


@njit(cache=True, nogil=True)
def _cleared(room: Room, hand: Hand, free: Flags, state: Words, many: int, window: Floats) -> None:
    """Take out so many pieces that lie near one another, all if there are fewer, and set the box they took [mm]; the whole room if none."""
    may = np.flatnonzero(hand.here & free)
    window[:] = room.box
    if len(may) == 0:
        return
    first = may[int(_random(state) * len(may))]
    away = (hand.pos[may, 0] - hand.pos[first, 0]) ** 2 + (hand.pos[may, 1] - hand.pos[first, 1]) ** 2
    window[:2], window[2:] = np.inf, -np.inf
    for i in may[np.argsort(away)[:many]]:
        for k in range(2):
            window[k] = min(window[k], hand.pos[i, k] + room.lows[hand.form[i], k])
            window[2 + k] = max(window[2 + k], hand.pos[i, k] + room.highs[hand.form[i], k])
        hand.here[i] = False
        hand.pos[i] = AWAY * (1.0 + i)


@njit(cache=True, nogil=True)
def _ordered(deal: Deal, here: Flags, state: Words) -> Ints:
    """Return the missing pieces, rank by rank in an order of value and chance: pieces of one kind have the same luck."""
    spread = NOISES[int(_random(state) * len(NOISES))]
    luck = np.empty(deal.kinds.max() + 1)
    for k in range(len(luck)):  # a normal deviate (Box and Muller 1958)
        luck[k] = math.sqrt(-2.0 * math.log(1.0 - _random(state))) * math.cos(math.tau * _random(state))
    missing = np.flatnonzero(~here)
    keys = np.empty(len(missing))
    for n in range(len(missing)):
        keys[n] = -deal.values[missing[n]] * math.exp(spread * luck[deal.kinds[missing[n]]])
    by_value = missing[np.argsort(keys, kind="mergesort")]
    return by_value[np.argsort(deal.ranks[by_value], kind="mergesort")]


@njit(cache=True, nogil=True)
def trades(
    look: Look, room: Room, anyhow: Pieces, straight: Pieces, work: Work, deal: Deal, hands: Hands, book: Ints,
) -> bool:  # fmt: skip
    """Trade from `now` on till a layout is better than `home`, or a stretch of moves is made; tell whether one is: `home` is that then.

    `anyhow` and `straight` are the pieces of `now` with all their turns and with straight ones.
    `book` holds moves made and trades since a better layout [-]; it ends when these are more than the deal allows.
    """
    now, home, last = hands.now, hands.home, hands.last
    pairs, windows = np.zeros(1), np.empty((2, 4))
    end = book[0] + deal.stretch
    while book[0] < end and book[1] <= deal.still:
        book[0] += 1
        book[1] += 1
        if gain(home.worth, now.worth) > 0.0 and _random(work.state) < HOME:
            copy_hand(home, now)
        copy_hand(now, last)
        places = 2 if _random(work.state) < TWICE else 1
        for k in range(places):
            chance = _random(work.state)
            many = 1 + int(-WIDE * math.log(1.0 - chance) if deal.wide else chance * CLEARED)
            _cleared(room, now, deal.free, work.state, many, windows[k])
        traded = (deal.values * (last.here & ~now.here)).sum()
        lies_straight = _random(work.state) < STRAIGHT
        order = _ordered(deal, now.here, work.state)
        for k in range(places):
            left = order[~now.here[order]]
            free = deal.room - (deal.areas * now.here).sum()
            done = np.zeros(len(left), dtype=np.bool_)
            pairs[0] = 0.0
            aim = Aim(
                left,
                deal.kinds[left],
                deal.areas[left],
                windows[k],
                free,
                deal.touch,
                TOUCHING,
                deal.turns,
                pairs,
            )
            if lies_straight:
                refill(look, room, straight, work, aim, done)
            else:
                refill(look, room, anyhow, work, aim, done)
            now.here[left[done]] = True
            book[0] += 1 + int(pairs[0] / PAIRS)
        now.worth[:] = 0.0
        for i in range(len(now.here)):
            if now.here[i]:
                now.worth[deal.ranks[i]] += deal.values[i]
        if gain(now.worth, home.worth) > 0.0:
            copy_hand(now, home)
            book[1] = 0
            return True
        if gain(now.worth, last.worth) < POORER * traded * math.log(1.0 - _random(work.state)):
            copy_hand(last, now)
    return False
