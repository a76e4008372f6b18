"""What is asked of one call of ``lay``, and what it answers: options, copies to place, progress, what is left over."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from platewright.declared import checked
from platewright.errors import InputError
from platewright.findings import Finding
from platewright.layout.check import check
from platewright.layout.declared import LYING, SEARCH
from platewright.layout.model import Clearance, KeepOut, Layout, Placement, Rotations, Wanted
from platewright.layout.problem import FILLER
from platewright.layout.shape.reach import Reach
from platewright.stock.model import Plate

__all__ = ["Copy", "LaidOut", "LayOptions", "LeftOver", "Progress", "Run", "copies_of", "valid_request"]

Goal = Literal["metal", "money", "count", "kits"]
KIT = 1000
"""Ranks between one priority and the next [-]: more complete kits than this are not told apart."""

MOST_COPIES = 5000
"""More copies than this in one layout is a slip of the pen, not a job [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
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
    repeat_sheets : whether a full sheet may be taken as many times as is needed
    goal : what counts of pieces that cannot all be placed: their metal, their worth in money, how many there are, or
        complete kits (the quantities asked for, divided by their common divisor)
    credit : what a usable rest of a plate is worth, as a share of the plate's price by area [-]
    cut_off : whether to say where the plate is cut off straight beside its parts
    common : how far apart pairs of copies are laid that share a cut [mm]: the kerf; 0 for no such pairs
    heat : whether cuts are kept apart where that costs no plate
    slats, slats_run, first_slat : the table's slats: from one to the next [mm], None to take no heed of them; the plate's axis
        they run along; how far the first lies from the plate's left or lower end [mm], None if unknown
    leeway : how much longer a layout may be, and leave less, for rows and for what is asked of how parts lie [-]
    before : layouts of an earlier run to go on from; one whose plate, parts or clearances differ is not looked at
    """

    seconds: float = 2.0
    steps: int | None = None
    seed: int = 1
    rotations: Rotations = "free"
    split_pairs: bool = False
    locked: tuple[Placement, ...] = ()
    engine: str = "ours"
    workers: int = 1
    repeat_sheets: bool = False
    credit: float = 0.5
    goal: Goal = "metal"
    cut_off: bool = False
    common: float = 0.0
    heat: bool = False
    slats: float | None = None
    slats_run: Literal["x", "y"] = "y"
    first_slat: float | None = None
    leeway: float = 0.0
    before: tuple[Layout, ...] = ()


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
    """A better answer on its way: a legal layout for each plate so far, the one worked on last.

    Attributes
    ----------
    layouts : one for each plate used so far
    placed, wanted : copies on all of them, and asked for [-]; fillers count in neither
    used : length used of the last plate [mm]
    seconds : time since the start [s]
    """

    layouts: tuple[Layout, ...]
    placed: int
    wanted: int
    used: float
    seconds: float

    @property
    def layout(self) -> Layout:
        """The layout worked on last."""
        return self.layouts[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """One copy to place: index in `wanted`, hand, pair (-1 for none), rank, whether it is a filler, and value (0: its area)."""

    part: int
    mirrored: bool
    pair: int
    rank: int
    filler: bool
    value: float = 0.0


@dataclass(slots=True, kw_only=True)
class Run:
    """What stays the same during one call, the layouts checked and the fits of parts on empty plates found so far."""

    wanted: Sequence[Wanted]
    keepouts: tuple[KeepOut, ...]
    clearance: Clearance
    reach: Reach | None
    options: LayOptions
    progress: Callable[[Progress], None] | None
    cancelled: Callable[[], bool]
    began: float
    findings: dict[object, tuple[Finding, ...]] = field(default_factory=dict)
    fits: dict[tuple[int, int, bool], Finding | None] = field(default_factory=dict)

    def check(self, layout: Layout) -> tuple[Finding, ...]:
        """Return what the exact check finds, once for each layout."""
        key = (id(layout.plate), layout.placements, layout.common, layout.cut_off)
        if key not in self.findings:
            self.findings[key] = check(layout, reach=self.reach)
        return self.findings[key]

    def stops(self, layout: Layout) -> bool:
        """Tell whether the exact check finds anything that stops."""
        return any(f.severity == "stop" for f in self.check(layout))

    def turns(self, part: int) -> Rotations:
        """Return how a part may be turned [rad]."""
        own = self.wanted[part].turns
        return self.options.rotations if own is None else own

    def free_parts(self) -> frozenset[int]:
        """Return the parts that may lie anyhow [-]."""
        return frozenset(i for i in range(len(self.wanted)) if self.turns(i) == "free")

    def before(self, plate: Plate) -> tuple[Placement, ...]:
        """Return where an earlier run laid parts on a plate, if it was of these parts [mm, rad]."""
        earlier = self.earlier(plate)
        return () if earlier is None else earlier.placements

    def earlier(self, plate: Plate) -> Layout | None:
        """Return what an earlier run laid on a plate, if it was of these parts."""
        parts = tuple(w.part for w in self.wanted)
        for layout in self.options.before:
            alike = (layout.plate.name, layout.plate.profile) == (plate.name, plate.profile)
            if alike and [p.profile for p in layout.parts] == [p.profile for p in parts]:
                return layout
        return None

    def passed(self) -> float:
        """Return the time since the start [s]."""
        return time.monotonic() - self.began

    def left(self) -> float:
        """Return the time left [s]."""
        return max(self.options.seconds - self.passed(), 0.0)

    def searches(self, seconds: float) -> bool:
        """Tell whether more than a first layout is asked for in a time [s]."""
        return seconds > 0 if self.options.steps is None else self.options.steps > 0


def valid_request(run: Run, plates: Sequence[Plate]) -> None:
    """Refuse what cannot be laid.

    Raises
    ------
    InputError
        If a number is absurd or nothing is asked for.
    """
    _sound_clearance(run.clearance)
    _sound_options(run.options)
    if not run.wanted:
        raise InputError("No parts are asked for.", do="Say at least one part.")
    if not plates:
        raise InputError("No plate is given.", do="Say a plate, or pick a drop from the rack.")
    for w in run.wanted:
        if not 1 <= w.quantity <= MOST_COPIES:
            raise InputError(
                f"{w.quantity} copies of '{w.part.name}' are asked for.", allowed=f"1 to {MOST_COPIES}"
            )
        if not (math.isfinite(w.clearance) and w.clearance >= 0):
            raise InputError(
                f"'{w.part.name}' is to keep {w.clearance} mm from other parts.", allowed="0 mm or more"
            )
        if w.turns is not None:
            _sound_turns(w.turns)
    total = sum(w.quantity * (2 if w.pairs else 1) for w in run.wanted)
    if total > MOST_COPIES:
        raise InputError(f"{total} copies are asked for in one layout.", allowed=f"1 to {MOST_COPIES}")
    hands = {
        (i, hand)
        for i, w in enumerate(run.wanted)
        for hand in ((False, True) if w.pairs or w.face_down else (False,))
    }
    for place in run.options.locked:
        if (place.part, place.pose.mirrored) not in hands:
            raise InputError(
                f"A locked placement names part {place.part}, which is not asked for in that hand.",
                allowed=f"0 to {len(run.wanted) - 1}",
            )


def _sound_clearance(clear: Clearance) -> None:
    for name, value in (("part", clear.part), ("edge", clear.edge), ("keepout", clear.keepout)):
        if not (math.isfinite(value) and value >= 0):
            raise InputError(f"The {name} clearance is {value} mm.", allowed="0 mm or more")
    if clear.part <= 0:  # what a part keeps of its own is never less than this
        raise InputError(
            "The clearance between parts is 0 mm, which leaves no metal for the kerf.",
            allowed="above 0 mm",
            do="Ask for at least the kerf and the room of a lead-in, for example 6 mm.",
        )


def _sound_options(options: LayOptions) -> None:
    checked((*SEARCH, *LYING), options)
    if not 0 <= options.credit <= 1:
        raise InputError(f"The credit for what is left is {options.credit}.", allowed="0 to 1")
    if not 0 <= options.common <= 10:
        raise InputError(f"The kerf of common lines is {options.common} mm.", allowed="0 to 10 mm")
    _sound_turns(options.rotations)


def _sound_turns(turns: Rotations) -> None:
    if isinstance(turns, tuple) and not all(map(math.isfinite, turns)):
        raise InputError("A turn is not a finite angle.", allowed="angles in radians")
    if isinstance(turns, str) and turns not in ("free", "quarter", "grain"):
        raise InputError(f"The turns are '{turns}'.", allowed="free, quarter, grain, or a tuple of angles")


def copies_of(wanted: Sequence[Wanted], goal: Goal = "metal") -> tuple[Copy, ...]:
    """Return every copy asked for, fillers with a rank [-] behind all others; by kits those of the first kit rank first.

    Raises
    ------
    InputError
        If money is to count and a part's worth is not said.
    """
    out: list[Copy] = []
    pair = 0
    kits = math.gcd(*(w.quantity for w in wanted if not w.filler)) if goal == "kits" else 1
    for index, w in enumerate(wanted):
        if goal == "money" and not (w.worth is not None and math.isfinite(w.worth) and w.worth > 0):
            raise InputError(
                f"It is not said what one '{w.part.name}' is worth.", allowed="above 0",
                do="Say what every part is worth, or count by metal, by pieces or by kits.",
            )  # fmt: skip
        value = {"money": w.worth or 0.0, "count": 1.0}.get(goal, 0.0)
        for number in range(w.quantity):
            kit = min(number * kits // w.quantity, KIT - 1)
            rank = FILLER if w.filler else min(w.priority, FILLER // KIT - 1) * KIT + kit
            hands = (False, True) if w.pairs else (False,)
            out += [
                Copy(
                    part=index,
                    mirrored=hand,
                    pair=pair if w.pairs else -1,
                    rank=rank,
                    filler=w.filler,
                    value=value,
                )
                for hand in hands
            ]
            pair += 1
    return tuple(out)
