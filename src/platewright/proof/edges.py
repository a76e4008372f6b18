"""Exact distances from points to chains of lines and arcs.

Words: an edge is a line or an arc with its true centre; the side of a point is on which side of the nearest edge it
lies (positive to the left of travel, which is where the metal is for a counterclockwise outer contour and a clockwise
hole).

Method: for a line the foot of the perpendicular, held to its ends; for an arc the radial distance where the point
stands inside its sweep, else the nearer end. At a corner two edges are equally near; the one the point stands farther
off sideways decides the side. Cost: points times edges in compiled code, which passes over blocks of edges whose box
is too far. Nothing here knows of offsets.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Contour, Floats, arc_data

__all__ = ["Edges", "Nearest", "nearest"]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Edges:
    """Edges as arrays of length E: start, end, centre (E, 2) [mm], radius [mm], start angle and sweep [rad] (0: line)."""

    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    angle: Floats
    sweep: Floats

    def __len__(self) -> int:
        """Return the number of edges."""
        return len(self.sweep)

    def taken(self, index: NDArray[np.intp] | slice) -> Edges:
        """Return some of the edges [mm, rad]."""
        return Edges(
            start=self.start[index],
            end=self.end[index],
            centre=self.centre[index],
            radius=self.radius[index],
            angle=self.angle[index],
            sweep=self.sweep[index],
        )

    @staticmethod
    def of(contour: Contour) -> Edges:
        """Return the edges of a contour [mm, rad]."""
        arcs = arc_data(contour)
        return Edges(
            start=contour.starts,
            end=contour.ends,
            centre=arcs.centre,
            radius=arcs.radius,
            angle=arcs.start_angle,
            sweep=arcs.sweep,
        )

    @staticmethod
    def joined(parts: list[Edges]) -> Edges:
        """Return several sets as one [mm, rad]."""
        return Edges(**{name: np.concatenate([getattr(p, name) for p in parts]) for name in Edges.__slots__})

    def lengths(self) -> Floats:
        """Return the length of each edge, (E,) [mm]."""
        chord = np.hypot(*(self.end - self.start).T)
        radius = np.where(self.sweep != 0, self.radius, 0.0)
        return np.where(self.sweep == 0, chord, radius * np.abs(self.sweep))

    def at(self, index: NDArray[np.intp], along: Floats) -> Floats:
        """Return points at fractions [-] of some of the edges, (M, 2) [mm]."""
        straight = self.start[index] + along[:, None] * (self.end[index] - self.start[index])
        round_ = self.sweep[index] != 0
        radius = np.where(round_, self.radius[index], 0.0)
        angle = self.angle[index] + self.sweep[index] * along
        circle = self.centre[index] + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        ends = np.where((along <= 0)[:, None], self.start[index], self.end[index])
        circle = np.where(((along <= 0) | (along >= 1))[:, None], ends, circle)
        return np.where(round_[:, None], circle, straight)

    def split(self, turn: float) -> Edges:
        """Return the same edges with no arc wider than `turn` [rad]."""
        count = np.maximum(1, np.ceil(np.abs(self.sweep) / turn - 1e-9)).astype(np.intp)
        if (count == 1).all():
            return self
        index = np.repeat(np.arange(len(self)), count)
        step = np.arange(len(index)) - np.repeat(np.cumsum(count) - count, count)
        share = 1.0 / count[index]
        start, end = self.at(index, step * share), self.at(index, (step + 1) * share)
        sweep = self.sweep[index] * share
        return Edges(
            start=start,
            end=end,
            centre=self.centre[index],
            radius=self.radius[index],
            angle=self.angle[index] + sweep * step,
            sweep=sweep,
        )

    def middles(self) -> Floats:
        """Return the point halfway along each edge, (E, 2) [mm]."""
        return self.at(np.arange(len(self)), np.full(len(self), 0.5))

    def boxes(self) -> tuple[Floats, Floats]:
        """Return low and high corners of boxes that surely hold each edge, (E, 2) [mm]."""
        low, high = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        chord = np.hypot(*(self.end - self.start).T)
        round_ = self.sweep != 0
        sagitta = np.where(
            round_,
            np.where(round_, self.radius, 0.0)
            * (1 - np.cos(np.minimum(np.abs(self.sweep), 2 * math.pi) / 2)),
            0.0,
        )
        slack = np.maximum(
            sagitta,
            np.where(np.abs(self.sweep) > math.pi, 2 * np.where(round_, self.radius, 0.0) - chord / 2, 0.0),
        )
        return low - slack[:, None], high + slack[:, None]


@dataclass(frozen=True, slots=True, eq=False)
class Nearest:
    """For each point: distance [mm], which edge, the foot on it [mm], and sideways offset [mm] (positive left)."""

    distance: Floats
    edge: NDArray[np.intp]
    foot: Floats
    side: Floats


def nearest(points: Floats, edges: Edges, *, slack: Floats | None = None) -> Nearest:
    """Return for each of (M, 2) points [mm] the nearest edge, exactly.

    Parameters
    ----------
    points : (M, 2) [mm]
    edges : at least one
    slack : (E,) taken off each edge's distance before comparing [mm], such as half the kerf along it;
        the distance returned is without it
    """
    from platewright.proof.kernels import BLOCK, nearest_edges

    given = np.zeros(len(edges)) if slack is None else np.ascontiguousarray(slack, dtype=np.float64)
    low, high = edges.boxes()
    first = np.arange(0, len(edges), BLOCK)
    boxes = np.column_stack(
        [np.minimum.reduceat(low, first), np.maximum.reduceat(high, first), np.maximum.reduceat(given, first)]
    )
    radius = np.where(np.isfinite(edges.radius), edges.radius, 0.0)
    rows = np.column_stack([edges.start, edges.end, edges.centre, radius, edges.angle, edges.sweep])
    best, which, side, along = nearest_edges(
        np.ascontiguousarray(points, dtype=np.float64), rows, boxes, given
    )
    index = which.astype(np.intp)
    return Nearest(best, index, edges.at(index, along), side)
