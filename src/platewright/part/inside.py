"""Whether a hole lies in the metal: exact distances between lines and arcs where it is close."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Contour, Profile, bounds, flatten
from platewright.part.model import Part

__all__ = ["clear_of", "refuse_outside", "refuse_unsound", "with_holes"]

FINE = 0.01
"""Chord error for the containment test [mm]: a hole nearer to an edge than this is refused as touching."""


def _polygon(contour: Contour) -> object:
    from shapely import Polygon

    return Polygon(flatten(contour, tolerance=FINE))


def clear_of(profile: Profile, holes: list[Contour]) -> int | None:
    """Return the number of the first hole [-] that does not lie wholly in the metal [mm], or None.

    Holes given together are also held against each other. Cost: one spatial index over all contours.
    """
    from shapely import STRtree, contains_properly, disjoint, prepare

    outer = _polygon(profile.outer)
    prepare(outer)
    there = [_polygon(c) for c in profile.holes]
    fresh = [_polygon(c) for c in holes]
    every = np.array([*there, *fresh], dtype=object)
    tree = STRtree(every) if len(every) else None
    for number, one in enumerate(fresh):
        if not contains_properly(outer, one):
            return number
        near = tree.query(one) if tree is not None else []
        others = [i for i in near if i != len(there) + number]
        if not all(disjoint(every[i], one) for i in others):
            return number
    return None


def refuse_outside(profile: Profile, holes: list[Contour], *, what: str) -> None:
    """Raise an `InputError` with a sentence if a hole [mm] is not wholly in the metal."""
    bad = clear_of(profile, holes)
    if bad is None:
        return
    box = bounds(holes[bad])
    x, y = box.middle
    which = f" {bad + 1} of {len(holes)}" if len(holes) > 1 else ""
    size = math.hypot(box.width, box.height) / math.sqrt(2)
    raise InputError(
        f"{what[0].upper()}{what[1:]}{which} at ({x:.2f}, {y:.2f} mm), {size:.4g} mm across, is not wholly in the metal.",
        do="Move it or make it smaller; to cut into the edge make a notch.",
    )


def with_holes(part: Part, holes: Sequence[Contour], *, what: str) -> Part:
    """Return the part with more holes [mm]; refuse one that is not wholly in the metal."""
    refuse_outside(part.profile, list(holes), what=what)
    return replace(part, profile=Profile(part.profile.outer, (*part.profile.holes, *holes)))


def refuse_unsound(profile: Profile, *, what: str) -> Profile:
    """Return the profile [mm], or raise an `InputError` if its contours cross or leave each other."""
    from platewright.geometry.regions.validity import explain

    for found in explain(profile):
        if found.severity == "stop":
            x, y = found.place or (0.0, 0.0)
            raise InputError(
                f"{what} would run into another edge or hole near ({x:.2f}, {y:.2f} mm).",
                do="Make it smaller or put it elsewhere.",
            )
    return profile
