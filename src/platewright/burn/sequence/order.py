"""In which order the cuts burn, and at which of its starts each begins.

What must come first: marks before everything; holes before the outside of their part; parts lying in a hole of another
part before that hole, or before that part if the hole is not cut. Every cut has so at most one cut that waits for it, its *parent*; the order search
(``tour``) keeps children before parents and shortens the rapids.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from platewright.burn.cuts.leads import Start, clearances
from platewright.burn.cuts.loops import Loop
from platewright.burn.job import Job
from platewright.burn.model import Cut
from platewright.burn.options import BurnOptions
from platewright.burn.sequence.conflicts import settle
from platewright.burn.sequence.tour import Visits, tour
from platewright.geometry import flatten, length

__all__ = ["BurnOrder", "heat_distance", "parents", "ranks_of", "sequence"]


def parents(loops: Sequence[Loop]) -> list[int]:
    """Return for each loop the loop that must come after it, -1 for none [-].

    An outside waits for nothing but what lies in it; where the hole it lies in is not cut, it comes before the part round it.
    """
    import shapely

    outer = {loop.placement: i for i, loop in enumerate(loops) if loop.kind == "outer"}
    areas = [shapely.Polygon(flatten(loop.path, tolerance=0.05)) for loop in loops]
    tree = shapely.STRtree(areas)
    result = [outer.get(loop.placement, -1) if loop.kind == "hole" else -1 for loop in loops]
    for i in outer.values():
        spot = shapely.Point(loops[i].path.rows[0, :2])
        around = [int(k) for k in tree.query(spot, predicate="within")]
        around = [k for k in around if loops[k].placement != loops[i].placement]
        if around:
            result[i] = min(around, key=lambda k: areas[k].area)
    return result


THIN = 1.6
"""Plate up to this thickness warps if neighbouring cuts follow each other [mm]: 16 gauge, common practice."""
THIN_APART = 30.0
"""Distance that then keeps a cut out of the last one's heat [mm]."""


@dataclass(frozen=True, slots=True)
class BurnOrder:
    """What burns when: marks, then (loop, start) pairs [-]; loops left without a start [-]; and why."""

    marks: tuple[Cut, ...]
    steps: tuple[tuple[int, int], ...]
    dropped: tuple[int, ...]
    why: tuple[str, ...]


def sequence(
    job: Job,
    loops: Sequence[Loop],
    starts: Sequence[Sequence[Start]],
    *,
    marks: Sequence[Cut],
    common: Mapping[int, int],
) -> BurnOrder:
    """Put marks and loops in order and choose each loop's start.

    Parameters
    ----------
    job : its thickness and row, and options: home [mm], ranks, heat spread [mm], effort [s], seed
    loops, starts : with at least one start each
    marks : burnt first
    common : loops that must come before another because that one shares their cut [-]
    """
    options = job.options
    here, drawn = _marks_first(marks, options)
    apart = heat_distance(options, job.layout.plate.thickness)
    if not loops:
        return BurnOrder(drawn, (), (), ())
    up = parents(loops)
    why = _order_text(marks, loops, up, apart)
    for first, second in common.items():
        up[first] = second
    ranks = ranks_of(loops, up, options)
    order: list[int] = []
    choice = [0] * len(loops)
    for rank in sorted(set(ranks)):
        group = [i for i in range(len(loops)) if ranks[i] == rank]
        place = {loop: at for at, loop in enumerate(group)}
        offered = [starts[i][:1] if starts[i][0].kind == "common" else starts[i] for i in group]
        visits = visits_of([loops[i] for i in group], offered, [place.get(up[i], -1) for i in group])
        found = tour(
            visits,
            home=here,
            apart=apart,
            effort=options.effort * len(group) / len(loops),
            seed=options.seed,
        )
        for at in found.order:
            choice[group[at]] = found.choice[at]
            order.append(group[at])
        last = found.order[-1]
        x, y = visits.leave[last, found.choice[last]]
        here = (float(x), float(y))
    clear = [clearances(job.row, options, loop.kerf) for loop in loops]
    kept = settle(loops, starts, order, choice, clear)
    for first, second in common.items():
        if first not in kept and second in kept and starts[second][kept[second]].kind == "common":
            del kept[second]  # the stretch it counts on is not cut
    steps = tuple((i, kept[i]) for i in order if i in kept)
    dropped = tuple(i for i in order if i not in kept)
    return BurnOrder(drawn, steps, dropped, why)


def _marks_first(marks: Sequence[Cut], options: BurnOptions) -> tuple[tuple[float, float], tuple[Cut, ...]]:
    """Return where the marks end [mm] and the marks in a short order."""
    if not marks:
        return options.home, ()
    visits = Visits.of([[m.start] for m in marks], [[m.end] for m in marks])
    found = tour(visits, home=options.home, effort=min(0.1, options.effort), seed=options.seed)
    drawn = tuple(marks[i] for i in found.order)
    return drawn[-1].end, drawn


def ranks_of(loops: Sequence[Loop], up: Sequence[int], options: BurnOptions) -> list[int]:
    """Return each loop's rank [-]: the one chosen by hand, but never above that of a loop that waits for it."""
    requested = [options.choice(loop.placement, loop.contour).rank for loop in loops]
    ranks = [0 if r is None else r for r in requested]
    for _ in range(len(loops)):
        changed = False
        for i, parent in enumerate(up):
            if parent >= 0 and ranks[i] > ranks[parent]:
                ranks[i], changed = ranks[parent], True
        if not changed:
            break
    return ranks


def heat_distance(options: BurnOptions, thickness: float) -> float:
    """Return how far one cut should be from the next [mm], by choice or because a thickness [mm] is thin."""
    if options.spread_heat is not None:
        return options.spread_heat
    return THIN_APART if thickness <= THIN else 0.0


def _order_text(
    marks: Sequence[Cut], loops: Sequence[Loop], up: Sequence[int], apart: float
) -> tuple[str, ...]:
    nested = sum(1 for i, p in enumerate(up) if p >= 0 and loops[i].kind == "outer")
    sentences = ["Holes before the outside of their part, so that nothing has moved when they are cut."]
    if marks:
        sentences.insert(0, "Marks first, while the plate is whole.")
    if nested:
        sentences.append(f"{nested} parts lying in holes of others come before those holes.")
    if apart:
        sentences.append(
            f"Neighbouring cuts are kept {apart:g} mm apart where it costs little, to spread the heat."
        )
    return tuple(sentences)


def visits_of(loops: Sequence[Loop], starts: Sequence[Sequence[Start]], parent: Sequence[int]) -> Visits:
    """Return where loops are entered and left by each of their starts [mm], and who waits for whom."""
    from platewright.burn.cuts.edges import at_distance

    most = max(len(s) for s in starts)
    entry, leave = np.zeros((len(loops), most, 2)), np.zeros((len(loops), most, 2))
    for i, (loop, own) in enumerate(zip(loops, starts, strict=True)):
        last = np.array([s.legs[-1].end if s.legs else s.along for s in own])
        at, _, _, _ = at_distance(loop.path, np.mod(last, length(loop.path)))
        for k, start in enumerate(own):
            entry[i, k], leave[i, k] = start.pierce, at[k]
    return Visits.of(entry, leave, count=[len(s) for s in starts], parent=parent)
