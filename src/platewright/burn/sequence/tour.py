"""Shortest order of visits: nodes with a free choice of entry, some that must wait for others, from home and back.

Words
-----
node : a cut to visit; start : one of its ways in, with the place it leaves at; parent : the one node that must come after;
leg : the rapid between two nodes; turn : running a stretch of the order the other way round (2-opt); move : putting
a short run of nodes elsewhere, turned or not (Or-opt); kick : swapping two neighbouring runs at random.

Method
------
A greedy order, then local search over neighbour lists with a queue of nodes worth a look, then many small kicks, each
repaired locally and kept only if it pays (iterated local search: Lourenço, Martin, Stützle 2003; segment
swap kick as in Martin, Otto, Felten 1991). Legs are not the same both ways, as a cut does not end where it was
entered; running sums of both directions give the price of a turn in constant time. A turn is legal if no node in it
waits for another in it, which a suffix minimum over the places of the parents answers in constant time too. The
starts are chosen along the way and at the end of each round by a dynamic programme over the fixed order, which is
exact for that order.

Cost: about 20 µs a kick for some hundred nodes, compiled. The number of kicks, not the clock, ends the search, so that the
same input gives the same order.
Limits: each node may have at most one parent (holes wait in no queue but their part's).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from platewright.errors import InputError
from platewright.geometry import Floats

if TYPE_CHECKING:
    from platewright.burn.sequence.kernels import Nodes, Run

__all__ = ["Tour", "Visits", "tour"]

KICKS_PER_SECOND = 25_000
"""Kicks [1/s] that fit a second on a common machine with some hundred nodes; turns `effort` into a count."""
ROUNDS = 4
NEAR = 9
"""Neighbours looked at for each node."""
FEW = 24
"""Below this many nodes the search also starts from random orders."""
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Visits:
    """What is to be visited.

    Attributes
    ----------
    entry, leave : (N, K, 2) points where a node is entered and left, for each of its starts [mm]
    count : (N,) how many starts each node has [-]
    parent : (N,) node that must come later [-], -1 for none
    """

    entry: Floats
    leave: Floats
    count: Ints
    parent: Ints

    @staticmethod
    def of(
        entry: ArrayLike, leave: ArrayLike, *, count: ArrayLike | None = None, parent: ArrayLike | None = None
    ) -> Visits:
        """Return the visits of nodes [mm]; without counts each has all K starts, without parents none waits.

        Raises
        ------
        InputError
            If the arrays do not fit together or the parents go round in a circle.
        """
        ins = np.ascontiguousarray(entry, dtype=np.float64)
        outs = np.ascontiguousarray(leave, dtype=np.float64)
        total = len(ins)
        if total == 0 or ins.ndim != 3 or ins.shape != outs.shape or ins.shape[2] != 2:
            raise InputError(
                f"Entries {ins.shape} and exits {outs.shape} do not fit.",
                allowed="two (N, K, 2) arrays, N above 0",
            )
        counts = np.asarray(np.full(total, ins.shape[1]) if count is None else count).astype(np.int64)
        parents = np.asarray(np.full(total, -1) if parent is None else parent).astype(np.int64)
        if counts.shape != (total,) or parents.shape != (total,) or (counts < 1).any():
            raise InputError("Every node needs a count of starts above 0 and a parent or -1.")
        for node in range(total):
            steps, up = 0, int(parents[node])
            while up >= 0:
                steps, up = steps + 1, int(parents[up])
                if steps > total:
                    raise InputError(f"Node {node} waits for itself, by way of its parents.")
        return Visits(ins, outs, counts, parents)


@dataclass(frozen=True, slots=True)
class Tour:
    """An order of nodes [-], the start chosen for each node [-], and the length of all legs [mm]."""

    order: tuple[int, ...]
    choice: tuple[int, ...]
    length: float


def tour(
    visits: Visits,
    *,
    home: tuple[float, float] = (0.0, 0.0),
    end: tuple[float, float] | None = None,
    apart: float = 0.0,
    effort: float = 0.5,
    seed: int = 1,
) -> Tour:
    """Find a short order.

    Parameters
    ----------
    visits : the nodes, where each is entered and left [mm], and who waits for whom
    home : where the travel begins [mm]
    end : where it ends [mm], None for anywhere
    apart : legs shorter than this cost extra, to spread heat [mm]
    effort : about this many seconds of search [s], as a fixed number of kicks
    seed : of the random kicks [-]

    Returns
    -------
    Tour [mm]
    """
    from platewright.burn.sequence.kernels import Nodes

    ins, outs, total = visits.entry, visits.leave, len(visits.entry)
    at = np.full((total + 2, 4), np.inf)
    at[total] = (*home, *home)
    if end is not None:
        at[total + 1] = (*end, *end)
    width = min(NEAR, total - 1)
    near, far = np.zeros((total, width), dtype=np.int64), np.full((total, width), np.inf)
    nodes = Nodes(
        ins, outs, visits.count, visits.parent, near, far, apart,
        ordered=bool((visits.parent >= 0).any()), same=bool(np.array_equal(ins, outs)),
    )  # fmt: skip
    return _rounds(nodes, at, kicks=int(effort * KICKS_PER_SECOND), seed=seed)


def _rounds(nodes: Nodes, at: Floats, *, kicks: int, seed: int) -> Tour:
    """Search from the greedy order, round after round; few nodes also from random orders, as kicks alone may not leave a hollow."""
    from platewright.burn.sequence.kernels import Run, Work, cost_of, search
    from platewright.burn.sequence.starts import choose, greedy, neighbours

    total, width = nodes.near.shape
    neighbours(nodes)
    run = Run(np.zeros(total + 2, dtype=np.int64), np.zeros(total, dtype=np.int64), at)
    greedy(nodes, run)
    pos, up, limit, queue = (np.full(total + 2, total + 2, dtype=np.int64) for _ in range(4))
    child, queued = np.zeros(total + 2, dtype=np.int64), np.zeros(total + 2, dtype=np.bool_)
    work = Work(np.zeros((2, total + 2)), pos, up, limit, child, queue, queued)
    draw, few = np.random.default_rng(seed), total < FEW
    rounds = 3 * ROUNDS if few else ROUNDS
    best: tuple[float, Run] | None = None
    for turn in range(rounds if width else 1):
        if few and turn:
            run = run._replace(seq=_shuffled(nodes.parent, draw))
        choose(nodes, run)
        if width:
            search(nodes, run, _copied(run), work, kicks // rounds, seed + turn)
        cost = choose(nodes, run)
        if best is None or cost < best[0] - 1e-9:
            best = cost, _copied(run)
    assert best is not None
    seq, pick, at = best[1]
    return Tour(tuple(seq[1:-1].tolist()), tuple(pick.tolist()), float(cost_of(seq, at, 0.0)))


def _copied(run: Run) -> Run:
    return run._replace(seq=run.seq.copy(), pick=run.pick.copy(), at=run.at.copy())


def _shuffled(up: Ints, draw: np.random.Generator) -> Ints:
    """Return a random sequence with start and end, children before parents."""
    total = len(up)
    depth = np.zeros(total)
    for node in range(total):
        parent, key = int(up[node]), 0.0
        while parent >= 0:
            key, parent = key + 1.0, int(up[parent])
        depth[node] = key
    keys = draw.random(total)
    for node in np.argsort(-depth):  # a parent's key is raised above its children's
        if up[node] >= 0:
            keys[up[node]] = max(keys[up[node]], keys[node] + 1e-6 * draw.random())
    return np.concatenate([[total], np.lexsort((-depth, keys)), [total + 1]]).astype(np.int64)
