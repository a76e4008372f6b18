"""Operations that make holes: one, a slot, a bolt circle, a row, a grid, along an edge, mirrored.

Each takes a part and gives a part with the holes and one more step. A hole must lie wholly in the metal
and clear of the others; the standards' spacing is checked apart, as findings (``part.spacing``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from platewright.errors import InputError
from platewright.geometry import Arc, Contour, Line, Pose, Profile, bounds
from platewright.part.families.shapes import bolt_circle_points
from platewright.part.hole import Hole, read_hole
from platewright.part.inside import with_holes
from platewright.part.model import Mark, Part
from platewright.part.ops.inputs import EVERY, Holes, Place
from platewright.part.ops.steps import operation
from platewright.part.refs import EdgeRef

__all__ = [
    "add_hole", "add_slot", "along_edge", "bolt_circle", "copy_holes", "grid", "mirror_holes",
    "remove_holes", "row", "small_holes",
]  # fmt: skip

MOST = 5000
"""Most holes one operation makes [-]: more is a typing error."""


def _drilled(part: Part, hole: Hole, places: Sequence[tuple[float, float, float]], what: str) -> Part:
    """Return the part with a hole at every (x, y, turn) [mm, rad]."""
    if not places:
        raise InputError(f"The {what} has no holes in it.", do="Give at least one.")
    if len(places) > MOST:
        raise InputError(f"{len(places)} holes in one {what} are too many.", allowed=f"up to {MOST}")
    fresh = [hole.contour(x, y, turn=turn) for x, y, turn in places]
    return with_holes(part, fresh, what=f"{hole.kind} hole" if len(fresh) == 1 else "hole")


@operation
def add_hole(part: Part, *, at: Place, hole: Hole) -> Part:
    """Return the part with one hole.

    Parameters
    ----------
    at : where its middle goes (a keyhole's head) [mm]
    hole : "M12", "13.5 mm", "square 20 mm", "slot M10 x 30 mm", a `Hole` or a diameter [mm]

    Raises
    ------
    InputError
        If the hole is not wholly in the metal.
    """
    return _drilled(part, hole, [(*at, 0.0)], "hole")


@operation
def add_slot(
    part: Part,
    *,
    at: Place,
    size: str | float,
    between: float | None = None,
    overall: float | None = None,
    angle: float = 0.0,
) -> Part:
    """Return the part with a slot.

    Parameters
    ----------
    at : the slot's middle [mm]
    size : its width [mm], or the bolt that slides in it
    between : distance of the end centres [mm]; or
    overall : overall length [mm]
    angle : which way it runs [rad]
    """
    if (between is None) == (overall is None):
        raise InputError("A slot needs its length by end centres or overall, one of the two.")
    width = read_hole(size)
    long = between if between is not None else (overall or 0.0) - width.size
    one = replace(width, kind="slot", between=long, angle=angle)
    return _drilled(part, one, [(*at, 0.0)], "slot")


@operation
def bolt_circle(
    part: Part,
    *,
    centre: Place,
    diameter: float,
    count: int,
    hole: Hole,
    start_angle: float = 0.0,
    skip: tuple[int, ...] = (),
) -> Part:
    """Return the part with holes on a circle.

    Parameters
    ----------
    centre : middle of the circle [mm]
    diameter : bolt circle diameter [mm]
    count : equal steps round the circle [-]
    hole : as in `add_hole`; slots and squares are turned with the circle
    start_angle : where the first hole is [rad]
    skip : numbers of holes left out, the first is 1 [-]
    """
    left_out = sorted(set(skip))
    if not (1 <= count <= MOST and diameter > 0):
        raise InputError(
            f"A bolt circle of {count} holes on {diameter:g} mm cannot be made.",
            allowed="1 or more holes, above 0 mm",
        )
    if left_out and not 1 <= left_out[0] <= left_out[-1] <= count:
        raise InputError(
            f"The holes to skip, {left_out}, are not on a circle of {count}.", allowed=f"1 to {count}"
        )
    x, y = centre
    spots = bolt_circle_points(diameter, count, start=start_angle, skip=left_out, x=x, y=y)
    places = [(px, py, math.atan2(py - y, px - x)) for px, py in spots]
    return _drilled(part, hole, places, "bolt circle")


@operation
def row(part: Part, *, start: Place, pitch: float, count: int, hole: Hole, angle: float = 0.0) -> Part:
    """Return the part with a row of holes.

    Parameters
    ----------
    start : first hole [mm]
    pitch : from hole to hole [mm]
    count : holes [-]
    hole : as in `add_hole`
    angle : which way the row runs [rad]
    """
    (x, y), c, s = start, math.cos(angle) * pitch, math.sin(angle) * pitch
    return _drilled(part, hole, [(x + c * i, y + s * i, 0.0) for i in range(count)], "row")


@operation
def grid(
    part: Part,
    *,
    start: Place,
    pitch: tuple[float, float],
    counts: tuple[int, int],
    hole: Hole,
    angle: float = 0.0,
    stagger: bool = False,
) -> Part:
    """Return the part with a grid of holes.

    Parameters
    ----------
    start : the first hole, lower left before turning [mm]
    pitch : along a row, and from row to row [mm]
    counts : holes in a row, and rows [-]
    hole : as in `add_hole`
    angle : which way the rows run [rad]
    stagger : whether every second row is moved by half a pitch and has one hole less
    """
    (x, y), c, s = start, math.cos(angle), math.sin(angle)
    flat = [
        ((i + (0.5 if stagger and j % 2 else 0.0)) * pitch[0], j * pitch[1])
        for j in range(counts[1])
        for i in range(counts[0] - (1 if stagger and j % 2 else 0))
    ]
    places = [(x + c * u - s * v, y + s * u + c * v, 0.0) for u, v in flat]
    return _drilled(part, hole, places, "grid")


@operation
def along_edge(
    part: Part,
    *,
    edge: EdgeRef,
    inset: float,
    hole: Hole,
    count: int | None = None,
    pitch: float | None = None,
    ends: float | None = None,
) -> Part:
    """Return the part with holes at equal pitch along an edge, straight or curved.

    Parameters
    ----------
    edge : (contour, edge) [-] or a reference
    inset : from the edge to the hole centres, into the metal [mm]
    hole : as in `add_hole`; slots run along the edge
    count : number of holes; they divide the length less the ends equally
    pitch : from hole to hole along the edge [mm]; as many as fit, centred. Give count or pitch
    ends : from the edge's ends to the first and last hole, along the edge [mm]; None: half a pitch for a
        count, and at least the inset for a pitch
    """
    line = edge.on(part.profile)
    places = _along(line, inset, _stations(line.length(), count, pitch, ends, inset))
    return _drilled(part, hole, places, "row")


def _stations(
    long: float, count: int | None, pitch: float | None, ends: float | None, inset: float
) -> list[float]:
    """Return fractions of an edge where holes go."""
    if (count is None) == (pitch is None):
        raise InputError("Say how many holes, or their pitch, one of the two.")
    if count is not None:
        if count < 1:
            raise InputError(f"{count} holes cannot be made.", allowed="1 or more")
        margin = long / count / 2 if ends is None else ends
        run = long - 2 * margin
        spots = [margin + run * i / (count - 1) for i in range(count)] if count > 1 else [long / 2]
    else:
        step = float(pitch or 0.0)
        if not step > 0:
            raise InputError(f"A pitch of {step:g} mm cannot be.", allowed="above 0 mm")
        margin = inset if ends is None else ends
        fitting = int((long - 2 * margin) / step + 1e-9) + 1
        first = (long - (fitting - 1) * step) / 2
        spots = [first + i * step for i in range(fitting)]
    if not spots or min(spots) < -1e-9 or 2 * margin > long + 1e-9:
        raise InputError(
            f"The edge is {long:.4g} mm long; ends of {margin:g} mm leave no room.",
            allowed=f"up to {long / 2:.4g} mm",
        )
    return [at / long for at in spots]


def _along(edge: Line | Arc, inset: float, fractions: list[float]) -> list[tuple[float, float, float]]:
    """Return (x, y, direction) of places inset into the metal, which lies to the left of every edge."""
    if isinstance(edge, Arc) and edge.sweep > 0 and inset >= edge.radius:
        raise InputError(
            f"An inset of {inset:g} mm goes past the middle of an arc of radius {edge.radius:.4g} mm.",
            allowed=f"below {edge.radius:.4g} mm",
        )
    places = []
    for fraction in fractions:
        at, way = edge.at(fraction), edge.direction(fraction)
        places.append((at.x - inset * math.sin(way), at.y + inset * math.cos(way), way))
    return places


@operation
def mirror_holes(
    part: Part,
    *,
    through: Place,
    angle: float = math.pi / 2,
    holes: Holes = EVERY,
) -> Part:
    """Return the part with copies of holes on the other side of a line.

    Parameters
    ----------
    through : a point of the line [mm]
    angle : the line's direction [rad]; upright by default
    holes : hole numbers [-], None for all; a hole whose copy falls on itself is left single
    """
    pose = _flip(*through, angle)
    copies = []
    for n in holes:
        hole = part.profile.holes[n]
        copy = pose.apply(hole)
        if math.dist(bounds(hole).middle, bounds(copy).middle) > 1e-6:
            copies.append(copy)
    return with_holes(part, copies, what="mirrored hole")


def _flip(x: float, y: float, angle: float) -> Pose:
    """Return the reflection in the line through (x, y) [mm] with a direction [rad]."""
    turn = Pose(angle=2 * angle - math.pi, mirrored=True)
    px, py = turn.points([(x, y)])[0]
    return replace(turn, x=x - float(px), y=y - float(py))


@operation
def copy_holes(
    part: Part,
    *,
    step: Place,
    count: int = 1,
    holes: Holes = EVERY,
) -> Part:
    """Return the part with holes repeated `count` times [-] at a step (dx, dy) [mm]: an array of any cut-out."""
    dx, dy = step
    if not 1 <= count * len(holes) <= MOST:
        raise InputError(
            f"{count} copies of {len(holes)} holes cannot be made.", allowed=f"1 to {MOST} holes"
        )
    copies = [Pose(dx * i, dy * i).apply(part.profile.holes[n]) for i in range(1, count + 1) for n in holes]
    return with_holes(part, copies, what="copied hole")


@operation
def remove_holes(part: Part, *, holes: Holes) -> Part:
    """Return the part without some of its holes, by number [-] from 0."""
    kept = tuple(h for n, h in enumerate(part.profile.holes) if n not in holes)
    return replace(part, profile=Profile(part.profile.outer, kept))


@operation
def small_holes(
    part: Part,
    *,
    smallest: float,
    become: Literal["mark", "pilot", "cut"] = "mark",
    pilot: float | None = None,
) -> Part:
    """Return the part with round holes too small to cut well dealt with.

    Parameters
    ----------
    smallest : smallest diameter that cuts well (the cut chart's row) [mm]
    become : ``mark`` (a centre mark to drill), ``pilot`` (cut undersize, then drilled) or ``cut`` (left; see
        finding A020)
    pilot : diameter of pilots [mm]; None is half the hole, at least 1 mm
    """
    from platewright.part.features import round_holes

    kept, marks = list(part.profile.holes), list(part.marks)
    small = [h for h in round_holes(part.profile) if h.diameter < smallest - 1e-6]
    for one in small if become != "cut" else []:
        size = max(1.0, one.diameter / 2) if pilot is None else pilot
        if become == "pilot" and size >= one.diameter:
            raise InputError(f"A pilot of {size:g} mm is not smaller than its hole of {one.diameter:.4g} mm.")
        if become == "pilot":
            kept[one.number] = Contour.circle(one.x, one.y, size / 2)
        marks.append(Mark("centre", None, (one.x, one.y), f"drill {one.diameter:.4g} mm"))
    gone = {one.number for one in small} if become == "mark" else set()
    profile = Profile(part.profile.outer, tuple(h for n, h in enumerate(kept) if n not in gone))
    return replace(part, profile=profile, marks=tuple(marks))
