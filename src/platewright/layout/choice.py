"""Which plates to use: every set of plates in the order of the least it can cost, each tried until none can be cheaper.

Glossary
--------
kind : plates of one outline, cost and metal, of which there are some number
set : how many plates of each kind
cost : what a set's plates cost, less the credit for what is left of them: a share of the same price by area for
    the largest rectangle left free, if it is at least ``USABLE`` across; a sliver counts nothing
bound : what a set costs at least: its plates, less the credit for all that the parts cannot cover

Method: parts grown by half the clearance cannot overlap in a room grown by as much, so a set whose rooms are smaller in
sum cannot hold them. The other sets are listed by their bound (the cover part of it is a fractional knapsack) and tried
with first layouts, plates from the smallest up and from the largest down. Trying ends when the next bound is not below
the least cost found: then no set can be cheaper. Sets that only missed a few copies are searched, and the best one is
searched for the time that is left. What a plate holds of the same copies is laid once.

Limits: at most ``SETS`` sets are listed; of more, kinds dear for their size are left out. At most ``TRIES`` plates are
laid before the first set that holds everything is taken as the best known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from platewright.findings import Finding
from platewright.geometry import Floats, length
from platewright.layout.bed import Filled, Order, fill
from platewright.layout.model import Layout
from platewright.layout.problem import FILLER
from platewright.layout.request import Copy, Progress, Run
from platewright.layout.shape.loops import loops_area
from platewright.layout.shape.room import free_room, shape_of
from platewright.layout.useful import Worth
from platewright.stock.model import Plate

__all__ = ["Kind", "Picked", "kinds_of", "picked", "plate_costs", "sets_of"]

USABLE = 100.0
"""Least side of a rectangle that goes back to the rack [mm], as for the price of a job."""

SETS = 100_000
TRIES = 150
NEARLY = 0.15
"""Share of copies a set may miss at the first try and still be searched [-]."""

CANDIDATES = 3
"""Most sets searched besides the best one [-]."""

MOST_SHEETS = 40
"""Most times one sheet is repeated [-]."""


def plate_costs(plates: Sequence[Plate]) -> list[float]:
    """Return what each plate costs to use: its own cost if all have one [currency], else its area [m²], a drop's at half."""
    if all(p.cost is not None for p in plates):
        return [float(p.cost or 0) for p in plates]
    return [p.profile.area() * 1e-6 * (0.5 if p.kind == "drop" else 1.0) for p in plates]


@dataclass(frozen=True, slots=True)
class Kind:
    """Plates alike: the plates, what one costs [currency or m²], its area and the room for parts on it [mm²]."""

    plates: tuple[Plate, ...]
    cost: float
    area: float
    room: float


def kinds_of(plates: Sequence[Plate], rooms: Sequence[float], *, repeat: int = 1) -> list[Kind]:
    """Return the kinds of plates, cheapest for their room first.

    Parameters
    ----------
    plates : in the order given
    rooms : room for grown parts on each [mm²]
    repeat : how often a full sheet may be taken [-]
    """
    groups: dict[object, list[int]] = {}
    for i, p in enumerate(plates):
        groups.setdefault((p.profile, p.cost, p.kind, p.grade, p.thickness, p.grain), []).append(i)
    costs, kinds = plate_costs(plates), []
    for members in groups.values():
        alike = [plates[i] for i in members]
        first = members[0]
        while alike[0].kind == "sheet" and len(alike) < repeat:
            alike.append(replace(alike[0], name=f"{alike[0].name} {len(alike) + 1}"))
        kinds.append(Kind(tuple(alike), costs[first], plates[first].profile.area(), rooms[first]))
    return sorted(kinds, key=lambda k: k.cost / max(k.room, 1e-9))


def sets_of(kinds: Sequence[Kind], need: float, credit: float) -> list[tuple[float, tuple[int, ...]]]:
    """Return the sets that may hold parts of `need` grown area [mm²] as (bound, plates of each kind), least bound first."""
    kinds = list(kinds)
    counts = [min(len(k.plates), _enough(k, need)) for k in kinds]
    while math.prod(c + 1 for c in counts) > SETS and len(counts) > 1:
        counts[max(i for i, c in enumerate(counts) if c)] = 0
    grid = np.stack(np.meshgrid(*(np.arange(c + 1) for c in counts), indexing="ij"), axis=-1)
    every: Floats = grid.reshape(-1, len(kinds)).astype(float)
    left, cover = np.full(len(every), need), np.zeros(len(every))
    for i, kind in enumerate(
        kinds
    ):  # the cheapest for their room first: the least that covering the parts costs
        taken = np.minimum(every[:, i] * kind.room, left)
        cover += taken * kind.cost / max(kind.room, 1e-9)
        left -= taken
    whole = every @ np.array([k.cost for k in kinds])
    bounds = whole - credit * (whole - cover)
    holds = (left <= 1e-6 * max(need, 1.0)) & (every.sum(axis=1) > 0)
    rows = [(float(bounds[i]), tuple(int(n) for n in every[i])) for i in np.flatnonzero(holds)]
    return sorted(rows, key=lambda row: (row[0], sum(row[1]), row[1]))


def _enough(kind: Kind, need: float) -> int:
    """Return more plates of a kind than any set needs [-]: twice those its room asks for, and two."""
    return 2 * math.ceil(need / max(kind.room, 1e-9)) + 2


@dataclass(frozen=True, slots=True, order=True)
class Key:
    """What sets of plates are compared by, the smaller the better: what is missing, by rank, then cost, plates, worth of each layout."""

    missing: tuple[float, ...]
    cost: float
    plates: int
    worth: tuple[Worth, ...]


@dataclass(frozen=True, slots=True)
class Picked:
    """The plates picked and filled, the copies left, and why."""

    key: Key
    filled: tuple[Filled, ...]
    rest: tuple[Copy, ...]
    reasons: dict[int, Finding]
    lone: frozenset[int]


@dataclass(slots=True, kw_only=True)
class _Chooser:
    """One choice among plates: kinds, costs by plate, first layouts kept, and the best that was reported."""

    run: Run
    kinds: list[Kind]
    copies: tuple[Copy, ...]
    cost: dict[int, float]
    kept: dict[tuple[int, tuple[int, ...]], Filled] = field(default_factory=dict)
    reported: tuple[int, float, float] = (10**9, 0.0, 0.0)

    def tell(self, before: Sequence[Filled]) -> Callable[[Layout, float], None] | None:
        """Return the callback for better layouts of the plate after those `before` [mm]; it reports only what is better over all plates."""
        if self.run.progress is None:
            return None
        done = tuple(f.layout for f in before)
        wanted = sum(not c.filler for c in self.copies)

        def report(layout: Layout, used: float) -> None:
            assert self.run.progress is not None
            filler = [w.filler for w in self.run.wanted]
            every = (*done, layout)
            placed = sum(not filler[p.part] for one in every for p in one.placements)
            spent = sum(self.cost[id(one.plate.profile)] for one in every)
            if (wanted - placed, spent, used) < self.reported:
                self.reported = (wanted - placed, spent, used)
                self.run.progress(Progress(every, placed, wanted, used, self.run.passed()))

        return report

    def key(self, filled: Sequence[Filled], rest: Sequence[Copy]) -> Key:
        missing = self.missing(rest)
        spent = sum(self.cost[id(f.layout.plate.profile)] - self.credit(f) for f in filled)
        return Key(missing, round(spent, 9), len(filled), tuple(f.worth for f in filled if f.worth))

    def missing(self, rest: Sequence[Copy]) -> tuple[float, ...]:
        """Return the value of copies left, of each rank [-]; none if nothing is."""
        left: dict[int, float] = {}
        for c in rest:
            if not c.filler:
                value = c.value or self.run.wanted[c.part].part.profile.area()
                left[c.rank] = left.get(c.rank, 0.0) + value
        ranks = sorted({c.rank for c in self.copies if not c.filler})
        return tuple(round(left.get(r, 0.0), 6) for r in ranks) if left else ()

    def credit(self, one: Filled) -> float:
        """Return what the rest of a filled plate is worth [currency or m²]."""
        if one.free is None or min(one.free.width, one.free.height) < USABLE:
            return 0.0
        plate = one.layout.plate
        share = min(one.free.area() / plate.profile.area(), 1.0)
        return self.run.options.credit * share * self.cost[id(plate.profile)]

    def laid(self, plates: Sequence[Plate], seconds: float) -> Picked:
        """Fill plates in the order given, each within `seconds` [s], until nothing is left."""
        run, filled, rest, lone = self.run, list[Filled](), self.copies, frozenset[int]()
        reasons: dict[int, Finding] = {}
        for index, plate in enumerate(plates):
            if not any(not c.filler for c in rest):
                break
            locked = run.options.locked if index == 0 else ()
            key = (id(plate.profile), tuple(hash(c) for c in rest))
            quick = not run.searches(seconds) and not locked
            if quick and key in self.kept:
                one = replace(self.kept[key], layout=replace(self.kept[key].layout, plate=plate))
            else:
                one = fill(run, plate, rest, Order(seconds, locked, self.tell(filled)))
            if quick:
                self.kept[key] = one
            reasons = {k: v for k, v in one.hopeless.items() if index == 0 or k in reasons}
            rest, lone = one.rest, lone | one.lone
            if one.layout.placements:
                filled.append(one)
        return Picked(self.key(filled, rest), tuple(filled), rest, reasons, lone)

    def orders(self, counts: Sequence[int]) -> list[tuple[Plate, ...]]:
        """Return the plates of a set from the smallest up, and from the largest down."""
        rows = [(k.area, n, k.plates[n]) for k, c in zip(self.kinds, counts, strict=True) for n in range(c)]
        up = tuple(p for _, _, p in sorted(rows, key=lambda r: (r[0], r[1])))
        down = tuple(p for _, _, p in sorted(rows, key=lambda r: (-r[0], r[1])))
        return [up] if up == down else [up, down]


def grown_need(run: Run, copies: Sequence[Copy]) -> float:
    """Return the area of all copies but fillers, each grown by half the clearance [mm²]; never more than it is."""
    from shapely import Polygon

    area: dict[int, float] = {}
    for c in copies:
        if c.part not in area:
            part = run.wanted[c.part].part
            loops = shape_of(part.profile, name=part.name)
            full = Polygon(loops[0], loops[1:]).buffer(run.clearance.part / 2).area
            area[c.part] = full * part.profile.area() / max(loops_area(loops), 1e-9)
    return sum(area[c.part] for c in copies if c.rank < FILLER)


def grown_room(run: Run, plate: Plate) -> float:
    """Return the area of a plate's free room grown by half the clearance [mm²]; never less than it is."""
    half = run.clearance.part / 2 + 0.2
    edge = length(plate.profile.outer) + sum(length(h) for h in plate.profile.holes)
    room = loops_area(free_room(plate, (), run.clearance))
    return float(room + half * edge + math.pi * half**2)


def picked(run: Run, plates: Sequence[Plate], copies: tuple[Copy, ...]) -> Picked:
    """Return the plates that cost least for the most copies, filled."""
    options = run.options
    repeat = min(MOST_SHEETS, len(copies)) if options.repeat_sheets else 1
    kinds = kinds_of(plates, [grown_room(run, p) for p in plates], repeat=repeat)
    cost = {id(p.profile): k.cost for k in kinds for p in k.plates}
    chooser = _Chooser(run=run, kinds=kinds, copies=copies, cost=cost)
    if options.locked or (len(plates) == 1 and not options.repeat_sheets):
        share = options.seconds if len(plates) == 1 else options.seconds / min(len(plates), 3)
        return chooser.laid(plates, share)
    return _picked(chooser)


def _picked(chooser: _Chooser) -> Picked:
    run = chooser.run
    quick = replace(run.options, seconds=0.0, steps=0)
    trial = _Chooser(
        run=replace(run, options=quick),
        kinds=chooser.kinds,
        copies=chooser.copies,
        cost=chooser.cost,
        reported=chooser.reported,
    )
    trial.run.fits = run.fits
    sets, best, close = _tried(trial, run)
    chooser.reported = trial.reported
    if not run.searches(run.options.seconds) or run.cancelled():
        return best
    near = [row for row in close if best.key.missing or row[0] < best.key.cost][:CANDIDATES]
    for _, plates in near:
        other = chooser.laid(plates, 0.4 * run.left() / (len(near) * len(plates)))
        best = min(best, other, key=lambda p: p.key)
        if run.cancelled():
            return best
    used = tuple(f.layout.plate for f in best.filled) or sets
    final = chooser.laid(used, run.left() / max(len(used), 1))
    return min(best, final, key=lambda p: p.key)


def _tried(
    trial: _Chooser, run: Run
) -> tuple[tuple[Plate, ...], Picked, list[tuple[float, tuple[Plate, ...]]]]:
    """Try sets with first layouts; return all plates, the best set filled, and near misses as (bound, plates)."""
    full = tuple(len(k.plates) for k in trial.kinds)
    sets = sets_of(trial.kinds, grown_need(run, trial.copies), run.options.credit)
    best: Picked | None = None
    close: list[tuple[float, int, tuple[Plate, ...]]] = []
    many = sum(not c.filler for c in trial.copies)
    for bound, counts in [*sets, (math.inf, full)]:
        if best is not None and (
            (not best.key.missing and bound >= best.key.cost - 1e-9)
            or len(trial.kept) > TRIES
            or run.cancelled()
        ):
            break
        if best is None and len(trial.kept) > TRIES:
            counts = full
        for plates in trial.orders(counts):
            now = trial.laid(plates, 0.0)
            lost = sum(not c.filler for c in now.rest)
            if 0 < lost <= max(1.0, NEARLY * many):
                close.append((bound, lost, plates))
            best = now if best is None else min(best, now, key=lambda p: p.key)
            if not now.key.missing:
                break
        if counts == full and best is not None and best.key.missing:
            break
    assert best is not None
    rows = sorted({p[2]: p for p in reversed(close)}.values(), key=lambda p: (p[1], p[0]))
    return trial.orders(full)[0], best, [(bound, plates) for bound, _, plates in rows]
