"""Offset of contours and profiles, constant or edge by edge; arcs stay arcs on their exact centres.

Glossary
--------
band of an edge : what lies between the edge and its offset, on the side that grows
wedge of a corner : what lies between the bands of two neighbouring edges where they gape
grown shape : the shape together with all bands and wedges

Method
------
Let the shape have winding number 1 inside and 0 outside, and add the boundary of every band and wedge as
a counterclockwise loop of its own. Every loop then adds 0 or 1 to the winding of a point, never less, so
the grown shape is exactly the set of points with winding 1 or more, however the bands overlap, whatever
splits, closes up or vanishes. Bands and shape share sides that cancel; what is left is one chain a
contour: offset edges, joins at gaping corners, and at tight corners a spoke in to the corner and out again.
A concave arc of radius r below the distance keeps only the part of its band up to its centre: a point
beyond the centre has a nearer boundary point elsewhere, whose own band covers it. Shrinking is growing
what is outside. The arrangement of that chain (see ``arrange``) gives the faces and their windings.
Judging a raw offset curve by winding number is the idea of Chen and McMains, "Polygon offsetting by
computing winding numbers" (ASME DETC 2005); the bands, which leave no negative winding to argue about and
take arcs as they are, are ours (``docs/decisions/part/0010-offset-by-bands.md``).

Assumptions: contours that do not cross themselves or each other (see ``validity``); others give the offset
of their parts of winding 1 or more.
Cost: that of the arrangement, about n log n.
Limits: tangency within ``WELD``; a wedge that differs from a sharp corner by less than ``SNAP`` is made
sharp, which saves a speck of arc.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from platewright.errors import InputError
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.arrange import Flags, Loop, arrange
from platewright.geometry.curves import Curves, Ints, gather
from platewright.geometry.measure import signed_area
from platewright.geometry.profile import Profile
from platewright.geometry.regions.bands import SHARP_LIMIT, Corners, bands
from platewright.geometry.regions.nesting import assemble
from platewright.geometry.tolerance import WELD

__all__ = ["Corners", "offset_contour", "offset_edges", "offset_profile"]


def offset_profile(
    profile: Profile, distance: float, *, corners: Corners = "round", sharp_limit: float = SHARP_LIMIT
) -> tuple[Profile, ...]:
    """Return the profile with metal grown (positive) or shrunk (negative) by a distance all round.

    Parameters
    ----------
    profile : the profile; holes shrink when the metal grows
    distance : how far [mm]; 0 gives the profile back
    corners : how gaping corners are joined: ``round`` (an arc about the vertex), ``sharp`` (edges run on
        until they meet) or ``flat`` (cut straight across)
    sharp_limit : how many distances a sharp corner may stand from its vertex [-], at least 1; it is cut
        off flat there

    Returns
    -------
    the profiles that are left, largest first; none if everything vanished. Straight edges move parallel,
    arcs keep their exact centre; an edge or hole that vanishes is gone, one that splits comes back as several.
    """
    _checked(distance, corners, sharp_limit)
    if distance == 0:
        return (profile,)
    contours = list(profile.contours())
    loops = _grow(contours, [distance] * sum(map(len, contours)), corners, sharp_limit)
    return assemble([loop.contour for loop in loops])


def offset_contour(
    contour: Contour, distance: float, *, corners: Corners = "round", sharp_limit: float = SHARP_LIMIT
) -> tuple[Contour, ...]:
    """Return a contour moved sideways by a distance.

    Parameters
    ----------
    contour : closed or open
    distance : how far [mm]; closed: positive is outward whichever way it runs; open: positive is to the left
    corners, sharp_limit : as in `offset_profile`

    Returns
    -------
    closed: outer loops first, running the way `contour` does, then loops it encloses (an outward offset that
    closes on itself), running the other way. Open: open contours running the way `contour` does, every point
    at the distance or more from all of it (and a closed one where the offset runs into itself). Empty if
    nothing is left.
    """
    _checked(distance, corners, sharp_limit)
    if distance == 0:
        return (contour,)
    if not contour.closed:
        return _beside(contour, distance, corners, sharp_limit)
    around = contour.counterclockwise()
    loops = _grow([around], [distance] * len(around), corners, sharp_limit)
    found = sorted((loop.contour for loop in loops), key=lambda c: -signed_area(c))
    return tuple(c if around is contour else c.reversed() for c in found)


def offset_edges(
    profile: Profile,
    distances: Sequence[ArrayLike],
    *,
    corners: Corners = "sharp",
    sharp_limit: float = SHARP_LIMIT,
) -> tuple[Profile, ...]:
    """Return the profile with each edge moved by its own distance, neighbours joined.

    Edges that grow are moved first, then edges set back. Neighbours with different distances are trimmed or
    run on to where their moved lines or circles meet; where those meet too far off (neighbours in line or
    nearly so: beyond `sharp_limit` times the larger distance), or nothing would be left of an edge, a step
    square to the edge joins them. An edge set back runs on through a rounded corner beside it.

    Parameters
    ----------
    distances : for the outer contour, then each hole, one distance an edge [mm]; positive grows the metal,
        negative sets it back; a single number stands for all edges of its contour
    corners, sharp_limit : as in `offset_profile`, for corners whose two distances are the same

    Raises
    ------
    InputError
        If there is not one distance for each edge of each contour.
    """
    contours = list(profile.contours())
    each = _spread(contours, distances)
    for distance in each.tolist():
        _checked(distance, corners, sharp_limit)
    out, back = np.maximum(each, 0.0), np.minimum(each, 0.0)
    if (out > 0).any():
        loops = _grow(contours, out, corners, sharp_limit)
        contours = [loop.contour for loop in loops]
        back = np.concatenate([_inherited(back, loop.tags) for loop in loops]) if loops else back[:0]
    if (back < 0).any():
        contours = [loop.contour for loop in _grow(contours, back, corners, sharp_limit)]
    return assemble(contours)


def _inherited(values: Floats, tags: Ints) -> Floats:
    """Return each result edge's value from the edge it came from, 0 for one made at a corner."""
    known = (tags >= 0) & (tags < len(values))
    return np.where(known, values[np.where(known, tags, 0)], 0.0)


def _checked(distance: float, corners: str, sharp_limit: float) -> None:
    if not math.isfinite(distance):
        raise InputError(f"An offset distance must be a finite number of mm, got {distance}.")
    if corners not in ("round", "sharp", "flat"):
        raise InputError(f"'{corners}' is not a kind of corner.", allowed="round, sharp, flat")
    if not (math.isfinite(sharp_limit) and sharp_limit >= 1):
        raise InputError(f"A sharp limit must be a finite number of at least 1, got {sharp_limit}.")


def _spread(contours: Sequence[Contour], distances: Sequence[ArrayLike]) -> Floats:
    """Return one distance an edge through all contours."""
    if len(distances) != len(contours):
        raise InputError(
            f"The profile has {len(contours)} contours, but distances are given for {len(distances)}.",
            allowed="one list of distances, or one number, for the outer contour and each hole",
        )
    parts = []
    for k, (contour, given) in enumerate(zip(contours, distances, strict=True)):
        values = np.asarray(given, dtype=np.float64)
        if values.ndim == 0:
            values = np.full(len(contour), float(values))
        if values.shape != (len(contour),):
            raise InputError(
                f"Contour {k} has {len(contour)} edges, but {values.size} distances are given.",
                allowed="one distance an edge, or one number",
            )
        parts.append(values)
    return np.concatenate(parts)


def _grow(
    contours: Sequence[Contour], distances: ArrayLike, corners: Corners, sharp_limit: float
) -> list[Loop]:
    """Return the border loops of the shape with edges moved by distances of one sign, tagged by edge."""
    each = np.asarray(distances, dtype=np.float64)
    shrink = bool((each < 0).any())
    curves, follow = _prepared(contours, shrink)
    if len(curves) == 0:
        return []
    distance = np.abs(each)[curves.tag]
    raw = bands(curves, follow, distance, edges=len(each), corners=corners, sharp_limit=sharp_limit)
    if len(raw) == 0:
        return []
    faces = arrange(raw)
    return faces.border((lambda w: w[:, 0] <= -1) if shrink else (lambda w: w[:, 0] >= 1))


def _prepared(contours: Sequence[Contour], backward: bool) -> tuple[Curves, Ints]:
    """Return edges without zero-length ones, tagged by their number, and for each the edge that follows.

    Backward turns every contour round, so that the side that grows is always the right.
    """
    parts, after, number, placed = [], [], 0, 0
    for contour in contours:
        tags = np.arange(number, number + len(contour))
        number += len(contour)
        rows = contour.rows
        if backward:
            rows = contour.reversed().rows
            tags = np.roll(tags[::-1], -1) if contour.closed else tags[::-1]
        keep = _long_enough(rows, contour.closed)
        if keep.sum() < (2 if contour.closed else 1):
            continue
        chain = rows[keep] if contour.closed else np.vstack([rows[:-1][keep], rows[-1:]])
        curves = gather([Contour(chain, contour.closed)])
        count = len(curves)
        parts.append(
            Curves(
                start=curves.start,
                end=curves.end,
                centre=curves.centre,
                radius=curves.radius,
                sweep=curves.sweep,
                tag=tags[keep],
                group=curves.group,
            )
        )
        follow = np.arange(placed + 1, placed + count + 1)
        follow[-1] = placed if contour.closed else -1
        after.append(follow)
        placed += count
    if not parts:
        return gather([]), np.zeros(0, dtype=np.int64)
    return Curves.joined(parts), np.concatenate(after)


def _long_enough(rows: Floats, closed: bool) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell which edges have ends further apart than the weld distance."""
    away = np.roll(rows[:, :2], -1, axis=0) - rows[:, :2]
    keep = np.hypot(away[:, 0], away[:, 1]) > WELD
    return keep if closed else keep[:-1]


def _beside(contour: Contour, distance: float, corners: Corners, sharp_limit: float) -> tuple[Contour, ...]:
    """Return the offset of an open contour: run there and back it is a closed one, grown, one side of it kept."""
    left = distance > 0
    run = contour.reversed() if left else contour
    there, back = _prepared([run], False)[0], _prepared([run.reversed()], False)[0]
    count, edges = len(contour), 2 * len(contour)
    if len(there) == 0:
        return ()
    loop = Curves.joined([there, replace(back, tag=count + back.tag)])
    follow = np.roll(np.arange(len(loop)), -1)
    each = np.full(len(loop), abs(distance))
    raw = bands(loop, follow, each, edges=edges, corners=corners, sharp_limit=sharp_limit)
    found: list[Contour] = []
    last = int(there.tag[-1])
    for loop_ in arrange(raw).border(lambda w: w[:, 0] >= 1):
        tags = loop_.tags
        found += _kept(loop_, (tags >= 0) & ((tags < count) | ((tags >= edges) & (tags < edges + last))))
    return tuple(c.reversed() if left else c for c in found)


def _kept(loop: Loop, keep: Flags) -> list[Contour]:
    """Return the parts of a border loop to keep, as open contours; as it is if all of it is kept."""
    if keep.all():
        return [loop.contour]
    if not keep.any():
        return []
    first = int(np.flatnonzero(~keep)[0])
    rows, keep = np.roll(loop.contour.rows, -first, axis=0), np.roll(keep, -first)
    rows, keep = np.vstack([rows, rows[:1]]), np.r_[keep, False]
    step = np.diff(keep.astype(np.int64))
    runs = zip(np.flatnonzero(step == 1) + 1, np.flatnonzero(step == -1) + 1, strict=True)
    return [Contour(rows[a : b + 1], closed=False) for a, b in runs]
