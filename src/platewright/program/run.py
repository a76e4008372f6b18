"""What reading a program gives: its moves as arrays, messages, findings, and the state it ends in."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.findings import Finding
from platewright.geometry import Floats

__all__ = ["EndState", "Event", "Kind", "Moves", "Run"]


class Kind(IntEnum):
    """Kind of a move."""

    RAPID = 0
    FEED = 1
    ARC = 2
    DWELL = 3
    STOP = 4
    PROBE = 5


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Moves:
    """Moves as arrays of length N, in the order they are executed, in plate coordinates.

    Attributes
    ----------
    kind : a ``Kind``; dwells and stops have start = end
    line : line number in the text, from 1
    start, end : (N, 3) [mm]
    centre : (N, 2) centre of an arc in its own plane [mm], NaN otherwise
    sweep : signed sweep of an arc [rad], 0 otherwise
    feed : [mm/s], 0 for rapids
    seconds : length of a dwell [s], 0 otherwise
    torch, follow, marking : whether the torch is on, height control is live, the marking tool is down
    plane : 0 for XY, 1 for ZX, 2 for YZ
    mismatch : difference between an arc's start and end radius [mm]
    """

    kind: NDArray[np.int8]
    line: NDArray[np.int32]
    start: Floats
    end: Floats
    centre: Floats
    sweep: Floats
    feed: Floats
    seconds: Floats
    torch: NDArray[np.bool_]
    follow: NDArray[np.bool_]
    marking: NDArray[np.bool_]
    plane: NDArray[np.int8]
    mismatch: Floats

    def __len__(self) -> int:
        """Return the number of moves."""
        return len(self.kind)

    @property
    def bulge(self) -> Floats:
        """Bulge tan(sweep/4) of each move in the XY plane, (N,) [-]; a full circle has none and reads 0."""
        flat = (self.kind == Kind.ARC) & (self.plane == 0) & (np.abs(self.sweep) < 2 * np.pi - 1e-9)
        return np.where(flat, np.tan(np.where(flat, self.sweep, 0.0) / 4.0), 0.0)

    def lengths(self) -> Floats:
        """Return the length of every move, helices included, (N,) [mm]."""
        delta = self.end - self.start
        straight = np.sqrt((delta**2).sum(axis=1))
        axes = np.array([[0, 1, 2], [2, 0, 1], [1, 2, 0]])[self.plane]
        rows = np.arange(len(self))
        first = self.start[rows, axes[:, 0]] - np.nan_to_num(self.centre[:, 0])
        second = self.start[rows, axes[:, 1]] - np.nan_to_num(self.centre[:, 1])
        round_part = np.hypot(first, second) * np.abs(self.sweep)
        curved: Floats = np.hypot(round_part, delta[rows, axes[:, 2]])
        return np.where(self.kind == Kind.ARC, curved, straight)


class Event(NamedTuple):
    """Something that happens between moves: a torch or tool word, a message, a path or offset change.

    Attributes
    ----------
    what : ``torch-on``, ``torch-off``, ``follow``, ``hold``, ``mark-on``, ``mark-off``, ``message``, ``units``, …
    line : line in the text, from 1
    move : number of moves made before it
    text : the message
    """

    what: str
    line: int
    move: int
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndState:
    """State of the machine after the last line executed.

    Attributes
    ----------
    position : [mm]
    feed : [mm/s]
    motion : the active motion code in tenths (10 for G1), 800 for none
    plane : 17, 18 or 19
    unit : one program unit [mm]
    absolute : G90 rather than G91
    inverse_time : G93 rather than G94
    torch, follow, marking : as in `Moves`
    coordinate_system : 1 to 9
    offset : G92 offset in force [mm]
    override : speed and feed overrides enabled (M48)
    ended : whether M2, M30 or the closing % was met
    parameters : numbered parameters that are not 0 [-]
    """

    position: tuple[float, float, float]
    feed: float
    motion: int
    plane: int
    unit: float
    absolute: bool
    inverse_time: bool
    torch: bool
    follow: bool
    marking: bool
    coordinate_system: int
    offset: tuple[float, float, float]
    override: bool
    ended: bool
    parameters: dict[int, float] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Run:
    """A program as read: moves, events, findings, end state.

    Attributes
    ----------
    moves : see `Moves`
    events : in order
    messages : what (MSG, …) comments say
    findings : what is wrong with the text or worth knowing about it
    state : where it ends
    lines : number of lines in the text
    slashed : lines that start with / and say more than a comment, a stop or a tool word
    unread : the finding at which reading ended early: a line refused, or an end that is missing; None if all was read
    stated_from : for X, Y and Z the first move [-] that says a place on the plate; before it the torch stands where the last job left it; None if none does
    """

    moves: Moves
    events: tuple[Event, ...]
    messages: tuple[str, ...]
    findings: tuple[Finding, ...]
    state: EndState
    lines: int
    slashed: tuple[int, ...] = ()
    unread: Finding | None = None
    stated_from: tuple[int | None, int | None, int | None] = (None, None, None)

    @property
    def height_from(self) -> int | None:
        """The first move [-] that says a height over the plate, None if none does."""
        return self.stated_from[2]
