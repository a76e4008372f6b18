"""Many directed lines and arcs at once, as arrays; the working form of offset, boolean and intersection.

A curve keeps its exact carrier (centre and radius) beside its ends, so that whatever is cut out of it
later still lies on the very same line or circle. Lines have radius inf and sweep 0.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.measure import arc_data
from platewright.geometry.primitives import Arc, Line
from platewright.geometry.tolerance import FLAT

__all__ = ["Curves", "Ints", "curves_of", "gather"]

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Directed lines and arcs.

    Attributes
    ----------
    start, end : (N, 2) ends [mm]
    centre : (N, 2) centre of an arc, middle of a line [mm]
    radius : (N,) radius [mm], inf for a line
    sweep : (N,) signed sweep [rad], 0 for a line
    tag : (N,) number of the edge a curve comes from [-]; -1 for one that comes from a corner
    group : (N,) which input a curve belongs to [-]
    """

    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    sweep: Floats
    tag: Ints
    group: Ints

    def __len__(self) -> int:
        """Return the number of curves [-]."""
        return len(self.sweep)

    @property
    def curved(self) -> NDArray[np.bool_]:
        """Tell which curves are arcs [-]."""
        bent: NDArray[np.bool_] = self.sweep != 0
        return bent

    @property
    def start_angle(self) -> Floats:
        """Angle of the start seen from the centre [rad]; means nothing for a line."""
        away = self.start - self.centre
        return np.arctan2(away[:, 1], away[:, 0])

    def take(self, index: Ints | NDArray[np.bool_]) -> Curves:
        """Return the curves at an index or mask [mm, rad]."""
        return Curves(**{name: getattr(self, name)[index] for name in Curves.__slots__})

    def lengths(self) -> Floats:
        """Return the length of each curve [mm]."""
        chord = np.hypot(*(self.end - self.start).T)
        radius = np.where(self.curved, self.radius, 0.0)
        size: Floats = np.where(self.curved, np.abs(self.sweep) * radius, chord)
        return size

    def middles(self) -> Floats:
        """Return the point half way along each curve, (N, 2) [mm]."""
        return self.at(np.full(len(self), 0.5))

    def at(self, fraction: Floats) -> Floats:
        """Return the point at a fraction [-] along each curve, (N, 2) [mm]."""
        straight = self.start + (self.end - self.start) * fraction[:, None]
        angle = self.start_angle + self.sweep * fraction
        radius = np.where(self.curved, self.radius, 0.0)[:, None]
        round_ = self.centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
        return np.where(self.curved[:, None], round_, straight)

    def boxes(self) -> Floats:
        """Return the upright box of each curve, (N, 4) as x0, y0, x1, y1 [mm]."""
        low, high = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        bent = np.flatnonzero(self.curved)
        begin, sweep = self.start_angle[bent], self.sweep[bent]
        for quarter in range(4):
            turned = np.mod((quarter * math.pi / 2 - begin) * np.sign(sweep), math.tau)
            hit = bent[turned <= np.abs(sweep)]
            axis, sign = quarter % 2, (1.0 if quarter < 2 else -1.0)
            reach = self.centre[hit, axis] + sign * self.radius[hit]
            if sign > 0:
                high[hit, axis] = np.maximum(high[hit, axis], reach)
            else:
                low[hit, axis] = np.minimum(low[hit, axis], reach)
        return np.hstack([low, high])

    def halved(self) -> Curves:
        """Return the curves with every arc of more than half a turn cut in two at its middle [mm, rad]."""
        wide = np.abs(self.sweep) > math.pi * (1 + 1e-12)
        if not wide.any():
            return self
        index = np.repeat(np.arange(len(self)), np.where(wide, 2, 1))
        first = np.r_[True, index[1:] != index[:-1]]
        cut = wide[index]
        out, middle = self.take(index), self.middles()[index]
        return replace(
            out,
            start=np.where((cut & ~first)[:, None], middle, out.start),
            end=np.where((cut & first)[:, None], middle, out.end),
            sweep=np.where(cut, out.sweep / 2, out.sweep),
        )

    @staticmethod
    def joined(parts: Iterable[Curves]) -> Curves:
        """Return several sets of curves as one [mm, rad]."""
        every = list(parts)
        return Curves(
            **{name: np.concatenate([getattr(p, name) for p in every]) for name in Curves.__slots__}
        )

    @staticmethod
    def lines(start: Floats, end: Floats, tag: Ints | int = -1) -> Curves:
        """Make straight curves between (N, 2) ends [mm]."""
        count = len(start)
        return Curves(
            start=start,
            end=end,
            centre=(start + end) / 2,
            radius=np.full(count, np.inf),
            sweep=np.zeros(count),
            tag=np.broadcast_to(np.asarray(tag, dtype=np.int64), (count,)).copy(),
            group=np.zeros(count, dtype=np.int64),
        )


def gather(contours: Iterable[Contour], groups: Iterable[int] | None = None) -> Curves:
    """Return the edges of contours as curves [mm, rad], tagged 0, 1, 2 ... through all contours.

    An arc that bows out by less than ``FLAT`` of its chord is taken as straight: its centre is so far off
    that float noise there is larger than the bow.

    Parameters
    ----------
    contours : any contours; edges shorter than float noise are kept
    groups : a group number for each contour; 0 for all if None
    """
    every = list(contours)
    if not every:
        nothing = np.zeros((0, 2))
        return Curves.lines(nothing, nothing)
    numbers = [0] * len(every) if groups is None else list(groups)
    arcs = [arc_data(c) for c in every]
    counts = [len(c) for c in every]
    start, end = np.vstack([c.starts for c in every]), np.vstack([c.ends for c in every])
    bulge = np.concatenate([c.bulges for c in every])
    bent = np.abs(bulge) > 2 * FLAT
    return Curves(
        start=start,
        end=end,
        centre=np.where(bent[:, None], np.vstack([a.centre for a in arcs]), (start + end) / 2),
        radius=np.where(bent, np.concatenate([a.radius for a in arcs]), np.inf),
        sweep=np.where(bent, np.concatenate([a.sweep for a in arcs]), 0.0),
        tag=np.arange(sum(counts)),
        group=np.repeat(np.asarray(numbers, dtype=np.int64), counts),
    )


def curves_of(edges: Sequence[Line | Arc]) -> Curves:
    """Return single edges as curves with their exact carriers [mm, rad], tagged by their place."""
    start = np.array([(e.start.x, e.start.y) for e in edges]).reshape(-1, 2)
    end = np.array([(e.end.x, e.end.y) for e in edges]).reshape(-1, 2)
    result = Curves.lines(start, end, np.arange(len(edges)))
    for k, edge in enumerate(edges):
        if isinstance(edge, Arc):
            result.centre[k] = edge.centre.x, edge.centre.y
            result.radius[k], result.sweep[k] = edge.radius, edge.sweep
    return result
