"""``Job``: what every step of the planner reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.burn.cuts.obstacles import Obstacles, plate_shape
from platewright.burn.model import BurnPlan, reached
from platewright.burn.options import BurnOptions
from platewright.geometry import Floats
from platewright.layout.model import Layout
from platewright.table.controller import Controller
from platewright.table.model import ChartRow, TableProfile

__all__ = ["Job"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What every step reads."""

    layout: Layout
    row: ChartRow
    table: TableProfile
    options: BurnOptions
    obstacles: Obstacles
    plate: Any
    chord: float

    @staticmethod
    def on(
        layout: Layout,
        *,
        row: ChartRow,
        table: TableProfile,
        options: BurnOptions,
        controller: Controller | None = None,
    ) -> Job:
        """Index a layout [mm], to be cut on a table by a chart row for a controller."""
        return Job(
            layout=layout,
            row=row,
            table=table,
            options=options,
            obstacles=Obstacles.of(layout),
            plate=plate_shape(layout),
            chord=(controller or Controller()).chord,
        )

    @staticmethod
    def of(made: BurnPlan) -> Job:
        """Return what every step reads of a plan that is made already."""
        return Job.on(
            made.layout, row=made.row, table=made.table, options=made.options, controller=made.controller
        )

    def pierceable(self, points: Floats) -> NDArray[np.bool_]:
        """Tell which points (N, 2) [mm] lie on the plate and in reach."""
        import shapely

        return np.asarray(self.reaches(points) & shapely.contains_xy(self.plate, points), dtype=np.bool_)

    def reaches(self, points: Floats) -> NDArray[np.bool_]:
        """Tell which points of the plate (N, 2) [mm] the torch can be over, where the plate lies."""
        return reached(self.table, self.layout, points)
