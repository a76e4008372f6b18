"""The interactive core for the page: is this place legal, and where is the nearest legal one.

Method: for a part held at one turn, the places its origin may not take are the Minkowski differences of everything
else with it (neighbours grown by the clearance, the outside of the free room). Their union is made once when the
part is picked up or turned (``Drag``); each pointer move then asks one point-in-loops test and, if that fails, the
nearest point of the union's edge: microseconds. Covers are outward-safe, so a legal answer passes the exact check.

Cost: some milliseconds a neighbour on picking up. Limits: the nearest place is in the plane of places, through
other parts if need be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Floats, Pose
from platewright.layout.model import Layout
from platewright.layout.problem import pack_loops
from platewright.layout.shape import kernels
from platewright.layout.shape.forbidden import outside_of, overlapping_shifts, solid_of
from platewright.layout.shape.loops import grown, joined, turned
from platewright.layout.shape.reach import Reach, reached
from platewright.layout.shape.room import free_room, mirrored, shape_of

__all__ = ["Drag", "Spotted", "pick_up"]

PUSH = 0.002
"""How far beyond the edge of the forbidden places an answer is put [mm]."""


@dataclass(frozen=True, slots=True)
class Spotted:
    """An answer for one pointer place: whether it is legal, and the nearest legal pose (None if there is none) [mm, rad]."""

    legal: bool
    nearest: Pose | None


@dataclass(frozen=True, slots=True, eq=False)
class Drag:
    """A part in the hand: its turn, and the places its origin may not take."""

    angle: float
    mirrored: bool
    points: Floats
    starts: np.ndarray[tuple[int], np.dtype[np.int64]]

    def at(self, x: float, y: float) -> Spotted:
        """Return whether the origin may lie at (x, y) [mm], and the nearest pose where it may."""
        if not (math.isfinite(x) and math.isfinite(y)):
            raise InputError("The pointer is not at a finite place.")
        pose = Pose(x, y, self.angle, self.mirrored)
        if not kernels.point_in(self.points, self.starts, x, y):
            return Spotted(True, pose)
        nx, ny = kernels.nearest_free(self.points, self.starts, x, y, PUSH)
        if math.isnan(nx):
            return Spotted(False, None)
        return Spotted(False, Pose(nx, ny, self.angle, self.mirrored))


def pick_up(
    layout: Layout,
    index: int,
    *,
    angle: float | None = None,
    mirror: bool | None = None,
    reach: Reach | None = None,
) -> Drag:
    """Take placement `index` in the hand.

    Parameters
    ----------
    layout : the layout it is part of
    index : which placement [-]
    angle : a new turn [rad]; as it lies if None
    mirror : other hand or not; as it lies if None
    reach : what the torch reaches on the table [mm]
    """
    if not 0 <= index < len(layout.placements):
        raise InputError(f"There is no placement {index}.", allowed=f"0 to {len(layout.placements) - 1}")
    held = layout.placements[index]
    turn = held.pose.angle if angle is None else angle
    flip = held.pose.mirrored if mirror is None else mirror
    profile = layout.parts[held.part].profile
    mine = solid_of(turned(shape_of(mirrored(profile) if flip else profile), turn))
    area = None if reach is None or layout.seat is None else reached(reach, layout.seat)
    room = free_room(layout.plate, layout.keepouts, layout.clearance, area)
    taken = list(outside_of(room, mine))
    for other, (place, _, placed) in enumerate(layout.placed()):
        if other != index:
            gap = layout.clearance.between(held.part, place.part)
            taken += overlapping_shifts(solid_of(grown(shape_of(placed), gap)), mine)
    points, starts = pack_loops(joined(taken))
    return Drag(turn, flip, points, starts)
