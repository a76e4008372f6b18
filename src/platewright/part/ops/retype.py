"""A dimension picked and retyped: a straight edge gets another length, and the edge at one of its ends moves along.

The corner between the two, sharp or rounded, moves along the edge; the edge beside it moves parallel to itself; the corner at
its other end moves along the edge after it. So every direction and every radius stays.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Line, Profile
from platewright.geometry.contour import Floats, signed_area
from platewright.part.inside import refuse_unsound
from platewright.part.model import Part
from platewright.part.ops.steps import operation
from platewright.part.ops.welds import weld_room
from platewright.part.refs import EdgeRef

__all__ = ["set_length"]

SMOOTH = 0.02
"""Edges that meet within this run on in one line, or smoothly [rad]."""


@operation
def set_length(part: Part, *, edge: EdgeRef, length: float, moves: Literal["end", "start"] = "end") -> Part:
    """Return the part with a straight edge of another length; the straight edge beside it moves, rounded corners move along.

    Parameters
    ----------
    edge : the edge [-]
    length : how long it is to be, between its corners' roundings [mm]
    moves : at which of its ends the edge beside it moves, seen along the outline

    Raises
    ------
    InputError
        If the edge is an arc, what follows it is not straight, they run on in one line, or nothing sound is left.
    """
    if not (math.isfinite(length) and length > 0):
        raise InputError(f"An edge {length:g} mm long cannot be.", allowed="above 0 mm")
    contours = list(part.profile.contours())
    try:
        contours[edge.contour] = _moved(
            contours[edge.contour], edge.edge, length, 1 if moves == "end" else -1
        )
        profile = refuse_unsound(Profile(contours[0], tuple(contours[1:])), what="The length")
    except InputError:
        swept = _swept(part, edge, length, 1 if moves == "end" else -1)
        if swept is None:
            raise
        profile = swept
    note = f"One edge made {length:g} mm long."
    return replace(part, profile=profile, notes=(*part.notes, note))


def _moved(contour: Contour, edge: int, length: float, step: int) -> Contour:
    """Return the contour with an edge of another length [mm]; ``step`` is 1 if its end moves, -1 if its start."""
    here = contour.edge(edge)
    if not isinstance(here, Line):
        raise InputError("The edge is an arc.", do="Choose a straight edge.")
    near, beside = _corner(contour, edge, step)
    far, after = _corner(contour, beside, step)
    along, across, on = (_direction(contour.edge(n)) for n in (edge, beside, after))
    normal = np.array([-across[1], across[0]])
    if abs(along @ normal) < SMOOTH:
        raise InputError("The edge beside it runs on in the same line.", do="Choose the other end.")
    if abs(on @ normal) < SMOOTH:
        raise InputError(
            "The edge after the one beside it runs on in the same line.", do="Choose the other end."
        )
    shift = step * (length - here.length()) * along
    rows = contour.rows.copy()
    rows[near, :2] += shift
    rows[far, :2] += (shift @ normal) / (on @ normal) * on
    made = Contour(rows)
    for n in (edge, beside, after):
        if _direction(contour.edge(n)) @ (made.ends[n] - made.starts[n]) <= 0.0:
            raise InputError(
                f"No room: an edge would turn back on itself if this one came out {length:g} mm long.",
                do="Choose the other end.",
            )
    return made


def _swept(part: Part, ref: EdgeRef, length: float, step: int) -> Profile | None:
    """Return the profile with the straight edge beside an edge moved alone, what it sweeps added; None if that gives no such length [mm]."""
    contour = list(part.profile.contours())[ref.contour]
    other = (ref.edge + step) % len(contour)
    here, beside = contour.edge(ref.edge), contour.edge(other)
    if not (isinstance(here, Line) and isinstance(beside, Line)) or length <= here.length():
        return None
    (ax, ay), (bx, by) = _direction(here), _direction(beside)
    outside = 1.0 if (signed_area(contour) > 0) == (ref.contour == 0) else -1.0
    grow = (length - here.length()) * step * (ax * by - ay * bx) * outside
    made = weld_room(part, edges=[(ref.contour, other)], distance=-grow).profile
    edges = list(made.contours())[ref.contour].edges()
    return made if any(isinstance(e, Line) and abs(e.length() - length) <= 0.02 for e in edges) else None


def _corner(contour: Contour, edge: int, step: int) -> tuple[list[int], int]:
    """Return the vertices of the corner at one end of an edge, rounded or not, and the straight edge beyond it.

    Raises
    ------
    InputError
        If no straight edge follows, but an arc that does not round the corner.
    """
    count = len(contour)
    corner, beyond = [(edge + (step > 0)) % count], (edge + step) % count
    arc = contour.edge(beyond)
    if isinstance(arc, Arc) and abs(arc.sweep) < math.pi - SMOOTH:
        first, second = (contour.edge((beyond + n) % count) for n in (-1, 1))
        if max(_bend(first, arc), _bend(arc, second)) < SMOOTH:
            corner.append((beyond + (step > 0)) % count)
            beyond = (beyond + step) % count
    if not isinstance(contour.edge(beyond), Line):
        raise InputError(
            "An arc lies beside it that does not round a corner between straight edges.",
            do="Choose the other end, or an edge between straight ones.",
        )
    return corner, beyond


def _bend(one: Line | Arc, other: Line | Arc) -> float:
    """Return by how much the way turns from one edge to the next [rad]."""
    return abs(math.remainder(other.direction(0.0) - one.direction(1.0), math.tau))


def _direction(edge: Line | Arc) -> Floats:
    """Return the unit vector along a straight edge [-]."""
    angle = edge.direction(0.0)
    return np.array([math.cos(angle), math.sin(angle)])
