"""A straight line cut to what lies in the metal, exact for arcs."""

from __future__ import annotations

import math
from itertools import pairwise

from platewright.geometry import Arc, Profile

__all__ = ["clipped"]

XY = tuple[float, float]


def clipped(profile: Profile, p: XY, q: XY) -> list[tuple[XY, XY]]:
    """Return the pieces of the segment p to q [mm] that lie in the metal, in order."""
    run = math.hypot(q[0] - p[0], q[1] - p[1])
    if run == 0:
        return []
    cuts = sorted(
        {0.0, 1.0, *(t for c in profile.contours() for e in c.edges() for t in _meets(e, p, q) if 0 < t < 1)}
    )
    pieces: list[tuple[float, float]] = []
    for a, b in pairwise(cuts):
        middle = (a + b) / 2
        if (b - a) * run > 1e-6 and _inside(profile, _at(p, q, middle)):
            if pieces and abs(pieces[-1][1] - a) < 1e-12:
                pieces[-1] = (pieces[-1][0], b)
            else:
                pieces.append((a, b))
    return [(_at(p, q, a), _at(p, q, b)) for a, b in pieces]


def _at(p: XY, q: XY, t: float) -> XY:
    return p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t


def _meets(edge: object, p: XY, q: XY) -> list[float]:
    """Return where along p to q [-] an edge meets the line."""
    dx, dy = q[0] - p[0], q[1] - p[1]
    if isinstance(edge, Arc):
        fx, fy = p[0] - edge.centre.x, p[1] - edge.centre.y
        a, b, c = dx * dx + dy * dy, fx * dx + fy * dy, fx * fx + fy * fy - edge.radius**2
        root = b * b - a * c
        if root < 0:
            return []
        found = [(-b - math.sqrt(root)) / a, (-b + math.sqrt(root)) / a]
        return [t for t in found if _on(edge, _at(p, q, t))]
    start, end = edge.start, edge.end  # type: ignore[attr-defined]
    ex, ey = end.x - start.x, end.y - start.y
    across = dx * ey - dy * ex
    if across == 0:
        return []
    t = ((start.x - p[0]) * ey - (start.y - p[1]) * ex) / across
    s = ((start.x - p[0]) * dy - (start.y - p[1]) * dx) / across
    return [t] if -1e-12 <= s <= 1 + 1e-12 else []


def _on(arc: Arc, at: XY) -> bool:
    angle = math.atan2(at[1] - arc.centre.y, at[0] - arc.centre.x)
    turned = math.remainder(angle - arc.start_angle, math.tau) * math.copysign(1.0, arc.sweep) % math.tau
    return turned <= abs(arc.sweep) + 1e-12 or turned > math.tau - 1e-9


def _inside(profile: Profile, at: XY) -> bool:
    """Tell whether a place is in the metal: a ray at an odd angle crosses the contours an odd number of times."""
    box = profile.bounds()
    far = 2 * (box.width + box.height) + math.hypot(at[0] - box.x0, at[1] - box.y0)
    turn = 0.7390851
    end = (at[0] + far * math.cos(turn), at[1] + far * math.sin(turn))
    return (
        sum(1 for c in profile.contours() for e in c.edges() for t in _meets(e, at, end) if 0 < t < 1) % 2
        == 1
    )
