"""A moved edge run on past its end until it leaves the shape, and the corner it cuts off on the way.

Part of the offset edge by edge (see ``bands``): where the next edge is moved less and bends toward the side
that grows, the moved edge runs on, over the whole of a rounded corner if need be, to the first edge it meets;
what lies between the run and the edges passed is grown over too. The loop round it counts like a band: its
winding only adds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.crossing.pairs import fractions_on, meetings
from platewright.geometry.curves import Curves, Ints
from platewright.geometry.tolerance import WELD

__all__ = ["Run", "run_on"]


@dataclass(frozen=True, slots=True)
class Run:
    """Where the run ends [mm], and the edges passed, run backward: from there to the corner or the other way."""

    spot: Floats
    passed: Curves


def run_on(curves: Curves, ways: Ints, ray: Curves, *, at_end: bool, reach: float) -> Run | None:
    """Return where a ray first meets its own contour, None if elsewhere, nowhere or too far off.

    The edges passed must lie between the ray's carrier and the one it was moved from, and bend toward the
    side that grows all the way: a corner is cut off, nothing behind it.

    Parameters
    ----------
    curves : edges of the shape, the side that grows on their right
    ways : edge after each edge [-] if `at_end`, else the edge before each; `ways[-1]` is taken from the corner
    ray : one curve from the moved edge's end (or start) outward
    at_end : whether the moved edge runs on at its end or, backward, at its start
    reach : farthest a run may end from the corner [mm], unless on an arc next to it
    """
    corner, chain = _corner(curves, ways, at_end)
    both = Curves.joined([curves, ray])
    count = len(curves)
    met = meetings(both, (np.arange(count), np.full(count, count)))
    hits = met.curve < count
    point, host = met.point[hits], met.curve[hits]
    along = fractions_on(ray.take(np.zeros(len(point), dtype=np.int64)), point)
    far = along * float(ray.lengths()[0]) > 2 * WELD
    if not far.any():
        return None
    first = int(np.flatnonzero(far)[np.argmin(along[far])])
    spot, edge = point[first], int(host[first])
    if edge not in chain:
        return None
    near = edge == chain[0] and bool(curves.curved[edge])
    if not near and math.hypot(*(spot - corner)) > reach:
        return None
    passed = _passed(curves, chain[: chain.index(edge) + 1], spot, at_end)
    if len(passed) == 0 or not (_between(passed, ray, corner) and _bends_one_way(passed)):
        return None
    loop = Curves.joined([_part(ray, spot), passed, Curves.lines(corner[None], ray.start)])
    return Run(spot, passed) if _turns_left(loop, at_end) else None


def _corner(curves: Curves, ways: Ints, at_end: bool) -> tuple[Floats, list[int]]:
    """Return the corner and the edges from it on, in order, once round its contour."""
    chain = [int(ways[-1])]
    while (following := int(ways[chain[-1]])) != chain[0]:
        chain.append(following)
    return (curves.start if at_end else curves.end)[chain[0]], chain


def _part(ray: Curves, spot: Floats) -> Curves:
    """Return the ray as far as a spot on it."""
    along = fractions_on(ray, spot[None])
    return Curves(
        start=ray.start,
        end=spot[None],
        centre=ray.centre,
        radius=ray.radius,
        sweep=ray.sweep * along,
        tag=ray.tag,
        group=ray.group,
    )


def _passed(curves: Curves, chain: list[int], spot: Floats, at_end: bool) -> Curves:
    """Return the edges between corner and spot, each run backward, in the order they are run."""
    index = np.asarray(chain[::-1] if at_end else chain)
    some = curves.take(index)
    start, end, sweep = some.end.copy(), some.start.copy(), -some.sweep
    last = 0 if at_end else len(index) - 1
    along = float(fractions_on(some, np.broadcast_to(spot, some.start.shape))[last])
    if at_end:
        start[last], sweep[last] = spot, sweep[last] * along
    else:
        end[last], sweep[last] = spot, sweep[last] * (1 - along)
    none = np.full(len(index), -1)
    passed = Curves(
        start=start, end=end, centre=some.centre, radius=some.radius, sweep=sweep, tag=none, group=some.group
    )
    return passed.take(np.hypot(*(end - start).T) > WELD)


def _between(passed: Curves, ray: Curves, corner: Floats) -> bool:
    """Tell whether the edges passed lie between the edge's own line or circle and the one it was moved to."""
    spots = np.vstack([passed.at(np.full(len(passed), f)) for f in (0.0, 0.25, 0.5, 0.75, 1.0)])
    off, most = _off(ray, spots), float(_off(ray, corner[None])[0])
    return bool(
        (off * math.copysign(1.0, most) >= -2 * WELD).all() and (np.abs(off) <= abs(most) + 2 * WELD).all()
    )


def _bends_one_way(passed: Curves) -> bool:
    """Tell whether edges run backward, in the order they are run, never turn right."""
    if (passed.sweep < -1e-9).any():
        return False
    chord = passed.end - passed.start
    facing = np.arctan2(chord[:, 1], chord[:, 0])
    turn = (facing - passed.sweep / 2)[1:] - (facing + passed.sweep / 2)[:-1]
    turn = np.mod(turn + math.pi, math.tau) - math.pi
    return bool((turn > -1e-6).all())


def _off(ray: Curves, spots: Floats) -> Floats:
    """Return how far spots lie off the ray's carrier, with a sign for its two sides."""
    if ray.sweep[0] != 0:
        round_: Floats = np.hypot(*(spots - ray.centre[0]).T) - ray.radius[0]
        return round_
    way = (ray.end - ray.start)[0]
    away = spots - ray.start[0]
    off: Floats = (way[0] * away[:, 1] - way[1] * away[:, 0]) / float(np.hypot(*way))
    return off


def _turns_left(loop: Curves, at_end: bool) -> bool:
    """Tell whether a loop, turned the way it will run, goes round counterclockwise."""
    run = 1.0 if at_end else -1.0
    ray, rest, spoke = (
        loop.take(np.array([0])),
        loop.take(np.arange(1, len(loop) - 1)),
        loop.take(np.array([len(loop) - 1])),
    )
    origin = ray.start[0]
    parts = [run * _area(ray, origin), _area(rest, origin), run * _area(spoke, origin)]
    return sum(parts) > 0


def _area(curves: Curves, origin: Floats) -> float:
    """Return what curves add to the signed area of a loop about an origin."""
    a, b = curves.start - origin, curves.end - origin
    radius = np.where(curves.curved, curves.radius, 0.0)
    bow = radius**2 * (curves.sweep - np.sin(curves.sweep))
    return float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] + bow).sum()) / 2
