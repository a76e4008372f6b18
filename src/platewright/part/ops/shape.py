"""Operations on the whole shape: other hand, turn, move, scale, join, notch, cut out, tabs and their slots."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np

from platewright.errors import InputError, RefusedError
from platewright.geometry import Contour, Line, Pose, Profile, scaled
from platewright.part.families.shapes import slot
from platewright.part.inside import refuse_unsound, with_holes
from platewright.part.model import Part
from platewright.part.ops.inputs import Place
from platewright.part.ops.steady import steady
from platewright.part.ops.steps import operation
from platewright.part.ops.welds import whole
from platewright.part.refs import EdgeRef
from platewright.units import show

__all__ = [
    "add_slots_for_tabs", "add_tabs", "cut_out", "join", "mirror", "move_to_origin", "notch", "scale",
    "tab_clearance", "turn_to_edge",
]  # fmt: skip


def _posed(part: Part, pose: Pose) -> Part:
    return replace(part, profile=pose.apply(part.profile), marks=tuple(m.posed(pose) for m in part.marks))


@operation
def mirror(part: Part) -> Part:
    """Return the other hand: flipped left to right in its own place [mm]; text of marks is kept readable by who draws it."""
    box = part.profile.bounds()
    pose = Pose(x=box.x0 + box.x1, mirrored=True)
    hand: Literal["drawn", "other"] = "other" if part.hand == "drawn" else "drawn"
    return replace(_posed(part, pose), hand=hand)


@operation
def turn_to_edge(part: Part, *, edge: EdgeRef, direction: float = 0.0) -> Part:
    """Return the part turned so that an edge runs in a direction, its lower left corner at (0, 0).

    Parameters
    ----------
    edge : (contour, edge) [-] or a reference; an arc is turned by its chord
    direction : which way the edge shall run [rad]; 0 puts an outline edge at the bottom
    """
    one = edge.on(part.profile)
    return _to_origin(part, Pose(angle=direction - (one.end - one.start).angle()))


def _to_origin(part: Part, pose: Pose) -> Part:
    box = pose.apply(part.profile).bounds()
    return _posed(part, replace(pose, x=-box.x0, y=-box.y0))


@operation
def move_to_origin(part: Part, *, angle: float = 0.0) -> Part:
    """Return the part turned by an angle [rad] and moved so that its box starts at (0, 0) [mm]."""
    return _to_origin(part, Pose(angle=angle))


@operation
def scale(part: Part, *, factor: float, confirmed: bool = False) -> Part:
    """Return the part scaled about (0, 0), holes and all.

    Parameters
    ----------
    factor : new size over old [-]
    confirmed : must be True: bolt holes and weld room change too

    Raises
    ------
    RefusedError
        If not confirmed; the sentence says both sizes.
    """
    if not (math.isfinite(factor) and factor > 0):
        raise InputError(f"A scale factor of {factor} cannot be.", allowed="above 0")
    box = part.profile.bounds()
    if not confirmed:
        raise RefusedError(
            f"Scaling by {factor:g} makes the part {show(box.width * factor)} by {show(box.height * factor)} "
            f"instead of {show(box.width)} by {show(box.height)}, and its holes with it.",
            do="Confirm it if that is meant.",
        )
    marks = tuple(
        replace(
            m,
            contour=None if m.contour is None else scaled(m.contour, factor),
            at=None if m.at is None else (m.at[0] * factor, m.at[1] * factor),
        )
        for m in part.marks
    )
    return replace(part, profile=scaled(part.profile, factor), marks=marks)


@operation
def join(part: Part, *, other: Profile, pose: Pose = Pose()) -> Part:
    """Return the part grown together with another shape (welded into one outline).

    Parameters
    ----------
    other : a part, a profile or its document [mm]; its holes that fall on metal of the part are lost
    pose : where it goes [mm, rad]; where it is if nothing is said

    Raises
    ------
    InputError
        If the two do not touch.
    """
    from platewright.geometry.regions.boolean import union

    pieces = union(part.profile, pose.apply(other))
    if len(pieces) != 1:
        raise InputError(
            "The two shapes do not touch, so they do not become one part.", do="Move one until they overlap."
        )
    return replace(part, profile=steady(part.profile, pieces[0]))


@operation
def cut_out(part: Part, *, shape: Contour) -> Part:
    """Return the part less what a closed contour covers [mm]: a cut-out, or a notch where it meets an edge."""
    from platewright.geometry.regions.boolean import difference

    if not shape.closed:
        raise InputError("A cut-out needs a closed shape.", do="Close it first.")
    pieces = difference(part.profile, Profile(shape))
    return replace(part, profile=steady(part.profile, whole(pieces, "The cut-out")))


@operation
def notch(
    part: Part,
    *,
    edge: EdgeRef,
    at: float,
    width: float,
    depth: float,
    kind: Literal["square", "vee", "round"] = "square",
) -> Part:
    """Return the part with a notch in a straight edge.

    Parameters
    ----------
    edge : (contour, edge) [-] or a reference
    at : from the edge's start to the notch's middle, along the edge [mm]
    width, depth : across the mouth, and into the metal [mm]
    kind : square, vee, or round (a half-round bottom as wide as the notch)
    """
    line = _straight(part, edge)
    if not (width > 0 and depth > 0) or (kind == "round" and depth < width / 2):
        raise InputError(
            f"A {kind} notch {width:g} mm wide and {depth:g} mm deep cannot be.",
            allowed="above 0; a round one at least half as deep as wide",
        )
    h, over = width / 2, max(1.0, width)
    rows = {
        "square": [(-h, -over, 0.0), (h, -over, 0.0), (h, depth, 0.0), (-h, depth, 0.0)],
        "vee": [(-h, 0.0, 0.0), (-h, -over, 0.0), (h, -over, 0.0), (h, 0.0, 0.0), (0.0, depth, 0.0)],
        "round": [(-h, -over, 0.0), (h, -over, 0.0), (h, depth - h, 1.0), (-h, depth - h, 0.0)],
    }[kind]
    spot = line.start + (line.end - line.start) * (at / line.length())
    tool = Pose(spot.x, spot.y, line.direction()).apply(Contour(np.array(rows)))
    from platewright.geometry.regions.boolean import difference

    return replace(
        part, profile=steady(part.profile, whole(difference(part.profile, Profile(tool)), "The notch"))
    )


def _straight(part: Part, ref: EdgeRef) -> Line:
    one = ref.on(part.profile)
    if not isinstance(one, Line):
        raise InputError(f"Edge {ref.edge} of contour {ref.contour} is curved; this needs a straight one.")
    return one


def tab_clearance(thickness: float, *, kerf: float = 1.5) -> float:
    """Return the clearance between a tab and its slot [mm], in length and in width.

    Our own starting rule: a tenth of the kerf [mm] for how far the cut wanders, and the out-of-square of a
    fair plasma edge, 0.4 mm + 0.01 thickness [mm] (ISO 9013:2017 perpendicularity range 3). A coupon with
    a tab and three slots gives the shop's own number.
    """
    return 0.1 * kerf + 0.4 + 0.01 * thickness


def _tab_stations(long: float, count: int, width: float) -> list[float]:
    """Return tab middles along an edge [mm]: equal tabs, equal gaps, half a gap at the ends."""
    if count < 1 or width <= 0 or count * width >= long:
        raise InputError(
            f"{count} tabs of {width:g} mm do not fit on {long:.4g} mm.",
            allowed=f"together below {long:.4g} mm",
        )
    return [long * (i + 0.5) / count for i in range(count)]


@operation
def add_tabs(part: Part, *, edge: EdgeRef, count: int, width: float, height: float) -> Part:
    """Return the part with tabs on a straight edge.

    Parameters
    ----------
    edge : (contour, edge) [-] or a reference
    count : tabs [-], equally spread with half a gap at the ends
    width : of a tab along the edge [mm]
    height : how far a tab stands out [mm], usually the other plate's thickness
    """
    line = _straight(part, edge)
    if not height > 0:
        raise InputError(f"Tabs {height:g} mm high cannot be.", allowed="above 0 mm")
    way = line.direction()
    ux, uy = math.cos(way), math.sin(way)
    fresh = []
    for middle in _tab_stations(line.length(), count, width):
        for along, out in ((-width / 2, 0.0), (-width / 2, height), (width / 2, height), (width / 2, 0.0)):
            s = middle + along
            fresh.append((line.start.x + ux * s + uy * out, line.start.y + uy * s - ux * out, 0.0))
    contours = list(part.profile.contours())
    rows, after = contours[edge.contour].rows, edge.edge + 1
    contours[edge.contour] = Contour(np.vstack([rows[:after], np.array(fresh), rows[after:]]))
    profile = refuse_unsound(Profile(contours[0], tuple(contours[1:])), what="The tabs")
    return replace(part, profile=profile)


@operation
def add_slots_for_tabs(
    part: Part,
    *,
    start: Place,
    end: Place,
    count: int,
    width: float,
    tab_thickness: float,
    clearance: float | None = None,
    kerf: float = 1.5,
    round_ends: bool = False,
) -> Part:
    """Return the part with the slots that take another part's tabs.

    Parameters
    ----------
    part : the part the tabs go through
    start, end : where the other part's edge stands, its ends at the middle of its thickness [mm]
    count, width : the tabs [-, mm], as in `add_tabs`
    tab_thickness : thickness of the plate with the tabs [mm]
    clearance : slot over tab, in length and width [mm]; None takes `tab_clearance` with the kerf
    kerf : width of the cut [mm]
    round_ends : slots with half-round ends outside the tab's corners, which cut without a stop in the corner
    """
    (x0, y0), (x1, y1) = start, end
    long, way = math.hypot(x1 - x0, y1 - y0), math.atan2(y1 - y0, x1 - x0)
    play = tab_clearance(tab_thickness, kerf=kerf) if clearance is None else clearance
    if not (play >= 0 and tab_thickness > 0):
        raise InputError(
            f"A clearance of {play:g} mm for {tab_thickness:g} mm tabs cannot be.", allowed="0 mm or more"
        )
    w, h = width + play, tab_thickness + play
    fresh = []
    for middle in _tab_stations(long, count, width):
        x, y = x0 + (x1 - x0) * middle / long, y0 + (y1 - y0) * middle / long
        box = Contour.rectangle(w, h, x=-w / 2, y=-h / 2)
        fresh.append(slot(x, y, between=w, width=h, angle=way) if round_ends else Pose(x, y, way).apply(box))
    return with_holes(part, fresh, what="tab slot")
