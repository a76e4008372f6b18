"""Strip instances from a public collection, with the best densities its own page gives."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from platewright.geometry import Floats
from platewright.layout.problem import Piece, Problem, Shape
from platewright.layout.shape.loops import loops_area

__all__ = ["DATA", "PUBLISHED", "Strip", "sound", "strip"]

DATA = Path(__file__).resolve().parents[3] / "shared" / "checks" / "nesting"
PUBLISHED = {
    "albano": 89.82, "dagli": 90.17, "fu": 92.41, "jakobs1": 89.26, "jakobs2": 87.73, "mao": 86.87,
    "marques": 92.02, "shapes0": 69.98, "shapes1": 76.73, "shirts": 90.92, "swim": 79.83, "trousers": 92.62,
}  # fmt: skip
"""Best published densities [%], from the data set's own page."""


@dataclass(frozen=True)
class Strip:
    """An instance scaled to a strip 1000 mm high: the question, the pieces' area [mm²], the height [mm]."""

    problem: Problem
    area: float
    height: float

    def density(self, polygons: list[Floats]) -> float:
        """Return how full the strip is up to its last piece [%]."""
        return 100 * self.area / (self.height * max(float(p[:, 0].max()) for p in polygons))


def strip(name: str) -> Strip:
    """Read an instance, scaled to a strip 1000 mm high."""
    data = json.loads((DATA / f"{name}.json").read_text())
    scale = 1000.0 / data["strip_height"]
    shapes, pieces, area = [], [], 0.0
    for item in data["items"]:
        points = np.array(item["shape"]["data"], dtype=np.float64) * scale
        points = points[:-1] if np.allclose(points[0], points[-1]) else points
        points = points if loops_area((points,)) > 0 else points[::-1].copy()
        area += loops_area((points,)) * item["demand"]
        loops = (points - points.min(axis=0),)
        shapes.append(
            Shape(raw=loops, big=loops, angles=tuple(math.radians(a) for a in item["allowed_orientations"]))
        )
        pieces += [Piece(len(shapes) - 1)] * item["demand"]
    length = 2.2 * area / 1000.0
    room = (np.array([(0, 0), (length, 0), (length, 1000.0), (0, 1000.0)]),)
    return Strip(Problem(shapes=tuple(shapes), pieces=tuple(pieces), room=room), area, 1000.0)


def sound(case: Strip, polygons: list[Floats]) -> bool:
    """Tell by a second library whether the pieces' areas add up, and all lie inside and apart (a hundred-thousandth of area allowed)."""
    from shapely import Polygon, STRtree

    made = [Polygon(p) for p in polygons]
    if len(made) != len(case.problem.pieces) or not math.isclose(
        sum(p.area for p in made), case.area, rel_tol=1e-9
    ):
        return False
    if any(p.bounds[0] < -1e-3 or p.bounds[1] < -1e-3 or p.bounds[3] > case.height + 1e-3 for p in made):
        return False
    return all(
        made[i].intersection(made[j]).area <= 1e-5 * min(made[i].area, made[j].area)
        for i, j in STRtree(made).query(made, predicate="intersects").T.tolist()
        if i < j
    )
