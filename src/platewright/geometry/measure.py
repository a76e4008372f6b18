"""Lengths, areas and boxes of contours, exact for arcs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Contour, Floats, signed_area

__all__ = ["ArcData", "Box", "arc_data", "bounds", "edge_lengths", "length", "on_edges", "signed_area"]


@dataclass(frozen=True, slots=True)
class Box:
    """An upright box [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float

    @staticmethod
    def round(boxes: Iterable[Box]) -> Box:
        """Return the box round one or more boxes [mm]."""
        every = list(boxes)
        return Box(
            min(b.x0 for b in every), min(b.y0 for b in every), max(b.x1 for b in every), max(b.y1 for b in every)
        )  # fmt: skip

    @property
    def middle(self) -> tuple[float, float]:
        """Middle [mm]."""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    @property
    def width(self) -> float:
        """Width [mm]."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Height [mm]."""
        return self.y1 - self.y0


@dataclass(frozen=True, slots=True)
class ArcData:
    """Per-edge arc values; lines have radius inf and sweep 0. Arrays of length E [mm, rad]."""

    centre: Floats
    radius: Floats
    start_angle: Floats
    sweep: Floats


def arc_data(contour: Contour) -> ArcData:
    """Return centre (E, 2) [mm], radius [mm], start angle [rad] and signed sweep [rad] of every edge.

    Lines, and arcs whose ends coincide, get the centre of their chord, an infinite radius and sweep 0.
    """
    start, end, bulge = contour.starts, contour.ends, contour.bulges
    half = (end - start) / 2.0
    left = np.column_stack([-half[:, 1], half[:, 0]])
    curved = (bulge != 0) & ((half[:, 0] != 0) | (half[:, 1] != 0))
    safe = np.where(curved, bulge, 1.0)
    centre = start + half + np.where(curved, (1 - safe**2) / (2 * safe), 0.0)[:, None] * left
    chord = 2 * np.hypot(half[:, 0], half[:, 1])
    radius = np.where(curved, chord * (1 + safe**2) / (4 * np.abs(safe)), np.inf)
    away = start - centre
    return ArcData(
        centre, radius, np.arctan2(away[:, 1], away[:, 0]), np.where(curved, 4 * np.arctan(bulge), 0.0)
    )


def edge_lengths(contour: Contour) -> Floats:
    """Return the length of every edge, (E,) [mm]."""
    arcs = arc_data(contour)
    chord = np.hypot(*(contour.ends - contour.starts).T)
    return np.where(
        arcs.sweep == 0, chord, np.abs(arcs.sweep) * np.where(np.isinf(arcs.radius), 0.0, arcs.radius)
    )


def length(contour: Contour) -> float:
    """Return the length along the contour [mm]."""
    return float(edge_lengths(contour).sum())


def bounds(contour: Contour) -> Box:
    """Return the exact upright bounding box [mm]."""
    arcs = arc_data(contour)
    spots = [contour.points]
    curved = np.flatnonzero(arcs.sweep != 0)
    for quarter in range(4):
        angle = quarter * np.pi / 2
        turned = np.mod((angle - arcs.start_angle[curved]) * np.sign(arcs.sweep[curved]), 2 * np.pi)
        hit = curved[turned <= np.abs(arcs.sweep[curved])]
        spots.append(arcs.centre[hit] + arcs.radius[hit, None] * [np.cos(angle), np.sin(angle)])
    every = np.vstack(spots)
    low, high = every.min(axis=0), every.max(axis=0)
    return Box(float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def on_edges(contour: Contour, edge: NDArray[np.int64], share: Floats) -> tuple[Floats, Floats]:
    """Return points [mm] and directions [rad] at shares [-] of edges."""
    arcs = arc_data(contour)
    chord = contour.ends - contour.starts
    curved = arcs.sweep[edge] != 0
    angle = arcs.start_angle[edge] + arcs.sweep[edge] * share
    radius = np.where(curved, arcs.radius[edge], 0.0)
    turned = arcs.centre[edge] + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    straight = contour.starts[edge] + chord[edge] * share[:, None]
    heading = np.where(
        curved,
        angle + np.copysign(np.pi / 2, arcs.sweep[edge]),
        np.arctan2(chord[edge, 1], chord[edge, 0]),
    )
    return np.where(curved[:, None], turned, straight), heading
