"""Small jobs made by hand: a burn plan without the planner."""

from __future__ import annotations

import numpy as np

from platewright.burn.model import BurnPlan, Cut
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.model import ChartRow, Gantry, TableProfile

ROW = ChartRow(
    "air plasma", "mild steel", 6.0, 65.0, 1.6, 40.0, 1.5, 3.8, 0.5, 128.0, 500.0, 180.0, 12.0, 9.0, 0.6, 6.0
)  # fmt: skip
TABLE = TableProfile(
    "shed table", Gantry(0, 0, 1250, 1250), 600.0, 0.05, 150.0, 40.0, 60.0, 100.0, 2.0, 20.0, "plain-mm"
)


def lead(contour: Contour, length: float, side: float) -> Contour:
    """Return the open path of a closed contour with a straight lead-in at right angles to its first edge [mm]."""
    edge = contour.edge(0)
    direction = edge.direction(0.0)
    start = contour.points[0] + length * side * np.array([-np.sin(direction), np.cos(direction)])
    first = [*start, 0.0]
    last = [*contour.points[0], 0.0]
    return Contour(np.vstack([[first], contour.rows, [last]]), closed=False)


def cut(
    contour: Contour, kind: str = "outer", *, placement: int = 0, index: int = 0, side: float = 1.0,
    length: float = 6.0, follow: bool = True, speed: float | None = None,
) -> Cut:  # fmt: skip
    path = lead(contour, length, side)
    n = len(path)
    return Cut(
        kind, placement, index, path, (speed or ROW.cut_speed,) * n, (follow,) * n,  # type: ignore[arg-type]
        ROW.pierce_delay, ROW.pierce_height, ROW.cut_height, lead_edges=1,
    )  # fmt: skip


def washer_plan(kerf: float = ROW.kerf, *, swap: bool = False) -> BurnPlan:
    """Two washers, 80 over 30 mm, on a 300 by 200 plate; paths kerf-compensated by hand."""
    part = Part("washer", Profile(Contour.circle(0, 0, 40), (Contour.circle(0, 0, 15),)), 6.0)
    layout = Layout(
        Plate.sheet("test sheet", 300, 200, 6.0), (part,),
        (Placement(0, Pose(80, 100), 1), Placement(0, Pose(200, 100), 2)),
    )  # fmt: skip
    cuts: list[Cut] = []
    for i, x in enumerate((80.0, 200.0)):
        hole = cut(
            Contour.circle(x, 100, 15 - kerf / 2), "hole", placement=i, index=1, follow=False, speed=24.0
        )
        outer = cut(Contour.circle(x, 100, 40 + kerf / 2, clockwise=True), placement=i)
        cuts += [outer, hole] if swap else [hole, outer]
    return BurnPlan(layout, TABLE, ROW, tuple(cuts))
