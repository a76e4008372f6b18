"""A witness for round offsets that shares nothing with the package but its rows: distances by their definition.

The round offset of a plate is bounded by just those points that lie on the wanted side of its edge at the wanted
distance from it. So two things are asked: is every point of the result at that distance, and is every such
point in the result? Points of the second kind are found by stepping off every edge and round every vertex of
the plate and keeping what is no nearer to any other edge, and has room beyond it: where an offset closes up
exactly, a single line or point is left at the distance that bounds nothing. Plain numpy over every point and
every edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.geometry.profile import Profile

Floats = np.ndarray


ROOM = 1e-4
"""Rooms smaller than this are not asked for [mm]."""


@dataclass(frozen=True)
class Edges:
    """Edges of plates as arrays: ends, bulge, and for arcs (bulge not 0) centre and radius [mm, -]."""

    start: Floats
    end: Floats
    bulge: Floats
    centre: Floats
    radius: Floats

    @staticmethod
    def of(profiles: Sequence[Profile]) -> Edges:
        """Gather the edges of all contours [mm]."""
        rows = [np.asarray(c.rows) for p in profiles for c in p.contours()]
        start = np.concatenate([r[:, :2] for r in rows])
        end = np.concatenate([np.roll(r[:, :2], -1, axis=0) for r in rows])
        bulge = np.concatenate([r[:, 2] for r in rows])
        chord = end - start
        safe = np.where(bulge == 0, 1.0, bulge)
        left = np.column_stack([-chord[:, 1], chord[:, 0]])
        centre = (start + end) / 2 + left * ((1 - safe**2) / (4 * safe))[:, None]
        radius = np.hypot(*chord.T) * (1 + safe**2) / (4 * np.abs(safe))
        return Edges(start, end, bulge, centre, radius)

    def distance(self, points: Floats) -> Floats:
        """Exact distance of every point to the nearest edge [mm]."""
        if not len(points):
            return np.zeros(0)
        p, a, b = points[:, None], self.start, self.end
        chord = b - a
        length2 = np.maximum((chord**2).sum(axis=1), 1e-300)
        ends = np.minimum(np.hypot(*np.moveaxis(p - a, -1, 0)), np.hypot(*np.moveaxis(p - b, -1, 0)))
        t = ((p - a) * chord).sum(axis=-1) / length2
        side = (chord[:, 0] * (p - a)[..., 1] - chord[:, 1] * (p - a)[..., 0]) / np.sqrt(length2)
        line = np.where((t > 0) & (t < 1), np.abs(side), ends)
        out = p - self.centre
        # the arc lies on the far side of its chord: right of it if it turns left
        foot = (
            self.centre
            + out * (self.radius / np.maximum(np.hypot(*np.moveaxis(out, -1, 0)), 1e-300))[..., None]
        )
        across = chord[:, 0] * (foot - a)[..., 1] - chord[:, 1] * (foot - a)[..., 0]
        on = across * np.sign(self.bulge) <= 0
        round_ = np.where(on, np.abs(np.hypot(*np.moveaxis(out, -1, 0)) - self.radius), ends)
        return np.asarray(np.where(self.bulge == 0, line, round_).min(axis=1))

    def turns(self, points: Floats) -> Floats:
        """How often the edges run round every point [-]; 1 in the metal."""
        p, a, b = points[:, None], self.start, self.end
        u, v = a - p, b - p
        cross = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0] + 0.0
        angle = np.arctan2(cross, (u * v).sum(axis=-1))
        inside = np.hypot(*np.moveaxis(p - self.centre, -1, 0)) < self.radius
        bowed = (self.bulge != 0) & inside & ((cross >= 0) != (self.bulge > 0))
        return np.asarray(angle.sum(axis=1) / math.tau + (bowed * np.sign(self.bulge)).sum(axis=1))

    def along(self, count: int) -> tuple[Floats, Floats]:
        """Points spread along every edge, ends left out, and the directions square to it, to the right [mm, -]."""
        t = (np.arange(count) + 0.5) / count
        chord = self.end - self.start
        right = np.column_stack([chord[:, 1], -chord[:, 0]]) / np.hypot(*chord.T)[:, None]
        line = self.start[:, None] + chord[:, None] * t[:, None]
        first = np.arctan2(*(self.start - self.centre).T[::-1])
        turn = first[:, None] + 4 * np.arctan(self.bulge)[:, None] * t
        ray = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
        arc = self.centre[:, None] + self.radius[:, None, None] * ray
        straight = (self.bulge == 0)[:, None, None]
        spots = np.where(straight, line, arc)
        away = np.where(straight, right[:, None], ray * np.sign(self.bulge)[:, None, None])
        return spots.reshape(-1, 2), away.reshape(-1, 2)


@dataclass(frozen=True)
class Verdict:
    """Worst fault of a result [mm]: points of it not at the distance; points at the distance not in it; wrong side [-]."""

    off: float
    missing: float
    wrong: int


def judged(profile: Profile, distance: float, ours: Sequence[Profile], count: int = 9) -> Verdict:
    """Hold a round offset [mm] against the definition, `count` points an edge [-]."""
    source, d = Edges.of([profile]), abs(distance)
    spots, away = source.along(count)
    angle = np.linspace(0, math.tau, 24, endpoint=False) + 0.1
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    stepped = np.concatenate([spots + away * distance, (source.start[:, None] + d * ring).reshape(-1, 2)])
    there = stepped[source.distance(stepped) >= d - 1e-9]
    metal = np.abs(source.turns(there)) > 0.5
    there = there[metal == (distance < 0)]
    around = (there[:, None] + ROOM * ring).reshape(-1, 2)
    there = there[source.distance(around).reshape(-1, len(ring)).max(axis=1, initial=0.0) > d + ROOM / 4]
    if not ours:
        return Verdict(0.0, math.inf if len(there) else 0.0, 0)
    result = Edges.of(ours)
    mine, _ = result.along(count)
    mine = np.concatenate([mine, result.start])
    off = float(np.abs(source.distance(mine) - d).max())
    wrong = int(((np.abs(source.turns(mine)) > 0.5) != (distance < 0)).sum())
    missing = float(result.distance(there).max(initial=0.0))
    return Verdict(off, missing, wrong)
