"""What a program did so far and what it has set: the events of a reading, and the state a line is read in; [mm], [s]."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from benchmarks.witness.dialect import Dialect

Kind = Literal["rapid", "line", "arc", "dwell", "probe", "zero", "torch-on", "torch-off", "pause", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing the table does, with the state it does it in.

    `points` is the way in X and Y, arcs as fine chords [mm]; `z0`, `z1` the torch tip's height over the plate before
    and after [mm], nan where it is not known; `feed` [mm/s]; `seconds` of a dwell [s]; `radius` of an arc [mm].
    """

    kind: Kind
    line: int
    points: NDArray[np.float64]
    z0: float = math.nan
    z1: float = math.nan
    lit: bool = False
    marking: bool = False
    following: bool = False
    feed: float = 0.0
    seconds: float = 0.0
    radius: float = math.inf

    @property
    def moves(self) -> bool:
        """Whether it moves in X or Y."""
        return len(self.points) > 1


@dataclass(frozen=True, slots=True)
class Reading:
    """What a program does, the modes it left unsaid, and whether any line stands behind a block delete."""

    events: tuple[Event, ...]
    unsaid: frozenset[str]
    deletes: bool


@dataclass(slots=True, kw_only=True)
class State:
    dialect: Dialect
    scale: float
    units_said: bool = False
    xy: tuple[float, float] = (0.0, 0.0)
    z: float = math.nan
    """Z as the program counts it [mm]."""
    lift: float = 0.0
    """What is added to the program's Z to give the height over the plate [mm]."""
    shift: tuple[float, float] = (0.0, 0.0)
    """What is added to the program's X and Y to give the place on the plate, by G92 [mm]."""
    motion: str = ""
    plane: str = "17"
    incremental: bool = False
    said: set[str] = field(default_factory=set)
    unsaid: set[str] = field(default_factory=set)
    feed: float = 0.0
    lit: bool = False
    marking: bool = False
    following: bool = False
    probed: bool = False
    values: dict[int, float] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    number: int = 0
    placed: set[str] = field(default_factory=set)
    """The axes the text itself has given a place; before that the torch stands where the last job left it."""
    adrift: set[str] = field(default_factory=set)
    """The axes that G92 counted anew before they had one."""

    def height(self) -> float:
        return self.z + self.lift

    def add(self, kind: Kind, points: NDArray[np.float64] | None = None, **more: float) -> None:
        here = np.array([self.place()]) if points is None else points
        h = self.height()
        self.events.append(
            Event(
                kind=kind, line=self.number, points=here, z0=more.pop("z0", h), z1=more.pop("z1", h), lit=self.lit, marking=self.marking, following=self.following, **more
            )
        )  # fmt: skip

    def place(self) -> tuple[float, float]:
        return self.xy[0] + self.shift[0], self.xy[1] + self.shift[1]
