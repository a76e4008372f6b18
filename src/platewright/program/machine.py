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
from platewright.program import arcs, checks
from platewright.program.dialects import Dialect
from platewright.program.expressions import near_integer
from platewright.program.reading import Block, shown_g
from platewright.program.recorder import KnownAxes, Recorder
from platewright.program.refusal import Refusal
from platewright.program.run import EndState, Event, Kind

__all__ = ["Machine"]

_FLAG = {170: 0, 180: 16, 190: 32}
"""What a plane adds to a move's flags."""

_SYSTEM = {540: 1, 550: 2, 560: 3, 570: 4, 580: 5, 590: 6, 591: 7, 592: 8, 593: 9}
_IDLE = frozenset((0, 1, 6, 7, 8, 9, 48, 49, 60))
"""M words that change neither the path nor the torch unless the dialect gives them a meaning: stops, tool, coolant, overrides."""

_SWITCHES = frozenset(("torch-on", "torch-off", "both-off", "mark-on", "mark-off"))
"""What an M word may mean that must not come at the wrong end of a move."""

_MODES = {
    6: ("units", "its units (G20 or G21)"), 3: ("distance", "absolute or incremental (G90 or G91)"),
    2: ("plane", "its plane (G17)"), 5: ("feed", "its feed mode (G94)"),
}  # fmt: skip
"""Modal group to the dialect's word for it, and how a finding names it."""

_PLATE_ZERO = range(5221, 5227)
"""Parameters that say where G54 lies on the machine (3.2.1)."""

_R_WARN = math.radians(15)
"""An R arc this near a half turn or a full one moves its centre far for a little error [rad] (3.5.3.1)."""


_Arc = tuple[list[float], float, float, float, float, float]
"""End, centre, sweep, mismatch and radius of an arc [mm, rad]."""


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
        self.feed, self.fed_in, self.spin = 0.0, dialect.unit, 1.0
        self.torch = self.follow = self.marking = False
        self.flags = 0
        self.system, self.origin, self.shift = 1, [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
        self.override, self.ended = True, False
        self.stated = set[int]()
        self.parameters: dict[int, float] = {5220: 1.0}
        self.events: list[Event] = []
        self.messages: list[str] = []
        self.findings: list[Finding] = []
        self.warned: set[str] = set()
        self.line, self.begun, self.reported_modes = 0, False, False
        self.slashed: list[int] = []
        self.known = KnownAxes()
        self.arc: _Arc = ([], 0.0, 0.0, 0.0, 0.0, 0.0)

    # -- small helpers -------------------------------------------------------------------------

    def note(self, code: str, **values: float | str) -> None:
        """Add a finding about the present line, at the present place [mm]."""
        place = (self.position[0], self.position[1])
        whole: dict[str, Any] = {"line": self.line, **values}
        self.findings.append(finding(code, place=place, subject=f"line {self.line}", **whole))

    def once(self, code: str, key: str = "", **values: float | str) -> None:
        """Add a finding only the first time it is met, for each key; values carry their units [mm] in their names."""
        if code + key not in self.warned:
            self.warned.add(code + key)
            self.note(code, **values)

    def event(self, what: str, text: str = "") -> None:
        """Write down something that happens between moves."""
        self.events.append(Event(what, self.line, self.recorder.count, text))

    def _flag(self) -> None:
        self.flags = self.torch + 2 * self.follow + 4 * self.marking + _FLAG[self.plane]

    def _record(self, kind: Kind, end: list[float], feed: float = 0.0) -> None:
        self.recorder.add(kind, self.line, self.flags, end, feed)
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
        if block.rare and not self._counts(block):
            return
        motion = self._check(block) if block.moves or not block.checked else None
        if not self.begun:
            self.begun = block.says()
        if block.rare:
            self._tell(block)
        if block.works:
            self._process(block)
        if block.sets:
            self._modes(block)
        if motion is not None:
            self._move(block, motion)
        if block.stops:
            self._stop(block)

    def _tell(self, block: Block) -> None:
        if block.message is not None:
            self.messages.append(block.message)
            self.event("message", block.message)
        for word in block.skipped:
            self.once("W048", word, shown=word)
        for index, value in block.settings:
            self.parameters[index] = value
            if index in _PLATE_ZERO:
                self.event("system", f"#{index}")

    def _counts(self, block: Block) -> bool:
        """Tell whether a line is run; note one with / if running it would matter; refuse a second program number."""
        if block.deleted and self._matters(block):
            self.slashed.append(self.line)
        if block.deleted and self.block_delete:
            return False
        if block.program and self.begun:
            raise Refusal("W054", shown=block.program)
        return True

    def _matters(self, block: Block) -> bool:
        """Tell whether a line says more than a comment, a stop or a tool word."""
        words, means = any(letter not in "ST" for letter in block.words), self.dialect.words
        switched = any(means.get(m, "nothing" if m in _IDLE else "") != "nothing" for m in block.m)
        return bool(words or switched or block.modal or block.settings or block.program or block.skipped)

    def _check(self, block: Block) -> int | None:
        """Return the motion code this line moves by, or None; refuse what is not allowed."""
        if not block.checked:
            checks.check_alone(block, self.dialect)
        zero, motion = block.modal.get(0), block.modal.get(1)
        if block.axes and zero not in checks.AXIS_ZERO:
            motion = self.motion if motion is None else motion
            if motion == 800:
                raise Refusal("W019", checks.first_axis(block))
        if zero == 530 and block.modal.get(1, self.motion) not in (0, 10):
            raise Refusal("W031", block.at["G53"])
        if block.odd:
            checks.check_used(block, self.dialect, motion)
        if motion is not None and not (motion == 0 and block.axes) and motion != 800:
            self._check_motion(block, motion)
        return motion

    def _check_motion(self, block: Block, motion: int) -> None:
        name, curved = shown_g(motion), motion in (20, 30)
        if motion in checks.CYCLES:
            raise Refusal("W030", block.at.get(name, 0), shown=name)
        bare = curved and self.dialect.bare_circle and block.has("IJK")
        if not block.axes and not bare:
            raise Refusal("W017", block.at.get(name, 0), shown=name)
        if motion == 382 and "Z" not in block.words:
            raise Refusal("W017", block.at.get(name, 0), shown="G38.2 (Z)")
        if block.modal.get(5, 930 if self.inverse else 940) == 930:
            if motion != 382 and not block.words.get("F", 0.0) > 0:
                raise Refusal("W027", block.at.get(name, 0))
        elif not block.words.get("F", self.feed) > 0:
            raise Refusal("W028", block.at.get(name, 0))
        if curved:
            at = block.at.get(name, 0)
            if self.dialect.arcs == "chords":
                raise Refusal("W047", at, shown=name)
            checks.check_arc_words(block, block.modal.get(2, self.plane), at, bare=bare)
            self.arc = self._arc(block, motion, self._modes_after(block))

    # -- order of execution ------------------------------------------------------------------------

    def _process(self, block: Block) -> None:
        """Do steps 2 to 10 of Table 8: feed mode, F, S, T, tool, torch, coolant, overrides, dwell."""
        if 5 in block.modal:
            self.inverse = block.modal[5] == 930
            if self.inverse:
                self.feed = 0.0
        if "F" in block.words and not self.inverse:
            self.feed, self.fed_in = block.words["F"] * self.unit / 60.0, self.unit
            if 6 in block.modal:
                self.fed_in = self._modes_after(block)[1]
                self.note("W038")
        if "T" in block.words or 6 in block.m:
            self.once("W042")
        self.spin = block.words.get("S", self.spin)
        for m in block.m if len(block.m) < 2 else sorted(block.m, key=checks.slot):
            self.switch(m, self.line, self.recorder.count)
            if m in (48, 49) and m not in self.dialect.words:
                self.override = m == 48
        if block.modal.get(0) == 40:
            self.recorder.dwell(self.recorder.count, block.words["P"] * self.dialect.dwell_unit)
            self._record(Kind.DWELL, list(self.position))

    def switch(self, m: int, line: int, move: int) -> None:
        """Do what the dialect says an M word [-] does, on a line and before a move [-]."""
        means = self.dialect.words.get(m, "may-stop" if m == 6 else "nothing")
        if means == "nothing":
            return
        if means in ("torch-on", "torch-off", "both-off"):
            self.torch = means == "torch-on"
            if self.torch and self.spin == 0.0:
                self.once("W063", shown=f"M{m}")
        if means in ("follow", "hold"):
            self.follow = means == "follow"
        if means in ("mark-on", "mark-off", "both-off"):
            self.marking = means == "mark-on"
        self.events.append(Event(means, line, move, f"M{m}"))
        self._flag()

    def _modes(self, block: Block) -> None:
        """Do steps 11 to 19 of Table 8: plane, units, offsets, distance, homing and zero."""
        modal = block.modal
        self.stated |= _MODES.keys() & modal.keys()
        self.plane, self.unit, self.absolute = self._modes_after(block)
        self._flag()
        if 6 in modal:
            self.event("units", "inch" if modal[6] == 200 else "mm")
        if 12 in modal:
            self._select(_SYSTEM[modal[12]])
        if 0 in modal:
            self._zero_code(block)

    def _modes_after(self, block: Block) -> tuple[int, float, bool]:
        """Return plane, unit [mm] and absolute mode as they will be when this block moves."""
        modal = block.modal
        unit = {200: 25.4, 210: 1.0, None: self.unit}[modal.get(6)]
        absolute = modal[3] == 900 if 3 in modal else self.absolute
        return modal.get(2, self.plane), unit, absolute

    # -- offsets -----------------------------------------------------------------------------------

    def _select(self, number: int) -> None:
        self.system = number
        self.parameters[5220] = float(number)
        base = 5201 + 20 * number
        self.origin = [self.parameters.get(base + i, 0.0) * self.unit for i in range(3)]
        if number != 1 or any(self.origin):
            self.event("system", str(number))

    def _zero_code(self, block: Block) -> None:
        works: dict[int, Callable[[Block], None]] = {
            280: lambda b: self._home(b, 5161), 300: lambda b: self._home(b, 5181), 100: self._set_system,
            920: self._shift, 921: lambda b: self._unshift(forget=True),
            922: lambda b: self._unshift(forget=False), 923: lambda b: self._reshift(),
        }  # fmt: skip
        if block.modal[0] in works:
            works[block.modal[0]](block)

    def _home(self, block: Block, base: int) -> None:
        self.once("W053", shown="G28 or G30")
        if not self.reported_modes:
            self._tell_modes()
        if block.has(checks.AXES):
            self._record(Kind.RAPID, self._target(block, self.unit, self.absolute))
        home = [self.parameters.get(base + i, 0.0) * self.unit for i in range(3)]
        self._record(Kind.RAPID, [home[0], home[1], max(home[2], self.position[2])])

    def _set_system(self, block: Block) -> None:
        number = near_integer(block.words["P"]) or 1
        for i, axis in enumerate(checks.AXES):
            if axis in block.words:
                self.parameters[5201 + 20 * number + i] = block.words[axis]
        if number == self.system:
            self._select(number)
            self.event("system", f"G10 P{number}")

    def _shift(self, block: Block) -> None:
        for i, axis in enumerate(checks.AXES):
            if axis in block.words:
                self.shift[i] = self.position[i] - self.origin[i] - block.words[axis] * self.unit
                self.known.shifted(i)
        self._keep_shift()
        self.event("offset", "G92 Z" if "Z" in block.words else "G92")

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
        known = all(5211 + i in self.parameters for i in range(3))
        self.event("offset" if known else "system", "G92.3")

    # -- motion ------------------------------------------------------------------------------------

    def _target(self, block: Block, unit: float, absolute: bool) -> list[float]:
        end = list(self.position)
        for i, value in block.ends:
            value *= unit
            if block.modal.get(0) == 530:
                end[i] = value if i < 2 else max(value, end[i])
            else:
                end[i] = value + self.origin[i] + self.shift[i] if absolute else end[i] + value
        return end

    def _move(self, block: Block, motion: int) -> None:
        self.motion = motion
        if motion == 800:
            return
        if self.known.open and block.modal.get(0) != 530:
            self.known.moved([i for i, _ in block.ends], self.recorder.count, self.absolute or motion == 382)
        if not self.reported_modes:
            self._tell_modes()
        if block.modal.get(0) == 530:
            self.once("W053", shown="G53")
        if motion != 0 and self.fed_in != self.unit and not self.inverse:
            self.once("W060")
        for m in block.m if block.has("XYIJ") else ():
            if self.dialect.words.get(m) in _SWITCHES:
                self.once("W061", shown=f"M{m}")
        if motion in (20, 30):
            self._make_arc(block, motion)
            return
        end = self._target(block, self.unit, self.absolute)
        if motion == 0:
            self._record(Kind.RAPID, end)
        elif motion == 10:
            feed = math.dist(self.position, end) * block.words["F"] / 60.0 if self.inverse else self.feed
            self._record(Kind.FEED, end, feed)
        else:
            if end[:2] != self.position[:2]:
                self.once("W062")
            if end[2] < self.position[2]:
                end[2] = min(max(end[2], self.dialect.gauge), self.position[2])
            self._record(Kind.PROBE, end, self.feed)
            for i in range(3):
                self.parameters[5061 + i] = (end[i] - self.origin[i] - self.shift[i]) / self.unit

    def _tell_modes(self) -> None:
        """Tell, at the first move, which modes the program has not said."""
        self.reported_modes = True
        missing = [mode for group, mode in _MODES.items() if group not in self.stated]
        needed = [shown for name, shown in missing if name in self.dialect.modes]
        other = [shown for name, shown in missing if name not in self.dialect.modes]
        if needed:
            self.note("W057", shown=" nor ".join(needed), dialect=self.dialect.name)
        if other:
            self.note("W039", shown=" nor ".join(other))

    def _make_arc(self, block: Block, motion: int) -> None:
        if block.sets:
            self.arc = self._arc(block, motion, self._modes_after(block))
        end, cx, cy, sweep, mismatch, radius = self.arc
        feed = self.feed
        if self.inverse:
            third = checks.PLANES[self.plane][2]
            feed = math.hypot(radius * sweep, end[third] - self.position[third]) * block.words["F"] / 60.0
        if "R" in block.words and min(abs(abs(sweep) - math.pi), abs(abs(sweep) - math.tau)) < _R_WARN:
            self.once("W025", degrees=math.degrees(abs(sweep)))
        if abs(sweep) == math.tau and end[:2] != self.position[:2]:
            self.once("W059")
        self.recorder.arc(self.recorder.count, cx, cy, sweep, mismatch)
        self._record(Kind.ARC, end, feed)

    def _arc(self, block: Block, motion: int, modes: tuple[int, float, bool]) -> _Arc:
        """Return the arc of a line, or refuse; modes are plane, unit [mm] and absolute."""
        plane, unit, absolute = modes
        first, second, _, one, two = checks.PLANES[plane]
        end, clockwise = self._target(block, unit, absolute), motion == 20
        x0, y0, x1, y1 = self.position[first], self.position[second], end[first], end[second]
        if "R" in block.words:
            return end, *checks.radius_arc(block, (x0, y0, x1, y1), unit=unit, clockwise=clockwise)
        i, j = block.words.get(one, 0.0) * unit, block.words.get(two, 0.0) * unit
        places = (
            i + self.origin[first] + self.shift[first],
            j + self.origin[second] + self.shift[second],
        )
        (cx, cy), other = (i + x0, j + y0), places
        if self.dialect.centre == "absolute":
            (cx, cy), other = other, (cx, cy)
        sweep, mismatch = arcs.by_centre((x0, y0), (x1, y1), (cx, cy), clockwise)
        limit = self.dialect.mismatch_mm if unit == 1.0 else self.dialect.mismatch_inch * 25.4
        radius, at = math.hypot(x0 - cx, y0 - cy), block.at.get(one, block.at.get(two, 0))
        if mismatch > limit + 1e-9 or radius == 0.0:
            if checks.fits((x0, y0, x1, y1), other, limit):
                raise Refusal("W055", at, why=checks.CENTRE_MEANT[self.dialect.centre])
            if radius == 0.0:
                raise Refusal("W022", at, why="its centre lies on its start")
            raise Refusal("W020", at, mismatch_mm=mismatch, limit_mm=limit)
        return end, cx, cy, sweep, mismatch, radius

    # -- the end -----------------------------------------------------------------------------------

    def _stop(self, block: Block) -> None:
        for m in block.m:
            if m in (0, 60) or (m == 1 and self.optional_stop):
                self._record(Kind.STOP, list(self.position))
                self.event("stop", f"M{m}")
            elif m == 1:
                self.event("may-stop", "M1")
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
        self._flag()

    def state(self) -> EndState:
        """Return the state as it stands [mm, mm/s]."""
        x, y, z = (v + 0.0 for v in self.position)  # no -0
        a, b, c = self.shift
        kept = {k: v for k, v in sorted(self.parameters.items()) if v != 0.0}
        return EndState(
            position=(x, y, z), feed=self.feed, motion=self.motion, plane=self.plane // 10, unit=self.unit, absolute=self.absolute, inverse_time=self.inverse, torch=self.torch,
            follow=self.follow, marking=self.marking, coordinate_system=self.system, offset=(a, b, c), override=self.override, ended=self.ended, parameters=kept,
        )  # fmt: skip
