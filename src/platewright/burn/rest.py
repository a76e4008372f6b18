"""Cuts that make the rest of a sheet liftable: straight across it, after all parts, by choice.

Words
-----
rest : what is left of the plate when the parts are out; across : square to the plate's longer side; open : where there is no
metal, off the plate or in a kerf.

Lines are spread so that no piece of the rest is longer than asked; within its room each takes the place that burns least. A line is
cut where there is metal, from the open into the open, so that nothing is pierced. In the kerf of a part it stops a quarter of a kerf
short of that part. The program stops before the first of them, for the parts to be lifted out. A line along which the plate is cut off
is burned after them: what is beyond it is kept whole, and holds the rest still until then.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from platewright.burn.cuts.cutoff import still_over, swept
from platewright.burn.cuts.obstacles import plate_shape
from platewright.burn.model import BurnPlan, Cut
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats, flatten
from platewright.table.model import TableProfile

__all__ = ["rest_cuts"]

TRIES = 21
"""Places tried for each line [-]."""
ROOM = 0.07
"""How far a line may move from its even place, over the longest piece asked for [-]; even places leave that much room."""
MARGIN = 0.25
"""A cut of the rest stays so many kerfs clear of the parts and of a drop that is cut off [-]."""
OFF = 1.0
"""It starts and ends so far off the metal, beyond half a kerf [mm]."""
KEEP = 2.0
"""It stays so far clear of keep-outs, beyond half a kerf [mm]."""
LEAST = 0.5
"""Less metal than this is not worth a cut [mm]."""
START = 4.0
"""What a start takes [s], to weigh places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """The rest, all metal there is when the parts are out, where a path may run, and what is burned already and lies beside that, as shapes [mm]."""

    metal: Any
    solid: Any
    free: Any
    burned: Any
    beside: Any
    kerf: float
    feed: float


def rest_cuts(plan: BurnPlan, moving: TableProfile) -> tuple[list[Cut], list[Finding]]:
    """Return the cuts of the rest of a plan, none unless asked for, and what is told of them [mm].

    Parameters
    ----------
    plan : its cuts in order
    moving : the table as it lies under this plate
    """
    import shapely

    longest = plan.options.skeleton
    ground = _ground(plan) if longest else None
    if ground is None or ground.metal.is_empty:
        return [], []
    x0, y0, x1, y1 = ground.metal.bounds
    wide = x1 - x0 >= y1 - y0
    low, high = (x0, x1) if wide else (y0, y1)
    count = max(0, int(np.ceil((high - low) / (longest * (1 - 2 * ROOM)))) - 1)
    cuts, left, here = list[Cut](), 0.0, -np.inf
    for k in range(1, count + 1):
        even = low + (high - low) * k / (count + 1)
        places = even + np.linspace(-ROOM, ROOM, TRIES) * longest
        line = min((_line(at, (x0, y0, x1, y1), wide) for at in places), key=lambda x: _cost(ground, x))
        ways, missed = _ways(ground, line)
        left += missed
        upward = abs(here - (y0 if wide else x0)) <= abs(here - (y1 if wide else x1))
        for way in ways if upward else [_turned(ground, w) for w in ways[::-1]]:
            reached = _reached(plan, way, ground.kerf)
            if reached is None:
                left += shapely.LineString(way).intersection(ground.metal).length
                continue
            cuts.append(_cut(plan, ground, reached, moving))
            here = float(cuts[-1].end[1 if wide else 0])
    if not cuts:
        return [], []
    found = finding("B042", place=cuts[0].start, count=len(cuts), lines=count, left_mm=round(left))
    return cuts, [found]


def _ground(plan: BurnPlan) -> _Ground:
    import shapely

    burns = [c for c in plan.cuts if c.kind in ("hole", "outer", "cut-off")]
    kerf = plan.row.kerf
    burned = swept(c for c in burns if c.kind != "cut-off")
    later = swept(c for c in burns if c.kind == "cut-off")
    parts = [
        shapely.Polygon(flatten(profile.outer, tolerance=0.02)) for _, _, profile in plan.layout.placed()
    ]
    own = [(p, k) for c in burns if c.kind != "cut-off" for p, k in ((c.placement, c.contour), *c.also)]
    out = {p for p, contour in own if contour == 0}
    gone = shapely.union_all([burned, later, *(parts[p] for p in out)])
    kept = shapely.union_all(
        [shapely.Polygon(flatten(k.contour, tolerance=0.05)) for k in plan.layout.keepouts]
    )
    metal, drops = plate_shape(plan.layout).difference(gone), list[Any]()
    solid = metal
    if not later.is_empty:
        # what is cut off and lies by no part is a drop to keep, touched no more than a part
        near = shapely.union_all(parts).buffer(2 * kerf)
        drops = [p for p in shapely.get_parts(metal) if not p.intersects(near)]
        metal = metal.difference(shapely.union_all(drops))
        solid = shapely.union_all([metal, *drops, later])
    whole = shapely.union_all([*parts, *drops])
    free = metal.buffer(kerf / 2 + OFF).difference(whole.buffer(kerf * (0.5 + MARGIN)))
    free = free.difference(kept.buffer(kerf / 2 + KEEP))
    feed = min(plan.row.cut_speed, plan.table.max_cut_speed)
    return _Ground(
        metal=metal,
        solid=solid,
        free=free,
        burned=burned,
        beside=burned.buffer(2 * kerf),
        kerf=kerf,
        feed=feed,
    )


def _line(at: float, box: tuple[float, float, float, float], wide: bool) -> Any:
    import shapely

    x0, y0, x1, y1 = box
    ends = [(at, y0 - 50), (at, y1 + 50)] if wide else [(x0 - 50, at), (x1 + 50, at)]
    return shapely.LineString(ends)


def _ways(ground: _Ground, line: Any) -> tuple[list[Floats], float]:
    """Return the stretches of a line to be cut, each from the open, and how much metal on it is left [mm]."""
    import shapely

    ways, done = list[Floats](), 0.0
    for way in shapely.get_parts(line.intersection(ground.free)):
        metal = way.intersection(ground.metal).length
        if metal < LEAST:
            continue
        ends = shapely.get_coordinates(way)[[0, -1]]
        blind = shapely.contains_xy(ground.solid, ends)
        if blind.all():
            continue
        done += metal
        ways.append(ends[::-1] if blind[0] else ends)
    return sorted(ways, key=lambda w: tuple(w.min(axis=0))), float(
        line.intersection(ground.metal).length
    ) - done


def _cost(ground: _Ground, line: Any) -> float:
    """Return what a line costs [s]: its starts, its burning, metal it leaves, and running along a kerf."""
    ways, left = _ways(ground, line)
    long = sum(float(np.hypot(*(w[1] - w[0]))) for w in ways)
    beside = float(line.intersection(ground.beside).length)
    return START * len(ways) + (long + 2 * beside + 10 * left) / ground.feed


def _turned(ground: _Ground, way: Floats) -> Floats:
    """Return a way the other way round, if its end lies in the open too [mm]."""
    import shapely

    return way if shapely.contains_xy(ground.solid, *way[1]) else way[::-1]


def _reached(plan: BurnPlan, way: Floats, kerf: float) -> Floats | None:
    """Return a way with ends the torch gets to, drawn in as far as the metal's edge [mm]; None where that does not do."""
    reaches, long = plan.reaches, float(np.hypot(*(way[1] - way[0])))
    along, ends = (way[1] - way[0]) / long, list[Floats]()
    for end, inward in ((way[0], along), (way[1], -along)):
        tries = end + np.linspace(0.0, min(kerf / 2 + OFF, long / 3), 9)[:, None] * inward
        good = np.flatnonzero(reaches(tries))
        if not len(good):
            return None
        ends.append(tries[good[0]])
    return np.array(ends)


def _cut(plan: BurnPlan, ground: _Ground, way: Floats, moving: TableProfile) -> Cut:
    """Return the cut along a way [mm]; height control holds still over older kerfs."""
    row, path, long = plan.row, Contour.from_points(way, closed=False), float(np.hypot(*(way[1] - way[0])))
    cut = Cut(
        kind="rest", placement=len(plan.layout.placements), contour=0, path=path, speeds=(ground.feed,), height_control=(False,),
        pierce_delay=plan.options.edge_delay, pierce_height=row.pierce_height, cut_height=row.cut_height, kerf=row.kerf, pierced=False,
        why=(f"Cuts the rest of the plate across over {long:.0f} mm, from the open and clear of the parts, so that it can be lifted.",),
    )  # fmt: skip
    return still_over(cut, ground.burned, moving)
