"""Exact check of a layout: true lines and arcs, closed forms, nothing shared with the search.

Method: the distance between two edges is the least of end-to-edge distances and of the distances at the interior
critical points (foot of an arc's centre on a line; the line through two arcs' centres), and 0 if they cross. An
edge is given by its ends and, for an arc, centre, radius, start angle and sweep. A region lies inside another if
no edges cross and one of its points does (exact winding: lines and arc segments are counted apart).

Assumptions: profiles are valid (closed, not self-crossing). Cost: pairs whose boxes are nearer than the clearance,
edges x edges each, in numpy. Tolerance: ``SLACK`` for float noise.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import astuple, dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.findings import Finding, finding
from platewright.geometry import Box, Contour, Floats, Profile, arc_data, bounds
from platewright.layout.model import Layout
from platewright.layout.shape.reach import Reach, reach_outline

__all__ = ["SLACK", "check", "contains", "gap"]

Bools = NDArray[np.bool_]

SLACK = 1e-6
"""Float noise allowed when a distance is compared with a clearance [mm]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Edges:
    """All edges of a profile: ends, and arcs' centre, radius, first angle and sweep (lines: radius inf, sweep 0)."""

    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    first: Floats
    sweep: Floats
    box: tuple[float, float, float, float]


def _edges(contours: list[Contour]) -> _Edges:
    arcs = [arc_data(c) for c in contours]
    boxes = [bounds(c) for c in contours]
    return _Edges(
        start=np.vstack([c.starts for c in contours]),
        end=np.vstack([c.ends for c in contours]),
        centre=np.vstack([a.centre for a in arcs]),
        radius=np.concatenate([a.radius for a in arcs]),
        first=np.concatenate([a.start_angle for a in arcs]),
        sweep=np.concatenate([a.sweep for a in arcs]),
        box=astuple(Box.round(boxes)),
    )


def _on_arc(edges: _Edges, dx: Floats, dy: Floats) -> Bools:
    """Tell whether directions (P, E) from the edges' centres lie within their sweeps; False for lines."""
    turn = (np.arctan2(dy, dx) - edges.first) * np.sign(edges.sweep)
    hit: Bools = (np.mod(turn, math.tau) <= np.abs(edges.sweep)) & (edges.sweep != 0)
    return hit


def _points_to_edges(points: Floats, edges: _Edges) -> Floats:
    """Return distances of (P, 2) points to every edge, (P, E) [mm]."""
    px, py = points[:, 0, None], points[:, 1, None]
    ax, ay = edges.start[:, 0], edges.start[:, 1]
    vx, vy = edges.end[:, 0] - ax, edges.end[:, 1] - ay
    long = vx * vx + vy * vy
    t = np.clip(((px - ax) * vx + (py - ay) * vy) / np.where(long > 0, long, 1.0), 0.0, 1.0)
    line = np.hypot(px - ax - t * vx, py - ay - t * vy)
    curved = edges.sweep != 0
    if not curved.any():
        return line
    dx, dy = px - edges.centre[:, 0], py - edges.centre[:, 1]
    ends = np.minimum(np.hypot(px - ax, py - ay), np.hypot(px - edges.end[:, 0], py - edges.end[:, 1]))
    radius = np.where(curved, edges.radius, 0.0)
    ring = np.where(_on_arc(edges, dx, dy), np.abs(np.hypot(dx, dy) - radius), ends)
    return np.where(curved, ring, line)


def _line_line_cross(one: _Edges, two: _Edges) -> Bools:
    ax, ay = one.start[:, 0, None], one.start[:, 1, None]
    bx, by = one.end[:, 0, None], one.end[:, 1, None]
    cx, cy, ex, ey = two.start[:, 0], two.start[:, 1], two.end[:, 0], two.end[:, 1]
    s1 = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    s2 = (bx - ax) * (ey - ay) - (by - ay) * (ex - ax)
    t1 = (ex - cx) * (ay - cy) - (ey - cy) * (ax - cx)
    t2 = (ex - cx) * (by - cy) - (ey - cy) * (bx - cx)
    both_lines = (one.sweep[:, None] == 0) & (two.sweep == 0)
    crossing: Bools = (s1 * s2 < 0) & (t1 * t2 < 0) & both_lines
    return crossing


def _line_arc(lines: _Edges, arcs: _Edges) -> Floats:
    """Return interior distances line (rows) to arc (columns): 0 where they cross, the foot's distance, else inf."""
    ax, ay = lines.start[:, 0, None], lines.start[:, 1, None]
    vx, vy = lines.end[:, 0, None] - ax, lines.end[:, 1, None] - ay
    long = np.hypot(vx, vy)
    safe = np.where(long > 0, long, 1.0)
    ux, uy = vx / safe, vy / safe
    wx, wy = arcs.centre[:, 0] - ax, arcs.centre[:, 1] - ay
    along, off = wx * ux + wy * uy, ux * wy - uy * wx
    radius = np.where(arcs.sweep != 0, arcs.radius, 0.0)
    fits = (lines.sweep[:, None] == 0) & (arcs.sweep != 0)
    out = np.full(along.shape, np.inf)
    half = np.sqrt(np.maximum(radius**2 - off**2, 0.0))
    for sign in (-1.0, 1.0):  # crossings
        t = along + sign * half
        dx, dy = ax + t * ux - arcs.centre[:, 0], ay + t * uy - arcs.centre[:, 1]
        hit = fits & (np.abs(off) <= radius) & (t >= 0) & (t <= long) & _on_arc(arcs, dx, dy)
        out = np.where(hit, 0.0, out)
    dx, dy = ax + along * ux - arcs.centre[:, 0], ay + along * uy - arcs.centre[:, 1]
    for sign in (1.0, -1.0):  # the foot of the centre, near and far side of the arc
        near = fits & (along >= 0) & (along <= long) & _on_arc(arcs, sign * dx, sign * dy)
        out = np.where(near, np.minimum(out, np.abs(np.hypot(dx, dy) - sign * radius)), out)
    return out


def _arc_arc(one: _Edges, two: _Edges) -> Floats:
    """Return interior distances arc to arc: 0 where they cross, along the line of centres, else inf."""
    r1 = np.where(one.sweep != 0, one.radius, 0.0)[:, None]
    r2 = np.where(two.sweep != 0, two.radius, 0.0)
    fits = (one.sweep[:, None] != 0) & (two.sweep != 0)
    dx = two.centre[:, 0] - one.centre[:, 0, None]
    dy = two.centre[:, 1] - one.centre[:, 1, None]
    apart = np.hypot(dx, dy)
    safe = np.where(apart > 0, apart, 1.0)
    ux, uy = dx / safe, dy / safe
    out = np.full(apart.shape, np.inf)
    a = (apart**2 + r1**2 - r2**2) / (2 * safe)
    high = np.sqrt(np.maximum(r1**2 - a**2, 0.0))
    meets = fits & (apart > 0) & (apart <= r1 + r2) & (apart >= np.abs(r1 - r2))
    for sign in (-1.0, 1.0):
        px, py = a * ux - sign * high * uy, a * uy + sign * high * ux
        hit = meets & _on_rows(one, px, py) & _on_arc(two, px - dx, py - dy)
        out = np.where(hit, 0.0, out)
    for s1 in (1.0, -1.0):
        for s2 in (1.0, -1.0):
            both = fits & _on_rows(one, s1 * ux, s1 * uy) & _on_arc(two, s2 * ux, s2 * uy) & (apart > 0)
            far = np.hypot(dx + (s2 * r2 - s1 * r1) * ux, dy + (s2 * r2 - s1 * r1) * uy)
            out = np.where(both, np.minimum(out, far), out)
    return _concentric(one, two, np.abs(r1 - r2), np.where(fits & (apart <= SLACK), out, np.inf), out)


def _concentric(one: _Edges, two: _Edges, ring: Floats, some: Floats, out: Floats) -> Floats:
    """Arcs about one centre are apart by their radii wherever their sweeps overlap."""
    same = (
        (one.sweep[:, None] != 0)
        & (two.sweep != 0)
        & (
            np.hypot(two.centre[:, 0] - one.centre[:, 0, None], two.centre[:, 1] - one.centre[:, 1, None])
            <= SLACK
        )
    )
    if not same.any():
        return out
    a = _on_arc(two, *_rays(one, two)) | _on_rows(one, *(v.T for v in _rays(two, one)))
    return np.where(same & a, np.minimum(some, ring), out)


def _rays(one: _Edges, two: _Edges) -> tuple[Floats, Floats]:
    """Return the directions of the middles of `one`'s edges from `two`'s centres, (E1, E2)."""
    middle = one.first + one.sweep / 2
    wide = np.ones(len(two.sweep))
    return np.cos(middle)[:, None] * wide, np.sin(middle)[:, None] * wide


def _on_rows(edges: _Edges, dx: Floats, dy: Floats) -> Bools:
    """As `_on_arc` with the edges along the rows."""
    return _on_arc(edges, dx.T, dy.T).T


def _edge_gap(one: _Edges, two: _Edges) -> float:
    if _line_line_cross(one, two).any():
        return 0.0
    return float(
        min(
            _points_to_edges(one.start, two).min(),
            _points_to_edges(one.end, two).min(),
            _points_to_edges(two.start, one).min(),
            _points_to_edges(two.end, one).min(),
            _line_arc(one, two).min(),
            _line_arc(two, one).min(),
            _arc_arc(one, two).min(),
        )
    )


def contains(profile: Profile, x: float, y: float) -> bool:
    """Tell whether a point [mm] lies in the metal of a profile (its edge counts as inside or outside by chance)."""
    return _holds(_edges(list(profile.contours())), x, y)


def _holds(edges: _Edges, x: float, y: float) -> bool:
    """Tell whether the winding number about a point is positive: the polygons', plus each arc segment that holds the point."""
    x0, y0, x1, y1 = edges.box
    if not (x0 <= x <= x1 and y0 <= y <= y1):
        return False
    sx, sy = edges.start.T
    ex, ey = edges.end.T
    cross = (ex - sx) * (y - sy) - (x - sx) * (ey - sy)
    # a point on a chord counts as moved up, then right, by next to nothing: the same for chord and arc
    side = np.where(cross != 0, cross, np.where(ex != sx, ex - sx, sy - ey))
    turns = np.count_nonzero((sy <= y) & (ey > y) & (side > 0)) - np.count_nonzero(
        (sy > y) & (ey <= y) & (side < 0)
    )
    radius = np.where(edges.sweep != 0, edges.radius, 0.0)
    in_circle = np.hypot(x - edges.centre[:, 0], y - edges.centre[:, 1]) < radius
    left = np.count_nonzero(in_circle & (edges.sweep > 0) & (side < 0))
    right = np.count_nonzero(in_circle & (edges.sweep < 0) & (side > 0))
    return bool(turns + left - right > 0)


def gap(one: Profile, two: Profile) -> float:
    """Return the least distance between the metal of two profiles [mm]; 0 if they touch or overlap."""
    a, b = _edges(list(one.contours())), _edges(list(two.contours()))
    between = _edge_gap(a, b)
    if _holds(a, *two.outer.points[0].tolist()) or _holds(b, *one.outer.points[0].tolist()):
        return 0.0
    return between


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    name: str
    part: int
    profile: Profile
    edges: _Edges

    def spot(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.edges.box
        return (x0 + x1) / 2, (y0 + y1) / 2

    def first(self) -> tuple[float, float]:
        x, y = self.profile.outer.points[0]
        return float(x), float(y)


def _on_plate(layout: Layout, plate: _Edges, part: _Placed) -> Iterator[Finding]:
    between = _edge_gap(part.edges, plate)
    holes = [float(v) for h in layout.plate.profile.holes for v in h.points[0]]
    swallowed = any(_holds(part.edges, x, y) for x, y in zip(holes[::2], holes[1::2], strict=True))
    if between <= 0.0 or swallowed or not _holds(plate, *part.first()):
        if between > SLACK or layout.clearance.edge > 0 or swallowed:
            yield finding("L010", subject=part.name, place=part.spot())
    elif between < layout.clearance.edge - SLACK:
        yield finding("L011", subject=part.name, place=part.spot(), gap=between, asked=layout.clearance.edge)


def _pairs(layout: Layout, placed: list[_Placed]) -> Iterator[Finding]:
    clear = layout.clearance
    most = max(clear.part, *clear.own) if clear.own else clear.part
    shared = {frozenset(pair): gap for *pair, gap in layout.common}
    boxes = np.array([p.edges.box for p in placed]).reshape(-1, 4)
    for i, one in enumerate(placed):
        apart = np.maximum(boxes[:, :2] - boxes[i, 2:], boxes[i, :2] - boxes[:, 2:]).max(axis=1)
        for j in np.flatnonzero(apart[i + 1 :] <= most).tolist():
            two = placed[i + 1 + j]
            limit = shared.get(frozenset((i, i + 1 + j)), clear.between(one.part, two.part))
            between = _edge_gap(one.edges, two.edges)
            if between <= 0.0 or _holds(one.edges, *two.first()) or _holds(two.edges, *one.first()):
                yield finding("L012", subject=one.name, other=two.name, place=two.spot())
            elif between < limit - SLACK:
                yield finding(
                    "L013", subject=one.name, other=two.name, place=two.spot(), gap=between, asked=limit
                )


def _keepouts(layout: Layout, placed: list[_Placed]) -> Iterator[Finding]:
    limit = layout.clearance.keepout
    for out in layout.keepouts:
        edges = _edges([out.contour])
        x, y = map(float, out.contour.points[0])
        for part in placed:
            a, b = part.edges.box, edges.box
            if a[0] - b[2] > limit or b[0] - a[2] > limit or a[1] - b[3] > limit or b[1] - a[3] > limit:
                continue
            between = _edge_gap(part.edges, edges)
            if between <= 0.0 or _holds(part.edges, x, y) or _holds(edges, *part.first()):
                yield finding("L014", subject=part.name, other=out.name, place=part.spot())
            elif between < limit - SLACK:
                yield finding(
                    "L015", subject=part.name, other=out.name, place=part.spot(), gap=between, asked=limit
                )


def _cut_off(layout: Layout, placed: list[_Placed]) -> Iterator[Finding]:
    """No part may lie nearer to the cut-off line than parts lie to one another."""
    if layout.cut_off is None:
        return
    (ax, ay), (bx, by) = layout.cut_off
    line, limit = (
        _edges([Contour(np.array([(ax, ay, 0.0), (bx, by, 0.0)]), closed=False)]),
        layout.clearance.part,
    )
    for part in placed:
        between = _edge_gap(part.edges, line)
        if between < limit - SLACK:
            yield finding("L017", subject=part.name, place=part.spot(), gap=between, asked=limit)


def _reach(layout: Layout, placed: list[_Placed], reach: Reach) -> Iterator[Finding]:
    """Every edge must lie in the reach: sampled ends, middles and arc quarter points against each outline."""
    if layout.seat is None:
        return
    outlines = [layout.seat.inverse().apply(c) for c in reach_outline(reach)]
    areas = [_edges([c]) for c in outlines]
    for part in placed:
        spots = np.vstack([part.edges.start, *(_middles(part.edges, f) for f in (0.25, 0.5, 0.75))])
        for x, y in spots.tolist():
            near = min(float(_points_to_edges(np.array([[x, y]]), e).min()) for e in areas)
            if near > SLACK and not any(_holds(e, x, y) for e in areas):
                yield finding("L016", subject=part.name, place=(x, y))
                break


def _middles(edges: _Edges, fraction: float) -> Floats:
    angle = edges.first + edges.sweep * fraction
    radius = np.where(edges.sweep != 0, edges.radius, 0.0)
    arc = edges.centre + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.where((edges.sweep != 0)[:, None], arc, edges.start + (edges.end - edges.start) * fraction)


def check(layout: Layout, *, reach: Reach | None = None) -> tuple[Finding, ...]:
    """Return everything that breaks a clearance, by exact lines and arcs [mm].

    Parameters
    ----------
    layout : the layout; its own clearances, keep-outs and seat are used
    reach : what the torch reaches on the table [mm]; only asked when the layout says where the plate lies

    Returns
    -------
    findings, none for a sound layout
    """
    placed = [
        _Placed(layout.label(i), placement.part, profile, _edges(list(profile.contours())))
        for i, (placement, _, profile) in enumerate(layout.placed())
    ]
    plate = _edges(list(layout.plate.profile.contours()))
    found = [f for part in placed for f in _on_plate(layout, plate, part)]
    found += [*_pairs(layout, placed), *_keepouts(layout, placed), *_cut_off(layout, placed)]
    if reach is not None:
        found += _reach(layout, placed, reach)
    return tuple(found)
