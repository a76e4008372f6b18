"""One plate to fill: the search's problem made from it, the answer turned back into a layout, pairs kept together.

Method: copies that fit nowhere on the plate are named first and left out (``misfits``); the problem is set up in up to
four frames, so that the used length may grow from any end of a drop, and the one whose first layout is worth most is
searched.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter

from platewright.findings import Finding
from platewright.geometry import Pose
from platewright.layout.engines.choice import best_packing
from platewright.layout.engines.ours import quick_layout
from platewright.layout.engines.rows import in_rows
from platewright.layout.lying.asked import lying_better
from platewright.layout.misfits import misfits
from platewright.layout.model import Layout, Placement
from platewright.layout.problem import Budget, Packed, Piece, Problem, Shape, Spot
from platewright.layout.request import Copy, Run
from platewright.layout.shape.reach import reached, seat_on
from platewright.layout.shape.room import free_room, mirrored, shape_of
from platewright.layout.shape.turns import distinct, free_turns
from platewright.layout.snug import snug
from platewright.layout.twins import Unit, opened, twin_pose, twinned, units_of
from platewright.layout.useful import FreeRectangle, Worth, as_good, free_rectangle, neat, worth
from platewright.stock.model import Plate

__all__ = ["Filled", "Order", "fill"]

CLOSING = 3e-3
"""Time kept back a piece for the exact check and for tidying up [s]."""

HAIR = 0.1
"""Most a piece in a row moves at a time when rows are closed up [mm]: what polygons give away at arcs."""

Tell = Callable[[Layout, float], None]
"""Called with each better layout and the length it uses [mm]."""


@dataclass(frozen=True, slots=True)
class Order:
    """How one plate is filled: time [s], placements that stay, and the callback for better layouts."""

    seconds: float = 0.0
    locked: tuple[Placement, ...] = ()
    tell: Tell | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A filled plate.

    Attributes
    ----------
    layout : what lies on it
    rest : copies that do not
    lone : pairs left off because only one hand fits
    hopeless : by part, why it fits nowhere on this plate even alone
    worth, free : of the layout, and the largest rectangle of the room it leaves [mm]; None if nothing was tried
    lead : the direction its length grows in [rad]
    """

    layout: Layout
    rest: tuple[Copy, ...]
    lone: frozenset[int] = frozenset()
    hopeless: dict[int, Finding] = field(default_factory=dict)
    worth: Worth | None = None
    free: FreeRectangle | None = None
    lead: float = 0.0


def _shape(run: Run, plate: Plate, frame: Pose, copy: Copy, kindred: int) -> Shape:
    """Return a copy's outline for the search with the turns it may lie at, straight ones first [mm, rad]."""
    part, rotations = run.wanted[copy.part].part, run.turns(copy.part)
    raw = shape_of(mirrored(part.profile) if copy.mirrored else part.profile, name=part.name)
    straight = 0
    if isinstance(rotations, tuple):
        angles = [a - frame.angle for a in rotations] or [-frame.angle]
    elif rotations == "grain":
        angles = [(plate.grain or 0.0) + a - frame.angle for a in (0.0, math.pi)]
    elif rotations == "quarter":
        angles = [k * math.pi / 2 for k in range(4)]
    else:
        angles = list(free_turns(raw, kindred))
        straight = len(distinct(raw, angles[:4]))
    least = min(w.part.profile.area() for w in run.wanted)
    clear, turns = run.clearance.of(copy.part), distinct(raw, angles)
    more, few = clear - run.clearance.part, rotations != "free"
    return Shape(raw=raw, big=raw, angles=turns, straight=straight, more=more, few=few).cleared(
        clear, least=least
    )


def _problem(
    run: Run, plate: Plate, seat: Pose | None, copies: Sequence[Copy], *, locked: Sequence[Placement], turn: float
) -> Problem:  # fmt: skip
    frame = Pose(0.0, 0.0, turn)
    back = frame.inverse()
    area = None if run.reach is None or seat is None else reached(run.reach, seat)
    room = free_room(plate, run.keepouts, run.clearance, area)
    room = tuple(back.points(p) for p in room)
    kinds: dict[tuple[int, bool], int] = {}
    shapes: list[Shape] = []
    kindred = len({(c.part, c.mirrored) for c in copies})
    for c in copies:
        if (c.part, c.mirrored) not in kinds:
            kinds[c.part, c.mirrored] = len(shapes)
            shapes.append(_shape(run, plate, frame, c, kindred))
    pieces = tuple(Piece(kinds[c.part, c.mirrored], c.rank, c.value) for c in copies)
    fixed = _spots(copies, locked, frame)
    for spot in (*fixed, *_spots(copies, run.before(plate), frame)):
        kind = kinds[copies[spot.piece].part, copies[spot.piece].mirrored]
        shapes[kind] = shapes[kind].also(spot.angle)
    return Problem(
        shapes=tuple(shapes), pieces=pieces, room=room, fixed=fixed, frame=frame,
        any_turn=any(run.turns(c.part) == "free" for c in copies),
    )  # fmt: skip


def _spots(copies: Sequence[Copy], placements: Sequence[Placement], frame: Pose) -> tuple[Spot, ...]:
    """Return placements as spots of copies, each of the part and hand it is of; those without a copy are left out [mm, rad]."""
    free: dict[tuple[int, bool], list[int]] = {}
    for i in reversed(range(len(copies))):
        free.setdefault((copies[i].part, copies[i].mirrored), []).append(i)
    out = []
    for place in placements:
        if mine := free.get((place.part, place.pose.mirrored)):
            pose = frame.inverse().after(place.pose)
            out.append(Spot(mine.pop(), pose.x, pose.y, pose.angle))
    return tuple(out)


def _unit_spots(
    copies: Sequence[Copy], units: Sequence[Unit], earlier: Layout, frame: Pose
) -> tuple[Spot, ...]:
    """Return an earlier layout as spots of units: its pairs that share a cut, and what lies alone [mm, rad]."""
    free: dict[tuple[int, bool, bool], list[int]] = {}
    for i in reversed(range(len(units))):
        c = copies[units[i].first]
        free.setdefault((c.part, c.mirrored, units[i].second >= 0), []).append(i)
    leads, follows = {a for a, _, _ in earlier.common}, {b for _, b, _ in earlier.common}
    out = []
    for i, place in enumerate(earlier.placements):
        mine = free.get((place.part, place.pose.mirrored, i in leads))
        if mine and i not in follows:
            pose = frame.inverse().after(place.pose)
            out.append(Spot(mine.pop(), pose.x, pose.y, pose.angle))
    return tuple(out)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bed:
    """One plate to fill: where it lies on the table, the copies to place, and the search's problem."""

    run: Run
    plate: Plate
    seat: Pose | None
    copies: Sequence[Copy]
    problem: Problem
    report: Tell | None
    units: tuple[Unit, ...] = ()
    joined: Problem | None = None
    quick: Packed | None = None

    def opened(self, packed: Packed) -> Packed:
        """Return a packing of what is searched as one of copies [mm, rad]."""
        return opened(self.units, packed) if self.units else packed

    def layout(self, spots: Sequence[Spot]) -> Layout:
        counts: dict[tuple[int, bool], int] = {}
        held = {s.piece for s in self.problem.fixed}
        placements = []
        for spot in sorted(spots, key=lambda s: s.piece):
            c = self.copies[spot.piece]
            counts[c.part, c.mirrored] = counts.get((c.part, c.mirrored), 0) + 1
            pose = self.problem.frame.after(Pose(spot.x, spot.y, spot.angle, c.mirrored))
            placements.append(Placement(c.part, pose, counts[c.part, c.mirrored], spot.piece in held))
        parts, run = tuple(w.part for w in self.run.wanted), self.run
        at = {p: k for k, p in enumerate(sorted(s.piece for s in spots))}
        twins = [u for u in self.units if u.second >= 0 and u.first in at and u.second in at]
        common = tuple((at[u.first], at[u.second], run.options.common) for u in twins)
        burn = {"common_line": True} if run.options.common else {}
        return Layout(
            plate=self.plate,
            parts=parts,
            placements=tuple(placements),
            keepouts=run.keepouts,
            clearance=run.clearance,
            findings=(),
            seat=self.seat,
            burn=burn,
            common=common,
        )

    def legal(self, packed: Packed) -> bool:
        return not self.run.stops(self.layout(self.opened(packed).spots))

    def tell(self, packed: Packed) -> None:
        if self.report is not None:
            spots = self.opened(packed).spots
            whole, _ = paired(self.copies, spots, self.run.options.split_pairs)
            layout = self.layout(whole)
            if not self.run.stops(layout):
                self.report(layout, self.problem.used(whole))

    def packed(self, seconds: float) -> Packed:
        """Search, then slide the pieces together as far as that is worth it; return a packing of copies."""
        options, problem = self.run.options, self.joined or self.problem
        earlier, frame = self.run.earlier(self.plate), self.problem.frame
        before = () if earlier is None else _spots(self.copies, earlier.placements, frame)
        if self.units and earlier is not None:
            before = _unit_spots(self.copies, self.units, earlier, frame)
        rows = in_rows(problem, stop=self.run.cancelled)
        budget = Budget(
            seconds=seconds, steps=options.steps, seed=options.seed, workers=options.workers,
            cancelled=self.run.cancelled, tell=self.tell,
            refined=(lambda packed: packed) if self.units else self.touching,
        )  # fmt: skip
        packed = best_packing(
            problem, budget, engine=options.engine, verified=self.legal,
            quick=None if self.joined else self.quick, before=[Packed(before), *([] if rows is None else [rows])],
        )  # fmt: skip
        searched = self.run.searches(seconds)
        if searched:
            tidy = neat(problem, packed)
            packed = self.touching(self.opened(tidy if self.legal(tidy) else packed))
        else:
            packed = self.opened(packed)
        if rows is not None and self.legal(rows):
            regular = self.touching(self.opened(rows), rows=True) if searched else self.opened(rows)
            packed = regular if as_good(self.problem, regular, packed, options.leeway) else packed
        return packed if self.units or not searched else self.eased(packed)

    def eased(self, packed: Packed) -> Packed:
        """Return the packing with pieces that lie better, as far as that is asked and costs no more than the leeway [mm, rad]."""
        options, run = self.run.options, self.run

        def allowed(other: Packed) -> bool:
            return as_good(self.problem, other, packed, options.leeway) and not run.stops(
                self.layout(other.spots)
            )

        return lying_better(
            self.problem, packed, self.plate, options=options, allowed=allowed, stop=run.cancelled
        )

    def touching(self, packed: Packed, *, rows: bool = False) -> Packed:
        """Return the packing closed up on its true lines and arcs, rows by a hair only, as it was if the check finds anything [mm, rad]."""
        spots = sorted(packed.spots, key=lambda s: s.piece)
        frame, run = self.problem.frame, self.run
        held = () if run.reach is None or self.seat is None else reached(run.reach, self.seat)
        turns, farthest = (frozenset[int](), HAIR) if rows else (run.free_parts(), 1.0)
        made = snug(
            self.layout(spots), frame.angle, turns=turns, held=held, stop=run.cancelled, farthest=farthest
        )
        poses = [frame.inverse().after(p.pose) for p in made.placements]
        moved = tuple(replace(s, x=p.x, y=p.y, angle=p.angle) for s, p in zip(spots, poses, strict=True))
        return packed if run.stops(self.layout(moved)) else replace(packed, spots=moved)


def paired(
    copies: Sequence[Copy], spots: Sequence[Spot], split: bool
) -> tuple[tuple[Spot, ...], frozenset[int]]:
    """Take off pieces whose other hand found no place; return what stays [mm] and the pairs taken off."""
    if split:
        return tuple(spots), frozenset()
    placed: dict[int, int] = {}
    for s in spots:
        placed[copies[s.piece].pair] = placed.get(copies[s.piece].pair, 0) + 1
    lone = frozenset(pair for pair, count in placed.items() if pair >= 0 and count < 2)
    return tuple(s for s in spots if copies[s.piece].pair not in lone), lone


def fill(run: Run, plate: Plate, copies: Sequence[Copy], order: Order = Order()) -> Filled:
    """Lay as many copies as fit on one plate within the order's time [s]."""
    began = time.monotonic()
    seat = None if run.reach is None else seat_on(plate, run.reach)

    def made(here: Sequence[Copy]) -> Callable[[float], Problem]:
        return lambda turn: _problem(run, plate, seat, here, locked=order.locked, turn=turn)

    held = {p.part for p in order.locked}
    hopeless = misfits(run, plate, copies, held, lambda: made(copies)(0.0))
    here = tuple(c for c in copies if c.part not in hopeless)
    if not here:
        parts = tuple(w.part for w in run.wanted)
        bare = Layout(
            plate=plate,
            parts=parts,
            placements=(),
            keepouts=run.keepouts,
            clearance=run.clearance,
            findings=(),
            seat=seat,
        )
        return Filled(layout=bare, rest=tuple(copies), hopeless=hopeless)
    known = (*order.locked, *run.before(plate))
    faces = _face_down(run, here, known)
    aims = [(_aimed(run, plate, made(ways), run.searches(order.seconds)), ways) for ways in faces]
    aim, ways = min(aims, key=lambda a: a[0].worth)
    problem = aim.problem
    units, joined = _twins(run, ways, problem, order.locked) if run.options.common else ((), None)
    bed = _Bed(
        run=run,
        plate=plate,
        seat=seat,
        copies=ways,
        problem=problem,
        report=order.tell,
        units=units,
        joined=joined,
        quick=aim.quick,
    )
    closing = min(CLOSING * len(here), 0.2 * order.seconds)
    packed = bed.packed(max(order.seconds - closing - (time.monotonic() - began), 0.0))
    spots, lone = paired(here, packed.spots, run.options.split_pairs)
    if lone and (again := tuple(c for c in here if c.pair not in lone)):
        without = fill(run, plate, again, replace(order, seconds=0.0, tell=None))
        if len(without.layout.placements) >= len(spots):
            rest = tuple(c for c in copies if c.pair in lone or c.part in hopeless) + without.rest
            return replace(without, rest=rest, lone=lone, hopeless=hopeless | without.hopeless)
    stayed = {s.piece for s in spots}
    rest = tuple(c for i, c in enumerate(here) if i not in stayed)
    rest += tuple(c for c in copies if c.part in hopeless)
    free = free_rectangle(problem, spots) if problem.room else None
    return Filled(
        layout=bed.layout(spots), rest=rest, lone=lone, hopeless=hopeless, worth=worth(problem, spots),
        free=free, lead=problem.frame.angle,
    )  # fmt: skip


def _twins(
    run: Run, copies: Sequence[Copy], problem: Problem, known: Sequence[Placement]
) -> tuple[tuple[Unit, ...], Problem]:
    """Return the copies two by two that share a cut, and the search's problem of those; twins that find no room are parted."""
    poses: dict[int, Pose | None] = {}
    for piece, c in zip(problem.pieces, copies, strict=True):
        if piece.shape not in poses:
            shape, profile = problem.shapes[piece.shape], run.wanted[c.part].part.profile
            outer = (mirrored(profile) if c.mirrored else profile).outer
            apart = twin_pose(outer, shape.raw[0], run.options.common) if shape.half_turns() else None
            poses[piece.shape] = apart
    kinds = [((p.shape, p.rank), poses[p.shape]) for p in problem.pieces]
    parted = [s.piece for s in _spots(copies, known, problem.frame)]
    least = min(w.part.profile.area() for w in run.wanted)
    while True:
        units = units_of(kinds, parted)
        shapes, twins, pieces = list(problem.shapes), dict[int, int](), []
        for u in units:
            piece = problem.pieces[u.first]
            kind = piece.shape
            if u.second >= 0 and kind not in twins:
                twins[kind] = len(shapes)
                shape, clear = problem.shapes[kind], run.clearance.of(copies[u.first].part)
                raw = twinned(shape.raw, u.pose)
                shapes.append(replace(shape, raw=raw).cleared(clear, least=least))
            value = problem.value(u.first) * (2 if u.second >= 0 else 1)
            pieces.append(Piece(twins[kind] if u.second >= 0 else kind, piece.rank, value))
        at = {u.first: k for k, u in enumerate(units)}
        fixed = tuple(replace(s, piece=at[s.piece]) for s in problem.fixed)
        joined = replace(problem, shapes=tuple(shapes), pieces=tuple(pieces), fixed=fixed)
        placed = {s.piece for s in quick_layout(joined).spots}
        lost = [u for k, u in enumerate(units) if u.second >= 0 and k not in placed]
        if not lost:
            return units, joined
        parted += [i for u in lost for i in (u.first, u.second)]


def _face_down(run: Run, copies: tuple[Copy, ...], known: Sequence[Placement]) -> list[tuple[Copy, ...]]:
    """Return the copies as they are and, if parts may be turned face down, with every other one of those turned over.

    If some are known to lie face down already, only the latter, with at least as many.
    """
    turnable = {c.part for c in copies if run.wanted[c.part].face_down and c.pair < 0}
    if not turnable:
        return [copies]
    over: set[int] = set()
    for part in turnable:
        mine = [i for i, c in enumerate(copies) if c.part == part]
        held = sum(p.part == part and p.pose.mirrored for p in known)
        over |= set(mine[1::2]) if held <= len(mine) // 2 else set(mine[:held])
    turned = tuple(replace(c, mirrored=i in over) if c.part in turnable else c for i, c in enumerate(copies))
    if any(p.pose.mirrored and p.part in turnable for p in known):
        return [turned]
    return [copies, turned]


def _ways(plate: Plate) -> list[float]:
    """Return the turns of the frame whose +x the used length may grow along [rad], the longer side first."""
    box = plate.profile.bounds()
    first, second = (math.pi / 2, 0.0) if box.height > box.width else (0.0, math.pi / 2)
    return [first, second, first + math.pi, second + math.pi]


@dataclass(frozen=True, slots=True)
class _Aim:
    """A problem, its quick layout and what that is worth."""

    problem: Problem
    quick: Packed
    worth: Worth

    @staticmethod
    def of(problem: Problem) -> _Aim:
        if not problem.room:
            return _Aim(problem, Packed(problem.fixed), Worth(len(problem.pieces), 0, 0, 0.0))
        quick = quick_layout(problem)
        return _Aim(problem, quick, worth(problem, quick.spots))


def _aimed(run: Run, plate: Plate, made: Callable[[float], Problem], searched: bool) -> _Aim:
    """Return the problem whose quick layout is worth most, of all four ways if there is time to search."""
    box, area = plate.profile.bounds(), plate.profile.area()
    plain = len(plate.profile.outer) == 4 and abs(area - box.width * box.height) < 1e-3 * area
    first, *others = _ways(plate)
    aims = [_Aim.of(made(first))]
    if not plain and aims[0].problem.room:  # off the end of a full sheet: the rest stays as wide as the sheet
        tried = others if searched else others[:1]
        aims += [_Aim.of(made(turn)) for turn in tried if not run.cancelled()]
    return min(aims, key=attrgetter("worth"))
