"""The chain round a shape and its bands: what `offset` arranges and judges by winding number.

See ``offset`` for the words and the reasoning. The side that grows is the right of every edge; distances
are 0 or more, one an edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.crossing.intersect import carriers_meet
from platewright.geometry.crossing.run_on import run_on
from platewright.geometry.curves import Curves, Ints
from platewright.geometry.tolerance import SMOOTH, SNAP, WELD

__all__ = ["SHARP_LIMIT", "Corners", "bands"]

Corners = Literal["round", "sharp", "flat"]
SHARP_LIMIT = 4.0
"""A sharp corner may stand this many distances from its vertex [-]; beyond that it is cut off flat there."""
TANGENT = 1e-7
"""Neighbours that turn by less than this are tangent [rad]: far above the noise of a stored bulge."""


@dataclass(slots=True, kw_only=True)
class _Chain:
    """Offset edges under construction: their ends move while corners are joined, joins are collected."""

    curves: Curves
    distance: Floats
    radius: Floats
    gone: np.ndarray[tuple[int], np.dtype[np.bool_]]
    normal_start: Floats
    normal_end: Floats
    begin: Floats
    finish: Floats
    led_in: np.ndarray[tuple[int], np.dtype[np.bool_]]
    led_out: np.ndarray[tuple[int], np.dtype[np.bool_]]
    joins: list[Curves]


def bands(
    curves: Curves, follow: Ints, distance: Floats, *, edges: int, corners: Corners, sharp_limit: float
) -> Curves:
    """Return the chain round a shape and its bands.

    Parameters
    ----------
    curves : edges of the shape, none of zero length, metal on the left
    follow : the edge after each [-]
    distance : how far each edge moves to its right [mm], 0 or more
    edges : number of edges of the whole shape [-]; joins are tagged from here on
    corners, sharp_limit : as in `offset_profile`; where an edge turns straight back the corner is always round

    Returns
    -------
    closed chains of curves; spokes are tagged -1
    """
    chain = _moved(curves, distance)
    _join(chain, follow, edges, corners, sharp_limit)
    return _assembled(chain)


def _moved(curves: Curves, distance: Floats) -> _Chain:
    """Return every edge moved to its right, corners still open."""
    chord = curves.end - curves.start
    size = np.hypot(*chord.T)[:, None]
    square = np.column_stack([chord[:, 1], -chord[:, 0]]) / size
    turn, radius = np.sign(curves.sweep), np.where(curves.curved, curves.radius, 1.0)[:, None]
    bent = curves.curved[:, None]
    first = np.where(bent, turn[:, None] * (curves.start - curves.centre) / radius, square)
    last = np.where(bent, turn[:, None] * (curves.end - curves.centre) / radius, square)
    moved = curves.radius + turn * distance
    return _Chain(
        curves=curves,
        distance=distance,
        radius=moved,
        gone=curves.curved & (moved <= WELD),
        normal_start=first,
        normal_end=last,
        begin=curves.start + first * distance[:, None],
        finish=curves.end + last * distance[:, None],
        led_in=np.zeros(len(curves), dtype=bool),
        led_out=np.zeros(len(curves), dtype=bool),
        joins=[],
    )


def _join(chain: _Chain, follow: Ints, edges: int, corners: Corners, sharp_limit: float) -> None:
    """Join every corner, moving ends and collecting arcs, flats and spokes."""
    here, after = np.arange(len(follow)), follow
    n, m = chain.normal_end[here], chain.normal_start[after]
    e, s = chain.finish[here], chain.begin[after]
    d, c = chain.distance[here], chain.distance[after]
    turn = np.arctan2(n[:, 0] * m[:, 1] - n[:, 1] * m[:, 0], np.einsum("ij,ij->i", n, m))
    turn = np.where(turn < -math.pi + 1e-7, turn + math.tau, turn)
    apart = np.hypot(*(e - s).T) > WELD
    equal = np.abs(d - c) <= WELD
    smooth = apart & equal & (d * turn**2 < 8 * SMOOTH)
    _blend(chain, here[smooth], after[smooth])
    apart &= ~smooth
    gaping = apart & equal & (turn > 0)
    lines = ~(chain.curves.curved[here] | chain.curves.curved[after])
    with np.errstate(divide="ignore"):
        slight = gaping & lines & (d * (1 / np.cos(np.minimum(turn, 3.0) / 2) - 1) < SNAP)
    _tip(chain, here[slight], after[slight])
    rest = gaping & ~slight
    back = rest & (turn > math.pi - 1e-9)
    _round(chain, here[back], after[back], turn[back], edges)
    rest &= ~back
    if corners == "sharp":
        for k in np.flatnonzero(rest & (turn >= 1e-3)).tolist():
            _sharp(chain, int(here[k]), int(after[k]), float(turn[k]), edges, sharp_limit)
        rest &= turn < 1e-3
    if corners == "flat":
        chain.joins.append(Curves.lines(e[rest], s[rest], edges + chain.curves.tag[rest]))
    else:
        _round(chain, here[rest], after[rest], turn[rest], edges)
    _unequal(chain, np.flatnonzero(apart & ~equal).tolist(), after, turn, sharp_limit)
    _spokes(chain, np.flatnonzero(apart & ~gaping), after)


def _spokes(chain: _Chain, here: Ints, after: Ints) -> None:
    """Lead from each moved edge in to the corner and out to the next, where they do not meet by now."""
    e, s, vertex = chain.finish[here], chain.begin[after[here]], chain.curves.end[here]
    apart = np.hypot(*(e - s).T) > WELD
    into, out = apart & ~chain.led_in[here], apart & ~chain.led_out[after[here]]
    chain.joins.append(Curves.lines(e[into], vertex[into]))
    chain.joins.append(Curves.lines(vertex[out], s[out]))


def _round(chain: _Chain, here: Ints, after: Ints, turn: Floats, edges: int) -> None:
    """Join moved edges by arcs about their corners, of a turn [rad]."""
    chain.joins.append(
        Curves(
            start=chain.finish[here],
            end=chain.begin[after],
            centre=chain.curves.end[here],
            radius=chain.distance[here],
            sweep=turn,
            tag=edges + chain.curves.tag[here],
            group=np.zeros(len(here), dtype=np.int64),
        )
    )


def _blend(chain: _Chain, here: Ints, after: Ints) -> None:
    """Let two edges that are all but tangent meet half way between their moved ends."""
    n, m = chain.normal_end[here], chain.normal_start[after]
    way = n + m
    way = way / np.hypot(*way.T)[:, None]
    spot = chain.curves.end[here] + chain.distance[here][:, None] * way
    chain.finish[here], chain.begin[after] = spot, spot


def _tip(chain: _Chain, here: Ints, after: Ints) -> None:
    """Run two lines that turn only slightly on to where they meet."""
    n, m = chain.normal_end[here], chain.normal_start[after]
    reach = chain.distance[here] / (1 + np.einsum("ij,ij->i", n, m))
    tip = chain.curves.end[here] + reach[:, None] * (n + m)
    chain.finish[here], chain.begin[after] = tip, tip


def _candidates(chain: _Chain, i: int, j: int) -> list[tuple[float, float, float, float]]:
    """Return meetings of two moved carriers as (distance from vertex, x, y), with how far past each end.

    Each entry is (past the end of i, before the start of j, x, y) [mm].
    """
    found = []
    for x, y in carriers_meet(*_carrier(chain, i, end=True), *_carrier(chain, j, end=False)):
        past = _ahead(chain, i, x, y, end=True)
        before = -_ahead(chain, j, x, y, end=False)
        found.append((past, before, x, y))
    vx, vy = chain.curves.end[i]
    return sorted(found, key=lambda f: math.hypot(f[2] - vx, f[3] - vy))


def _carrier(chain: _Chain, k: int, *, end: bool) -> tuple[Floats, Floats, float]:
    """Return a moved edge's carrier as (point, direction, inf) for a line, (centre, -, radius) for an arc."""
    normal = chain.normal_end[k] if end else chain.normal_start[k]
    way = np.array([-normal[1], normal[0]])
    if chain.curves.sweep[k] == 0:
        return (chain.finish if end else chain.begin)[k], way, math.inf
    return chain.curves.centre[k], way, float(chain.radius[k])


def _ahead(chain: _Chain, k: int, x: float, y: float, *, end: bool) -> float:
    """Return how far along the moved edge's carrier a point lies past its end (or start) [mm]."""
    spot = (chain.finish if end else chain.begin)[k]
    if chain.curves.sweep[k] == 0:
        normal = chain.normal_end[k] if end else chain.normal_start[k]
        return float(-normal[1] * (x - spot[0]) + normal[0] * (y - spot[1]))
    cx, cy = chain.curves.centre[k]
    a = math.atan2(spot[1] - cy, spot[0] - cx)
    b = math.atan2(y - cy, x - cx)
    turned = math.remainder(b - a, math.tau) * math.copysign(1.0, chain.curves.sweep[k])
    return turned * float(chain.radius[k])


@dataclass(frozen=True, slots=True)
class _Meeting:
    """Where the moved carriers of an edge and the next meet: past the end of the one, before the other's start."""

    past: float
    before: float
    spot: tuple[float, float]


def _meeting(chain: _Chain, i: int, j: int, sharp_limit: float) -> _Meeting | None:
    """Return the nearest meeting of two moved carriers, None if beyond the limit."""
    if chain.gone[i] or chain.gone[j]:
        return None
    reach = sharp_limit * max(chain.distance[i], chain.distance[j])
    tangent, ahead = _tangent(chain, i, j), chain.distance[i] > chain.distance[j]
    for past, before, x, y in _candidates(chain, i, j):
        if math.hypot(x - chain.curves.end[i, 0], y - chain.curves.end[i, 1]) > reach:
            return None
        if tangent and (past if ahead else before) < 0:
            continue
        return _Meeting(past, before, (x, y))
    return None


def _tangent(chain: _Chain, i: int, j: int) -> bool:
    """Tell whether neighbours are tangent: their carriers then meet equally far before and behind the vertex.

    The meeting wanted is the one where the edge that moves farther runs on and the other is trimmed.
    """
    n, m = chain.normal_end[i], chain.normal_start[j]
    return bool(n @ m > 0 and abs(n[0] * m[1] - n[1] * m[0]) < TANGENT)


def _unequal(chain: _Chain, corners: list[int], after: Ints, turn: Floats, sharp_limit: float) -> None:
    """Run neighbours with different distances on, or back, to where their moved carriers meet.

    An edge is run back at a gaping corner only, and only if something of it is left; otherwise the corner
    keeps its square step. At other corners the edge moved more runs on until it leaves the shape.
    """
    before = np.empty_like(after)
    before[after] = np.arange(len(after))
    corners = [i for i in corners if turn[i] > 1e-9 or not _leads(chain, i, after, before, sharp_limit)]
    met = {i: m for i in corners if (m := _meeting(chain, i, int(after[i]), sharp_limit)) is not None}
    chord = np.hypot(*(chain.finish - chain.begin).T)
    radius = np.where(chain.curves.curved, chain.radius, 0.0)
    left: Floats = np.where(chain.curves.curved, np.abs(chain.curves.sweep) * radius, chord)
    for i, m in met.items():
        if turn[i] > -TANGENT:
            left[i] += min(m.past, 0.0)
            left[int(after[i])] += min(m.before, 0.0)
    for i, m in met.items():
        j = int(after[i])
        trims = turn[i] > -TANGENT and left[i] > WELD and left[j] > WELD
        if m.past > 0 or trims:
            chain.finish[i] = m.spot
        if m.before > 0 or trims:
            chain.begin[j] = m.spot


def _leads(chain: _Chain, i: int, after: Ints, before: Ints, sharp_limit: float) -> bool:
    """Run the edge moved more at a corner on until it leaves the shape; tell whether it did."""
    j = int(after[i])
    at_end = bool(chain.distance[i] > chain.distance[j])
    k = i if at_end else j
    if chain.gone[k]:
        return False
    reach = sharp_limit * float(chain.distance[k])
    ways = np.r_[after, j] if at_end else np.r_[before, i]
    run = run_on(chain.curves, ways, _ray(chain, k, at_end=at_end), at_end=at_end, reach=reach)
    if run is None:
        return False
    if at_end:
        chain.finish[k], chain.led_in[k] = run.spot, True
    else:
        chain.begin[k], chain.led_out[k] = run.spot, True
    chain.joins.append(run.passed)
    return True


def _ray(chain: _Chain, k: int, *, at_end: bool) -> Curves:
    """Return a long curve on a moved edge's carrier, outward from its end or its start."""
    spot = (chain.finish if at_end else chain.begin)[k]
    normal = (chain.normal_end if at_end else chain.normal_start)[k]
    way = np.array([-normal[1], normal[0]]) * (1.0 if at_end else -1.0)
    if chain.curves.sweep[k] == 0:
        size = float(np.ptp(chain.curves.start, axis=0).sum()) + float(chain.distance[k])
        return Curves.lines(spot[None], (spot + size * way)[None])
    centre, radius = chain.curves.centre[k], float(chain.radius[k])
    sweep = math.copysign(3.0, chain.curves.sweep[k]) * (1.0 if at_end else -1.0)
    arm = spot - centre
    c, s = math.cos(sweep), math.sin(sweep)
    end = centre + np.array([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])
    one = np.zeros(1, dtype=np.int64)
    return Curves(
        start=spot[None],
        end=end[None],
        centre=centre[None],
        radius=np.array([radius]),
        sweep=np.array([sweep]),
        tag=one,
        group=one,
    )


def _sharp(chain: _Chain, i: int, j: int, turn: float, edges: int, sharp_limit: float) -> None:
    """Join a gaping corner sharp: on the carriers, else on the tangents, else cut off flat at the limit."""
    vertex, reach = chain.curves.end[i], sharp_limit * chain.distance[i]
    e, s = chain.finish[i].copy(), chain.begin[j].copy()
    if not (chain.gone[i] or chain.gone[j]):
        for past, before, x, y in _candidates(chain, i, j):
            if past >= 0 and before >= 0 and math.hypot(x - vertex[0], y - vertex[1]) <= reach:
                chain.finish[i] = chain.begin[j] = x, y
                return
    n, m = chain.normal_end[i], chain.normal_start[j]
    half = turn / 2
    ahead = chain.distance[i] * math.tan(half)
    if math.cos(half) * sharp_limit < 1:
        ahead = (reach - chain.distance[i] * math.cos(half)) / math.sin(half)
    p = e + ahead * np.array([-n[1], n[0]])
    q = s - ahead * np.array([-m[1], m[0]])
    _run_on(chain, i, j, p, q, edges)


def _run_on(chain: _Chain, i: int, j: int, p: Floats, q: Floats, edges: int) -> None:
    """Take edge i straight on to p and edge j from q; lines are lengthened, arcs get a straight piece."""
    tag = edges + int(chain.curves.tag[i])
    for k, spot, mine in ((i, p, chain.finish), (j, q, chain.begin)):
        if chain.curves.sweep[k] == 0:
            mine[k] = spot
        else:
            ends = (mine[k].copy(), spot) if mine is chain.finish else (spot, mine[k].copy())
            chain.joins.append(Curves.lines(ends[0][None], ends[1][None]))
    if math.hypot(*(p - q)) > WELD:
        chain.joins.append(Curves.lines(p[None], q[None], tag))


def _assembled(chain: _Chain) -> Curves:
    """Return moved edges, the spokes of those that shrank to their centre, and the joins."""
    c, gone = chain.curves, chain.gone
    begin, finish = chain.begin, chain.finish
    a, b = begin - c.centre, finish - c.centre
    turned = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.einsum("ij,ij->i", a, b))
    turned += math.tau * np.round((c.sweep - turned) / math.tau)
    sweep = np.where(c.curved, turned, 0.0)
    kept = Curves(
        start=begin, end=finish, centre=c.centre, radius=chain.radius, sweep=sweep, tag=c.tag, group=c.group
    ).take(~gone)
    parts = [
        kept,
        Curves.lines(begin[gone], c.centre[gone]),
        Curves.lines(c.centre[gone], finish[gone]),
        *chain.joins,
    ]
    every = Curves.joined(parts)
    return every.take(np.hypot(*(every.end - every.start).T) > 0)
