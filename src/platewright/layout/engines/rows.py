"""Copies of a part in rows, turned by half two by two where that lies closer: what a shop would lay by hand.

Glossary
--------
pair : a copy at some turn and its twin, the same turned by half, at a shift; or one copy alone
lattice : pairs at a pitch along an axis, each touching the next, then such lines at a pitch along the other axis

Method: where two copies touch is read from the exact regions they forbid one another (``shape.forbidden``). Shifts of the twin are
those at the corners of its region and those at which the two boxes line up; for each, the pitch along one axis is the
least at which the next pair is free, and the pitch of lines the least at which the next line is. The lattices that take least plate a
copy are laid from the room's lower left; of those the one that ends first is taken. (Two copies turned by half on a
lattice: Kuperberg and Kuperberg 1990.) Parts with few copies are laid on the raster in what is left.

Cost: some tens of milliseconds a part. Limits: straight turns; parts of fewer than ``FEWEST`` copies lie in no rows.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from platewright.geometry import Floats
from platewright.layout.engines.first import first_layout
from platewright.layout.problem import FILLER, Packed, Problem, Shape, Spot
from platewright.layout.shape.forbidden import overlapping_shifts, solid_of
from platewright.layout.shape.loops import loops_area, turned

__all__ = ["FEWEST", "in_rows"]

FEWEST = 4
"""Fewest copies of a part that make rows [-]."""

MOST_KINDS = 3
"""Most parts laid in rows, those of most metal first [-]."""

MOSTLY = 0.6
"""Least share of the metal in parts that come in rows, for rows to be looked for at all [-]."""

TRIED = 40
"""Lattices of least plate a copy that are laid out in full if the room is no rectangle [-]."""

SHIFTS = 12.0
"""How many times smaller than the region of the twin's shifts two of them may lie apart [-]."""

BESIDE = 1e-6
"""What a pitch is made larger by, so that what should touch does not overlap [mm]."""


def in_rows(problem: Problem, *, stop: Callable[[], bool] = lambda: False) -> Packed | None:
    """Return a packing with like parts in rows, the rest on the raster [mm, rad]; None if there is none that places everything.

    The parts of most metal are laid in rows first, then as many other ones as gives the shortest packing.
    """
    held = {s.piece for s in problem.fixed}
    wanted = [i for i, p in enumerate(problem.pieces) if i not in held and p.rank < FILLER]
    kinds: dict[tuple[int, int], list[int]] = {}
    for i in wanted:
        kinds.setdefault((problem.pieces[i].rank, problem.pieces[i].shape), []).append(i)

    def metal(who: Sequence[int]) -> float:
        return sum(problem.shapes[problem.pieces[i].shape].area() for i in who)

    many = sorted((who for who in kinds.values() if len(who) >= FEWEST), key=metal, reverse=True)[:MOST_KINDS]
    if sum(map(metal, many)) < MOSTLY * metal(wanted):
        return None
    spots, best = list(problem.fixed), None
    for pieces in many:
        rows = _rows_of(problem, spots, problem.pieces[pieces[0]].shape, pieces)
        if not rows or stop():
            break
        spots += rows
        laid = {s.piece for s in spots}
        rest = sorted(
            (i for i in wanted if i not in laid), key=lambda i: (problem.pieces[i].rank, -metal((i,)))
        )
        packed = Packed(tuple(spots))
        if rest:
            packed = first_layout(replace(problem.straightened(), fixed=packed.spots), order=rest, stop=stop)
        whole = len(packed.spots) == len(held) + len(wanted)
        if whole and (best is None or problem.used(packed.spots) < problem.used(best.spots)):
            best = packed
    return best


@dataclass(frozen=True, slots=True, eq=False)
class _Region:
    """The shifts a copy forbids another, as edges; asked along an axis."""

    edges: Floats

    def ends(self, axis: int, at: Floats) -> tuple[Floats, Floats]:
        """Return the least and largest place along an axis on lines at `at` of the other axis [mm]; inf, -inf if there is none."""
        a, b = self.edges[:, [1 - axis, axis]], self.edges[:, [3 - axis, 2 + axis]]
        level = np.where(a[:, 0] == b[:, 0], 1.0, b[:, 0] - a[:, 0])
        low, high = np.full(len(at), math.inf), np.full(len(at), -math.inf)
        for line in (
            at - BESIDE / 10,
            at + BESIDE / 10,
        ):  # a line through a corner counts with what lies on either side
            share = (line[:, None] - a[:, 0]) / level
            on = (share >= 0) & (share <= 1) & (a[:, 0] != b[:, 0])
            places = a[:, 1] + share * (b[:, 1] - a[:, 1])
            low = np.minimum(low, np.where(on, places, math.inf).min(axis=1))
            high = np.maximum(high, np.where(on, places, -math.inf).max(axis=1))
        return low, high

    def end(self, axis: int, at: float) -> tuple[float, float]:
        """Return the least and largest place along an axis on one line [mm]."""
        low, high = self.ends(axis, np.array([at]))
        return float(low[0]), float(high[0])


def _region(still: Sequence[Floats], moving: Sequence[Floats]) -> _Region:
    loops = overlapping_shifts(solid_of(tuple(still)), solid_of(tuple(moving)))
    return _Region(np.vstack([np.column_stack([p, np.roll(p, -1, axis=0)]) for p in loops]))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lattice:
    """Pairs on a lattice: turn of the first [rad], the twin's shift, step along a line and to the next line, how far that is set off [mm]."""

    angle: float
    shift: tuple[float, float] | None
    axis: int
    step: float
    line: float
    off: float = 0.0

    def plate(self) -> float:
        """Return the plate a copy takes [mm²]."""
        return self.step * self.line / (1 if self.shift is None else 2)


def _lattices(shape: Shape) -> Iterator[_Lattice]:
    """Yield the lattices of a shape at each of its straight turns."""
    seen: list[float] = []
    for angle in shape.angles[: shape.straight or None]:
        half = shape.half_turns()
        if half and any(abs(math.remainder(angle + math.pi - a, math.tau)) < 1e-9 for a in seen):
            continue  # the same pairs, named from their other copy
        seen.append(angle)
        big, raw = turned(shape.big, angle), turned(shape.padded(), angle)
        alike = _region(big[:1], raw[:1])
        other = _region(big[:1], [-raw[0]])
        for axis in (0, 1):
            for stagger in (0.0, 0.5):
                yield from _pitched(angle, None, alike, alike, axis, stagger)
            for shift in _shifts(other, raw[0]) if half else ():
                yield from _pitched(angle, shift, alike, other, axis, 0.0)


def _shifts(region: _Region, outer: Floats) -> list[tuple[float, float]]:
    """Return shifts at which the twin touches: where the two boxes or middles line up, and corners of its region, not too near [mm]."""
    sums = outer.min(axis=0) + outer.max(axis=0)
    lined = [(p, float(sums[1])) for p in region.end(0, float(sums[1]))]
    lined += [(float(sums[0]), p) for p in region.end(1, float(sums[0]))]
    corners = region.edges[np.argsort(-np.hypot(*(region.edges[:, 2:] - region.edges[:, :2]).T)), :2]
    near = float(np.ptp(corners, axis=0).max()) / SHIFTS
    found: list[tuple[float, float]] = []
    for x, y in (*lined, *corners.tolist()):
        if math.isfinite(x + y) and all(math.hypot(x - a, y - b) > near for a, b in found):
            found.append((x, y))
    return found


def _pitched(
    angle: float, shift: tuple[float, float] | None, alike: _Region, other: _Region, axis: int, stagger: float
) -> Iterator[_Lattice]:
    """Yield the closest lattice whose lines run along `axis`, every second line set off by a share of the step, if there is one."""
    across = 1 - axis
    t = (0.0, 0.0) if shift is None else shift
    step = alike.end(axis, 0.0)[1]
    if shift is not None:
        low, high = other.end(axis, t[across])
        step = max(step, high - t[axis], t[axis] - low)
    if not 0 < step < math.inf:
        return
    step += BESIDE
    far = max(float(np.abs(r.edges).max()) for r in (alike, other)) + abs(t[axis])
    many = math.ceil(far / step) + 1
    every = step * np.arange(-many, many + 1, dtype=np.float64)

    def pitch(offset: float) -> float:
        """Return the least distance of a line set off by `offset` [mm]."""
        at: Floats = offset + every
        least = float(alike.ends(across, at)[1].max())
        if shift is not None:
            least = max(least, float(other.ends(across, t[axis] + at)[1].max()) - t[across])
            least = max(least, t[across] - float(other.ends(across, t[axis] - at)[0].min()))
        return least

    line = max(pitch(stagger * step), pitch(0.0) / (2 if stagger else 1))
    if 0 < line < math.inf:
        yield _Lattice(angle=angle, shift=shift, axis=axis, step=step, line=line + BESIDE, off=stagger * step)


def _rows_of(problem: Problem, spots: Sequence[Spot], kind: int, pieces: Sequence[int]) -> list[Spot]:
    """Return spots of all pieces of one shape in rows beside what lies there, or none if they find no room [mm, rad]."""
    shape, free = problem.shapes[kind], _Free(problem, spots)
    lattices = sorted(_lattices(shape), key=_Lattice.plate)
    found = []
    if free.rectangular:
        found.append(_blocks(shape, lattices, free, len(pieces)))
    if not free.empty:
        found += [_shortest(_places(shape, one, free, free.box[0]), len(pieces)) for one in lattices[:TRIED]]
    found = [rows for rows in found if len(rows) == len(pieces)]
    if not found:
        return []
    best = min(found, key=lambda rows: round(float(rows[:, 3].max()), 2))
    return [Spot(i, float(r[0]), float(r[1]), float(r[2])) for i, r in zip(pieces, best, strict=True)]


def _shortest(places: Floats, count: int) -> Floats:
    """Return so many places of a lattice, column after column, or as they end if that is shorter [mm]."""
    orders = [places[np.lexsort([places[:, k] for k in keys])][:count] for keys in ((3, 1, 4), (1, 4, 3))]
    return min(orders, key=lambda rows: round(float(rows[:, 3].max(initial=0.0)), 2))


def _blocks(shape: Shape, lattices: Sequence[_Lattice], free: _Free, count: int) -> Floats:
    """Return places in blocks of columns, each block of a lattice of its own, that end first of all such; fewer than `count` if there are none.

    What so many columns of a lattice hold, and how wide they are, is a coin of a knapsack; the cheapest coins that pay for
    all copies are found by dynamic programming.
    """
    left, gap = (
        max(free.left, free.box[0]),
        float(np.max(shape.big[0], axis=0)[0] - np.max(shape.padded()[0], axis=0)[0]),
    )
    laid = [_places(shape, one, free, left) for one in lattices]
    wide = np.full(count + 1, math.inf)
    whose = np.full(count + 1, -1)
    for k, places in enumerate(laid):
        ends = np.sort(np.round(places[:, 3], 3))[:count]
        holds = np.arange(1, len(ends) + 1)
        less = ends < wide[holds] - 0.01
        wide[holds[less]], whose[holds[less]] = ends[less], k
    wide += gap - left
    least, block = np.full(count + 1, math.inf), np.zeros(count + 1, dtype=np.int64)
    least[0] = 0.0
    for n in range(1, count + 1):
        sums = wide[1 : n + 1] + least[n - 1 :: -1][:n]
        block[n] = n - int(np.argmin(np.round(sums, 2)[::-1]))  # of equals the larger block
        least[n] = float(sums[block[n] - 1])
    if not least[count] - gap <= free.box[2] - left + 1e-9:
        return laid[0][:0]
    sizes, rest = list[int](), count
    while rest:
        sizes.append(int(block[rest]))
        rest -= sizes[-1]
    made, at = [], 0.0
    for size in sorted(sizes, key=lambda n: -n):
        rows = _shortest(laid[whose[size]], size).copy()
        rows[:, [0, 3]] += at
        made.append(rows)
        at += float(wide[size])
    return np.vstack(made)


class _Free:
    """Where copies may lie: the room less what lies there already."""

    def __init__(self, problem: Problem, spots: Sequence[Spot]) -> None:
        import shapely

        self.box = problem.box()
        outers = [shapely.Polygon(p) for p in problem.room if loops_area((p,)) > 0]
        taken = [shapely.Polygon(p) for p in problem.room if loops_area((p,)) < 0]
        grown = [problem.placed(s, grown=True)[0] for s in spots]
        room = shapely.difference(shapely.union_all(outers), shapely.union_all(taken))
        self.left = max((float(p[:, 0].max()) for p in grown), default=self.box[0])
        self.rectangular = bool(room.equals(shapely.box(*self.box)))
        self.empty = self.rectangular and not grown
        self.region = shapely.difference(room, shapely.union_all([shapely.Polygon(p) for p in grown]))
        shapely.prepare(self.region)

    def holds(self, loop: Floats, at: Floats) -> Any:
        """Tell which places of a loop lie in it [mm]."""
        import shapely

        x0, y0, x1, y1 = self.box
        low, high = at + loop.min(axis=0), at + loop.max(axis=0)
        fits = (low >= np.array([x0, y0]) - 1e-9).all(axis=1) & (high <= np.array([x1, y1]) + 1e-9).all(
            axis=1
        )
        beyond = self.rectangular and bool((low[:, 0] >= self.left - 1e-9).all())
        if not beyond and fits.any():
            fits[fits] = shapely.covers(self.region, shapely.polygons(loop + at[fits][:, None]))
        return fits


def _places(shape: Shape, lattice: _Lattice, free: _Free, left: float) -> Floats:
    """Return where copies lie on a lattice laid upwards and from `left`: x, y [mm], turn [rad], right end [mm], column [-]."""
    _, y0, x1, y1 = free.box
    first = turned(shape.padded(), lattice.angle)[0]
    copies = [(first, (0.0, 0.0), lattice.angle)]
    if lattice.shift is not None:
        copies.append((-first, lattice.shift, lattice.angle + math.pi))
    low = np.min([loop.min(axis=0) + at for loop, at, _ in copies], axis=0)
    along, across = ((x1 - left), (y1 - y0)) if lattice.axis == 0 else ((y1 - y0), (x1 - left))
    k, m = np.meshgrid(
        np.arange(-1, along / lattice.step + 1), np.arange(-1, across / lattice.line + 1), indexing="ij"
    )
    flat = [(k * lattice.step + (m % 2) * lattice.off).ravel(), (m * lattice.line).ravel()]
    origin = np.column_stack(flat if lattice.axis == 0 else flat[::-1]) + (left, y0) - low
    column = (k if lattice.axis == 0 else m).ravel()
    made = []
    for loop, at, angle in copies:
        here = origin + at
        here, of = here[(inside := here[:, 0] + loop[:, 0].min() >= left - 1e-9)], column[inside]
        ok = free.holds(loop, here)
        right = here[ok, 0] + loop[:, 0].max()
        made.append(np.column_stack([here[ok], np.full(len(right), angle), right, of[ok]]))
    return np.vstack(made)
