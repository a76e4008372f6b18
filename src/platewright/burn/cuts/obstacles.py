"""What a lead must stay clear of, indexed.

Every boundary (parts, plate, keep-outs) is flattened and broken into short chains that go into one spatial tree. A lead
starts on its own cut's path, in scrap, and is short: it can only get into metal by coming near a boundary, so the
distance to boundaries decides, and one bulk query answers for a whole batch of candidates.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Contour, Floats, flatten
from platewright.layout.model import Layout

__all__ = ["Clear", "Obstacles", "plate_shape"]

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

CHORD = 0.01
"""Chord error of the boundaries [mm]: far below every clearance asked of a lead."""
CHAIN = 12
"""Edges in one chain of the tree: long enough to be few, short enough for tight boxes."""
PLATE, KEEPOUT = -1, -2


def plate_shape(layout: Layout) -> Any:
    """Return the plate as a polygon with its old holes, prepared for many questions [mm]."""
    import shapely

    outer, *holes = (flatten(c, tolerance=CHORD) for c in layout.plate.profile.contours())
    shape = shapely.Polygon(outer, holes)
    shapely.prepare(shape)
    return shape


@dataclass(frozen=True, slots=True, kw_only=True)
class Clear:
    """Free distances from the path of a lead and from the point of its pierce [mm].

    Attributes
    ----------
    lead_own, lead_other, lead_plate : path of the lead to its own part, to other parts, to plate edge and keep-outs
    pierce_own, pierce_other, pierce_plate : the pierce to the same
    """

    lead_own: float
    lead_other: float
    lead_plate: float
    pierce_own: float
    pierce_other: float
    pierce_plate: float

    @property
    def widest(self) -> float:
        """The largest of the six [mm]."""
        return max(self.lead_other, self.lead_plate, self.pierce_own, self.pierce_other, self.pierce_plate)


@dataclass(frozen=True, slots=True)
class Obstacles:
    """Indexed boundaries of a layout: a tree of short chains and the placement each belongs to."""

    tree: Any
    chains: Any
    owner: Ints

    @staticmethod
    def of(layout: Layout) -> Obstacles:
        """Index a layout's boundaries [mm]."""
        import shapely

        chains: list[Floats] = []
        owners: list[int] = []

        def add(contour: Contour, owner: int) -> None:
            points = flatten(contour, tolerance=CHORD)
            points = np.vstack([points, points[:1]])
            for i in range(0, len(points) - 1, CHAIN):
                chains.append(points[i : i + CHAIN + 1])
                owners.append(owner)

        for index, (_, _, profile) in enumerate(layout.placed()):
            for contour in profile.contours():
                add(contour, index)
        for contour in layout.plate.profile.contours():
            add(contour, PLATE)
        for keepout in layout.keepouts:
            add(keepout.contour, KEEPOUT)
        sizes = np.array([len(c) for c in chains])
        lines = shapely.linestrings(np.vstack(chains), indices=np.repeat(np.arange(len(chains)), sizes))
        return Obstacles(shapely.STRtree(lines), lines, np.array(owners))

    def legal(self, paths: Floats, own: int, clear: Clear) -> Flags:
        """Tell which of (N, K, 2) sampled leads [mm], each starting at its pierce, keep clear of everything."""
        import shapely

        lines, points = shapely.linestrings(paths), shapely.points(paths[:, 0])
        good = np.ones(len(paths), dtype=bool)
        which, chain = self.tree.query(lines, predicate="dwithin", distance=clear.widest)
        if len(which):
            owner = self.owner[chain]
            mine, edge = owner == own, owner < 0
            need = np.where(mine, clear.lead_own, np.where(edge, clear.lead_plate, clear.lead_other))
            room = np.where(mine, clear.pierce_own, np.where(edge, clear.pierce_plate, clear.pierce_other))
            near = shapely.distance(lines[which], self.chains[chain])
            splash = shapely.distance(points[which], self.chains[chain])
            good[which[(near < need) | (splash < room)]] = False
        return good

    def crossing(self, path: Floats, own: int, clear: float) -> Ints:
        """Return the owners whose boundary a path (N, 2) [mm] comes nearer to than a distance [mm], its own part aside."""
        import shapely

        line = shapely.linestrings(path)
        hit = self.tree.query(line, predicate="dwithin", distance=clear)
        owners = np.unique(self.owner[hit])
        return np.asarray(owners[owners != own], dtype=np.int64)
