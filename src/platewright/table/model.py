"""Facts about the shop's table and torch: the table profile and the cut chart's rows.

These are facts about the machine, not of a plan: layout asks for the reach, the planner and the proof
both read speeds and kerf from here, so that the proof needs nothing of the planner.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ChartRow", "Gantry", "TableProfile"]


@dataclass(frozen=True, slots=True)
class ChartRow:
    """Process settings for one grade, thickness and amperage.

    Attributes
    ----------
    process : "air plasma", "oxy-fuel", …
    grade : a grade of ``stock.grades``
    thickness : [mm]
    amperage : [A]
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


@dataclass(frozen=True, slots=True)
class Gantry:
    """Rectangular reach of a gantry table [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True)
class TableProfile:
    """The table as the planner, the writer and the proof need it.

    Attributes
    ----------
    name : what the shop calls it
    reach : area the torch can be over [mm] (an arm table's ring sector joins this union)
    acceleration : along the path [mm/s²]
    corner_tolerance : how far the path may round a corner [mm]
    rapid_speed, plunge_speed, lift_speed : [mm/s]
    max_cut_speed : fastest feed the table keeps to [mm/s]
    probe_time : touch-off before each pierce [s]
    safe_height : torch height for travel [mm]
    dialect : name of the program dialect it runs
    """

    name: str
    reach: Gantry
    acceleration: float
    corner_tolerance: float
    rapid_speed: float
    plunge_speed: float
    lift_speed: float
    max_cut_speed: float
    probe_time: float
    safe_height: float
    dialect: str
