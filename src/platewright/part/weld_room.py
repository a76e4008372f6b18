"""Weld room: chosen edges set back (or grown) so that the bead has a place to lie."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Line, Point, Profile
from platewright.part.clip import clipped
from platewright.part.model import Part
from platewright.part.refs import EdgeRef, Said, edge_refs, turn_at
from platewright.part.steady import steady
from platewright.part.steps import operation, recorded
from platewright.part.welds import Leg, propose_leg

__all__ = ["propose_room", "weld_room"]

SHARP = 12.0
"""An edge may run on this many set-backs to meet its neighbour [-]: neighbours that turn 5 degrees or more join cleanly."""


@operation("weld_room")
def weld_room(
    part: Part,
    *,
    distance: float | Sequence[float],
    edges: Iterable[Said | EdgeRef] | None = None,
) -> Part:
    """Return the part with edges set back by the leg of the fillet that will go there.

    Neighbouring edges are trimmed or run on until they meet; edges not named stay where they are. A straight
    edge set back runs on through a rounded corner beside it; nothing of the rounding is left standing.

    Parameters
    ----------
    part : the part
    distance : set-back [mm], one for all edges or one for each; negative grows the edge
    edges : (contour, edge) pairs [-] or references; None is every edge of the outline. An edge of a hole
        set back makes the hole bigger

    Raises
    ------
    InputError
        If nothing is left, or the part falls apart.
    """
    from platewright.geometry.offset import offset_edges

    refs = edge_refs(part.profile, edges)
    each = [float(d) for d in distance] if isinstance(distance, Sequence) else [float(distance)] * len(refs)
    if len(each) != len(refs):
        raise InputError(
            f"{len(refs)} edges need {len(refs)} distances, got {len(each)}.",
            do="Give one distance, or one for each edge.",
        )
    table = [[0.0] * len(c) for c in part.profile.contours()]
    for ref, back in zip(refs, each, strict=True):
        table[ref.contour][ref.edge] = -back
    pieces = offset_edges(
        part.profile, [row if any(row) else 0.0 for row in table], corners="sharp", sharp_limit=SHARP
    )
    shown = f"{max(each, key=abs):g} mm"
    profile = whole(_without_caps(part.profile, pieces, refs, each), f"Weld room of {shown}")
    for ref in refs:
        profile = _without_slivers(part.profile, profile, ref, table)
    profile = steady(part.profile, profile)
    inputs = {"edges": [r.as_dict() for r in refs], "distance": each}
    note = f"Weld room: {len(refs)} edges set back by {_said(each)} mm."
    return recorded(part, "weld_room", inputs, profile=profile, notes=(*part.notes, note))


def _without_caps(
    before: Profile, pieces: Sequence[Profile], refs: Sequence[EdgeRef], each: Sequence[float]
) -> list[Profile]:
    """Drop pieces that lie wholly beyond the new line of a straight edge, beside its ends.

    They are what is left of a rounded corner that turns past the square (tangent to the next arc): the new
    line cuts its cap off. A piece with metal on the part's side of every new line is kept, and refused later.
    """
    contours = list(before.contours())

    def is_cap(piece: Profile) -> bool:
        for ref, back in zip(refs, each, strict=True):
            edge = contours[ref.contour].edge(ref.edge)
            if not isinstance(edge, Line) or back <= 0:
                continue
            inward = ((edge.end - edge.start) * (1 / edge.length())).left()
            spots = [Point(float(x), float(y)) for x, y in piece.outer.points]
            beside = (
                contours[ref.contour].edge((ref.edge + k) % len(contours[ref.contour])) for k in (-1, 1)
            )
            reach = 2 * max((e.radius for e in beside if isinstance(e, Arc)), default=0.0)
            if all(
                (p - edge.start).dot(inward) <= back + 1e-6
                and min(p.distance(edge.start), p.distance(edge.end)) <= reach
                for p in spots
            ):
                return True
        return False

    return list(pieces) if len(pieces) == 1 else [p for p in pieces if not is_cap(p)]


def _without_slivers(before: Profile, after: Profile, ref: EdgeRef, table: list[list[float]]) -> Profile:
    """Take off what a straight edge set back leaves of the round corners beside it.

    An offset moves an edge square to itself, so a tangent neighbour set back less keeps a sliver between
    the old line and the new one. The new line is run on to where it leaves the metal, at most one corner
    radius or `SHARP` set-backs away, and the sliver is cut off along it.
    """
    from platewright.geometry.boolean import difference

    contour = list(before.contours())[ref.contour]
    edge, back = contour.edge(ref.edge), -table[ref.contour][ref.edge]
    if not isinstance(edge, Line) or back <= 0:
        return after
    for at_end in (False, True):
        number = (ref.edge + (1 if at_end else -1)) % len(contour)
        beside = contour.edge(number)
        tangent = abs(turn_at(contour, ref.edge + int(at_end))) < 1e-6
        if (
            not (isinstance(beside, Arc) and beside.sweep > 0 and tangent)
            or -table[ref.contour][number] >= back
        ):
            continue
        sliver = _sliver(before, edge, back, at_end=at_end, radius=beside.radius)
        if sliver is not None:
            after = whole(difference(after, Profile(sliver)), "Weld room")
    return after


def _sliver(before: Profile, edge: Line, back: float, *, at_end: bool, radius: float) -> Contour | None:
    """Return the strip between the old and the new line from the edge's end to where the new line leaves the metal."""
    along = (edge.end - edge.start) * (1 / edge.length())
    out = along if at_end else -along
    spot = (edge.end if at_end else edge.start) + along.left() * back
    far = spot + out * max(radius * 1.001, back * SHARP)
    pieces = clipped(before, (spot.x, spot.y), (far.x, far.y))
    if not pieces or Point(*pieces[0][0]).distance(spot) > 1e-6 or Point(*pieces[0][1]).distance(far) < 1e-9:
        return None
    reach = Point(*pieces[0][1]).distance(spot)
    down = -(along.left() * back)
    corners: list[Point] = [spot, spot + out * reach, spot + out * reach + down, spot + down]
    return Contour.from_points([(c.x, c.y) for c in corners])


def _said(each: Sequence[float]) -> str:
    return ", ".join(f"{d:g}" for d in sorted(set(each)))


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
