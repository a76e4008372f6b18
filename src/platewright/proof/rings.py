"""The edge of a piece as cut, as the lines and arcs it truly is.

Polygons decide which pieces there are; their rings are chains of short chords. Each chord of a ring belongs to one
thing that made it: the side of a torch move (the move's line or arc, half a kerf off), the round end of a move, or the
plate's own edge. Chords in a row with the same maker are one edge, and that edge is written down exactly: the move's
line or arc set off by half its kerf, a round of half a kerf about the move's end, or the plate's edge.

Cost: chords of the ring times torch moves near it. Limits: chords with no maker within `_NEAR` (metal parted for the
sake of measuring, kerfs of a program run before) stay chords.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Floats
from platewright.proof.edges import Edges, nearest
from platewright.proof.spans import to_edge

__all__ = ["Makers", "exact_ring"]

_NEAR = 0.05
"""A chord whose middle lies farther than this from every maker's true edge is kept as it is [mm]."""

_SIDE, _ROUND, _PLATE, _CHORD = 0, 1, 2, 3


@dataclass(frozen=True, slots=True, eq=False)
class Makers:
    """What can border a piece: moves of the lit torch, half the kerf along each [mm], and the plate's own edges."""

    torch: Edges
    half: Floats
    plate: Edges


@dataclass(frozen=True, slots=True, eq=False)
class _Chords:
    """Chords of a ring, (N, 2) start and end [mm], and what made each: its kind, its edge [-] and the centre of its arc [mm]."""

    start: Floats
    end: Floats
    kind: NDArray[np.intp]
    maker: NDArray[np.intp]
    centre: Floats

    def rolled(self, turn: int) -> _Chords:
        return _Chords(*(np.roll(getattr(self, name), -turn, axis=0) for name in self.__slots__))


def exact_ring(ring: Floats, makers: Makers) -> Edges:
    """Return a closed ring of chords (M, 2) [mm], its first point not repeated, as the edges that made it, in the same order and direction."""
    following = np.roll(ring, -1, axis=0)
    kept = np.hypot(*(following - ring).T) > 1e-9
    chords = _attributed(ring[kept], following[kept], makers)
    kind, maker, centre = chords.kind, chords.maker, chords.centre
    fresh = (kind != np.roll(kind, 1)) | (maker != np.roll(maker, 1)) | (kind == _CHORD)
    fresh |= (kind == _ROUND) & (np.hypot(*(centre - np.roll(centre, 1, axis=0)).T) > 1e-6)
    if not fresh.any():
        fresh[0] = True
    turn = int(np.flatnonzero(fresh)[0])
    chords, fresh = chords.rolled(turn), np.roll(fresh, -turn)
    first = np.flatnonzero(fresh)
    last = np.append(first[1:], len(fresh)) - 1
    runs = _Chords(
        chords.start[first], chords.end[last], chords.kind[first], chords.maker[first], chords.centre[first]
    )
    sweep = np.add.reduceat(_turned(chords.start, chords.end, chords.centre), first)
    return _written(runs, _radii(chords, makers)[first], sweep, makers)


def _attributed(start: Floats, end: Floats, makers: Makers) -> _Chords:
    """Return chords [mm] with their makers; one whose ends, not only its middle, do not lie on its maker's edge has none."""
    chords = _Chords(start, end, *_makers((start + end) / 2, makers))
    return replace(chords, kind=np.where(_on_maker(chords, makers), chords.kind, _CHORD))


def _makers(middles: Floats, makers: Makers) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Return what made each chord: its kind, the edge, and the centre of its arc [mm] (not used for straight ones)."""
    torch, half, plate = makers.torch, makers.half, makers.plate
    to_plate = nearest(middles, plate)
    kind, maker = np.full(len(middles), _PLATE), to_plate.edge.copy()
    gap, centre = to_plate.distance.copy(), plate.centre[to_plate.edge].copy()
    if len(torch):
        close = nearest(middles, torch, slack=half)
        off = np.abs(close.distance - half[close.edge])
        mine = off <= gap
        foot, edge = close.foot, close.edge
        at_end = (np.hypot(*(foot - torch.start[edge]).T) < 1e-9) | (
            np.hypot(*(foot - torch.end[edge]).T) < 1e-9
        )
        kind[mine] = np.where(at_end, _ROUND, _SIDE)[mine]
        maker[mine] = edge[mine]
        centre[mine] = np.where(at_end[:, None], foot, torch.centre[edge])[mine]
        gap[mine] = off[mine]
    kind[gap > _NEAR] = _CHORD
    return kind, maker, centre


def _on_maker(chords: _Chords, makers: Makers) -> NDArray[np.bool_]:
    """Tell which chords have both ends, not only their middle, on what their maker made."""
    kind, maker = chords.kind, chords.maker
    good = np.ones(len(kind), dtype=bool)
    for points in (chords.start, chords.end):
        mine = np.flatnonzero((kind == _SIDE) | (kind == _ROUND))
        if len(mine):
            off = np.abs(to_edge(points[mine], makers.torch, maker[mine])[0] - makers.half[maker[mine]])
            good[mine] &= off <= _NEAR
        edge = np.flatnonzero(kind == _PLATE)
        good[edge] &= to_edge(points[edge], makers.plate, maker[edge])[0] <= _NEAR
    return good


def _radii(chords: _Chords, makers: Makers) -> Floats:
    """Return the radius of each chord's true arc [mm], 0 where it is straight."""
    kind, maker, half = chords.kind, chords.maker, makers.half
    radius = np.zeros(len(kind))
    around = kind == _ROUND
    radius[around] = half[maker[around]]
    beside = np.flatnonzero(kind == _SIDE)
    curved = beside[makers.torch.sweep[maker[beside]] != 0]
    own = makers.torch.radius[maker[curved]]
    outside = np.hypot(*(chords.start[curved] - chords.centre[curved]).T) > own
    radius[curved] = np.abs(own + np.where(outside, 1, -1) * half[maker[curved]])
    edge = np.flatnonzero(kind == _PLATE)
    bent = edge[makers.plate.sweep[maker[edge]] != 0]
    radius[bent] = makers.plate.radius[maker[bent]]
    return radius


def _turned(start: Floats, end: Floats, centre: Floats) -> Floats:
    """Return the signed angle of each chord about its centre [rad]."""
    a, b = start - centre, end - centre
    return np.asarray(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.einsum("ij,ij->i", a, b)))


def _written(runs: _Chords, radius: Floats, sweep: Floats, makers: Makers) -> Edges:
    """Return runs of chords, with the radius [mm] and sweep [rad] of each, as edges, their ends put on the true line or arc."""
    start, end, kind, maker, centre = runs.start, runs.end, runs.kind, runs.maker, runs.centre
    round_ = radius > 0
    for points in (start, end):
        straight = np.flatnonzero(~round_ & (kind == _SIDE))
        points[straight] = _beside(points[straight], makers.torch, makers.half, maker[straight])
        on_plate = np.flatnonzero(~round_ & (kind == _PLATE))
        points[on_plate] = _on_line(points[on_plate], makers.plate, maker[on_plate])
    away = start - centre
    angle = np.arctan2(away[:, 1], away[:, 0])
    for points, turn in ((start, angle), (end, angle + sweep)):
        circle = centre + radius[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
        points[round_] = circle[round_]
    middle = np.where(round_[:, None], centre, (start + end) / 2)
    return Edges(
        start=start, end=end, centre=middle, radius=np.where(round_, radius, np.inf), angle=np.where(round_, angle, 0.0), sweep=np.where(round_, sweep, 0.0)
    )  # fmt: skip


def _on_line(points: Floats, edges: Edges, index: NDArray[np.intp]) -> Floats:
    """Return the feet of points on the straight lines through edges [mm]."""
    along = edges.end[index] - edges.start[index]
    size = np.hypot(*along.T)
    unit = along / np.where(size > 0, size, 1.0)[:, None]
    share = np.einsum("ij,ij->i", points - edges.start[index], unit)
    return np.asarray(edges.start[index] + share[:, None] * unit)


def _beside(points: Floats, edges: Edges, half: Floats, index: NDArray[np.intp]) -> Floats:
    """Return points moved square to straight torch moves until they lie half a kerf off [mm]."""
    foot = _on_line(points, edges, index)
    away = points - foot
    size = np.hypot(*away.T)
    return foot + away * np.where(size > 0, half[index] / np.where(size > 0, size, 1.0), 0.0)[:, None]
