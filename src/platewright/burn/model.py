"""What a burn plan is: the ordered, kerf-compensated cuts of a layout, before any controller's syntax."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from platewright.burn.options import BurnOptions
from platewright.findings import Finding
from platewright.geometry import Contour, Floats
from platewright.layout.model import Layout
from platewright.table.controller import Controller
from platewright.table.model import ChartRow, TableProfile
from platewright.table.reach import inside

__all__ = ["BurnPlan", "Cut", "Pause", "SlowStretch", "Tab", "called", "reached"]


@dataclass(frozen=True, slots=True)
class Tab:
    """An uncut bridge: where on the plate [mm], and how wide the metal left is [mm]."""

    at: tuple[float, float]
    width: float


@dataclass(frozen=True, slots=True)
class Pause:
    """A pause before a cut: why (``wait``, or a stop for the ``tip``, a ``look``, the ``current``, or to ``lift`` parts out), how long the torch waits [s], and the current to set [A]."""

    why: str
    seconds: float = 0.0
    amperage: float = 0.0


@dataclass(frozen=True, slots=True)
class SlowStretch:
    """Where the torch cannot keep its feed: cut number [-], middle of the stretch [mm], length [mm], lowest share of the feed [-]."""

    cut: int
    at: tuple[float, float]
    length: float
    lowest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One torch-on path (or mark), in plate coordinates.

    Attributes
    ----------
    kind : ``mark``, ``hole`` (any inner contour), ``outer``, ``cut-off`` (the line along which the plate is cut off), or ``rest`` (across what is left of it)
    placement : index into ``layout.placements``; one beyond the last for what belongs to no piece
    contour : which contour of that part: 0 is the outer, 1… the holes; for marks the mark's index
    path : open chain the torch runs while burning: lead-in, kerf-compensated contour, overburn, lead-out [mm]
    speeds : feed on each edge of `path` [mm/s]
    height_control : whether height control is live on each edge of `path`
    pierce_delay : [s]
    pierce_height, cut_height : [mm]
    lead_edges, exit_edges : how many edges of `path` at its start are lead-in, at its end lead-out or overburn
    why : sentences on side, direction, lead, place and speed
    via : places the torch travels over on the way from the last cut to this one, none for a straight rapid [mm]
    also : further (placement, contour) this cut completes, for common-line and chain cuts
    coast_edges : how many edges at the end of `path`, of the exit, the torch runs with its arc out
    burn_time : time from arc start to arc end [s]
    coast_time : time it runs on with the arc out [s]
    kerf : width the path is compensated for [mm]
    tabs : uncut bridges this cut leaves open
    drill : for a mark: the middle of a hole that is left for drilling, `contour` its number
    struck : for a mark: a point struck by a very short arc of the torch, `pierce_delay` long, not drawn by a tool
    pause : what the program waits for before it goes to this cut
    touch : where the torch touches off, if the program does that: ``here`` at the start, ``none``, or a place on metal [mm]
    pierced : False for a cut that starts at a plate edge or goes on without a new pierce
    before : what an earlier run has burned of it, where it is taken up in that kerf [mm]
    """

    kind: Literal["mark", "hole", "outer", "cut-off", "rest"]
    placement: int
    contour: int
    path: Contour
    speeds: tuple[float, ...]
    height_control: tuple[bool, ...]
    pierce_delay: float
    pierce_height: float
    cut_height: float
    lead_edges: int = 0
    exit_edges: int = 0
    why: tuple[str, ...] = ()
    via: tuple[tuple[float, float], ...] = ()
    also: tuple[tuple[int, int], ...] = ()
    burn_time: float = 0.0
    coast_edges: int = 0
    coast_time: float = 0.0
    kerf: float = 0.0
    tabs: tuple[Tab, ...] = ()
    pierced: bool = True
    drill: bool = False
    struck: bool = False
    pause: Pause | None = None
    touch: tuple[float, float] | Literal["here", "none"] = "here"
    before: Contour | None = None

    @property
    def start(self) -> tuple[float, float]:
        """Where the torch is lit [mm]."""
        return float(self.path.rows[0, 0]), float(self.path.rows[0, 1])

    @property
    def end(self) -> tuple[float, float]:
        """Where the torch is put out [mm]."""
        return float(self.path.rows[-1, 0]), float(self.path.rows[-1, 1])

    @property
    def drawn(self) -> bool:
        """Whether a marking tool makes it, so that the torch is not lit."""
        return self.kind == "mark" and not self.struck

    @property
    def lit(self) -> Contour:
        """The stretch of `path` up to the word that puts the torch out [mm]."""
        return Contour(self.path.rows[: len(self.path) - self.coast_edges + 1], closed=False)

    @property
    def beside(self) -> tuple[tuple[float, float], ...]:
        """The place of the touch-off where it is not the start [mm], else nothing."""
        return () if isinstance(self.touch, str) else (self.touch,)

    def torch_ends(self, marker: tuple[float, float]) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return where the torch stands at start and end [mm]: a marking tool's place from it [mm] off the path for a mark."""
        dx, dy = marker if self.drawn else (0.0, 0.0)
        return (self.start[0] - dx, self.start[1] - dy), (self.end[0] - dx, self.end[1] - dy)


def called(cuts: Sequence[Cut], index: int) -> str:
    """Return what the cut at `index` [-] is called: its number among the burns, as the proof counts them; 'm2' for a mark."""
    mark = cuts[index].kind == "mark"
    number = sum((c.kind == "mark") == mark for c in cuts[: index + 1])
    return f"m{number}" if mark else str(number)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnPlan:
    """All cuts of a layout in order, the settings behind them, times and findings.

    Attributes
    ----------
    layout : what is cut
    table : on which table
    row : chart row used (interpolated rows say so in findings)
    cuts : in burning order
    total_time, arc_time : predicted job time and arc-on time [s]
    rapid_length, cut_length : [mm]
    findings : what the planner could not do or wants looked at
    pierces : torch starts [-]
    slow : stretches below four fifths of the feed
    options : the choices the plan was made with
    why : sentences on settings and order
    controller : what the dialect it is planned for does; times, ways and marks are as for that one
    """

    layout: Layout
    table: TableProfile
    row: ChartRow
    cuts: tuple[Cut, ...]
    total_time: float = 0.0
    arc_time: float = 0.0
    rapid_length: float = 0.0
    cut_length: float = 0.0
    findings: tuple[Finding, ...] = ()
    pierces: int = 0
    slow: tuple[SlowStretch, ...] = ()
    options: BurnOptions = field(default_factory=BurnOptions)
    why: tuple[str, ...] = ()
    controller: Controller = field(default_factory=Controller)

    def reaches(self, points: Floats) -> NDArray[np.bool_]:
        """Tell which points of the plate (N, 2) [mm] the torch can be over, where the plate lies."""
        return reached(self.table, self.layout, points)


def reached(table: TableProfile, layout: Layout, points: Floats) -> NDArray[np.bool_]:
    """Tell which points of a layout's plate (N, 2) [mm] a table's torch can be over, where the plate lies."""
    seat = layout.seat
    return inside(table.reach, points if seat is None else seat.points(points))
