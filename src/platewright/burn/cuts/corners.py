"""Corners of a cut: loops in scrap outside sharp ones, rounding of inside ones. Both off by default.

A *corner loop* lets the torch keep its speed: it runs straight on past the corner by d, turns round in the scrap by
``2 pi - theta`` (theta the corner's turn) on a circle of radius ``d tan((pi - theta)/2)`` tangent to both edges, and
comes into the next edge in line with it. *Rounding* replaces an inside corner of the part, which the kerf cannot make
sharp anyway, by an arc that the table can take without stopping.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from platewright.geometry import Contour, Floats, edge_lengths

__all__ = ["looped", "rounded_inside"]

SHARP = math.radians(50)
"""Least turn of a corner worth a loop [rad]: below it the torch hardly slows."""


def rounded_inside(path: Contour, radius: float, *, scrap_left: bool) -> Contour:
    """Return a closed path with corners between straight edges that turn towards the scrap rounded to a radius [mm].

    The radius is less where an edge is too short for it; each corner may use half of an edge.
    """
    rows, out = path.rows, []
    count = len(rows)
    side = 1.0 if scrap_left else -1.0
    for i in range(count):
        before, here, after = rows[i - 1], rows[i], rows[(i + 1) % count]
        a, b = here[:2] - before[:2], after[:2] - here[:2]
        la, lb = math.hypot(*a), math.hypot(*b)
        turn = math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
        if before[2] or here[2] or turn * side < math.radians(2) or abs(turn) > math.pi - 0.02:
            out.append(here)
            continue
        back = min(radius * math.tan(abs(turn) / 2), 0.49 * la, 0.49 * lb)
        enter, leave = here[:2] - a / la * back, here[:2] + b / lb * back
        out += [np.array([*enter, math.tan(turn / 4)]), np.array([*leave, 0.0])]
    return Contour(np.array(out))


def looped(
    path: Contour, size: float, *, scrap_left: bool, kerf: float, legal: Callable[[Floats], bool]
) -> tuple[Contour, int]:
    """Return a closed outer path with loops at its sharp corners, and how many there are [-].

    Parameters
    ----------
    path : kerf-compensated; sharp corners of the part are arcs of half a kerf on it [mm]
    size : how far past the corner the torch runs on [mm]
    scrap_left : whether scrap lies left of travel
    kerf : [mm]
    legal : tells whether a sampled loop (N, 2) [mm] keeps clear of everything
    """
    rows, lengths = path.rows, edge_lengths(path)
    count, made = len(rows), 0
    out: list[Floats] = []
    side = 1.0 if scrap_left else -1.0
    for i in range(count):
        turn = -side * 4 * math.atan(rows[i, 2])  # away from the scrap counts positive
        before, after = i - 1, (i + 1) % count
        chord = np.hypot(*(rows[after, :2] - rows[i, :2]))
        radius = chord / (2 * math.sin(abs(turn) / 2)) if abs(turn) > 1e-9 else math.inf
        corner = turn > SHARP and abs(radius - kerf / 2) < 1e-6
        if not corner or rows[before, 2] or rows[after, 2] or min(lengths[before], lengths[after]) < kerf:
            out.append(rows[i])
            continue
        loop, sampled = _loop(rows[before], rows[i], rows[after], rows[(i + 2) % count], size, side)
        if not legal(sampled):
            out.append(rows[i])
            continue
        out += [np.array([*rows[i, :2], 0.0]), *loop]
        made += 1
    return Contour(np.array(out)), made


def _loop(
    before: Floats, enter: Floats, leave: Floats, after: Floats, size: float, side: float
) -> tuple[list[Floats], Floats]:
    """Return the rows from the far end of the run-on to where the next edge begins, and the loop sampled."""
    u, w = enter[:2] - before[:2], after[:2] - leave[:2]
    u, w = u / np.hypot(*u), w / np.hypot(*w)
    turn = abs(math.atan2(u[0] * w[1] - u[1] * w[0], u @ w))
    # where the two edges, run on, would meet
    step = float(np.hypot(*(leave[:2] - enter[:2]))) / (2 * math.cos(turn / 2))
    corner = enter[:2] + u * step
    far, back = corner + size * u, corner - size * w
    radius, sweep = size * math.tan((math.pi - turn) / 2), 2 * math.pi - turn
    centre = far + side * radius * np.array([-u[1], u[0]])
    start = math.atan2(*(far - centre)[::-1])
    angles = start + side * np.linspace(0, sweep, 33)
    ring = centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])
    return [
        np.array([*far, side * math.tan(sweep / 4)]),
        np.array([*back, 0.0]),
    ], np.vstack([corner[None], ring, corner[None]])
