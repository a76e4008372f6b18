"""The machine a program drives: state, and what a block does to it, in the order of NISTIR 6556 Table 8.

Positions are kept in millimetres of the plate: the machine's zero is taken to be the plate's zero, because where the
operator set it is none of the program's business. A machine place (G28, G30, G53) never lowers the torch here: where it
lies above the plate is not known, and a finding says so. A block is checked first and executed after, so that a refused line
changes nothing (1.3.1).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from platewright.findings import Finding, finding
from platewright.program import arcs
from platewright.program.dialects import Dialect
from platewright.program.expressions import near_integer
from platewright.program.reading import G_GROUPS, Block, shown_g
from platewright.program.recorder import Recorder
from platewright.program.refusal import Refusal
from platewright.program.run import EndState, Event, Kind

__all__ = ["Machine"]

AXES = "XYZ"
_TURN = "ABC"
_PLANES = {170: (0, 1, 2, "I", "J"), 180: (2, 0, 1, "K", "I"), 190: (1, 2, 0, "J", "K")}
_SYSTEM = {540: 1, 550: 2, 560: 3, 570: 4, 580: 5, 590: 6, 591: 7, 592: 8, 593: 9}
_AXIS_ZERO = (100, 280, 300, 920)
"""Group 0 codes that use axis words."""

_CENTRE_WORD = {
    901: "G90.1 says that I and J are places on the plate; this dialect counts them from the arc's start",
    911: "G91.1 says that I and J count from the arc's start; this dialect takes them as places on the plate",
}
_CENTRE_MEANT = {
    "incremental": (
        "counted from the arc's start, as this dialect does, its ends lie unequally far from its centre; taken as a "
        "place on the plate, I and J fit. The program was written with absolute arc centres"
    ),
    "absolute": (
        "taken as a place on the plate, as this dialect does, its ends lie unequally far from its centre; counted from "
        "the arc's start, I and J fit. The program was written with arc centres from the start"
    ),
}
"""Why an arc does not fit the dialect's way of saying centres but fits the other."""

_IDLE = frozenset((0, 1, 6, 7, 8, 9, 48, 49, 60))
"""M words that change neither the path nor the torch unless the dialect gives them a meaning: stops, tool, coolant, overrides."""

_SAID = {
    6: ("units", "its units (G20 or G21)"), 3: ("distance", "absolute or incremental (G90 or G91)"),
    2: ("plane", "its plane (G17)"), 5: ("feed", "its feed mode (G94)"),
}  # fmt: skip
"""Modal group to the dialect's word for it, and how a finding names it."""

_CYCLES = range(810, 891)
_R_WARN = math.radians(15)
"""An R arc this near a half turn or a full one moves its centre far for a little error [rad] (3.5.3.1)."""


class Machine:
    """State of the machine while a program is executed. Lengths in [mm], speeds in [mm/s]."""

    # Long because every modal state of the language is one attribute.
    def __init__(
        self, dialect: Dialect, recorder: Recorder, *, block_delete: bool = False, optional_stop: bool = False
    ) -> None:
        self.dialect, self.recorder = dialect, recorder
        self.block_delete, self.optional_stop = block_delete, optional_stop
        self.position = [0.0, 0.0, 0.0]
        self.motion, self.plane = 800, 170
        self.unit, self.absolute, self.inverse = dialect.unit, True, False
        self.feed = 0.0
        self.torch = self.follow = self.marking = False
        self.system, self.origin, self.shift = 1, [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
        self.override, self.ended = True, False
        self.tool, self.stated = 0.0, set[int]()
        self.parameters: dict[int, float] = {5220: 1.0}
        self.events: list[Event] = []
        self.messages: list[str] = []
        self.findings: list[Finding] = []
        self.warned: set[str] = set()
        self.line, self.told_end, self.begun, self.told_modes = 0, False, False, False
        self.slashed: list[int] = []

    # -- small helpers -------------------------------------------------------------------------

    def note(self, code: str, **values: float | str) -> None:
        """Add a finding about the present line, at the present place [mm]."""
        place = (self.position[0], self.position[1])
        told: dict[str, Any] = {"line": self.line, **values}
        self.findings.append(finding(code, place=place, subject=f"line {self.line}", **told))

    def once(self, code: str, key: str = "", **values: float | str) -> None:
        """Add a finding only the first time it is met, for each key; values carry their units [mm] in their names."""
        if code + key not in self.warned:
            self.warned.add(code + key)
            self.note(code, **values)

    def event(self, what: str, text: str = "") -> None:
        """Write down something that happens between moves."""
        self.events.append(Event(what, self.line, self.recorder.count, text))

    def _flags(self) -> int:
        plane = {170: 0, 180: 1, 190: 2}[self.plane]
        return self.torch + 2 * self.follow + 4 * self.marking + 16 * plane

    def _record(
        self, kind: Kind, end: list[float], *, arc: tuple[float, ...] = (math.nan, math.nan, 0.0, 0.0),
        feed: float = 0.0, seconds: float = 0.0,
    ) -> None:  # fmt: skip
        cx, cy, sweep, mismatch = arc
        self.recorder.add(
            (*self.position, *end, cx, cy, sweep, feed, seconds, mismatch),
            (int(kind), self.line, self._flags()),
        )
        self.position = end

    # -- one block -------------------------------------------------------------------------------

    def execute(self, block: Block, line: int) -> None:
        """Check a block, then do what it says in the order of Table 8 [mm, mm/s].

        Raises
        ------
        Refusal
            If it is not allowed; nothing has been done then.
        """
        self.line = line
        if block.deleted and self._counts(block):
            self.slashed.append(line)
        if block.deleted and self.block_delete:
            return
        if block.program and self.begun:
            raise Refusal("W054", shown=block.program)
        self.begun = self.begun or bool(block.program or block.g or block.m or block.words or block.settings)
        motion = self._check(block)
        if block.message is not None:
            self.messages.append(block.message)
            self.event("message", block.message)
        for word in block.skipped:
            self.once("W048", word, shown=word)
        for index, value in block.settings:
            self.parameters[index] = value
        self._modes(block)
        self._rest(block, motion)

    def _counts(self, block: Block) -> bool:
        """Tell whether it matters if a line is run: whether it says more than a comment, a stop or a tool word."""
        means = self.dialect.words
        words = any(letter not in "ST" for letter in block.words)
        switched = any(means.get(m, "nothing" if m in _IDLE else "") != "nothing" for m in block.m)
        return bool(words or switched or block.g or block.settings or block.program or block.skipped)

    def _check(self, block: Block) -> int | None:
        """Return the motion code this line moves by, or None; refuse what is not allowed."""
        axes = block.has(AXES) or block.has(_TURN)
        named = next((g for g in block.g if G_GROUPS[g] == 1), None)
        zero = next((g for g in block.g if g in _AXIS_ZERO), None)
        if named is not None and named != 800 and zero is not None:
            raise Refusal("W018", block.at.get(shown_g(zero), 0), first=shown_g(named), second=shown_g(zero))
        if zero == 920 and not axes:
            raise Refusal("W017", block.at["G92"], shown="G92")
        motion = named
        if motion is None and axes and zero is None:
            motion = self.motion
            if motion == 800:
                raise Refusal("W019", min(block.at[a] for a in AXES + _TURN if a in block.at))
        elif motion == 800:
            if axes and zero is None:
                raise Refusal("W019", min(block.at[a] for a in AXES + _TURN if a in block.at))
            motion = 800
        self._check_values(block)
        self._check_offsets(block)
        self._check_unused(block, motion, zero)
        if motion is not None and motion != 800:
            self._check_motion(block, motion, axes)
        return motion

    def _check_values(self, block: Block) -> None:
        for letter in "STF":
            if block.words.get(letter, 0.0) < 0:
                raise Refusal("W033", block.at[letter], letter=letter, shown=f"{block.words[letter]:g}")
        for letter in "TDHL":
            if letter in block.words and near_integer(block.words[letter]) is None:
                raise Refusal("W014", block.at[letter], letter=letter, shown=f"{block.words[letter]:g}")
        if 40 in block.g and not block.words.get("P", -1.0) >= 0:
            raise Refusal("W026", block.at["G4"])
        for axis in _TURN:
            if axis in block.words:
                raise Refusal("W049", block.at[axis], letter=axis)
        if not self.dialect.has_z and "Z" in block.words:
            raise Refusal("W050", block.at["Z"])

    def _check_offsets(self, block: Block) -> None:
        if 410 in block.g or 420 in block.g:
            raise Refusal("W029", block.at.get("G41", block.at.get("G42", 0)))
        if 430 in block.g and block.words.get("H", 0.0) != 0:
            if not self.dialect.skip_unknown:
                raise Refusal("W051", block.at["G43"])
            block.skipped.append("G43")
        if 100 in block.g:
            number = near_integer(block.words.get("P", 0.0))
            if near_integer(block.words.get("L", 0.0)) != 2 or number is None or not 1 <= number <= 9:
                raise Refusal("W052", block.at["G10"])
        wrong = 911 if self.dialect.centre == "absolute" else 901
        if wrong in block.g:
            raise Refusal("W055", block.at[shown_g(wrong)], why=_CENTRE_WORD[wrong])
        if 530 in block.g:
            motion = next((g for g in block.g if G_GROUPS[g] == 1), self.motion)
            if motion not in (0, 10):
                raise Refusal("W031", block.at["G53"])

    def _check_unused(self, block: Block, motion: int | None, zero: int | None) -> None:
        """Refuse words nothing on the line uses; a controller would do so or guess."""
        own = any(m in self.dialect.words and m > 99 for m in block.m) or bool(block.skipped)
        uses = {
            "P": 40 in block.g or zero == 100 or own,
            "L": zero == 100 or own,
            "H": 430 in block.g,
            "D": False,
            "Q": own,
            "R": motion in (20, 30) or zero == 100,
            **dict.fromkeys("IJK", motion in (20, 30)),
        }
        if motion is not None and motion in _CYCLES:
            return
        uses |= dict.fromkeys("EOUVW", own)
        for letter, used in uses.items():
            if letter in block.words and not used:
                if not self.dialect.skip_unknown:
                    raise Refusal("W032", block.at[letter], letter=letter)
                block.skipped.append(f"{letter}{block.words[letter]:g}")

    def _check_motion(self, block: Block, motion: int, axes: bool) -> None:
        name = shown_g(motion)
        at = block.at.get(name, 0)
        if motion in _CYCLES:
            raise Refusal("W030", at, shown=name)
        bare = motion in (20, 30) and self.dialect.bare_circle and block.has("IJK")
        if not axes and not bare:
            raise Refusal("W017", at, shown=name)
        if motion == 382 and "Z" not in block.words:
            raise Refusal("W017", at, shown="G38.2 (Z)")
        inverse = (self.inverse or 930 in block.g) and 940 not in block.g
        if motion in (10, 20, 30) and inverse and not block.words.get("F", 0.0) > 0:
            raise Refusal("W027", at)
        if motion in (10, 20, 30, 382) and not inverse and not block.words.get("F", self.feed) > 0:
            raise Refusal("W028", at)
        if motion in (20, 30):
            if self.dialect.arcs == "chords":
                raise Refusal("W047", at, shown=name)
            self._check_arc_words(block, at, bare)
            self._arc(block, motion, self._modes_after(block))

    def _check_arc_words(self, block: Block, at: int, bare: bool) -> None:
        plane = next((g for g in block.g if G_GROUPS[g] == 2), self.plane)
        first, second, _, one, two = _PLANES[plane]
        other = ({"I", "J", "K"} - {one, two}).pop()
        if other in block.words:
            raise Refusal(
                "W023", block.at[other], why=f"{other} does not belong to the plane {shown_g(plane)}"
            )
        flat = AXES[first] in block.words or AXES[second] in block.words
        if not flat and not bare:
            raise Refusal("W023", at, why=f"{AXES[first]} or {AXES[second]} must stand on it")
        if "R" in block.words and block.has("IJK"):
            raise Refusal("W023", block.at["R"], why="R and a centre stand on it both")
        if "R" not in block.words and not (one in block.words or two in block.words):
            raise Refusal("W023", at, why=f"{one}, {two} or R must stand on it")

    # -- order of execution ------------------------------------------------------------------------

    def _modes(self, block: Block) -> None:
        """Do steps 2 to 10 of Table 8: feed mode, F, S, T, tool, torch, coolant, overrides, dwell."""
        if 930 in block.g or 940 in block.g:
            self.inverse = 930 in block.g
            self.stated.add(5)
            if self.inverse:
                self.feed = 0.0
        if "F" in block.words and not self.inverse:
            self.feed = block.words["F"] * self.unit / 60.0
            if 200 in block.g or 210 in block.g:
                self.note("W038")
        if "T" in block.words or 6 in block.m:
            self.once("W042")
        for m in sorted(block.m, key=_slot):
            self._word(m)
        if 40 in block.g:
            self._record(Kind.DWELL, list(self.position), seconds=block.words["P"] * self.dialect.dwell_unit)

    def _word(self, m: int) -> None:
        means = self.dialect.words.get(m)
        if means == "torch-on":
            self.torch = True
        elif means in ("torch-off", "both-off"):
            self.torch = False
        if means in ("follow", "hold"):
            self.follow = means == "follow"
        if means in ("mark-on", "mark-off", "both-off"):
            self.marking = means == "mark-on"
        if means is not None and means != "nothing":
            self.event(means, f"M{m}")
        elif m in (48, 49):
            self.override = m == 48

    def _rest(self, block: Block, motion: int | None) -> None:
        """Do steps 11 to 21 of Table 8: plane, units, offsets, path, distance, homing, motion, stop."""
        for g in block.g:
            if G_GROUPS[g] in (2, 3, 5, 6, 12):
                self.stated.add(G_GROUPS[g])
        self.plane = next((g for g in block.g if G_GROUPS[g] == 2), self.plane)
        if 200 in block.g or 210 in block.g:
            self.unit = 25.4 if 200 in block.g else 1.0
            self.event("units", "inch" if 200 in block.g else "mm")
        for g in block.g:
            if g in _SYSTEM:
                self._select(_SYSTEM[g])
        if 900 in block.g or 910 in block.g:
            self.absolute = 900 in block.g
        self._zero_codes(block)
        if motion is not None:
            self._move(block, motion)
        for m in block.m:
            self._stop(m)

    def _modes_after(self, block: Block) -> tuple[int, float, bool]:
        """Return plane, unit [mm] and absolute mode as they will be when this block moves."""
        plane = next((g for g in block.g if G_GROUPS[g] == 2), self.plane)
        unit = 25.4 if 200 in block.g else 1.0 if 210 in block.g else self.unit
        absolute = self.absolute if not {900, 910} & set(block.g) else 900 in block.g
        return plane, unit, absolute

    # -- offsets -----------------------------------------------------------------------------------

    def _select(self, number: int) -> None:
        self.system = number
        self.parameters[5220] = float(number)
        base = 5201 + 20 * number
        self.origin = [self.parameters.get(base + i, 0.0) * self.unit for i in range(3)]
        if number != 1 or any(self.origin):
            self.event("system", str(number))

    def _zero_codes(self, block: Block) -> None:
        works: dict[int, Callable[[Block], None]] = {
            280: lambda b: self._home(b, 5161), 300: lambda b: self._home(b, 5181), 100: self._set_system,
            920: self._shift, 921: lambda b: self._unshift(forget=True),
            922: lambda b: self._unshift(forget=False), 923: lambda b: self._reshift(),
        }  # fmt: skip
        for g in block.g:
            if g in works:
                works[g](block)

    def _home(self, block: Block, base: int) -> None:
        self.once("W053", shown="G28 or G30")
        if not self.told_modes:
            self._tell_modes()
        if block.has(AXES):
            self._record(Kind.RAPID, self._target(block, self._modes_after(block)))
        home = [self.parameters.get(base + i, 0.0) * self.unit for i in range(3)]
        self._record(Kind.RAPID, [home[0], home[1], max(home[2], self.position[2])])

    def _set_system(self, block: Block) -> None:
        number = near_integer(block.words["P"]) or 1
        for i, axis in enumerate(AXES):
            if axis in block.words:
                self.parameters[5201 + 20 * number + i] = block.words[axis]
        if number == self.system:
            self._select(number)
        self.event("system", f"G10 P{number}")

    def _shift(self, block: Block) -> None:
        for i, axis in enumerate(AXES):
            if axis in block.words:
                self.shift[i] = self.position[i] - self.origin[i] - block.words[axis] * self.unit
        self._keep_shift()
        self.event("offset", "G92")

    def _keep_shift(self) -> None:
        for i in range(3):
            self.parameters[5211 + i] = self.shift[i] / self.unit

    def _unshift(self, *, forget: bool) -> None:
        self.shift = [0.0, 0.0, 0.0]
        if forget:
            self._keep_shift()
        self.event("offset", "G92.1" if forget else "G92.2")

    def _reshift(self) -> None:
        self.shift = [self.parameters.get(5211 + i, 0.0) * self.unit for i in range(3)]
        self.event("offset", "G92.3")

    # -- motion ------------------------------------------------------------------------------------

    def _target(self, block: Block, modes: tuple[int, float, bool]) -> list[float]:
        _, unit, absolute = modes
        end = list(self.position)
        for i, axis in enumerate(AXES):
            if axis not in block.words:
                continue
            value = block.words[axis] * unit
            if 530 in block.g:
                end[i] = value if i < 2 else max(value, end[i])
            else:
                end[i] = value + self.origin[i] + self.shift[i] if absolute else end[i] + value
        return end

    def _move(self, block: Block, motion: int) -> None:
        self.motion = motion
        if motion == 800:
            return
        if not self.told_modes:
            self._tell_modes()
        if 530 in block.g:
            self.once("W053", shown="G53")
        modes = self._modes_after(block)
        end = self._target(block, modes)
        if motion == 0:
            self._record(Kind.RAPID, end)
        elif motion == 10:
            self._record(Kind.FEED, end, feed=self._feed_for(block, math.dist(self.position, end)))
        elif motion == 382:
            if end[2] < self.position[2]:
                end[2] = min(max(end[2], self.dialect.gauge), self.position[2])
            self._record(Kind.PROBE, end, feed=self.feed)
            for i in range(3):
                self.parameters[5061 + i] = (end[i] - self.origin[i] - self.shift[i]) / self.unit
        else:
            self._make_arc(block, motion, modes)

    def _tell_modes(self) -> None:
        """Tell, at the first move, which modes the program has not said."""
        self.told_modes = True
        missing = [said for group, said in _SAID.items() if group not in self.stated]
        needed = [shown for name, shown in missing if name in self.dialect.modes]
        other = [shown for name, shown in missing if name not in self.dialect.modes]
        if needed:
            self.note("W057", shown=" nor ".join(needed), dialect=self.dialect.name)
        if other:
            self.note("W039", shown=" nor ".join(other))

    def _feed_for(self, block: Block, length: float) -> float:
        return length * block.words["F"] / 60.0 if self.inverse else self.feed

    def _make_arc(self, block: Block, motion: int, modes: tuple[int, float, bool]) -> None:
        end, cx, cy, sweep, mismatch, radius = self._arc(block, motion, modes)
        third = _PLANES[self.plane][2]
        length = math.hypot(radius * sweep, end[third] - self.position[third])
        if "R" in block.words and min(abs(abs(sweep) - math.pi), abs(abs(sweep) - math.tau)) < _R_WARN:
            self.once("W025", degrees=math.degrees(abs(sweep)))
        self._record(Kind.ARC, end, arc=(cx, cy, sweep, mismatch), feed=self._feed_for(block, length))

    def _arc(
        self, block: Block, motion: int, modes: tuple[int, float, bool]
    ) -> tuple[list[float], float, float, float, float, float]:
        """Return end, centre, sweep, mismatch and radius [mm, rad], or refuse."""
        plane, unit, _ = modes
        first, second, _, one, two = _PLANES[plane]
        end, clockwise = self._target(block, modes), motion == 20
        x0, y0, x1, y1 = self.position[first], self.position[second], end[first], end[second]
        if "R" in block.words:
            return end, *_radius_arc(block, (x0, y0, x1, y1), unit=unit, clockwise=clockwise)
        i, j = block.words.get(one, 0.0) * unit, block.words.get(two, 0.0) * unit
        places = (
            i + self.origin[first] + self.shift[first],
            j + self.origin[second] + self.shift[second],
        )
        (cx, cy), other = (i + x0, j + y0), places
        if self.dialect.centre == "absolute":
            (cx, cy), other = other, (cx, cy)
        sweep, mismatch = arcs.by_centre(x0, y0, x1, y1, cx, cy, clockwise)
        limit = self.dialect.mismatch_mm if unit == 1.0 else self.dialect.mismatch_inch * 25.4
        radius, at = math.hypot(x0 - cx, y0 - cy), block.at.get(one, block.at.get(two, 0))
        if mismatch > limit + 1e-9 or radius == 0.0:
            if _fits((x0, y0, x1, y1), other, limit):
                raise Refusal("W055", at, why=_CENTRE_MEANT[self.dialect.centre])
            if radius == 0.0:
                raise Refusal("W022", at, why="its centre lies on its start")
            raise Refusal("W020", at, mismatch_mm=mismatch, limit_mm=limit)
        return end, cx, cy, sweep, mismatch, radius

    # -- the end -----------------------------------------------------------------------------------

    def _stop(self, m: int) -> None:
        if m in (0, 60) or (m == 1 and self.optional_stop):
            self._record(Kind.STOP, list(self.position))
            self.event("stop", f"M{m}")
        elif m in (2, 30):
            self._end()

    def _end(self) -> None:
        """Reset what M2 and M30 reset (3.6.1); units stay."""
        self.event("end", "torch on" if self.torch else "")
        self.shift = [0.0, 0.0, 0.0]
        self._select(1)
        self.plane, self.absolute, self.inverse, self.override = 170, True, False, True
        self.torch, self.motion, self.follow, self.marking = False, 10, False, False
        self.ended = True

    def state(self) -> EndState:
        """Return the state as it stands [mm, mm/s]."""
        x, y, z = self.position
        a, b, c = self.shift
        kept = {k: v for k, v in sorted(self.parameters.items()) if v != 0.0}
        return EndState(
            (x, y, z), self.feed, self.motion, self.plane // 10, self.unit, self.absolute, self.inverse, self.torch,
            self.follow, self.marking, self.system, (a, b, c), self.override, self.ended, kept,
        )  # fmt: skip


def _fits(ends: tuple[float, float, float, float], centre: tuple[float, float], limit: float) -> bool:
    """Tell whether an arc's ends [mm] lie equally far from a centre [mm], within a limit [mm], and not on it."""
    first, last = math.dist(ends[:2], centre), math.dist(ends[2:], centre)
    return first > limit and abs(first - last) <= limit


def _slot(m: int) -> int:
    """Return where an M word comes in Table 8 (steps 6 to 9 and 21) [-]."""
    if m == 6:
        return 6
    if m in (3, 4, 5):
        return 7
    if m in (48, 49):
        return 9
    return 21 if m in (0, 1, 2, 30, 60) else 8


def _radius_arc(
    block: Block, ends: tuple[float, float, float, float], *, unit: float, clockwise: bool
) -> tuple[float, float, float, float, float]:
    radius = block.words["R"] * unit
    if radius == 0.0:
        raise Refusal("W022", block.at["R"], why="R is 0")
    status, cx, cy, sweep = arcs.by_radius(*ends, radius, clockwise)
    if status == arcs.SAME_POINT:
        raise Refusal("W021", block.at["R"])
    if status == arcs.TOO_FAR:
        raise Refusal("W022", block.at["R"], why=f"R {abs(radius):.4f} mm does not reach the end")
    return cx, cy, sweep, 0.0, abs(radius)
