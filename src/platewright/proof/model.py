"""What a proof is: verdict, pieces as cut, deviations, times, findings."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, Verdict
from platewright.geometry import Floats

__all__ = ["Deviation", "Piece", "Proof", "ProofOptions"]

PieceKind = Literal["part", "held", "piece", "slug", "sliver", "skeleton", "drop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofOptions:
    """Allowances of the proof.

    Attributes
    ----------
    look, stop : deviation from the part asked for that a person should look at, and that stops the job [mm]
    edge_slack : how far the torch may cut past the plate's edge [mm]
    least_web : thinnest strip of metal that survives between two kerfs, as a multiple of the thickness [-]
    tiny : moves shorter than this starve a controller [mm]
    tiny_run : that many in a row [-]
    least_travel : how far above the plate travel must be to clear tipped-up metal [mm]
    feed_off : feed this far from the chart's is named, as a part of it [-]
    slat_pitch : distance between the slats that carry the plate [mm]
    plate_shift, plate_turn : how far the plate may lie off where the program thinks [mm] [rad]
    small_hole : holes up to this many thicknesses across are small: height control should be frozen [-]
    as_cut_chord : chord error of the polygons that decide topology; results are put back on true edges [mm]
    block_delete : how the controller's switch for / lines stands
    name : job name for the report
    """

    look: float = 0.3
    stop: float = 0.5
    edge_slack: float = 10.0
    least_web: float = 0.5
    tiny: float = 0.05
    tiny_run: int = 20
    least_travel: float = 5.0
    feed_off: float = 0.1
    slat_pitch: float = 75.0
    plate_shift: float = 1.0
    plate_turn: float = 0.002
    small_hole: float = 3.0
    as_cut_chord: float = 0.005
    block_delete: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.look <= self.stop:
            raise InputError(
                f"The allowances are {self.look} and {self.stop} mm.", allowed="0 < look <= stop"
            )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Deviation:
    """How one contour as cut lies off the one asked for: positive where metal stands proud, negative where it is gone.

    Attributes
    ----------
    contour : 0 for the outer, 1… for holes
    points : (M, 2) along the edge as cut, then along the edge asked for [mm]
    values : (M,) signed deviation there [mm], less what a round kerf cannot reach in inside corners
    weights : (M,) length of edge each point stands for [mm]
    edge : how many of the points lie along the edge as cut, in order [-]
    high, low : largest proud and deepest missing [mm], low not positive
    worst : largest absolute deviation [mm]
    p95 : absolute deviation that 95 % of the edge's length keeps within [mm]
    median : along the edge as cut [mm]
    worst_at : where [mm]
    kept : most metal that a round kerf, or the rounding asked for, leaves in an inside corner [mm]
    kept_at : where [mm]
    gone : deepest missing but for the tips of sharp outside corners, which any slow corner blunts [mm], not positive
    """

    contour: int
    points: Floats
    values: Floats
    weights: Floats
    edge: int
    high: float
    low: float
    worst: float
    p95: float
    median: float
    worst_at: tuple[float, float]
    kept: float
    kept_at: tuple[float, float]
    gone: float

    @property
    def grave(self) -> float:
        """Largest deviation that counts against the part [mm]: proud, or gone from more than a sharp corner's tip."""
        return max(self.high, -self.gone)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values [mm], without the point list."""
        return {
            "contour": self.contour,
            "high_mm": round(self.high, 4),
            "low_mm": round(self.low, 4),
            "max_mm": round(self.worst, 4),
            "p95_mm": round(self.p95, 4),
            "median_mm": round(self.median, 4),
            "worst_at_mm": [round(v, 3) for v in self.worst_at],
            "corner_mm": round(self.kept, 4),
        }


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Piece:
    """One piece of metal left when the program is done.

    Attributes
    ----------
    kind : ``part`` (asked for), ``held`` (a part still on its tabs), ``piece`` (nobody asked), ``slug`` (out of a hole), ``sliver``, ``skeleton``, ``drop``
    name : label of the placement; ``offcut`` or ``skeleton`` for what nobody asked for
    placement : index into the layout's placements, or None
    outer : (M, 2) edge as cut, counterclockwise [mm]
    holes : edges of its holes, clockwise [mm]
    area : [mm²]
    loose_after : number of the burn that frees it, from 1; None for the skeleton
    order : running number among the loose pieces, from 1, None for the skeleton
    deviations : against what was asked, the outer first
    """

    kind: PieceKind
    name: str
    placement: int | None
    outer: Floats
    holes: tuple[Floats, ...]
    area: float
    loose_after: int | None = None
    order: int | None = None
    deviations: tuple[Deviation, ...] = ()

    @property
    def worst(self) -> float | None:
        """Largest deviation of all its contours [mm], None if nothing was asked."""
        return max((d.worst for d in self.deviations), default=None)

    @property
    def p95(self) -> float | None:
        """Largest of its contours' p95 [mm], None if nothing was asked."""
        return max((d.p95 for d in self.deviations), default=None)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values [mm, mm²]; the edges as point lists."""
        return {
            "kind": self.kind,
            "name": self.name,
            "placement": self.placement,
            "area_mm2": round(self.area, 3),
            "loose_after_cut": self.loose_after,
            "order": self.order,
            "outer_mm": np.round(self.outer, 3).tolist(),
            "holes_mm": [np.round(h, 3).tolist() for h in self.holes],
            "deviations": [d.as_dict() for d in self.deviations],
        }


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Proof:
    """What a program's text will cut.

    Attributes
    ----------
    verdict : ``go``, ``look`` or ``stop``
    pieces : parts first, then what else comes loose, the skeleton last
    findings : gravest first
    uncut : lengths of asked edges the torch never parts, label and [mm]
    burns : number of times the torch is lit
    time, arc_time : predicted job time and torch-on time [s]
    cut_length, travel_length : [mm]
    kerf : kerf width taken [mm]
    paths : torch-on paths as point lists, in order [mm]
    plate : outline of the plate or of the place cut [mm]
    plate_holes : old holes [mm]
    program_sha256 : of the text proven
    messages : what the program says to the operator
    lines : number of lines
    name : job name
    """

    verdict: Verdict
    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...]
    uncut: tuple[tuple[str, float], ...]
    burns: int
    time: float
    arc_time: float
    cut_length: float
    travel_length: float
    kerf: float
    paths: tuple[Floats, ...]
    plate: Floats
    plate_holes: tuple[Floats, ...]
    program_sha256: str
    messages: tuple[str, ...] = ()
    lines: int = 0
    name: str = ""
    keepouts: tuple[Floats, ...] = field(default=())

    @property
    def exit_code(self) -> int:
        """1 for stop, 0 otherwise [-]: what the command line ends with."""
        return 1 if self.verdict == "stop" else 0

    @property
    def covers(self) -> str:
        """What the verdict rests on, as a sentence [mm]."""
        worst = max((p.worst for p in self.pieces if p.worst is not None), default=None)
        if worst is None:
            return "No part was asked for, so no edge was compared."
        within = max(0.05, math.ceil(worst * 20) / 20)
        held = f"Every edge lies within {within:.2f} mm of what was asked, if the kerf is {self.kerf:.2f} mm as the chart says"
        kept = max((d.kept for p in self.pieces for d in p.deviations), default=0.0)
        corners = (
            f"; inside corners keep up to {kept:.1f} mm, which no round kerf can reach" if kept > 0.05 else ""
        )
        return f"{held}{corners}."

    def parts(self) -> tuple[Piece, ...]:
        """Return the pieces that were asked for, those still held by tabs included."""
        return tuple(p for p in self.pieces if p.kind in ("part", "held"))
