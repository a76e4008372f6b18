"""Union, difference and intersection of profiles; arcs are kept on their own exact circles.

Method: all contours go into one arrangement (see ``arrange``), each profile's windings counted apart; the
faces wanted are chosen by their windings and their border is the result. Cost: that of the arrangement.
Assumptions: each profile is valid by itself (``validity.explain``); of a crossing one, what has winding 1
or more counts as metal. Edges that lie on each other within ``WELD`` count as one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from platewright.geometry.contour import Contour
from platewright.geometry.crossing.arrange import Flags, arrange
from platewright.geometry.curves import Ints, gather
from platewright.geometry.profile import Profile
from platewright.geometry.regions.merge import merged
from platewright.geometry.regions.nesting import assemble

__all__ = ["difference", "intersection", "union"]

Profiles = Profile | Iterable[Profile]


def _many(given: Profiles) -> list[Profile]:
    return [given] if isinstance(given, Profile) else list(given)


def _combine(sets: Sequence[Sequence[Profile]], wanted: Callable[[Ints], Flags]) -> tuple[Profile, ...]:
    """Return the profiles made of the faces whose windings, one column a set, are wanted."""
    contours: list[Contour] = []
    groups: list[int] = []
    for number, profiles in enumerate(sets):
        for profile in profiles:
            for contour in profile.contours():
                contours.append(contour)
                groups.append(number)
    if not contours:
        return ()
    faces = arrange(gather(contours, groups), groups=len(sets))
    return assemble([merged(loop.contour) for loop in faces.border(wanted)])


def union(first: Profiles, *others: Profiles) -> tuple[Profile, ...]:
    """Return the metal of any of the profiles [mm], largest first; touching edges are dissolved."""
    every = [p for given in (first, *others) for p in _many(given)]
    return _combine([every], lambda w: w[:, 0] >= 1)


def difference(first: Profiles, second: Profiles) -> tuple[Profile, ...]:
    """Return the metal of the first that is not metal of the second [mm], largest first."""
    return _combine([_many(first), _many(second)], lambda w: (w[:, 0] >= 1) & (w[:, 1] < 1))


def intersection(first: Profiles, second: Profiles) -> tuple[Profile, ...]:
    """Return the metal common to both [mm], largest first; several profiles on one side count as their union."""
    return _combine([_many(first), _many(second)], lambda w: (w[:, 0] >= 1) & (w[:, 1] >= 1))
