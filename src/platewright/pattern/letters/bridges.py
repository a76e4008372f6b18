"""Bridges: metal left across a cut-out letter so that its islands do not fall out.

Glossary
--------
void : what is cut out of the plate; here letters
island : metal inside a void (the middle of an O), which falls out unless something holds it
bridge : a strip of metal across the void from an island to metal that is held

Method: for each island, strips of the bridge's width are tried at places across it, along the letter's stems first
(up and down) and across them as a second choice. A strip must reach an island on one side and held metal on the
other over its whole width. Of those that do, the cheapest is taken: short crossings, near the island's middle, ends
square to the strip, no sliver of void beside it too narrow to cut. An island wide enough to bend takes a second bridge
on the other side, in line with the first where it can. Islands are held from the outside in, so that the middle of a
ring hangs on a ring that is held.

Limits: the costs are judgement, looked at on a sheet of pictures (docs/shape/letters.md); the width is common practice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from platewright.geometry import Contour, Floats, Profile
from platewright.pattern.letters.webs import polygons

__all__ = ["Bridge", "Bridged", "bridge_void"]

PLACES = 13
"""Places tried across an island [-]."""
LINES = 9
"""Lines across a strip on which its crossing is measured [-]."""
ALONG = (math.pi / 2, -math.pi / 2)
ACROSS = (0.0, math.pi)
INTO = 0.3
"""A bridge runs this far into the metal at both ends, as a part of its width [-], so that it joins safely."""
STEP = 0.4
"""Steps smaller than this beside a bridge are avoided [mm]; they would be edges too short to cut as drawn."""
STIFF = 2.5
"""An island longer than this many bridge widths takes two bridges [-]: a single one lets it bend (common practice)."""
WIDE = 18.0
"""An island wider than this many bridge widths takes two on each side [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """One bridge: its name ("2.1": second island, first bridge), middle [mm], direction [rad], length of the crossing [mm]."""

    name: str
    at: tuple[float, float]
    angle: float
    crossing: float
    width: float
    reach: tuple[float, float]

    def strip(self) -> Profile:
        """Return the strip of metal [mm]."""
        back, on = self.reach
        c, s = math.cos(self.angle), math.sin(self.angle)
        half = self.width / 2
        corners = [(-back, -half), (on, -half), (on, half), (-back, half)]
        x, y = self.at
        return Profile(Contour.from_points([(x + a * c - b * s, y + a * s + b * c) for a, b in corners]))


@dataclass(frozen=True, slots=True)
class Bridged:
    """A void with its bridges taken out, the bridges, and islands nothing could hold, by their places [mm]."""

    void: tuple[Profile, ...]
    bridges: tuple[Bridge, ...]
    loose: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class _Island:
    """An island in the frame of its letter: its polygon and its void's, turned so that stems stand up."""

    name: str
    ring: Any
    void: Any
    turn: float


def bridge_void(
    void: Sequence[Profile],
    width: float,
    *,
    kerf: float,
    upright: Callable[[tuple[float, float]], float] = lambda _: 0.0,
    moved: Mapping[str, tuple[float, float]] | None = None,
) -> Bridged:
    """Return a void with every island bridged.

    Parameters
    ----------
    void : what is cut out; its holes are the islands [mm]
    width : of a bridge [mm]
    kerf : no sliver of void narrower than this is made beside a bridge [mm]
    upright : the turn of the letter at a place [rad]; stems stand up from it
    moved : bridges put elsewhere by hand: name to place [mm]; ``(nan, nan)`` takes one away
    """
    from platewright.geometry.regions.boolean import difference

    bridges: list[Bridge] = []
    loose: list[tuple[float, float]] = []
    number = 0
    for profile in void:
        around = polygons([profile])
        holes = sorted(
            profile.holes,
            key=lambda h: (round(float(h.points[:, 0].mean()), 1), -float(h.points[:, 1].mean())),
        )
        for hole in holes:
            number += 1
            whole = polygons([Profile(hole)])
            middle = whole.centroid
            turn = upright((middle.x, middle.y))
            island = _Island(str(number), whole, around, turn)
            found = _hold(island, width, kerf)
            found = _by_hand(island, found, width, moved or {})
            if not found:
                loose.append((middle.x, middle.y))
            bridges += found
    left = difference(list(void), [b.strip() for b in bridges]) if bridges else tuple(void)
    return Bridged(left, tuple(bridges), tuple(loose))


def _hold(island: _Island, width: float, kerf: float) -> list[Bridge]:
    """Return the bridges of one island: best side first, then the opposite one if it is long."""
    from shapely import affinity

    flat = affinity.rotate(island.ring, -island.turn, origin=(0, 0), use_radians=True)
    void = affinity.rotate(island.void, -island.turn, origin=(0, 0), use_radians=True)
    found = {way: _tried(flat, void, way, width, kerf) for way in ALONG}
    pair = [w for w in ALONG if found[w]]
    if len(pair) < 2:
        found |= {way: _tried(flat, void, way, width, kerf) for way in ACROSS}
        lying = [w for w in ACROSS if found[w]]
        least = min((t.cost for w in lying for t in found[w]), default=math.inf)
        if not pair or (len(lying) == 2 and least < min(t.cost for t in found[pair[0]]) - 1.0):
            pair = lying
    if not pair:
        return []
    x0, y0, x1, y1 = flat.bounds
    long = max(x1 - x0, y1 - y0) > STIFF * width
    chosen: list[_Try] = []
    first = min((t for w in pair for t in found[w]), key=lambda t: t.cost)
    sides = [first.way, *(w for w in pair if w != first.way)] if long else [first.way]
    across = (x1 - x0) if first.way in ALONG else (y1 - y0)
    twice = across > WIDE * width
    for way in sides:
        near = first if not chosen else chosen[0]
        best = min(found[way], key=lambda t: t.cost + 1.5 * abs(t.shift - near.shift) / max(across, width))
        if twice:
            chosen += _two(found[way], across)
        else:
            chosen.append(best)
    return [_bridge(f"{island.name}.{n}", t, island.turn, width) for n, t in enumerate(chosen, 1)]


@dataclass(frozen=True, slots=True)
class _Try:
    """A strip that would do: its direction and shift in the letter's frame, where the crossing begins and ends [mm]."""

    way: float
    shift: float
    start: float
    end: float
    cost: float


def _two(tries: Sequence[_Try], across: float) -> list[_Try]:
    """Return the best strips about a quarter in from either side."""
    middle = sum(t.shift for t in tries) / len(tries)
    wanted = (middle - across / 4, middle + across / 4)
    return [min(tries, key=lambda t: t.cost + 4 * abs(t.shift - w) / across) for w in wanted]


def _tried(ring: Any, void: Any, way: float, width: float, kerf: float) -> list[_Try]:
    """Return every strip that would do on one side of an island, with what it costs."""
    import shapely
    from shapely import affinity

    # turned so that the strip runs along x from the island outward
    flat = affinity.rotate(ring, -way, origin=(0, 0), use_radians=True)
    around = affinity.rotate(void, -way, origin=(0, 0), use_radians=True)
    y0, y1 = flat.bounds[1], flat.bounds[3]
    room = (y1 - y0) - width
    shifts = np.linspace(y0 + width / 2, y1 - width / 2, PLACES) if room > 0 else np.array([(y0 + y1) / 2])
    lines = np.linspace(-width / 2, width / 2, LINES)
    own, every = _edges(flat), _edges(around)
    level = every[np.abs(every[:, 3] - every[:, 1]) < 1e-6][:, 1]
    tries = []
    for shift in (_snapped(s, level, width / 2) for s in shifts.tolist()):
        runs = [_run(own, every, shift + off) for off in lines.tolist()]
        if any(run is None for run in runs):
            continue
        starts, ends = np.array(runs).T
        box = shapely.box(
            starts.min() - 0.01, shift - width / 2, ends.max() + INTO * width, shift + width / 2
        )
        # the whole width crosses the same void: no other island or notch starts before it is through
        if sum(p.area > 1e-4 for p in shapely.get_parts(around.intersection(box))) != 1:
            continue
        crossing, size = ends.max() - starts.min(), max(width, (y1 - y0) / 2)
        slant = (np.ptp(starts) + np.ptp(ends)) / width
        cost = (
            crossing / width
            + 1.2 * abs(shift - (y0 + y1) / 2) / size
            + 0.6 * slant
            + 3.0 * _sliver(around, box, kerf)
        )
        tries.append(_Try(way, shift, float(starts.min()), float(ends.max()), float(cost)))
    return tries


def _snapped(shift: float, level: Floats, half: float) -> float:
    """Return a strip's shift with a side that nearly lies on a straight of the void put on it [mm], so that no step is left."""
    for side in (-half, half):
        near = level[np.abs(level - shift - side) < STEP]
        if len(near):
            return float(near[np.argmin(np.abs(near - shift - side))] - side)
    return shift


def _edges(polygon: Any) -> Floats:
    """Return the edges of a polygon, (N, 4) as x, y to x, y [mm]."""
    rings = [
        np.asarray(r.coords) for p in getattr(polygon, "geoms", [polygon]) for r in (p.exterior, *p.interiors)
    ]
    return np.vstack([np.hstack([r[:-1], r[1:]]) for r in rings])


def _met(edges: Floats, y: float) -> Floats:
    """Return where a line along x at y meets edges, in order [mm]."""
    x0, y0, x1, y1 = edges[(edges[:, 1] > y) != (edges[:, 3] > y)].T
    return np.sort(x0 + (y - y0) * (x1 - x0) / (y1 - y0))


def _run(own: Floats, every: Floats, y: float) -> tuple[float, float] | None:
    """Return where a line along x leaves the island for the void and the void for metal [mm]."""
    inside = _met(own, y)
    if not len(inside):
        return None
    beyond = _met(every, y)
    beyond = beyond[beyond > inside[-1] + 1e-6]
    return (float(inside[-1]), float(beyond[0])) if len(beyond) else None


def _sliver(void: Any, box: Any, kerf: float) -> float:
    """Return how much void near a strip becomes too narrow to cut, in squares of the kerf [-]."""
    half = 0.5 * kerf
    near = void.intersection(box.buffer(3 * kerf))
    left = near.difference(box)
    lost = left.difference(left.buffer(-half).buffer(half * 1.02)).intersection(box.buffer(1.5 * kerf))
    before = near.difference(near.buffer(-half).buffer(half * 1.02)).intersection(box.buffer(1.5 * kerf))
    return float(max(0.0, lost.area - before.area) / (kerf * kerf))


def _bridge(name: str, one: _Try, turn: float, width: float) -> Bridge:
    angle = one.way + turn
    c, s = math.cos(angle), math.sin(angle)
    middle, half = (one.start + one.end) / 2, (one.end - one.start) / 2
    at = (middle * c - one.shift * s, middle * s + one.shift * c)
    into = half + INTO * width
    return Bridge(
        name=name, at=at, angle=angle, crossing=one.end - one.start, width=width, reach=(into, into)
    )


def _by_hand(
    island: _Island, found: list[Bridge], width: float, moved: Mapping[str, tuple[float, float]]
) -> list[Bridge]:
    """Return an island's bridges with those put elsewhere by hand."""
    kept = []
    for bridge in found:
        if bridge.name not in moved:
            kept.append(bridge)
        elif not math.isnan(moved[bridge.name][0]):
            kept.append(_through(bridge, island, moved[bridge.name], width))
    return kept


def _through(bridge: Bridge, island: _Island, at: tuple[float, float], width: float) -> Bridge:
    """Return the bridge through a place: from the island's nearest point to the nearest metal beyond it."""
    import shapely
    from shapely.ops import nearest_points

    spot = shapely.Point(at)
    near = nearest_points(island.ring, spot)[0]
    others = [
        r for r in island.void.interiors if shapely.Polygon(r).centroid.distance(island.ring.centroid) > 1e-6
    ]
    edge = shapely.union_all([island.void.exterior, *others])
    if island.ring.contains(spot) or near.distance(spot) < 1e-6:
        spot = nearest_points(island.ring.exterior, spot)[0]
        near = spot
    away = nearest_points(edge, spot)[0]
    dx, dy = away.x - near.x, away.y - near.y
    size = math.hypot(dx, dy)
    if size < 1e-6:
        return bridge
    middle = ((near.x + away.x) / 2, (near.y + away.y) / 2)
    into = size / 2 + INTO * width + width / 2
    return replace(bridge, at=middle, angle=math.atan2(dy, dx), crossing=size, reach=(into, into))
