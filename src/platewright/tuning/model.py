"""What a coupon asks, what the shop measured on it, and what came of it.

Words
-----
coupon : a plate with a few simple shapes cut to learn the settings for one metal, thickness and amperage
size : one distance to measure on it, with the size asked for and the kerf its path was set off by
rung : one strip of the speed ladder; the next rung is a fixed share faster
reading : what the shop wrote down for a size; several for one size are better than one
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from platewright.findings import Finding
from platewright.table.model import ChartRow

__all__ = [
    "DROSS", "Bevel", "Change", "Dross", "HoleFit", "Instrument", "Job", "KerfFit", "Ladder", "Mean", "Move", "Readings",
    "Result", "Rung", "Sheet",
    "Size", "SquareFit",
]  # fmt: skip

Kind = Literal["outside", "inside", "hole", "square", "diagonal"]
Way = Literal["across", "up", ""]
Edge = Literal["top", "bottom", ""]
Dross = Literal["none", "soft", "hard", "top", "uncut"]
Instrument = Literal["tape", "caliper"]
DROSS: Mapping[str, str] = {
    "none": "clean, or wipes off",
    "soft": "thick, comes off by hand: too slow",
    "hard": "thin hard bead, needs a grinder: too fast",
    "top": "spatter on the top edge",
    "uncut": "not through: much too fast",
}
"""What may be said of a rung, and what it means (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One distance to measure.

    Attributes
    ----------
    key : its name on paper and in the readings file
    what : where it is, in words
    kind : ``outside`` of metal, ``inside`` of an opening, ``hole`` (a small one, cut slowly), ``square`` and ``diagonal`` of the big square
    nominal : the size of the part as drawn [mm]
    kerf : kerf its path was set off by [mm]
    way : ``across`` (table X), ``up`` (table Y), or "" where it does not matter
    edge : ``top`` or ``bottom`` face of the plate, or "" for wherever the caliper touches
    """

    key: str
    what: str
    kind: Kind
    nominal: float
    kerf: float
    way: Way = ""
    edge: Edge = ""

    @property
    def readings(self) -> int:
        """How often it is to be read [-]: the diagonals, whose difference tells squareness, twice as often as others."""
        return 6 if self.kind == "diagonal" else 3


@dataclass(frozen=True, slots=True)
class Rung:
    """One strip of the ladder: its number from 1, the speed it was cut at [mm/s], how long it is [mm]."""

    number: int
    speed: float
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Which row of the chart the coupon is for: process, grade, thickness [mm], amperage [A], and the kerf [mm] and speed [mm/s] it was cut with."""

    process: str
    grade: str
    thickness: float
    amperage: float
    kerf: float
    speed: float

    @staticmethod
    def of(row: ChartRow) -> Job:
        """Return the job a chart row serves [mm, A, mm/s]."""
        return Job(
            process=row.process,
            grade=row.grade,
            thickness=row.thickness,
            amperage=row.amperage,
            kerf=row.kerf,
            speed=row.cut_speed,
        )

    def text(self) -> str:
        """Return it in words, thickness in [mm] and amperage in [A]."""
        current = f" at {self.amperage:g} A" if self.amperage else ""
        return f"{self.grade} {self.thickness:g} mm{current}, {self.process}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything there is to measure on one coupon."""

    job: Job
    sizes: tuple[Size, ...]
    rungs: tuple[Rung, ...] = ()


@dataclass(frozen=True, slots=True)
class Readings:
    """What the shop wrote down: readings of each size [mm], words on each rung, what the big square was measured with, and looks of an ordinary cut (words of `looks`)."""

    sheet: Sheet
    measured: Mapping[str, tuple[float, ...]]
    dross: Mapping[int, tuple[Dross, ...]] = field(default_factory=dict)
    square_by: Instrument = "tape"
    looks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean, its 95 % uncertainty (None from a single value), and from how many values [-]."""

    value: float
    spread: float | None
    count: int

    def known(self, within: float) -> bool:
        """Tell whether the uncertainty is known and no more than this [mm]."""
        return self.spread is not None and self.spread <= within


@dataclass(frozen=True, slots=True)
class KerfFit:
    """The kerf [mm], and what outside and inside sizes say of it by themselves [mm]."""

    kerf: Mean
    outside: Mean | None
    inside: Mean | None


@dataclass(frozen=True, slots=True)
class Bevel:
    """How the sides facing one way lean.

    Attributes
    ----------
    way : ``across`` for the left and right sides, ``up`` for the near and far ones
    angle : mean lean of a side, above 0 where the part is wider at the bottom [rad]
    slope : how far a side lies out of square over the thickness [mm]
    spread : 95 % uncertainty of the slope, as well as a caliper tells it [mm]
    """

    way: str
    angle: float
    slope: float
    spread: float = 0.0

    @property
    def sure(self) -> bool:
        """Whether the sides surely lean [-]."""
        return self.slope > self.spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """What the speed ladder says.

    Attributes
    ----------
    speed : to use [mm/s], None if no rung is clean or the readings contradict one another
    low, high : slowest and fastest clean rung of the window [mm/s]
    step : one rung is faster than the last by this share [-]
    way : where to go on if nothing is clean: ``faster``, ``slower``, ``between``, or ""
    open_low, open_high : whether the window's end lies beyond the ladder
    why : in words
    spread : 95 % uncertainty of the speed as a share of it [-]
    """

    speed: float | None
    low: float
    high: float
    step: float
    way: str = ""
    open_low: bool = False
    open_high: bool = False
    why: str = ""
    spread: float = 0.0


@dataclass(frozen=True, slots=True)
class HoleFit:
    """Kerf in small holes [mm], change of the size error with the hole's size [-], smallest good hole [mm] (None if none is), out of round [mm]."""

    kerf: Mean
    tilt: Mean
    smallest: float | None
    out_of_round: float


@dataclass(frozen=True, slots=True)
class SquareFit:
    """Scale of the table's axes over 1 [-] and its skew [rad], each with 95 % uncertainty, and the misfit [mm]."""

    x: Mean
    y: Mean
    skew: Mean
    misfit: float


@dataclass(frozen=True, slots=True)
class Move:
    """A setting moved by a share of it [-], and why: a look's rule."""

    setting: str
    share: float
    why: str


@dataclass(frozen=True, slots=True)
class Change:
    """One setting of a chart row as it was and as it becomes [mm, mm/s, -], its 95 % uncertainty if known, and where it comes from."""

    setting: str
    before: float
    after: float
    spread: float | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """All that one set of readings says; parts nobody measured are None."""

    job: Job
    kerf: KerfFit | None = None
    bevels: tuple[Bevel, ...] = ()
    ladder: Ladder | None = None
    holes: HoleFit | None = None
    square: SquareFit | None = None
    moves: tuple[Move, ...] = ()
    findings: tuple[Finding, ...] = ()
