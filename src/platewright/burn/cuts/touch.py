"""Where the torch touches off before a cut: always on metal.

A program that touches off lowers the torch until it meets the plate. Over an open kerf, beside the plate, or on a piece that
is cut loose it finds nothing, or the wrong height. A start that lies so (from the plate's edge, in the kerf of a common line) gets
a touch-off beside it: the nearest place with metal all round, from where the torch goes to the start at travel height.

By choice a touch-off is left out while the torch is still near the last one, where the plate is flat enough.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.burn.cuts.loops import title
from platewright.burn.cuts.obstacles import plate_shape
from platewright.burn.model import BurnPlan, Cut
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats, flatten
from platewright.table.controller import Controller

__all__ = ["touched"]

Spot = tuple[float, float]
LEAST = 1.0
"""Metal that must lie round the middle of the torch where it touches off [mm]."""
ROOMS = (6.0, 3.0, 1.5)
"""Metal wanted round a touch-off made beside the start, most first [mm]: half a small torch's tip and some."""
SEARCH = 80.0
"""How far from the start a touch-off may be made [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """What is metal, cut by cut: the plate, keep-outs, the kerfs and the pieces cut loose, each with its cut's number."""

    plate: Any
    keepouts: Any
    kerfs: Any
    kerf_tree: Any
    kerf_cut: NDArray[np.int64]
    loose: Any
    loose_tree: Any
    loose_cut: NDArray[np.int64]

    def gone(self, spot: Spot, number: int, reach: float) -> list[Any]:
        """Return kerfs and loose pieces within a reach [mm] of a spot when a cut begins."""
        import shapely

        point = shapely.Point(spot)
        found = []
        for tree, shapes, cuts in (
            (self.kerf_tree, self.kerfs, self.kerf_cut),
            (self.loose_tree, self.loose, self.loose_cut),
        ):
            hit = tree.query(point, predicate="dwithin", distance=reach)
            found += [shapes[i] for i in hit if cuts[i] < number]
        return found

    def is_metal(self, spot: Spot, number: int) -> bool:
        """Tell whether a spot [mm] has metal round it when a cut begins."""
        import shapely

        point = shapely.Point(spot)
        inside = self.plate.contains(point) and self.plate.boundary.distance(point) >= LEAST
        return bool(inside and self.keepouts.distance(point) >= LEAST and not self.gone(spot, number, LEAST))


def _ground(plan: BurnPlan) -> _Ground:
    import shapely

    kerfs, loose = list[Any](), list[Any]()
    kerf_cut, loose_cut = list[int](), list[int]()
    for number, cut in enumerate(plan.cuts):
        if cut.kind == "mark":
            continue
        kerfs.append(shapely.LineString(flatten(cut.path, tolerance=0.02)).buffer(cut.kerf / 2))
        kerf_cut.append(number)
        if cut.before is not None:
            kerfs.append(shapely.LineString(flatten(cut.before, tolerance=0.02)).buffer(cut.kerf / 2))
            kerf_cut.append(number - 1)
        rows = cut.path.rows[cut.lead_edges : len(cut.path) - cut.exit_edges + 1]
        if not cut.tabs and len(rows) > 2:
            loose.append(shapely.Polygon(flatten(Contour(rows, closed=False), tolerance=0.02)).buffer(0))
            loose_cut.append(number)
    keepouts = [shapely.Polygon(flatten(k.contour, tolerance=0.05)) for k in plan.layout.keepouts]
    return _Ground(
        plate=plate_shape(plan.layout),
        keepouts=shapely.union_all(keepouts) if keepouts else shapely.Point(1e9, 1e9),
        kerfs=kerfs,
        kerf_tree=shapely.STRtree(kerfs),
        kerf_cut=np.array(kerf_cut, dtype=np.int64),
        loose=loose,
        loose_tree=shapely.STRtree(loose),
        loose_cut=np.array(loose_cut, dtype=np.int64),
    )


def touched(plan: BurnPlan, controller: Controller) -> tuple[list[Cut], list[Finding]]:
    """Return the cuts with the place each touches off at, and findings where there is none [mm].

    Parameters
    ----------
    plan : its cuts in order, its layout
    controller : whether the program touches off, and apart from the pierce
    """
    burns = [c for c in plan.cuts if not c.drawn]
    if not burns or (not controller.touches and all(c.pierced for c in burns)):
        return [replace(c, touch="here") for c in plan.cuts], []
    ground, made, bad = _ground(plan), list[Cut](), list[Cut]()
    last: Spot | None = None
    for number, cut in enumerate(plan.cuts):
        if cut.drawn:
            made.append(cut)
            continue
        plain = ground.is_metal(cut.start, number)
        spot: Spot | None = cut.start
        if not plain:
            spot = _beside(ground, cut, number, plan.reaches) if controller.apart else None
            if spot is None:
                bad.append(cut)
        near = last is not None and math.dist(last, cut.start) < plan.options.touch_every
        if near and plain and controller.apart:
            made.append(replace(cut, touch="none"))
            continue
        made.append(replace(cut, touch="here" if plain or spot is None else spot))
        last = cut.start if spot is None else spot
    return made, _findings(plan, controller, bad)


def _findings(plan: BurnPlan, controller: Controller, bad: Sequence[Cut]) -> list[Finding]:
    if not bad or not (controller.touches or plan.table.probe_time):
        return []
    first = bad[0]
    subject = title(plan.layout, first.placement, first.contour)
    code = "B030" if controller.touches else "B029"
    return [finding(code, place=first.start, subject=subject, count=len(bad))]


def _beside(
    ground: _Ground, cut: Cut, number: int, reaches: Callable[[Floats], NDArray[np.bool_]]
) -> Spot | None:
    """Return the nearest place to a cut's start with metal all round [mm], or None if there is none near."""
    import shapely

    x, y = cut.start
    window = shapely.box(x - SEARCH, y - SEARCH, x + SEARCH, y + SEARCH)
    gone = shapely.union_all([ground.keepouts, *ground.gone(cut.start, number, 1.5 * SEARCH)])
    metal = ground.plate.intersection(window).difference(gone)
    for room in ROOMS:
        free = metal.buffer(-room)
        if free.is_empty:
            continue
        spot = shapely.get_coordinates(shapely.shortest_line(shapely.Point(x, y), free))[1]
        if reaches(spot[None])[0]:
            return float(spot[0]), float(spot[1])
    return None
