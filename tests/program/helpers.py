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
    process="air plasma", grade="mild steel", thickness=6.0, amperage=65.0, kerf=1.6, cut_speed=40.0, cut_height=1.5, pierce_height=3.8, pierce_delay=0.5, arc_voltage=128.0, air_pressure=500.0, air_flow=180.0, post_flow=12.0, smallest_hole=9.0, edge_slope=0.6, lead=6.0
)  # fmt: skip
TABLE = TableProfile(
    name="shed table",
    reach=Gantry(0, 0, 1250, 1250),
    acceleration=600.0,
    corner_tolerance=0.05,
    rapid_speed=150.0,
    plunge_speed=40.0,
    lift_speed=60.0,
    max_cut_speed=100.0,
    probe_time=2.0,
    safe_height=20.0,
    dialect="plain-mm",
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
        kind=kind, placement=placement, contour=index, path=path, speeds=(speed or ROW.cut_speed,) * n, height_control=(follow,) * n,  # type: ignore[arg-type]
        pierce_delay=ROW.pierce_delay, pierce_height=ROW.pierce_height, cut_height=ROW.cut_height, lead_edges=1,
    )  # fmt: skip


def washer_plan(kerf: float = ROW.kerf, *, swap: bool = False) -> BurnPlan:
    """Two washers, 80 over 30 mm, on a 300 by 200 plate; paths kerf-compensated by hand."""
    part = Part(
        name="washer", profile=Profile(Contour.circle(0, 0, 40), (Contour.circle(0, 0, 15),)), thickness=6.0
    )
    layout = Layout(
        plate=Plate.sheet("test sheet", 300, 200, 6.0), parts=(part,),
        placements=(Placement(0, Pose(80, 100), 1), Placement(0, Pose(200, 100), 2)),
    )  # fmt: skip
    cuts: list[Cut] = []
    for i, x in enumerate((80.0, 200.0)):
        hole = cut(
            Contour.circle(x, 100, 15 - kerf / 2), "hole", placement=i, index=1, follow=False, speed=24.0
        )
        outer = cut(Contour.circle(x, 100, 40 + kerf / 2, clockwise=True), placement=i)
        cuts += [outer, hole] if swap else [hole, outer]
    return BurnPlan(layout=layout, table=TABLE, row=ROW, cuts=tuple(cuts))
