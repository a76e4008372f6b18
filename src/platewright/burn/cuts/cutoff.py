"""The asked-for line along which the plate is cut off beside its parts, burned last of all.

The line runs from one edge of the plate to beyond the other: the torch is lit over the edge, and nothing is pierced. Where old holes or the outline of a drop interrupt the metal, each stretch of metal is a cut of its own. After
it the rest of the plate is loose: nothing may be burned later.

Assumptions: the line keeps clear of the parts (the layout's check holds that). Limits: a line over a keep-out, or one that
the torch cannot reach from end to end, is not burned and told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.burn.cuts.build import settled
from platewright.burn.model import Cut
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats, flatten
from platewright.layout.model import Layout
from platewright.table.model import ChartRow, TableProfile

__all__ = ["Torch", "cut_off", "still_over", "swept"]

OVER = 1.0
"""How far past the edge of the metal the torch runs at the end, in kerfs [-]: the arc has left the plate."""
START = 0.4
"""How far off the metal it is lit, in kerfs [-]: over the edge, where the arc still finds metal (common practice)."""
STEP = 2.0
"""Distance between places looked at along the line [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Torch:
    """What burns it: the chart's row, the table's motion, the places the torch can be over (N, 2) [mm], and the wait at an edge [s]."""

    row: ChartRow
    table: TableProfile
    reaches: Callable[[Floats], NDArray[np.bool_]]
    delay: float


def cut_off(layout: Layout, torch: Torch) -> tuple[list[Cut], list[Finding]]:
    """Return the cuts along the layout's cut-off line [mm, mm/s], not yet timed (`still_over`), or why there are none.

    Parameters
    ----------
    layout : plate, keep-outs and the line; without a line there is nothing to burn, and that is told
    torch : what burns it
    """
    import shapely

    if layout.cut_off is None or math.dist(*layout.cut_off) == 0:
        return [], [finding("B037", subject=layout.plate.name)]
    line = shapely.LineString(layout.cut_off)
    kerf = torch.row.kerf
    for keepout in layout.keepouts:
        shape = shapely.Polygon(flatten(keepout.contour, tolerance=0.05))
        if line.distance(shape) < kerf / 2 + layout.clearance.keepout:
            place = shapely.get_coordinates(shape.centroid)[0]
            return [], [finding("B038", place=(float(place[0]), float(place[1])), subject=keepout.name)]
    outline, *holes = (flatten(c, tolerance=0.01) for c in layout.plate.profile.contours())
    metal = line.intersection(shapely.Polygon(outline, holes))
    runs = [
        np.asarray(g.coords)
        for g in getattr(metal, "geoms", [metal])
        if g.geom_type == "LineString" and g.length > kerf
    ]
    (ax, ay), (bx, by) = layout.cut_off
    whole = math.hypot(bx - ax, by - ay)
    along = np.array([(bx - ax) / whole, (by - ay) / whole])
    if not runs:
        return [], [finding("B037", subject=layout.plate.name)]
    ends = []
    for first, last in sorted(((r[0], r[-1]) for r in runs), key=lambda e: float(e[0] @ along)):
        a, b = (first, last) if (last - first) @ along > 0 else (last, first)
        # where the plate lies at the end of the torch's reach, it is lit and put out over the very edge
        a = next((s for s in (a - START * kerf * along, a) if torch.reaches(s[None])[0]), a)
        b = next((s for s in (b + OVER * kerf * along, b) if torch.reaches(s[None])[0]), b)
        places = a + np.linspace(0.0, 1.0, max(2, int(np.hypot(*(b - a)) / STEP)))[:, None] * (b - a)
        if not (good := torch.reaches(places)).all():
            at = places[int(np.argmin(good))]
            return [], [finding("B039", place=(float(at[0]), float(at[1])), subject=layout.plate.name)]
        ends.append((a, b))
    return [_cut(layout, torch, a, b) for a, b in ends], []


def swept(cuts: Iterable[Cut]) -> Any:
    """Return the kerfs of cuts as one shape [mm]."""
    import shapely

    lines = [(shapely.LineString(flatten(c.lit, tolerance=0.02)), c.kerf) for c in cuts]
    return shapely.union_all([line.buffer(kerf / 2) for line, kerf in lines])


def still_over(cut: Cut, burned: Any, table: TableProfile) -> Cut:
    """Return a straight cut with height control still where it runs into a kerf burned before it, and at its end [mm].

    Parameters
    ----------
    cut : from edge to edge of the metal, or of the open
    burned : kerfs burned before it, as one shape [mm]
    table : its motion
    """
    import shapely

    path = Contour.from_points([cut.start, cut.end], closed=False)
    line = shapely.LineString([cut.start, cut.end])
    over = [o for o in shapely.get_parts(line.intersection(burned.buffer(cut.kerf))) if o.length > 0]
    ends = [sorted(line.project(shapely.Point(p)) for p in shapely.get_coordinates(o)[[0, -1]]) for o in over]
    plain = replace(cut, path=path, speeds=cut.speeds[:1], height_control=(False,))
    return settled(plain, table, tail=(OVER + 1.0) * cut.kerf, still=[(a, b) for a, b in ends])


def _cut(layout: Layout, torch: Torch, a: Floats, b: Floats) -> Cut:
    row = torch.row
    path = Contour.from_points([(float(a[0]), float(a[1])), (float(b[0]), float(b[1]))], closed=False)
    feed = min(row.cut_speed, torch.table.max_cut_speed)
    why = (
        "Cuts the plate off along the line asked for, after everything else: what is left goes back whole.",
        "Lit over one edge of the metal and run past the other: no pierce.",
    )
    return Cut(
        kind="cut-off", placement=len(layout.placements), contour=0, path=path, speeds=(feed,), height_control=(False,),
        pierce_delay=torch.delay, pierce_height=row.pierce_height, cut_height=row.cut_height, why=why, kerf=row.kerf, pierced=False,
    )  # fmt: skip
