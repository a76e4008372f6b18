"""Lay parts on plates: the one call that turns what is wanted and what is on the rack into layouts.

Method: shapes are turned into outward-safe polygons (``shapes``), laid at once (``first``: small parts into the
holes of large ones first, then the rest), then pressed together by guided local search for as long as is allowed
(``squeeze``). Several plates are filled from the one that costs least for its size; a single plate that holds
everything wins if it is cheaper. Every layout returned has passed ``check`` (exact lines and arcs, its own code).

Assumptions: a part's +x direction runs with the grain. Cost and limits: see ``first`` and ``squeeze``.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry import Pose
from platewright.layout.check import check
from platewright.layout.choice import Choice, choices, plate_costs
from platewright.layout.engines import best_packing, engines
from platewright.layout.first import first_layout
from platewright.layout.model import Clearance, KeepOut, Layout, Placement, Wanted
from platewright.layout.ours import start_layout
from platewright.layout.problem import FILLER, Packed, Piece, Problem, Shape, Spot
from platewright.layout.reach import Reach, index_steps, reached, seat_on
from platewright.layout.room import free_room, mirrored, shape_of
from platewright.layout.shapes import Loops
from platewright.layout.turns import distinct, free_turns
from platewright.layout.useful import Worth, neat, worth
from platewright.stock.model import Plate
from platewright.table.model import Gantry

__all__ = ["LaidOut", "LayOptions", "LeftOver", "Progress", "lay"]

Rotations = Literal["free", "quarter", "grain"]
MOST_COPIES = 5000
"""More copies than this in one layout is a slip of the pen, not a job [-]."""

CLOSING = 3e-3
"""Time kept back a piece for the exact check and for tidying up [s]."""


@dataclass(frozen=True, slots=True)
class LayOptions:
    """How to lay.

    Attributes
    ----------
    seconds : time for the whole call [s]; 0 gives the first legal layout
    steps : search steps instead of seconds [-]; the same seed and steps give the same layout on any machine
    seed : of the search's random numbers [-]
    rotations : ``free``, ``quarter`` (quarter turns), ``grain`` (0 and 180 degrees to the grain), or a tuple of
        turns [rad]
    split_pairs : whether the two hands of a pair may lie on different plates
    locked : placements that stay, on the first plate; their ``part`` counts in the order of `wanted`
    engine : ``ours``, or the name of another installed one that competes with ours
    workers : threads of the search [-]; with more than one a step budget is not repeatable
    """

    seconds: float = 2.0
    steps: int | None = None
    seed: int = 1
    rotations: Rotations | tuple[float, ...] = "free"
    split_pairs: bool = False
    locked: tuple[Placement, ...] = ()
    engine: str = "ours"
    workers: int = 1


@dataclass(frozen=True, slots=True)
class LeftOver:
    """Copies of a part that found no place: index in `wanted`, how many of each hand [-], and why."""

    part: int
    drawn: int
    other: int
    finding: Finding


@dataclass(frozen=True, slots=True)
class LaidOut:
    """What `lay` gives: one layout a plate used, what is left over, and what is worth knowing."""

    layouts: tuple[Layout, ...]
    left_over: tuple[LeftOver, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Progress:
    """A better layout on its way: the layout, copies placed and wanted [-], length used [mm], time since the start [s]."""

    layout: Layout
    placed: int
    wanted: int
    used: float
    seconds: float


@dataclass(frozen=True, slots=True)
class _Copy:
    """One copy to place: index in `wanted`, its hand, and the pair it belongs to (-1 for none)."""

    part: int
    mirrored: bool
    pair: int
    rank: int
    filler: bool


@dataclass(slots=True)
class _Run:
    """What stays the same during one call."""

    wanted: Sequence[Wanted]
    keepouts: tuple[KeepOut, ...]
    clearance: Clearance
    reach: Reach | None
    options: LayOptions
    progress: Callable[[Progress], None] | None
    cancelled: Callable[[], bool]
    began: float
    seen: dict[tuple[int, tuple[Placement, ...]], tuple[Finding, ...]] = field(default_factory=dict)

    def check(self, layout: Layout) -> tuple[Finding, ...]:
        """Return what the exact check finds, once for each layout."""
        key = (id(layout.plate), layout.placements)
        if key not in self.seen:
            self.seen[key] = check(layout, reach=self.reach)
        return self.seen[key]

    def passed(self) -> float:
        return time.monotonic() - self.began

    def searches(self, seconds: float) -> bool:
        """Tell whether more than a first layout is asked for."""
        return seconds > 0 if self.options.steps is None else self.options.steps > 0


def _checked(run: _Run, plates: Sequence[Plate]) -> None:
    clear, options = run.clearance, run.options
    for name, value in (("part", clear.part), ("edge", clear.edge), ("keepout", clear.keepout)):
        if not (math.isfinite(value) and value >= 0):
            raise InputError(f"The {name} clearance is {value} mm.", allowed="0 mm or more")
    if clear.part <= 0:
        raise InputError(
            "The clearance between parts is 0 mm, which leaves no metal for the kerf.",
            allowed="above 0 mm",
            do="Ask for at least the kerf and the room of a lead-in, for example 6 mm.",
        )
    if not run.wanted:
        raise InputError("No parts are asked for.", do="Say at least one part.")
    if not plates:
        raise InputError("No plate is given.", do="Say a plate, or pick a drop from the rack.")
    for w in run.wanted:
        if not 1 <= w.quantity <= MOST_COPIES:
            raise InputError(
                f"{w.quantity} copies of '{w.part.name}' are asked for.", allowed=f"1 to {MOST_COPIES}"
            )
    total = sum(w.quantity * (2 if w.pairs else 1) for w in run.wanted)
    if total > MOST_COPIES:
        raise InputError(f"{total} copies are asked for in one layout.", allowed=f"1 to {MOST_COPIES}")
    if not (math.isfinite(options.seconds) and options.seconds >= 0):
        raise InputError(f"The time is {options.seconds} s.", allowed="0 s or more")
    if options.steps is not None and options.steps < 0:
        raise InputError(f"The step budget is {options.steps}.", allowed="0 or more")
    if isinstance(options.rotations, tuple) and not all(map(math.isfinite, options.rotations)):
        raise InputError("A turn is not a finite angle.", allowed="angles in radians")
    if isinstance(options.rotations, str) and options.rotations not in ("free", "quarter", "grain"):
        raise InputError(
            f"The rotations are '{options.rotations}'.", allowed="free, quarter, grain, or a tuple of angles"
        )


def _copies(wanted: Sequence[Wanted]) -> list[_Copy]:
    out: list[_Copy] = []
    pair = 0
    for index, w in enumerate(wanted):
        rank = min(w.priority, FILLER - 1) + (FILLER if w.filler else 0)
        for _ in range(w.quantity):
            hands = (False, True) if w.pairs else (False,)
            out += [_Copy(index, hand, pair if w.pairs else -1, rank, w.filler) for hand in hands]
            pair += 1
    return out


def _turns(loops: Loops, run: _Run, plate: Plate, frame: Pose, shapes: int) -> tuple[float, ...]:
    quarter = [k * math.pi / 2 for k in range(4)]
    rotations = run.options.rotations
    if isinstance(rotations, tuple):
        angles = [a - frame.angle for a in rotations] or [-frame.angle]
    elif rotations == "grain":
        angles = [(plate.grain or 0.0) + a - frame.angle for a in (0.0, math.pi)]
    elif rotations == "quarter":
        angles = quarter
    else:
        angles = list(free_turns(loops, shapes))
    return distinct(loops, angles)


def _problem(
    run: _Run,
    plate: Plate,
    seat: Pose | None,
    copies: Sequence[_Copy],
    locked: Sequence[Placement],
    *,
    turn: float,
) -> Problem:
    frame = Pose(0.0, 0.0, turn)
    back = frame.inverse()
    area = None if run.reach is None or seat is None else reached(run.reach, seat)
    room = free_room(plate, run.keepouts, run.clearance, area)
    room = tuple(back.points(p) for p in room)
    kinds: dict[tuple[int, bool], int] = {}
    shapes: list[Shape] = []
    kindred = len({(c.part, c.mirrored) for c in copies})
    least = min(w.part.profile.area() for w in run.wanted)
    for c in copies:
        if (c.part, c.mirrored) in kinds:
            continue
        profile = run.wanted[c.part].part.profile
        raw = shape_of(mirrored(profile) if c.mirrored else profile, name=run.wanted[c.part].part.name)
        kinds[c.part, c.mirrored] = len(shapes)
        shapes.append(Shape.made(raw, run.clearance.part, _turns(raw, run, plate, frame, kindred), least))
    pieces = [Piece(kinds[c.part, c.mirrored], c.rank) for c in copies]
    fixed: list[Spot] = []
    for place in locked:
        at = next(
            i
            for i, c in enumerate(copies)
            if (c.part, c.mirrored) == (place.part, place.pose.mirrored) and i not in {s.piece for s in fixed}
        )
        pose = back.after(place.pose)
        fixed.append(Spot(at, pose.x, pose.y, pose.angle))
    return Problem(
        tuple(shapes), tuple(pieces), room, tuple(fixed), frame, any_turn=run.options.rotations == "free"
    )


@dataclass(frozen=True, slots=True)
class _Bed:
    """One plate to fill: where it lies on the table, the copies to place, and the search's problem."""

    run: _Run
    plate: Plate
    seat: Pose | None
    copies: Sequence[_Copy]
    problem: Problem

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
        return Layout(self.plate, parts, tuple(placements), run.keepouts, run.clearance, (), self.seat)

    def legal(self, packed: Packed) -> bool:
        return not any(f.severity == "stop" for f in self.run.check(self.layout(packed.spots)))

    def tell(self, packed: Packed) -> None:
        if self.run.progress is not None:
            used = self.problem.used(packed.spots)
            now = self.layout(packed.spots)
            self.run.progress(Progress(now, len(packed.spots), len(self.copies), used, self.run.passed()))

    def packed(self, seconds: float) -> Packed:
        """Search, then slide the pieces together as far as that is worth it."""
        options = self.run.options
        packed = best_packing(
            self.problem, seconds=seconds, steps=options.steps, seed=options.seed, engine=options.engine,
            workers=options.workers, cancelled=self.run.cancelled, tell=self.tell, verified=self.legal,
        )  # fmt: skip
        if not self.run.searches(seconds):
            return packed
        tidy = neat(self.problem, packed)
        return tidy if self.legal(tidy) else packed


def _paired(copies: Sequence[_Copy], spots: Sequence[Spot], split: bool) -> tuple[tuple[Spot, ...], set[int]]:
    """Take off pieces whose other hand found no place; return what stays and the pairs taken off."""
    if split:
        return tuple(spots), set()
    placed: dict[int, int] = {}
    for s in spots:
        placed[copies[s.piece].pair] = placed.get(copies[s.piece].pair, 0) + 1
    lone = {pair for pair, count in placed.items() if pair >= 0 and count < 2}
    return tuple(s for s in spots if copies[s.piece].pair not in lone), lone


def _fits_plate(run: _Run, plate: Plate) -> dict[int, Finding]:
    out: dict[int, Finding] = {}
    for i, w in enumerate(run.wanted):
        if abs(w.part.thickness - plate.thickness) > max(0.02 * plate.thickness, 0.05):
            out[i] = finding(
                "L002",
                subject=w.part.name,
                part=w.part.name,
                part_mm=w.part.thickness,
                plate_mm=plate.thickness,
                plate=plate.name,
            )
        elif w.part.grade != plate.grade:
            out[i] = finding(
                "L003",
                subject=w.part.name,
                part=w.part.name,
                part_grade=w.part.grade,
                plate_grade=plate.grade,
                plate=plate.name,
            )
    return out


@dataclass(frozen=True, slots=True)
class _Filled:
    layout: Layout
    rest: list[_Copy]
    lone: set[int]
    hopeless: dict[int, Finding]
    worth: Worth | None = None


@dataclass(frozen=True, slots=True, order=True)
class _Key:
    """What choices of plates are compared by, the smaller the better: pieces missing, cost, plates, worth of each layout."""

    missing: int
    cost: float
    plates: int
    worth: tuple[Worth, ...]


def _fill(
    run: _Run, plate: Plate, copies: list[_Copy], *, seconds: float, locked: Sequence[Placement] = ()
) -> _Filled:
    """Lay as many copies as fit on one plate."""
    began = time.monotonic()
    misfit = _fits_plate(run, plate)
    here = [c for c in copies if c.part not in misfit]
    seat = None if run.reach is None else seat_on(plate, run.reach)
    if not here:
        parts = tuple(w.part for w in run.wanted)
        return _Filled(Layout(plate, parts, (), run.keepouts, run.clearance, (), seat), copies, set(), misfit)
    problem = _aimed(
        run, plate, lambda turn: _problem(run, plate, seat, here, locked, turn=turn), run.searches(seconds)
    )
    bed = _Bed(run, plate, seat, here, problem)
    closing = min(CLOSING * len(here), 0.2 * seconds)
    packed = bed.packed(max(seconds - closing - (time.monotonic() - began), 0.0))
    spots, lone = _paired(here, packed.spots, run.options.split_pairs)
    if lone and seconds > 0 and (again := [c for c in here if c.pair not in lone]):
        held = _fill(replace(run, progress=None), plate, again, seconds=0.0, locked=locked)
        if len(held.layout.placements) >= len(spots):
            rest = [c for c in copies if c.pair in lone or c in held.rest or c.part in misfit]
            return replace(held, rest=rest, lone=lone, hopeless=misfit | held.hopeless)
    stayed = {s.piece for s in spots}
    rest = [c for i, c in enumerate(here) if i not in stayed] + [c for c in copies if c.part in misfit]
    hopeless = misfit | _hopeless(run, plate, problem, here, stayed)
    return _Filled(bed.layout(spots), rest, lone, hopeless, worth(problem, spots))


def _ways(plate: Plate) -> list[float]:
    """Return the turns of the frame whose +x the used length may grow along [rad], the longer side first."""
    box = plate.profile.bounds()
    first, second = (math.pi / 2, 0.0) if box.height > box.width else (0.0, math.pi / 2)
    return [first, second, first + math.pi, second + math.pi]


def _aimed(run: _Run, plate: Plate, made: Callable[[float], Problem], searched: bool) -> Problem:
    """Return the problem whose first layout is worth most, of all four ways if there is time to search."""
    box, area = plate.profile.bounds(), plate.profile.area()
    plain = len(plate.profile.outer) == 4 and abs(area - box.width * box.height) < 1e-3 * area
    ways = _ways(plate)
    best = made(ways[0])
    if plain or not best.room:
        return best  # off the end of a full sheet: the rest stays as wide as the sheet
    key = worth(best, start_layout(best).spots)
    for turn in ways[1 : 4 if searched else 2]:
        if run.cancelled():
            break
        problem = made(turn)
        if (other := worth(problem, start_layout(problem).spots)) < key:
            key, best = other, problem
    return best


def _hopeless(
    run: _Run, plate: Plate, problem: Problem, here: Sequence[_Copy], stayed: set[int]
) -> dict[int, Finding]:
    """Name the parts that would not fit even alone on the empty plate."""
    out: dict[int, Finding] = {}
    placed = {here[i].part for i in stayed}
    x0, y0, x1, y1 = problem.box() if problem.room else (0.0, 0.0, 0.0, 0.0)
    for part in dict.fromkeys(c.part for i, c in enumerate(here) if i not in stayed and c.part not in placed):
        at = next(i for i, c in enumerate(here) if c.part == part)
        empty = replace(problem, fixed=())
        if problem.room and first_layout(empty, order=[at], slide=False).spots:
            continue
        box = run.wanted[part].part.profile.bounds()
        out[part] = finding(
            "L001", subject=run.wanted[part].part.name, part=run.wanted[part].part.name, plate=plate.name,
            width=box.width, height=box.height, room_width=x1 - x0, room_height=y1 - y0,
        )  # fmt: skip
    return out


def _left(
    run: _Run, rest: Sequence[_Copy], reasons: Mapping[int, Finding], lone: set[int]
) -> tuple[LeftOver, ...]:
    out = []
    for part in dict.fromkeys(c.part for c in rest if not c.filler):
        mine = [c for c in rest if c.part == part]
        name = run.wanted[part].part.name
        total = run.wanted[part].quantity * (2 if run.wanted[part].pairs else 1)
        why = reasons.get(part) or (
            finding("L005", subject=name, part=name)
            if any(c.pair in lone for c in mine)
            else finding("L004", subject=name, part=name, count=len(mine), wanted=total)
        )
        other = sum(c.mirrored for c in mine)
        out.append(LeftOver(part, len(mine) - other, other, why))
    return tuple(out)


def _sequence(
    run: _Run, plates: Sequence[Plate], copies: list[_Copy], seconds: float
) -> tuple[list[_Filled], list[_Copy], dict[int, Finding], set[int]]:
    """Fill plates in the order given until nothing is left."""
    filled: list[_Filled] = []
    rest, lone = copies, set[int]()
    reasons: dict[int, Finding] = {}
    for index, plate in enumerate(plates):
        real = [c for c in rest if not c.filler]
        if not real or (index and run.cancelled()):
            break
        one = _fill(run, plate, rest, seconds=seconds, locked=run.options.locked if index == 0 else ())
        reasons = {k: v for k, v in one.hopeless.items() if index == 0 or k in reasons}
        rest, lone = one.rest, lone | one.lone
        if one.layout.placements:
            filled.append(one)
    return filled, rest, reasons, lone


def _choices(run: _Run, plates: Sequence[Plate]) -> list[Choice]:
    """Return the choices of plates to search: up to the first that surely holds all and that nothing later can undercut."""
    need = sum(w.part.profile.area() * w.quantity * (2 if w.pairs else 1) for w in run.wanted if not w.filler)
    every = choices(plates, need)
    if len(plates) == 1 or run.options.locked:
        return [Choice(tuple(plates), 0.0)]
    quick = replace(run, progress=None, options=replace(run.options, seconds=0.0, steps=0))
    for index, choice in enumerate(every[:-1]):
        if not any(not c.filler for c in _sequence(quick, choice.plates, _copies(run.wanted), 0.0)[1]):
            return every[: index + 1] + [c for c in every[index + 1 :] if c.bound < choice.bound]
    return every


def lay(
    wanted: Sequence[Wanted],
    plate: Plate | Sequence[Plate],
    *,
    keepouts: Sequence[KeepOut] = (),
    clearance: Clearance = Clearance(),
    reach: Reach | None = None,
    options: LayOptions = LayOptions(),
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> LaidOut:
    """Lay parts on a plate, or on the plates that cost least.

    Parameters
    ----------
    wanted : what to lay
    plate : one plate, or the plates that may be used
    keepouts : places no part may lie, in plate coordinates [mm]
    clearance : free distances [mm]
    reach : what the torch can reach on the table [mm]; the plate's place on the table is then chosen too
    options : time [s], seed and turns [rad]
    progress : called with each better layout
    cancelled : asked often; True keeps the best so far

    Returns
    -------
    LaidOut; parts that cannot be placed are named with the reason

    Raises
    ------
    InputError
        If a number is absurd or nothing is asked for.
    """
    plates = [plate] if isinstance(plate, Plate) else list(plate)
    run = _Run(wanted, tuple(keepouts), clearance, reach, options, progress, cancelled, time.monotonic())
    _checked(run, plates)
    copies = _copies(wanted)
    _check_locked(run, copies)
    cost = dict(zip(map(id, plates), plate_costs(plates), strict=True))
    best: tuple[_Key, tuple[list[_Filled], list[_Copy], dict[int, Finding], set[int]]] | None = None
    tried = _choices(run, plates)
    for index, choice in enumerate(tried):
        if best is not None and best[0].missing == 0 and choice.bound >= best[0].cost:
            continue
        share = _share(run, len(tried) - index, len(choice.plates))
        result = _sequence(run, choice.plates, copies, share)
        missing = sum(not c.filler for c in result[1])
        filled = result[0]
        spent = sum(cost[id(f.layout.plate)] for f in filled)
        key = _Key(missing, spent, len(filled), tuple(f.worth for f in filled if f.worth))
        if best is None or key < best[0]:
            best = (key, result)
    assert best is not None
    filled, rest, reasons, lone = best[1]
    return _told(
        run,
        [f.layout for f in filled]
        or [Layout(plates[0], tuple(w.part for w in wanted), (), run.keepouts, clearance)],
        _left(run, rest, reasons, lone),
    )


def _share(run: _Run, orders: int, plates: int) -> float:
    if run.options.steps is not None or run.options.seconds == 0:
        return run.options.seconds
    return max(run.options.seconds - run.passed(), 0.0) / max(1, min(orders, 2)) / max(1, min(plates, 3))


def _check_locked(run: _Run, copies: Sequence[_Copy]) -> None:
    for place in run.options.locked:
        if not any((c.part, c.mirrored) == (place.part, place.pose.mirrored) for c in copies):
            raise InputError(
                f"A locked placement names part {place.part}, which is not asked for in that hand.",
                allowed=f"0 to {len(run.wanted) - 1}",
            )


def _told(run: _Run, layouts: Sequence[Layout], left: tuple[LeftOver, ...]) -> LaidOut:
    checked = [replace(layout, findings=run.check(layout)) for layout in layouts]
    notes = [x.finding for x in left]
    if run.cancelled():
        notes.append(finding("L007"))
    if not engines()[run.options.engine].available():
        notes.append(finding("L030", engine=run.options.engine))
    notes += [note for layout in layouts for note in _indexed(run, layout.plate)]
    return LaidOut(tuple(checked), left, (*(f for x in checked for f in x.findings), *notes))


def _indexed(run: _Run, plate: Plate) -> list[Finding]:
    """Tell that a plate is longer than the table, and how far it is moved between its steps."""
    if not isinstance(run.reach, Gantry):
        return []
    try:
        stops = index_steps(plate, run.reach)
    except InputError:
        return []
    if len(stops) < 2:
        return []
    first, second = stops[0].seat, stops[1].seat
    return [finding("L040", steps=len(stops), shift=math.hypot(second.x - first.x, second.y - first.y))]
