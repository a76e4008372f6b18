"""Common lines: two copies of a part joined back to back, a kerf apart along a straight edge, laid as one piece.

Method: of the part's straight edges that the whole part lies behind, the one is taken whose twin has the smallest hull
(of equals the longest); the second copy is the first turned by half about the middle of that edge and moved out by the
kerf. The two outlines, joined across the kerf, are one outline for the search. Twins that find no room are parted again.

Assumptions: a half turn is allowed. Limits: pairs only, copies of one part and hand and rank; parts whose edges are all
short, or pass behind one another, have no twin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.geometry import Contour, Floats, Pose
from platewright.layout.problem import Packed, Spot
from platewright.layout.shape.convex_kernels import hull
from platewright.layout.shape.loops import Loops, loops_area

__all__ = ["SHORTEST", "Unit", "opened", "twin_pose", "twinned", "units_of"]

SHORTEST = 30.0
"""Shortest edge worth sharing [mm]: three times what the burn plan asks of a common line."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One piece of the search: a copy, or two with the second's pose in the first one's frame [mm, rad]."""

    first: int
    second: int = -1
    pose: Pose = Pose()


def twin_pose(contour: Contour, outer: Floats, kerf: float) -> Pose | None:
    """Return where the twin of a counterclockwise outline lies, a kerf away [mm, rad]; None if it has none.

    Parameters
    ----------
    contour, outer : the true outline, and the polygon that holds it
    kerf : [mm]
    """
    lines = contour.bulges == 0
    best: tuple[float, float] = (math.inf, 0.0)
    found: Pose | None = None
    for a, b in zip(contour.starts[lines], contour.ends[lines], strict=True):
        long = float(np.hypot(*(b - a)))
        if long < SHORTEST:
            continue
        out = np.array([b[1] - a[1], a[0] - b[0]]) / long
        if float(((outer - a) @ out).max()) > 1e-9:
            continue
        middle = a + b + kerf * out
        pose = Pose(float(middle[0]), float(middle[1]), math.pi)
        whole = loops_area((hull(np.vstack([outer, middle - outer])),)) - kerf * long
        key = (round(whole, 3), -long)
        if key < best:
            best, found = key, pose
    return found


def twinned(raw: Loops, pose: Pose) -> Loops:
    """Return the loops of a part and its twin as one outline with their holes [mm]; the kerf between them is filled."""
    other = tuple(np.array([pose.x, pose.y]) - p for p in raw)
    outer = raw[0]
    away = np.hypot(*(np.roll(outer, -1, axis=0) + outer - (pose.x, pose.y)).T)
    edge = int(
        np.argmin(np.abs(away - away.min()))
    )  # the edge whose middle lies nearest to the middle between the two
    one, two = np.roll(outer, -edge - 1, axis=0), np.roll(other[0], -edge - 1, axis=0)
    return (np.vstack([one, two]), *raw[1:], *other[1:])


def units_of(kinds: Sequence[tuple[object, Pose | None]], parted: Sequence[int] = ()) -> tuple[Unit, ...]:
    """Return copies two by two where copies of one kind have a twin's pose [-], the others one by one.

    Parameters
    ----------
    kinds : of each copy what makes it like others, and its twin's pose [mm, rad]
    parted : copies that stay alone
    """
    waiting: dict[object, int] = {}
    second: dict[int, int] = {}
    for i, (kind, pose) in enumerate(kinds):
        if pose is None or i in parted:
            continue
        if kind in waiting:
            second[waiting.pop(kind)] = i
        else:
            waiting[kind] = i
    taken = set(second.values())
    out = []
    for i, (_, pose) in enumerate(kinds):
        if i in second and pose is not None:
            out.append(Unit(i, second[i], pose))
        elif i not in taken:
            out.append(Unit(i))
    return tuple(out)


def opened(units: Sequence[Unit], packed: Packed) -> Packed:
    """Return a packing of units as one of copies [mm, rad]."""
    spots = []
    for s in packed.spots:
        unit = units[s.piece]
        spots.append(Spot(unit.first, s.x, s.y, s.angle))
        if unit.second >= 0:
            pose = Pose(s.x, s.y, s.angle).after(unit.pose)
            spots.append(Spot(unit.second, pose.x, pose.y, pose.angle))
    return Packed(tuple(sorted(spots, key=lambda s: s.piece)), packed.steps)
