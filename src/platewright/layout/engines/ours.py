"""The built-in engine: holes first, then press what is left together, then fit what found no room.

Method: pieces that the first layout put into holes ride along with their hosts as one rigid piece (their holes are
closed for the search), which is where the plate is saved; the rest is pressed (``search.squeeze``). If pieces are
missing, each is dropped onto the layout and the search separates the overlap within the whole room. Fillers are laid
last, on the raster, around everything else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from platewright.geometry import Pose
from platewright.layout.engines.first import Ground, first_layout, order_of, tucked
from platewright.layout.engines.holes import with_holes_filled
from platewright.layout.problem import FILLER, Budget, Packed, Piece, Problem, Shape, Spot, pack_loops
from platewright.layout.search.crowd import worth_of
from platewright.layout.search.squeeze import Search
from platewright.layout.search.tables import make_tables
from platewright.layout.shape import kernels
from platewright.layout.shape.loops import turned
from platewright.layout.shape.turns import FORMS

__all__ = ["Ours", "grouped", "quick_layout", "start_layout", "with_fillers"]


@dataclass(frozen=True, slots=True)
class Rider:
    """A piece in a hole: its host's piece, and where it lies in the host's own frame [mm, rad]."""

    piece: int
    host: int
    pose: Pose


@dataclass(frozen=True, slots=True, eq=False)
class Grouped:
    """A problem of hosts only, with the way back."""

    problem: Problem
    spots: tuple[Spot, ...]
    hosts: tuple[int, ...]
    riders: tuple[Rider, ...]
    missing: tuple[int, ...] = ()

    def whole(self, spots: Sequence[Spot]) -> tuple[Spot, ...]:
        """Return spots of all pieces from spots of the hosts [mm, rad]."""
        out = [replace(s, piece=self.hosts[s.piece]) for s in spots]
        at = {s.piece: Pose(s.x, s.y, s.angle) for s in out}
        for r in self.riders:
            if r.host not in at:
                continue
            pose = at[r.host].after(r.pose)
            out.append(Spot(r.piece, pose.x, pose.y, pose.angle))
        return tuple(sorted(out, key=lambda s: s.piece))


def _hosts(problem: Problem, spots: Sequence[Spot]) -> dict[int, int]:
    """Return host by rider, as positions in `spots`: the outermost piece whose hole holds the rider."""
    loops = [problem.placed(s) for s in spots]
    boxes = [(p[0].min(axis=0), p[0].max(axis=0)) for p in loops]
    host: dict[int, int] = {}
    big = sorted(range(len(spots)), key=lambda i: -float(np.prod(boxes[i][1] - boxes[i][0])))
    for h in big:
        if h in host or len(loops[h]) < 2:
            continue
        for hole in loops[h][1:]:
            points, starts = pack_loops((hole,))
            low, high = hole.min(axis=0), hole.max(axis=0)
            for c in range(len(spots)):
                if c != h and c not in host and (boxes[c][0] >= low).all() and (boxes[c][1] <= high).all():
                    x, y = loops[c][0][0]
                    if kernels.point_in(points, starts, float(x), float(y)):
                        host[c] = h
    return host


def grouped(problem: Problem, spots: Sequence[Spot], *, tied: bool = True) -> Grouped:
    """Return the problem with pieces in holes tied to their hosts (if asked); fixed pieces stay as they are [mm]."""
    held = {s.piece for s in problem.fixed}
    host = {
        c: h
        for c, h in (_hosts(problem, spots) if tied else {}).items()
        if spots[c].piece not in held and _may_ride(problem, spots[c], spots[h])
    }
    hosts = [i for i in range(len(spots)) if i not in host]
    full = set(host.values())
    shapes: list[Shape] = []
    kinds: dict[tuple[int, bool], int] = {}
    pieces = []
    for i in hosts:
        piece = problem.pieces[spots[i].piece]
        key = (piece.shape, i in full)
        if key not in kinds:
            kinds[key] = len(shapes)
            shape = problem.shapes[piece.shape]
            shapes.append(replace(shape, raw=shape.raw[:1], big=shape.big[:1]) if i in full else shape)
        load = [spots[c].piece for c, h in host.items() if h == i]
        pieces.append(Piece(kinds[key], piece.rank, sum(map(problem.value, (spots[i].piece, *load)))))
    local = tuple(replace(spots[i], piece=k) for k, i in enumerate(hosts))
    placed = {s.piece for s in spots}
    lost = _some([i for i, p in enumerate(problem.pieces) if i not in placed and p.rank < FILLER], problem)
    for i in lost:
        key = (problem.pieces[i].shape, False)
        if key not in kinds:
            kinds[key] = len(shapes)
            shapes.append(problem.shapes[key[0]])
        pieces.append(Piece(kinds[key], problem.pieces[i].rank, problem.value(i)))
    fixed = tuple(s for s, i in zip(local, hosts, strict=True) if spots[i].piece in held)
    riders = tuple(_rider(spots[c], spots[h]) for c, h in host.items())
    return Grouped(
        replace(problem, shapes=tuple(shapes), pieces=tuple(pieces), fixed=fixed),
        local,
        (*(spots[i].piece for i in hosts), *lost),
        riders,
        tuple(range(len(hosts), len(pieces))),
    )


MOST_MISSING = 150
"""Most missing pieces in hand at once [-]: memory grows with the square of all in hand."""


def _some(lost: Sequence[int], problem: Problem) -> list[int]:
    """Return the missing pieces to try: those of the first ranks, shape after shape, one of each at a time."""
    turn: dict[tuple[int, int], int] = {}
    order = []
    for i in lost:
        key = (problem.pieces[i].rank, problem.pieces[i].shape)
        turn[key] = turn.get(key, 0) + 1
        order.append((key[0], turn[key], i))
    return sorted(i for _, _, i in sorted(order)[:MOST_MISSING])


def _may_ride(problem: Problem, rider: Spot, host: Spot) -> bool:
    """Tell whether the rider may take part in all the host's turns."""
    mine = problem.shapes[problem.pieces[rider.piece].shape]
    theirs = problem.shapes[problem.pieces[host.piece].shape]
    if problem.any_turn and not mine.few:
        return True
    turned = [rider.angle + a - host.angle for a in theirs.angles]
    return all(any(abs(math.remainder(t - a, math.tau)) < 1e-9 for a in mine.angles) for t in turned)


def _rider(spot: Spot, host: Spot) -> Rider:
    pose = Pose(host.x, host.y, host.angle).inverse().after(Pose(spot.x, spot.y, spot.angle))
    return Rider(spot.piece, host.piece, pose)


def _fillers(problem: Problem) -> set[int]:
    return {i for i, p in enumerate(problem.pieces) if p.rank >= FILLER}


def _added(problem: Problem, packed: Packed, pieces: Sequence[int], stop: Callable[[], bool]) -> Packed:
    """Return the packing with those of `pieces` that still find room on the raster."""
    if not pieces:
        return packed
    held = replace(problem, fixed=packed.spots)
    return replace(first_layout(held, order=pieces, stop=stop), steps=packed.steps)


def with_fillers(problem: Problem, packed: Packed, stop: Callable[[], bool]) -> Packed:
    """Return the packing with as many fillers as find room in what is left [mm, rad]."""
    return _added(problem, packed, sorted(_fillers(problem)), stop)


def _orders(problem: Problem) -> list[list[int]]:
    """Return orders of placing worth a try: by box, by longest side, by area of metal."""
    held = {s.piece for s in problem.fixed} | _fillers(problem)
    free = [i for i in range(len(problem.pieces)) if i not in held]

    def by(key: Callable[[Shape], float]) -> list[int]:
        return sorted(
            free,
            key=lambda i: (
                problem.pieces[i].rank,
                -key(problem.shapes[problem.pieces[i].shape]),
                problem.pieces[i].shape,
            ),
        )

    def box(shape: Shape) -> float:
        return float(np.prod(np.ptp(shape.raw[0], axis=0)))

    return [by(box), by(Shape.reach), by(Shape.area)]


def quick_layout(problem: Problem, *, stop: Callable[[], bool] = lambda: False) -> Packed:
    """Return the best layout of a few orders of placing at straight turns [mm, rad]; legal, and there at once."""
    return _best_order(problem, problem.straightened(), Packed(problem.fixed), stop)


def _best_order(problem: Problem, turns: Problem, best: Packed, stop: Callable[[], bool]) -> Packed:
    """Return the packing, or one of the orders of placing at some turns if that places more; the first that places everything."""
    wanted = len(problem.pieces) - len(_fillers(problem))
    ground = Ground.of(turns)
    for order in _orders(turns):
        packed = ground.laid(order, stop=stop if best.spots else lambda: False)
        best = _fuller(problem, packed, best)
        if len(best.spots) >= wanted or stop():
            break
    return best


def start_layout(problem: Problem, quick: Packed, *, stop: Callable[[], bool] = lambda: False) -> Packed:
    """Return the first legal layout to search from [mm, rad]: the quick one, or a fuller one if that leaves something out.

    Other turns are tried then: all parts lying along the room, all standing across it, and every turn there is. What the
    raster still leaves out is tried in the corners of what lies there, to the micrometre; the answer must pass the check.
    """
    wanted = len(problem.pieces) - len(_fillers(problem))
    straight = problem.straightened()
    lying = [_lying(straight, 0), _lying(straight, 1)]
    best = quick
    for turns in (*lying, *([problem] if straight is not problem else [])):
        if len(best.spots) >= wanted or stop():
            return best
        best = _best_order(problem, turns, best, stop)
    if len(best.spots) >= wanted or stop():
        return best
    placed = {s.piece for s in best.spots}
    best = tucked(straight, best, [i for i in _orders(problem)[0] if i not in placed])
    many = MOST_CORNERED if len(problem.pieces) <= MOST_CORNERED else LARGEST
    for turns in (straight, *lying):
        if len(best.spots) < wanted and not stop():
            order = _orders(turns)[0]
            if many == LARGEST and {s.piece for s in best.spots}.issuperset(order[:many]):
                break  # what is missing is small: no frame waits for a corner
            packed = tucked(turns, Packed(problem.fixed), order[:many])
            placed = {s.piece for s in packed.spots}
            best = _fuller(problem, _added(turns, packed, [i for i in order if i not in placed], stop), best)
    return best


def _fuller(problem: Problem, one: Packed, other: Packed) -> Packed:
    """Return the first packing if it places more, by worth or, of equals, by pieces; else the other."""

    def key(packed: Packed) -> tuple[tuple[float, ...], int]:
        real = [s.piece for s in packed.spots if problem.pieces[s.piece].rank < FILLER]
        return worth_of(problem, real), len(packed.spots)

    return one if key(one) > key(other) else other


MOST_CORNERED = 30
"""Most pieces that are also laid by corners alone [-]: the time grows with the cube."""

LARGEST = 8
"""Of more pieces so many are laid by corners, the largest first, and the others on the raster [-]: a frame or two may fit to a hair."""


def _lying(problem: Problem, axis: int) -> Problem:
    """Return the problem with only the turns at which each shape is longest along an axis, 0 for x [rad]."""

    def along(shape: Shape) -> Shape:
        boxes = [np.ptp(turned(shape.raw[:1], a)[0], axis=0) for a in shape.angles]
        kept = [a for a, b in zip(shape.angles, boxes, strict=True) if b[axis] >= b[1 - axis] - 1e-6]
        return replace(shape, angles=tuple(kept) or shape.angles, straight=0)

    return replace(problem, shapes=tuple(along(s) for s in problem.shapes))


class Ours:
    """The built-in search."""

    name = "ours"

    def available(self) -> bool:
        """Tell whether it can run here [-]: always."""
        return True

    def pack(self, problem: Problem, start: Packed, budget: Budget) -> Packed:
        """Return a packing at least as good as `start` [mm, rad]: pressed at straight turns first, then at all.

        In between pieces move in and out of holes like anywhere else; otherwise what lies in a hole rides with its host.
        Parts that may lie anyhow get other turns in each further round: those they lie at, closed up exactly, and new ones.
        """
        used = budget.used()
        best, straight = Packed(start.spots), problem.straightened()
        holed = any(len(s.raw) > 1 for s in problem.shapes)
        lacking = holed and len(best.spots) < len(problem.pieces) - len(_fillers(problem))
        holes = LACKING if lacking else HOLES
        best = with_holes_filled(
            straight, best, budget, hosts=lambda spots: _hosts(problem, spots), used=lambda: used() / holes,
            added=lambda packed, pieces: _added(straight, packed, pieces, budget.cancelled),
        )  # fmt: skip
        budget.tell(best)
        rounds = _rounds(problem, budget)
        phases = [(problem, True, OPEN + (1 - OPEN) * (k + 1) / rounds) for k in range(rounds)]
        if lacking:
            phases = [
                (straight, False, OPENED),
                *((at, tied, OPENED + (1 - OPENED) * (u - OPEN) / (1 - OPEN)) for at, tied, u in phases),
            ]
        elif holed:
            phases = [(straight, True, STRAIGHT), (straight, False, OPEN), *phases]
        elif straight is not problem:
            phases = [(straight, True, STRAIGHT), *phases]
        rng = np.random.default_rng(budget.seed)
        before = 0.0
        for number, (at, tied, until) in enumerate(phases):
            if number > 0 and at is problem and rounds > 1:
                at = _other_turns(problem, best.spots, rng)
            group = _few_turns(grouped(at, best.spots, tied=tied), budget, until - before)
            found = _pressed(group, best, budget, used=_part(used, until), until=until)
            before = until
            best = _better(problem, best, budget.refined(found))
        placed = {s.piece for s in best.spots}
        rest = [i for i in order_of(problem) if i not in placed]
        return _added(problem, best, rest, budget.cancelled)


def _better(problem: Problem, one: Packed, other: Packed) -> Packed:
    """Return the packing that places more worth, or is shorter [mm]; its steps are those of the later one."""

    def key(packed: Packed) -> tuple[tuple[float, ...], float]:
        real = [s.piece for s in packed.spots if problem.pieces[s.piece].rank < FILLER]
        return tuple(-v for v in worth_of(problem, real)), problem.used(packed.spots)

    return other if key(other) <= key(one) else replace(one, steps=other.steps)


def _rounds(problem: Problem, budget: Budget) -> int:
    """Return how often turns are chosen anew [-]: once if no part may lie anyhow."""
    if not problem.any_turn or all(s.few or len(s.angles) == 1 for s in problem.shapes):
        return 1
    enough = budget.seconds / ROUND if budget.steps is None else budget.steps / (MOVES * ROUND)
    return max(1, min(round(enough), MOST_ROUNDS))


def _other_turns(problem: Problem, spots: Sequence[Spot], rng: np.random.Generator) -> Problem:
    """Return the problem with each shape at straight turns, those its pieces lie at, and some drawn near either [rad]."""
    at: dict[int, list[float]] = {}
    for s in spots:
        at.setdefault(problem.pieces[s.piece].shape, []).append(s.angle)
    most = max(6, FORMS // len(problem.shapes))

    def other(kind: int, shape: Shape) -> Shape:
        if shape.few or len(shape.angles) == 1:
            return shape
        straight = shape.angles[: shape.straight or None]
        turns = list(straight)
        for angle in at.get(kind, []):
            if len(turns) < most and all(abs(math.remainder(angle - a, math.tau)) > 1e-6 for a in turns):
                turns.append(angle)
        turns += [
            float(rng.choice(turns)) + float(rng.uniform(-NEAR, NEAR))
            for _ in range(min(most, 24) - len(turns))
        ]
        return replace(shape, angles=tuple(turns), straight=len(straight))

    return replace(problem, shapes=tuple(other(k, s) for k, s in enumerate(problem.shapes)))


def _part(used: Callable[[], float], until: float) -> Callable[[], float]:
    return lambda: used() / until


HOLES = 0.15
"""Share of the time for filling holes [-]."""

LACKING, OPENED = 0.15, 0.9
"""The same, and up to where pieces then move in and out of holes, if pieces are missing [-]."""

ROUND = 15.0
"""About how long one choice of turns is searched [s]."""

MOVES = 10_000
"""About how many moves a second are made [1/s]; only to tell rounds from a budget of steps."""

MOST_ROUNDS = 8

NEAR = math.radians(25.0)
"""How far from a known turn new ones are drawn [rad]."""

STRAIGHT = 0.5
"""Share of the time up to which parts that may lie anyhow are only turned straight [-]."""

OPEN = 0.6
"""Share of the time up to which, from there, pieces move in and out of holes [-]."""


def _pressed(
    group: Grouped, start: Packed, budget: Budget, *, used: Callable[[], float], until: float
) -> Packed:
    """Return `start` pressed within a share of the time, or of the steps, counted from the beginning [-]."""
    steps = None if budget.steps is None else max(round(budget.steps * until) - start.steps, 0)
    if used() >= 1.0 or steps == 0:
        return start
    tables = make_tables(group.problem, stop=lambda: used() >= 1.0)
    if tables is None:
        return start
    search = Search(
        group.problem, tables, seed=budget.seed + start.steps, steps=steps, used=used, workers=budget.workers
    )

    def tell(spots: Sequence[Spot]) -> None:
        budget.tell(Packed(group.whole(spots), start.steps + search.moves))

    spots = group.spots
    if group.missing:
        spots = search.filled(spots, tell=tell)
    if len(spots) == len(group.problem.pieces):
        spots = search.shortened(spots, tell=tell)
    return Packed(group.whole(spots), start.steps + search.moves)


MOST_FORMS = 160
"""Most turned shapes the search takes on [-]: tables of 160 take some 4 s and 150 MB."""

EATEN = 0.2
"""Most of a phase that making its tables may take [-]."""

FORM_TIME = 1.5e-4
"""Time to make the tables, over the square of the forms [s]."""


def _few_turns(group: Grouped, budget: Budget, share: float) -> Grouped:
    """Return the group with only the turns its pieces lie at, if tables for all would eat a share of the time [-]."""
    shapes = group.problem.shapes
    afford = (
        MOST_FORMS
        if budget.steps is not None
        else math.isqrt(int(EATEN * share * budget.seconds / FORM_TIME))
    )
    if sum(len(s.angles) for s in shapes) <= min(afford, MOST_FORMS):
        return group
    kept: list[list[float]] = [[] for _ in shapes]
    for s in group.spots:
        turns = kept[group.problem.pieces[s.piece].shape]
        if all(abs(math.remainder(s.angle - a, math.tau)) > 1e-9 for a in turns):
            turns.append(s.angle)
    few = tuple(
        replace(s, angles=tuple(k) or s.angles[:1], straight=0) for s, k in zip(shapes, kept, strict=True)
    )
    return replace(group, problem=replace(group.problem, shapes=few))
