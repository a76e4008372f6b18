"""A dimension picked and retyped: a straight edge gets another length, and the edge at one of its ends moves along."""

from __future__ import annotations

import math
from typing import Literal

from platewright.errors import InputError
from platewright.geometry import Line
from platewright.geometry.contour import signed_area
from platewright.part.model import Part
from platewright.part.ops.steps import operation, recorded
from platewright.part.ops.welds import weld_room
from platewright.part.refs import EdgeRef, Said, edge_refs

__all__ = ["set_length"]

SLACK = 0.02
"""How far the length may miss what was asked [mm]; beyond it the neighbours did not follow."""


@operation("set_length")
def set_length(
    part: Part, *, edge: Said | EdgeRef, length: float, moves: Literal["end", "start"] = "end"
) -> Part:
    """Return the part with a straight edge of another length; the straight edge beside it moves, all others stay.

    Parameters
    ----------
    part : the part
    edge : the edge [-]
    length : how long it is to be [mm]
    moves : at which of its ends the edge beside it moves, seen along the outline

    Raises
    ------
    InputError
        If the edge or the one beside it is an arc, they run on in one line, or nothing sound is left.
    """
    (ref,) = edge_refs(part.profile, [edge])
    contour = list(part.profile.contours())[ref.contour]
    count = len(contour)
    other = (ref.edge + (1 if moves == "end" else -1)) % count
    here, beside = contour.edge(ref.edge), contour.edge(other)
    if not (isinstance(here, Line) and isinstance(beside, Line)):
        raise InputError(
            "The edge, or the one beside it, is an arc.",
            do="Choose the other end, or an edge between straight ones; a rounded corner can be set after.",
        )
    if not (math.isfinite(length) and length > 0):
        raise InputError(f"An edge {length:g} mm long cannot be.", allowed="above 0 mm")
    (ax, ay), (bx, by) = _along(here), _along(beside)
    sine = ax * by - ay * bx if moves == "end" else bx * ay - by * ax
    if abs(sine) < 0.02:
        raise InputError("The edge beside it runs on in the same line.", do="Choose the other end.")
    outside = 1.0 if (signed_area(contour) > 0) == (ref.contour == 0) else -1.0
    grow = (length - here.length()) * sine * outside
    made = weld_room(part, edges=[(ref.contour, other)], distance=-grow)
    _held(made, ref, length, moves)
    inputs = {"edge": ref.as_dict(), "length": float(length), "moves": moves}
    note = f"One edge made {length:g} mm long."
    return recorded(part, "set_length", inputs, profile=made.profile, notes=(*part.notes, note))


def _along(line: Line) -> tuple[float, float]:
    dx, dy = line.end.x - line.start.x, line.end.y - line.start.y
    size = math.hypot(dx, dy) or 1.0
    return dx / size, dy / size


def _held(made: Part, ref: EdgeRef, length: float, moves: str) -> None:
    """Refuse a result in which no edge has the length that was asked for [mm]."""
    contour = list(made.profile.contours())[ref.contour]
    if not any(isinstance(e, Line) and abs(e.length() - length) <= SLACK for e in contour.edges()):
        raise InputError(
            f"No edge comes out {length:g} mm long: its neighbours do not follow.",
            do="Choose the other end" + (" (start)." if moves == "end" else " (end)."),
        )
