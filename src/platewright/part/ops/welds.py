"""Weld room: chosen edges set back (or grown) so that the bead has a place to lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from platewright.errors import InputError
from platewright.geometry import Profile
from platewright.part.model import Part
from platewright.part.ops.inputs import EVERY
from platewright.part.ops.steady import steady
from platewright.part.ops.steps import operation
from platewright.part.refs import EdgeRef
from platewright.part.rules.welds import Leg, propose_leg

__all__ = ["propose_room", "weld_room"]

SHARP = 12.0
"""An edge may run on this many set-backs to meet its neighbour [-]: neighbours that turn 5 degrees or more join cleanly."""


@operation
def weld_room(
    part: Part,
    *,
    edges: tuple[EdgeRef, ...] = EVERY,
    distance: float | tuple[float, ...],
) -> Part:
    """Return the part with edges set back by the leg of the fillet that will go there.

    Neighbouring edges are trimmed or run on until they meet; edges not named stay where they are. A straight
    edge set back runs on through a rounded corner beside it; nothing of the rounding is left standing.

    Parameters
    ----------
    edges : (contour, edge) pairs [-] or references; None is every edge of the outline. An edge of a hole
        set back makes the hole bigger
    distance : set-back [mm], one for all edges or one for each; negative grows the edge

    Raises
    ------
    InputError
        If nothing is left, or the part falls apart.
    """
    from platewright.geometry.regions.offset import offset_edges

    each = distance if isinstance(distance, tuple) else (distance,) * len(edges)
    if len(each) != len(edges):
        raise InputError(
            f"{len(edges)} edges need {len(edges)} distances, got {len(each)}.",
            do="Give one distance, or one for each edge.",
        )
    table = [[0.0] * len(c) for c in part.profile.contours()]
    for ref, back in zip(edges, each, strict=True):
        table[ref.contour][ref.edge] = -back
    pieces = offset_edges(
        part.profile, [row if any(row) else 0.0 for row in table], corners="sharp", sharp_limit=SHARP
    )
    shown = f"{max(each, key=abs):g} mm"
    profile = steady(part.profile, whole(pieces, f"Weld room of {shown}"))
    note = f"Weld room: {len(edges)} edges set back by {', '.join(f'{d:g}' for d in sorted(set(each)))} mm."
    return replace(part, profile=profile, notes=(*part.notes, note))


def whole(pieces: Sequence[Profile], what: str) -> Profile:
    """Return the one profile [mm] an operation left, or refuse with a sentence."""
    if not pieces:
        raise InputError(f"{what} leaves nothing of the part.", do="Use less.")
    if len(pieces) > 1:
        raise InputError(
            f"{what} cuts the part into {len(pieces)} pieces.",
            do="Use less, or leave out the edges beside the narrow place.",
        )
    return pieces[0]


def propose_room(part: Part, other: float | None = None, *, along_edge: bool = False) -> Leg:
    """Propose the leg [mm], which is the weld room, for this part against a plate of another thickness [mm]."""
    return propose_leg(part.thickness, other, along_edge=along_edge)
