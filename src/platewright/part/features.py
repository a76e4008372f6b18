"""What a profile has: round holes, slots, straight and curved edges, corners."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.geometry import Contour, Profile, arc_data

__all__ = ["RoundHole", "SlotHole", "as_circle", "as_slot", "round_holes", "slot_holes"]

SAME_CIRCLE = 1e-4
"""Centres and radii closer than this are the same [mm]."""


@dataclass(frozen=True, slots=True)
class RoundHole:
    """A round hole: its number in the profile [-], centre and diameter [mm]."""

    number: int
    x: float
    y: float
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotHole:
    """A slot: its number [-], middle, width and distance of end centres [mm], direction [rad]."""

    number: int
    x: float
    y: float
    width: float
    between: float
    angle: float


def as_circle(contour: Contour, *, same: float = SAME_CIRCLE) -> tuple[float, float, float] | None:
    """Return (x, y, radius) [mm] if every edge is an arc of one circle (within `same` [mm]), else None."""
    arcs = arc_data(contour)
    if not contour.closed or (arcs.sweep == 0).any():
        return None
    weight = np.abs(arcs.sweep) / np.abs(arcs.sweep).sum()
    x, y, r = (
        float(weight @ arcs.centre[:, 0]),
        float(weight @ arcs.centre[:, 1]),
        float(weight @ arcs.radius),
    )
    off = np.hypot(arcs.centre[:, 0] - x, arcs.centre[:, 1] - y)
    whole = abs(abs(float(arcs.sweep.sum())) - math.tau) < 1e-6
    return (x, y, r) if whole and off.max() < same and np.abs(arcs.radius - r).max() < same else None


def as_slot(contour: Contour) -> tuple[float, float, float, float, float] | None:
    """Return (x, y, width, between, angle) [mm, rad] of a straight slot, else None."""
    arcs = arc_data(contour)
    if not contour.closed or len(arcs.sweep) != 4:
        return None
    first = int(arcs.sweep[0] == 0)
    ends, sides = [first, first + 2], [1 - first, 3 - first]
    if (arcs.sweep[ends] == 0).any() or (arcs.sweep[sides] != 0).any():
        return None
    if (np.abs(np.abs(arcs.sweep[ends]) - math.pi) > 1e-6).any() or abs(
        arcs.radius[ends[0]] - arcs.radius[ends[1]]
    ) > SAME_CIRCLE:
        return None
    a, b = arcs.centre[ends[0]], arcs.centre[ends[1]]
    middle, run = (a + b) / 2, b - a
    angle = math.remainder(math.atan2(run[1], run[0]), math.pi)
    return float(middle[0]), float(middle[1]), 2 * float(arcs.radius[ends[0]]), float(np.hypot(*run)), angle


def round_holes(profile: Profile) -> list[RoundHole]:
    """Return the round holes of a profile [mm]."""
    found = []
    for number, contour in enumerate(profile.holes):
        if (circle := as_circle(contour)) is not None:
            found.append(RoundHole(number, circle[0], circle[1], 2 * circle[2]))
    return found


def slot_holes(profile: Profile) -> list[SlotHole]:
    """Return the straight slots of a profile [mm, rad]."""
    found = []
    for number, contour in enumerate(profile.holes):
        if (one := as_slot(contour)) is not None:
            x, y, width, between, angle = one
            found.append(SlotHole(number=number, x=x, y=y, width=width, between=between, angle=angle))
    return found
