"""Which contour lies in which: loops sorted into profiles with holes.

Method: one point of each contour (the middle of its longest edge) is tested against all the others at once
by winding number; where that point lies on the other contour itself, the point of the contour farthest from
the other is taken. Contours may touch or share edges but not cross. Cost: contours times edges.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.arrange import turns
from platewright.geometry.crossing.locate import distances
from platewright.geometry.crossing.pairs import box_pairs, fractions_on
from platewright.geometry.curves import Curves, Ints, gather
from platewright.geometry.measure import edge_lengths, signed_area
from platewright.geometry.profile import Profile
from platewright.geometry.tolerance import WELD

__all__ = ["assemble", "inside_matrix", "nest"]


def _witnesses(contours: Sequence[Contour]) -> Floats:
    """Return one point on each contour, the middle of its longest edge (C, 2) [mm]."""
    spots = np.empty((len(contours), 2))
    for k, contour in enumerate(contours):
        edge = contour.edge(int(np.argmax(edge_lengths(contour)))).at(0.5)
        spots[k] = edge.x, edge.y
    return spots


def inside_matrix(contours: Sequence[Contour]) -> NDArray[np.bool_]:
    """Return for closed contours [mm] the matrix: does contour j hold contour i (C, C) [-].

    Of contours that are the same within the weld distance, neither holds the other.
    """
    count = len(contours)
    result = np.zeros((count, count), dtype=bool)
    if count < 2:
        return result
    curves = gather(contours)
    counts = [len(c) for c in contours]
    heads = np.cumsum([0, *counts])[:-1]
    spots = _witnesses(contours)
    block = max(1, 2_000_000 // len(curves))
    for k in range(0, count, block):
        result[k : k + block] = np.add.reduceat(turns(curves, spots[k : k + block]), heads, axis=1) != 0
    for i, j in _on_each_other(curves, spots, np.repeat(np.arange(count), counts)):
        result[i, j] = _holds(contours[j], contours[i])
    np.fill_diagonal(result, False)
    return result


def _on_each_other(curves: Curves, spots: Floats, whose: Ints) -> set[tuple[int, int]]:
    """Return pairs of contours of which the first's witness lies on the second."""
    reach = 2 * WELD
    i, k = box_pairs(np.hstack([spots - reach, spots + reach]), curves.boxes())
    other = whose[k] != i
    i, k = i[other], k[other]
    near = curves.take(k)
    foot = near.at(np.clip(fractions_on(near, spots[i]), 0, 1))
    close = np.hypot(*(foot - spots[i]).T) <= reach
    return set(zip(i[close].tolist(), whose[k[close]].tolist(), strict=True))


def _holds(outer: Contour, inner: Contour) -> bool:
    """Tell whether a contour holds another that touches it, by the point farthest from it."""
    curves = gather([inner])
    spots = np.vstack([curves.start, curves.middles()])
    far = distances(outer, spots)
    best = int(np.argmax(far))
    return bool(far[best] > 2 * WELD and turns(gather([outer]), spots[best : best + 1]).sum() != 0)


def assemble(loops: Sequence[Contour]) -> tuple[Profile, ...]:
    """Return profiles from border loops [mm]: counterclockwise outers, clockwise holes in their nearest outer.

    A clockwise loop in no outer is dropped. Profiles come in order of falling outer area.
    """
    areas = [signed_area(c) for c in loops]
    order = sorted(range(len(loops)), key=lambda k: -areas[k])
    loops = [loops[k] for k in order]
    areas = [areas[k] for k in order]
    outers = sum(a > 0 for a in areas)
    if outers == len(loops):
        return tuple(Profile(c) for c in loops)
    if outers == 0:
        return ()
    if outers == 1:
        return (Profile(loops[0], tuple(loops[1:])),)
    holds = inside_matrix(loops)
    holes: list[list[Contour]] = [[] for _ in range(outers)]
    for k in range(outers, len(loops)):
        around = np.flatnonzero(holds[k, :outers])
        if len(around):
            holes[int(around[-1])].append(loops[k])
    return tuple(Profile(c, tuple(h)) for c, h in zip(loops, holes, strict=False))


def nest(contours: Sequence[Contour]) -> tuple[Profile, ...]:
    """Return profiles from closed contours [mm] of any direction, by even and odd depth.

    A contour in an even number of others is an outer edge, in an odd number a hole of the nearest of them;
    so a disc in a hole is a part of its own. No contours give no profiles. Duplicates nest in each other:
    `chain` drops them first.
    """
    if not contours:
        return ()
    holds = inside_matrix(contours)
    depth = holds.sum(axis=1)
    size = np.abs([signed_area(c) for c in contours])
    holes: dict[int, list[Contour]] = {int(k): [] for k in np.flatnonzero(depth % 2 == 0)}
    for k in np.flatnonzero(depth % 2 == 1):
        around = np.flatnonzero(holds[k] & (depth == depth[k] - 1))
        if len(around):
            holes[int(around[np.argmin(size[around])])].append(contours[int(k)])
    return tuple(Profile(contours[k], tuple(h)) for k, h in holes.items())
