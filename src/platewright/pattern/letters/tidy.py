"""Points too close and inside radii too small: taken out where the shape stays within a tolerance.

Patches and bridges meet letters anywhere and leave specks of edges; fonts have some of their own. A table slows down at
each, and cuts none of them as drawn.
"""

from __future__ import annotations

import numpy as np

from platewright.geometry import Contour, Floats, Profile, arc_data, edge_lengths

__all__ = ["eased", "tidied"]

TINY = 0.3
"""Edges shorter than this are taken out if they can be [mm]; the part's own check tells of them (A001)."""
MOVED = 0.06
"""How far the outline may move for that [mm]; with the fit's 0.02 mm it stays under 0.1 mm."""
SAMPLES = 9
"""Points an edge is compared at [-]."""
ROUND = 1.02
"""Inside radii are made this many times half the kerf [-]; just half would be cut to nothing by rounding."""


def tidied(profile: Profile) -> Profile:
    """Return a profile [mm] without the tiny edges that can go."""
    return Profile(_tidy(profile.outer), tuple(_tidy(h) for h in profile.holes))


def _tidy(contour: Contour) -> Contour:
    passed = 0
    while len(contour) > 3:
        sizes = edge_lengths(contour)
        tiny = [k for k in np.argsort(sizes).tolist() if sizes[k] < TINY][passed:]
        if not tiny:
            break
        less = _without(contour, tiny[0])
        if less is None:
            passed += 1
        else:
            contour = less
    return contour


def _without(contour: Contour, edge: int) -> Contour | None:
    """Return a contour without one edge, its neighbours met in one point; None if that moves it too far."""
    turned = contour.started_at(edge - 1)  # before, tiny, after are edges 0, 1, 2 now
    rows = turned.rows
    head = Contour(np.vstack([rows[:3], [*rows[3 % len(rows)][:2], 0.0]]), closed=False)
    was = _samples(head)
    best: tuple[float, Floats] | None = None
    for spot in _spots(rows):
        made = _pair(rows[0], spot, rows[3 % len(rows)], was)
        off = _off(made, was)
        if best is None or off < best[0]:
            best = (off, made)
    if best is None or best[0] > MOVED:
        return None
    return Contour(np.vstack([best[1][:2], rows[3:]]))


def _spots(rows: Floats) -> list[Floats]:
    """Return where the neighbours of a tiny edge may meet: its ends, its middle, and where they run into each other."""
    a, b = rows[1, :2], rows[2, :2]
    spots = [(a + b) / 2, a, b]
    if rows[0, 2] == 0 and rows[2, 2] == 0:
        d, e = a - rows[0, :2], b - rows[3 % len(rows), :2]
        cross = d[0] * e[1] - d[1] * e[0]
        if abs(cross) > 1e-9:
            t = ((b - a)[0] * e[1] - (b - a)[1] * e[0]) / cross
            spots.append(a + t * d)
    return spots


def _pair(first: Floats, spot: Floats, last: Floats, was: tuple[Floats, Floats]) -> Floats:
    """Return two edges through a spot [mm], each bent as the samples of the edge it stands for are."""
    one = _bulge(first[:2], spot, was[0])
    two = _bulge(spot, last[:2], was[1])
    return np.array([[*first[:2], one], [*spot, two], [*last[:2], 0.0]])


def _bulge(a: Floats, b: Floats, points: Floats) -> float:
    """Return the bulge [-] of the arc from a to b through the middle of some points [mm]."""
    chord = b - a
    size = float(np.hypot(*chord))
    if size < 1e-9:
        return 0.0
    rise = (points - a) @ np.array([chord[1], -chord[0]]) / size
    high = float(rise[len(rise) // 2])
    return 2 * high / size if abs(high) > 1e-6 * size else 0.0


def _samples(head: Contour) -> tuple[Floats, Floats]:
    """Return points of the first and of the last of three edges, the tiny one's shared between them [mm]."""
    edges = list(head.edges())
    spots = [np.array([(p.x, p.y) for p in (e.at(t) for t in np.linspace(0, 1, SAMPLES))]) for e in edges]
    return spots[0], spots[2]


def _off(made: Floats, was: tuple[Floats, Floats]) -> float:
    from platewright.geometry.crossing.locate import distances

    if np.hypot(*np.diff(made[:, :2], axis=0).T).min() < 1e-6:
        return np.inf
    return float(distances(Contour(made, closed=False), np.vstack(was)).max())


def eased(metal: tuple[Profile, ...], kerf: float) -> tuple[Profile, ...]:
    """Return metal whose inside radii the cut can follow [mm]: those smaller than half the kerf are filled up to it.

    Sharp inside corners stay as drawn; the cut leaves its own radius in them.
    """
    from platewright.geometry.regions.boolean import union
    from platewright.geometry.regions.offset import offset_profile

    least = kerf / 2
    if not any(_tight(c, least) for p in metal for c in p.contours()):
        return metal
    grown = [q for p in metal for q in offset_profile(p, ROUND * least, corners="sharp")]
    grown = list(union(grown)) if len(grown) > 1 else grown
    return tuple(q for p in grown for q in offset_profile(p, -ROUND * least, corners="sharp"))


def _tight(contour: Contour, least: float) -> bool:
    arcs = arc_data(contour)
    return bool(((arcs.sweep < 0) & (arcs.radius < least)).any())
