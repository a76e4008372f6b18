"""Tabs: uncut bridges that keep a small part from tipping or falling.

A loop with tabs is cut in stretches. Each stretch has its own lead-in from scrap, legal like any other, and ends a tab's width
and a kerf before the next one's start. Automatic places are spread evenly; of a ring of such sets, turned step by
step, the one with most tabs in the middle of straight edges whose lead-ins are all legal is taken.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from platewright.burn.cuts.edges import at_distance, nearest
from platewright.burn.cuts.leads import Leg, Start
from platewright.burn.cuts.loops import Loop
from platewright.burn.options import BurnOptions, TabChoice
from platewright.geometry import Floats, bounds, edge_lengths, length

__all__ = ["tab_width", "tabbed_start", "tabs_for"]

TURNS = 24
"""Sets of places tried."""
Search = Callable[[Floats, bool], list[Start]]


def tabs_for(loop: Loop, options: BurnOptions) -> TabChoice | None:
    """Return the tabs a loop gets: chosen by hand, or by its size [mm], or None."""
    choice = options.choice(loop.placement, loop.contour).tabs
    if choice is not None:
        return choice if choice.count or choice.at else None
    if loop.kind != "outer" or options.tab_below <= 0:
        return None
    box = bounds(loop.path)
    small = max(box.width, box.height) < options.tab_below
    return options.tabs if small and options.tabs.count else None


def tab_width(tabs: TabChoice, thickness: float) -> float:
    """Return the width of metal left [mm] for a thickness [mm]: four fifths of it, 2 to 6 mm, if not chosen.

    More than 6 mm is not broken off but sawn (common practice).
    """
    return tabs.width or min(6.0, max(2.0, 0.8 * thickness))


def tabbed_start(loop: Loop, tabs: TabChoice, thickness: float, search: Search) -> Start | None:
    """Return a start whose legs leave the tabs, or None if no set of places is legal.

    Parameters
    ----------
    loop : the loop
    tabs : how many, how wide, where [mm]
    thickness : [mm]
    search : gives legal starts at places along the loop [mm], square to it
    """
    gap = tab_width(tabs, thickness) + loop.kerf
    whole = length(loop.path)
    for places in _sets(loop, tabs, gap, whole):
        begins = np.mod(places + gap / 2, whole)
        leads = []
        for begin in begins:
            found = search(np.array([begin]), True)
            if not found:
                break
            leads.append(found[0])
        if len(leads) < len(places):
            continue
        legs = []
        for i, (lead, place) in enumerate(zip(leads, places, strict=True)):
            following = places[(i + 1) % len(places)]
            run = np.mod(following - place, whole) or whole
            legs.append(Leg(float(begins[i]), float(begins[i] + run - gap), lead.pierce, lead.bulge))
        first = leads[0]
        why = f"{len(places)} tabs of {gap - loop.kerf:.1f} mm so that it neither tips nor falls."
        return Start(
            along=first.along, pierce=first.pierce, bulge=first.bulge, kind=first.kind, score=first.score,
            exit_radius=0.0, why=why, legs=tuple(legs),
        )  # fmt: skip
    return None


def _sets(loop: Loop, tabs: TabChoice, gap: float, whole: float) -> list[Floats]:
    """Return sets of tab places along the loop [mm], best first; none if they would run into each other."""
    if tabs.at:
        places = np.sort([nearest(loop.path, x, y) for x, y in tabs.at])
        apart = np.diff(np.append(places, places[0] + whole))
        return [places] if (apart > 2 * gap).all() else []
    count = tabs.count
    if whole / count < 4 * gap:
        return []
    sets = [np.arange(count) * whole / count + turn * whole / count / TURNS for turn in range(TURNS)]
    return sorted(sets, key=lambda places: -_straightness(loop, places, gap))


def _straightness(loop: Loop, places: Floats, gap: float) -> int:
    """Count the tabs that lie wholly on straight edges, clear of corners."""
    _, _, edge, share = at_distance(loop.path, places)
    lengths = edge_lengths(loop.path)[edge]
    room = np.minimum(share, 1 - share) * lengths
    return int(((loop.path.bulges[edge] == 0) & (room > gap)).sum())
