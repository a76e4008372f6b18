"""Facts about the shop's table and torch: the table profile and the cut chart's rows.

These are facts about the machine, not of a plan: layout asks for the reach, the planner and the proof
both read speeds and kerf from here, so that the proof needs nothing of the planner.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal

from platewright.errors import InputError

__all__ = ["AirSupply", "Arm", "ChartRow", "Consumables", "Gantry", "PowerSource", "Reach", "TableProfile"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """Process settings for one grade, thickness and amperage.

    Attributes
    ----------
    process : "air plasma", "oxy-fuel", …
    grade : a grade of ``materials.grades``
    thickness : [mm]
    amperage : [A]; 0 for a flame
    kerf : kerf width at cut speed [mm]
    cut_speed : [mm/s]
    cut_height, pierce_height : torch above plate [mm]
    pierce_delay : [s]
    arc_voltage : [V]
    air_pressure : [kPa]
    air_flow : free air [L/min]
    post_flow : [s]
    smallest_hole : smallest diameter that cuts well [mm]
    edge_slope : expected perpendicularity deviation u of ISO 9013 [mm]
    lead : lead-in length [mm]
    hole_speed_factor : cut speed in small holes over cut speed [-]
    starting_point : True for computed rows, to be replaced by the shop's own coupon results
    kerf_hole : kerf at hole speed [mm], 0 where it was not measured (see ``law``)
    kerf_slow : kerf at half the cut speed [mm], 0 where it was not measured
    edge_start_only : thicker than this amperage pierces: every cut must start at the plate's edge
    note : where the numbers come from, in words: what was measured, when, and what it was before
    """

    process: str
    grade: str
    thickness: float
    amperage: float
    kerf: float
    cut_speed: float
    cut_height: float
    pierce_height: float
    pierce_delay: float
    arc_voltage: float
    air_pressure: float
    air_flow: float
    post_flow: float
    smallest_hole: float
    edge_slope: float
    lead: float
    hole_speed_factor: float = 0.6
    starting_point: bool = True
    kerf_hole: float = 0.0
    kerf_slow: float = 0.0
    note: str = ""
    edge_start_only: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values in house units [mm, mm/s, s, A, V, kPa, L/min]."""
        return asdict(self)

    @staticmethod
    def from_dict(document: Mapping[str, Any]) -> ChartRow:
        """Read what `as_dict` wrote [mm, mm/s, s, A, V, kPa, L/min]."""
        known = {f.name for f in fields(ChartRow)}
        try:
            return ChartRow(**{k: v for k, v in document.items() if k in known})
        except TypeError as bad:
            raise InputError(f"The chart row document cannot be read: {bad}.") from bad


@dataclass(frozen=True, slots=True)
class Gantry:
    """Rectangular reach of a gantry table [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Arm:
    """Reach of a two-link arm: a ring sector about its base.

    Attributes
    ----------
    x, y : base of the arm [mm]
    first, second : lengths of the two links [mm]
    inner, outer : radii it may work between [mm]; within |first - second| and first + second
    start_angle, end_angle : sector, counterclockwise from start to end [rad]
    first_speed, second_speed : fastest turn of shoulder and elbow [rad/s]
    elbow : to which side of the line from base to torch the elbow lies
    """

    x: float
    y: float
    first: float
    second: float
    inner: float
    outer: float
    start_angle: float
    end_angle: float
    first_speed: float
    second_speed: float
    elbow: Literal["left", "right"] = "right"


Reach = Gantry | Arm


@dataclass(frozen=True, slots=True)
class PowerSource:
    """What the power source can keep up (IEC 60974-1: duty within 10 minutes).

    Attributes
    ----------
    rated_amperage : current the duty is given for [A]
    duty : part of any 10 minutes the arc may burn at that current [-]
    most_amperage : highest setting [A]
    """

    rated_amperage: float
    duty: float
    most_amperage: float


@dataclass(frozen=True, slots=True)
class AirSupply:
    """The compressor behind the torch.

    Attributes
    ----------
    free_air : delivery [L/min of free air]
    tank : receiver volume [L]
    cut_in, cut_out : gauge pressures the pump starts and stops at [kPa]
    """

    free_air: float
    tank: float
    cut_in: float
    cut_out: float


@dataclass(frozen=True, slots=True)
class Consumables:
    """How long a tip and electrode last: whichever comes first.

    Attributes
    ----------
    pierces : number of pierces [-]
    arc_seconds : arc-on time [s]
    """

    pierces: float
    arc_seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TableProfile:
    """The table as the planner, the writer and the proof need it.

    Attributes
    ----------
    name : what the shop calls it
    reach : area the torch can be over [mm]
    acceleration : along the path [mm/s²]
    corner_tolerance : how far the path may round a corner [mm]
    rapid_speed, plunge_speed, lift_speed : [mm/s]
    max_cut_speed : fastest feed the table keeps to [mm/s]
    probe_time : touch-off before each pierce [s]
    safe_height : torch height for travel [mm]
    dialect : name of the program dialect it runs
    jerk : limit of the change of acceleration [mm/s³], None if the controller has none
    z_acceleration : of the torch lifter [mm/s²]
    height_control : whether a height control is fitted
    off_delay : how long the arc burns on after the word that puts it out [s]; 0 where that is not known
    swirl : which way the torch's gas turns seen from above; the good side lies right of travel for clockwise
    over_water : whether the plate lies over a water tray
    source, air, consumables : None where the shop has not said
    """

    name: str
    reach: Reach
    acceleration: float
    corner_tolerance: float
    rapid_speed: float
    plunge_speed: float
    lift_speed: float
    max_cut_speed: float
    probe_time: float
    safe_height: float
    dialect: str
    jerk: float | None = None
    z_acceleration: float = 300.0
    height_control: bool = True
    off_delay: float = 0.0
    swirl: Literal["clockwise", "counterclockwise"] = "clockwise"
    over_water: bool = True
    source: PowerSource | None = None
    air: AirSupply | None = None
    consumables: Consumables | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values in house units [mm, mm/s, mm/s², s, rad, A, L/min, L, kPa]."""
        kind = "arm" if isinstance(self.reach, Arm) else "gantry"
        return asdict(self) | {"reach": {"kind": kind} | asdict(self.reach)}

    @staticmethod
    def from_dict(document: Mapping[str, Any]) -> TableProfile:
        """Read what `as_dict` wrote [mm, mm/s, mm/s², s, rad, A, L/min, L, kPa]."""
        values = dict(document)
        try:
            reach = dict(values.pop("reach"))
            shape = {"arm": Arm, "gantry": Gantry}[reach.pop("kind", "gantry")]
            for key, made in (("source", PowerSource), ("air", AirSupply), ("consumables", Consumables)):
                if values.get(key) is not None:
                    values[key] = made(**values[key])
            return TableProfile(reach=shape(**reach), **values)
        except (KeyError, TypeError) as bad:
            raise InputError(f"The table document cannot be read: {bad}.") from bad
