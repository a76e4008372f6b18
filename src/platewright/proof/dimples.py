"""Dimples in a program: burns that never move and mark a place for the drill, by wish. They part nothing and are no cuts.

A burn is one if dimples were asked for, it stands still at a centre asked for or in the middle of a hole left to be drilled, the plate is
thick enough and all arcs that strike there short enough together, ways up and down included (``table.law``). Any other burn that
stands still is a hole in the plate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from platewright.geometry import flatten
from platewright.layout.model import Layout
from platewright.proof.burns import Burn, Torch
from platewright.proof.deliberate import Deliberate
from platewright.table.law import dimples
from platewright.table.model import ChartRow

__all__ = ["NEAR", "Struck", "middles", "parted", "places"]

NEAR = 0.5
"""How far a dimple may lie from the place asked for [mm]."""


@dataclass(frozen=True, slots=True)
class Struck:
    """Dimples, and burns meant as such that are too long or stand on too thin a plate (those stay cuts)."""

    good: tuple[Burn, ...] = ()
    bad: tuple[Burn, ...] = ()


def places(layout: Layout, meant: Deliberate) -> Iterator[tuple[float, float]]:
    """Yield where a dimple may be [mm]: centres asked for, and the middles of holes to be drilled."""
    for _, mark in layout.placed_marks():
        if mark.kind != "print" and mark.at is not None:
            yield mark.at
    yield from middles(layout, meant)


def middles(layout: Layout, meant: Deliberate) -> Iterator[tuple[float, float]]:
    """Yield the middle of each hole to be drilled, and of its box [mm]."""
    for _, _, profile in layout.placed():
        for hole in profile.holes:
            if meant.drilled(hole):
                shape = shapely.polygons(flatten(hole, tolerance=0.05))
                for spot in (shape.centroid, shapely.box(*shape.bounds).centroid):
                    yield float(spot.x), float(spot.y)


def parted(
    torch: Torch, layout: Layout | None, meant: Deliberate, row: ChartRow | None
) -> tuple[Torch, Struck]:
    """Return the torch without its dimples, cuts numbered anew, and the dimples."""
    still = [n for n, b in enumerate(torch.burns) if b.edge_first == b.edge_last]
    if not (still and meant.dimple and row is not None and layout is not None):
        return torch, Struck()
    spots = np.array([*places(layout, meant), (np.inf, np.inf)])
    marked = [n for n in still if np.hypot(*(spots - torch.burns[n].pierce).T).min() <= NEAR]
    lit = np.array([torch.burns[n].stood for n in marked])
    at = np.array([torch.burns[n].pierce for n in marked]).reshape(-1, 2)
    good = {
        n
        for n, spot in zip(marked, at, strict=True)
        if dimples(row, layout.plate.thickness, float(lit[np.hypot(*(at - spot).T) <= 2 * NEAR].sum()))
        and not torch.burns[n].stops
    }
    struck = Struck(
        tuple(torch.burns[n] for n in sorted(good)), tuple(torch.burns[n] for n in marked if n not in good)
    )
    number = np.cumsum([n not in good for n in range(len(torch.burns))]) - 1
    kept = tuple(b for n, b in enumerate(torch.burns) if n not in good)
    return replace(torch, burns=kept, burn=number[torch.burn].astype(np.intp)), struck
