"""Compiled inner loops of the order search (see ``tour`` for the words).

What they look up comes in ``Nodes``, what they change in a ``Run``, what they reckon by in ``Work``.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = ["Nodes", "Run", "Work", "cost_of", "search", "step_cost", "take"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Nodes(NamedTuple):
    """What is to be visited.

    `entry` and `leave` are where a node is entered and left by each of its `counts` starts [mm], `parent` is the node that comes
    after it or -1, `near` and `far` its nearest nodes and how far they are [mm]; rapids shorter than `apart` [mm] cost more.
    `ordered` says whether any node has a parent, `same` whether every node is left where it is entered.
    """

    entry: Floats
    leave: Floats
    counts: Ints
    parent: Ints
    near: Ints
    far: Floats
    apart: float
    ordered: bool
    same: bool


class Run(NamedTuple):
    """A sequence: nodes at places 1..n, the start (node n) at place 0, the end (node n+1) at place n+1; the start chosen for
    each node, and where it is entered and left with that [mm].
    """

    seq: Ints
    pick: Ints
    at: Floats


class Work(NamedTuple):
    """What makes a move's cost and legality O(1), and the queue of nodes worth a look.

    `sums[0, p]` is the cost of coming from place 0 to p, `sums[1, p]` of running the same places the other way [mm]; `pos` the
    place of each node. `up[p]` is the place of the parent of the node at p and `limit[p]` the lowest of any parent of a node at or
    after p, the first place that must not be turned round with p; both lie behind all places where there is no parent.
    `child[p]` is the highest place of a child of the node at p, 0 for none.
    """

    sums: Floats
    pos: Ints
    up: Ints
    limit: Ints
    child: Ints
    queue: Ints
    queued: NDArray[np.bool_]


class Path(NamedTuple):
    """What the price of moving a run is looked up in: of a `Run`, a `Work` and the `Nodes`."""

    seq: Ints
    at: Floats
    sums: Floats
    up: Ints
    child: Ints
    apart: float


SPAN = 3
"""Longest run of nodes moved as one."""


@njit(cache=True)
def step_cost(dx: float, dy: float, apart: float) -> float:
    """Return what a rapid costs: its length, and below `apart` (heat) four times the missing distance on top."""
    d = math.sqrt(dx * dx + dy * dy)
    return d if d >= apart else d + 4.0 * (apart - d)


@njit(cache=True)
def _leg(a: int, b: int, at: Floats, apart: float) -> float:
    """Return the cost of going from node a to node b; an end at infinity is free."""
    if math.isinf(at[b, 0]):
        return 0.0
    return step_cost(at[a, 2] - at[b, 0], at[a, 3] - at[b, 1], apart)


@njit(cache=True)
def cost_of(seq: Ints, at: Floats, apart: float) -> float:
    """Return the cost [mm] of a sequence over all its legs."""
    total = 0.0
    for p in range(len(seq) - 1):
        total += _leg(seq[p], seq[p + 1], at, apart)
    return total


@njit(cache=True)
def take(node: int, k: int, entry: Floats, leave: Floats, at: Floats, pick: Ints) -> None:
    """Choose start k of a node: where it is entered and left [mm]."""
    pick[node] = k
    at[node, 0], at[node, 1] = entry[node, k, 0], entry[node, k, 1]
    at[node, 2], at[node, 3] = leave[node, k, 0], leave[node, k, 1]


@njit(cache=True)
def _refresh(nodes: Nodes, run: Run, work: Work, low: int) -> None:
    """Bring the running costs up to date from place `low` on, and the legality tables everywhere."""
    seq, at, apart, same = run.seq, run.at, nodes.apart, nodes.same
    sums, pos, up, limit, child = work.sums, work.pos, work.up, work.limit, work.child
    n = len(seq) - 2
    low = max(low, 1)
    for p in range(low, n + 2):
        pos[seq[p]] = p
        sums[0, p] = sums[0, p - 1] + _leg(seq[p - 1], seq[p], at, apart)
        if same:
            sums[1, p] = sums[0, p]
        elif p <= n and p > 1:
            sums[1, p] = sums[1, p - 1] + _leg(seq[p], seq[p - 1], at, apart)
    if not nodes.ordered:
        return
    child[:] = 0
    lowest = n + 1
    for p in range(n, 0, -1):
        parent = nodes.parent[seq[p]]
        up[p] = n + 2
        if parent >= 0:
            up[p] = pos[parent]
            lowest = min(lowest, up[p])
            child[up[p]] = max(child[up[p]], p)
        limit[p] = lowest


@njit(cache=True)
def _reverse(seq: Ints, i: int, j: int) -> None:
    while i < j:
        seq[i], seq[j] = seq[j], seq[i]
        i += 1
        j -= 1


@njit(cache=True)
def _turn_gain(seq: Ints, at: Floats, sums: Floats, i: int, j: int, apart: float) -> float:
    """Return what turning places i..j round saves."""
    a, b, c, d = seq[i - 1], seq[i], seq[j], seq[j + 1]
    gain = _leg(a, b, at, apart) + _leg(c, d, at, apart) - _leg(a, c, at, apart) - _leg(b, d, at, apart)
    gain += (sums[0, j] - sums[0, i]) - (sums[1, j] - sums[1, i])
    return float(gain)


@njit(cache=True)
def _may_move(up: Ints, child: Ints, i: int, j: int, q: int, turned: bool) -> bool:
    """Tell whether places i..j may go between q and q+1 without passing a parent or a child."""
    for p in range(i, j + 1):
        if up[p] <= j:
            if turned:
                return False
        elif q > j and up[p] <= q:
            return False
        if q < i and child[p] > q:  # also refuses a child moving along; a cheap table cannot tell which
            return False
    return True


@njit(cache=True)
def _move(seq: Ints, i: int, j: int, q: int, turned: bool) -> int:
    """Move places i..j between q and q+1; return the lowest place changed."""
    if turned:
        _reverse(seq, i, j)
    if q > j:
        _reverse(seq, i, j)
        _reverse(seq, j + 1, q)
        _reverse(seq, i, q)
        return i
    _reverse(seq, q + 1, i - 1)
    _reverse(seq, i, j)
    _reverse(seq, q + 1, j)
    return q + 1


@njit(cache=True, inline="always")  # a named tuple handed to a call would cost as much as the search in it
def _best_shift(path: Path, p: int, q: int) -> tuple[float, int, int, int, bool]:
    """Return the best move of a short run with p at one end to a place beside q: gain, i, j, after place, turned."""
    seq, at, sums, up, child, apart = path
    n = len(seq) - 2
    best, bi, bj, bq, bt = 0.0, 0, 0, 0, False
    for size in range(1, SPAN + 1):
        for head in range(2):
            if size == 1 and head == 1:
                continue
            i = p if head == 0 else p - size + 1
            j = i + size - 1
            if i < 1 or j > n or i <= q <= j:
                continue
            a, b, c, d = seq[i - 1], seq[i], seq[j], seq[j + 1]
            freed = _leg(a, b, at, apart) + _leg(c, d, at, apart) - _leg(a, d, at, apart)
            if freed <= best:
                continue
            inner = (sums[0, j] - sums[0, i]) - (sums[1, j] - sums[1, i])
            for after in range(q - 1, q + 1):
                if after < 0 or i - 1 <= after <= j:
                    continue
                u, v = seq[after], seq[after + 1]
                open_ = freed + _leg(u, v, at, apart)
                for turned in range(2):
                    first, last = (c, b) if turned else (b, c)
                    gain = open_ - _leg(u, first, at, apart) - _leg(last, v, at, apart)
                    if turned:
                        gain += inner
                    if gain > best and _may_move(up, child, i, j, after, turned == 1):
                        best, bi, bj, bq, bt = gain, i, j, after, turned == 1
    return best, bi, bj, bq, bt


@njit(cache=True)
def _rechoose(nodes: Nodes, run: Run, p: int) -> float:
    """Take the best start of the node at p for its present neighbours; return the gain."""
    entry, leave, apart, at, seq = nodes.entry, nodes.leave, nodes.apart, run.at, run.seq
    node, before, after = seq[p], seq[p - 1], seq[p + 1]
    now = _leg(before, node, at, apart) + _leg(node, after, at, apart)
    best, arg = now - 1e-9, int(-1)
    for k in range(nodes.counts[node]):
        c = step_cost(at[before, 2] - entry[node, k, 0], at[before, 3] - entry[node, k, 1], apart)
        if not math.isinf(at[after, 0]):
            c += step_cost(leave[node, k, 0] - at[after, 0], leave[node, k, 1] - at[after, 1], apart)
        if c < best:
            best, arg = c, k
    if arg < 0:
        return 0.0
    take(node, arg, entry, leave, at, run.pick)
    return float(now - best)


@njit(cache=True)
def _improve(nodes: Nodes, run: Run, work: Work, filled: int) -> float:
    """Empty the queue of nodes worth a look: turns, moves and other starts until none helps; return the gain."""
    near, far, apart = nodes.near, nodes.far, nodes.apart
    sums, pos, up, limit, child, queue, queued = work
    seq, _, at = run
    path = Path(seq, at, sums, up, child, apart)
    n = len(seq) - 2
    total = 0.0
    while filled > 0:
        filled -= 1
        node = queue[filled]
        queued[node] = False
        again = True
        while again:
            again = False
            p = pos[node]
            if nodes.counts[node] > 1:
                gain = _rechoose(nodes, run, p)
                if gain > 0.0:
                    total += gain
                    _refresh(nodes, run, work, p)
            reach = max(_leg(seq[p - 1], node, at, apart), _leg(node, seq[p + 1], at, apart))
            best, kind, bi, bj, bq, bt = 1e-7, 0, p, p, p, False
            for k in range(near.shape[1]):
                if far[node, k] >= reach:
                    break
                q = pos[near[node, k]]
                for i, j in (
                    (min(p, q) + 1, max(p, q)),
                    (min(p, q), max(p, q) - 1),
                ):  # turns that join p and q
                    if 1 <= i < j <= n and limit[i] > j:
                        gain = _turn_gain(seq, at, sums, i, j, apart)
                        if gain > best:
                            best, kind, bi, bj = gain, 1, i, j
                gain, i, j, after, turned = _best_shift(path, p, q)
                if gain > best:
                    best, kind, bi, bj, bq, bt = gain, 2, i, j, after, turned
            if kind == 0:
                break
            again = True
            total += best
            for t in (bi - 1, bi, bj, bj + 1, bq, bq + 1):
                filled = _push(seq[t], n, queue, queued, filled)
            if kind == 1:
                _reverse(seq, bi, bj)
                low = bi
            else:
                low = _move(seq, bi, bj, bq, bt)
            _refresh(nodes, run, work, low)
    return total


@njit(cache=True)
def _push(node: int, n: int, queue: Ints, queued: NDArray[np.bool_], filled: int) -> int:
    if node >= n or queued[node]:
        return filled
    queued[node] = True
    queue[filled] = node
    return filled + 1


@njit(cache=True)
def _copy(seq: Ints, pick: Ints, at: Floats, seq2: Ints, pick2: Ints, at2: Floats) -> None:
    for i in range(len(seq)):
        seq2[i] = seq[i]
        for k in range(4):
            at2[i, k] = at[i, k]
    for i in range(len(pick)):
        pick2[i] = pick[i]


@njit(cache=True)
def _kick(seq: Ints, up: Ints, window: int) -> tuple[int, int, int]:
    """Swap two neighbouring runs at a random place; return the three seams, or zeros if not allowed."""
    n = len(seq) - 2
    a = np.random.randint(0, n - 1)  # at least two places follow
    span = min(window, n - a)
    b = a + 1 + np.random.randint(0, span - 1)
    c = b + 1 + np.random.randint(0, span - (b - a))
    for p in range(a + 1, b + 1):
        if b < up[p] <= c:
            return 0, 0, 0
    _reverse(seq, a + 1, b)
    _reverse(seq, b + 1, c)
    _reverse(seq, a + 1, c)
    return a, a + c - b, c


@njit(cache=True)
def search(nodes: Nodes, run: Run, kept: Run, work: Work, kicks: int, seed: int) -> float:
    """Improve a sequence in place by local search and small random kicks undone when they do not pay; return its cost [mm]."""
    np.random.seed(seed)
    seq, n = run.seq, len(nodes.counts)
    filled, one = int(0), int(1)
    for p in range(n, 0, -1):
        filled = _push(seq[p], n, work.queue, work.queued, filled)
    _refresh(nodes, run, work, one)
    _improve(nodes, run, work, filled)
    cost = cost_of(seq, run.at, nodes.apart)
    if n < 3:
        return cost
    _copy(run.seq, run.pick, run.at, kept.seq, kept.pick, kept.at)
    for _ in range(kicks):
        filled = int(0)
        for _ in range(1 if np.random.random() > 0.1 else 4):
            a, b, c = _kick(seq, work.up, 50)
            if c == 0:
                continue
            _refresh(nodes, run, work, a + 1)
            for t in (a, a + 1, b, b + 1, c, c + 1):
                filled = _push(seq[t], n, work.queue, work.queued, filled)
        if filled == 0:
            continue
        _improve(nodes, run, work, filled)
        now = work.sums[0, n + 1]
        if now <= cost + 1e-9:
            cost = now
            _copy(run.seq, run.pick, run.at, kept.seq, kept.pick, kept.at)
        else:
            _copy(kept.seq, kept.pick, kept.at, run.seq, run.pick, run.at)
            _refresh(nodes, run, work, one)
    return cost_of(seq, run.at, nodes.apart)
