"""How long the steps round a cut take: travel, touch-off, down, up. Planner and proof count by these alone.

A touch-off costs the table's own time, the way down in it included where the program probes. Where the program does
not probe, the table touches off by itself each time the torch is lit, after the program's own way down.
"""

from __future__ import annotations

import math

from platewright.errors import InputError
from platewright.geometry import Contour
from platewright.table.controller import Controller
from platewright.table.model import Arm, TableProfile
from platewright.table.motion import move_time, timed

__all__ = [
    "own_touch_offs", "rapid_time", "rise_time", "to_cut_height", "to_light", "to_travel", "travel_height",
]  # fmt: skip


def rapid_time(table: TableProfile, start: tuple[float, float], end: tuple[float, float]) -> float:
    """Return the time [s] of one straight rapid from rest to rest [mm].

    An arm is held to its joints; where it cannot go straight, past its base, it is timed as a gantry.
    """
    if start == end:
        return 0.0
    if isinstance(table.reach, Arm):
        try:
            return timed(Contour.from_points([start, end], closed=False), table.rapid_speed, table).total
        except InputError:
            pass
    way = math.dist(start, end)
    return move_time(way, speed=table.rapid_speed, acceleration=table.acceleration, jerk=table.jerk)


def rise_time(table: TableProfile, way: float, *, feed: float = math.inf) -> float:
    """Return the time [s] of a move of the lifter, up where the way [mm] is positive, at most at a feed [mm/s]."""
    if way == 0:
        return 0.0
    speed = min(feed, table.lift_speed if way > 0 else table.plunge_speed)
    return move_time(abs(way), speed=speed, acceleration=table.z_acceleration)


def travel_height(table: TableProfile, controller: Controller) -> float:
    """Return how high the program is sure to lift the torch over the plate for travel [mm]: 0 where it lifts nothing."""
    return table.safe_height if controller.lifts else 0.0


def own_touch_offs(table: TableProfile, *, probes: int, lights: int) -> float:
    """Return the time [s] of the touch-offs the table makes by itself: one each lighting where the program has none [-]."""
    return 0.0 if probes else table.probe_time * lights


def to_light(
    table: TableProfile,
    controller: Controller,
    pierce_height: float,
    *,
    touch: str | tuple[float, float] = "here",
) -> float:
    """Return the time [s] of all but travel between arriving for a cut and the torch being lit at a height [mm].

    Parameters
    ----------
    table, controller : facts
    pierce_height : [mm]
    touch : where the program touches off, if it does: ``here``, ``none``, or a place from which the torch comes up again
    """
    if not controller.lifts:
        return table.probe_time
    down = rise_time(table, pierce_height - table.safe_height)
    if not controller.touches:
        return down + table.probe_time
    if touch == "none":
        return down
    if touch == "here":
        return table.probe_time + rise_time(table, pierce_height - controller.gauge)
    return table.probe_time + rise_time(table, table.safe_height - controller.gauge) + down


def to_cut_height(
    table: TableProfile, controller: Controller, pierce_height: float, cut_height: float
) -> float:
    """Return the time [s] from the height of the pierce [mm] to that of the cut [mm]."""
    return rise_time(table, cut_height - pierce_height) if controller.lifts else 0.0


def to_travel(table: TableProfile, controller: Controller, height: float) -> float:
    """Return the time [s] from a height [mm] up to the height of travel."""
    return rise_time(table, table.safe_height - height) if controller.lifts else 0.0
