"""Templates with known truth: what a small shop cuts out of cardboard. Lengths in [mm]."""

from __future__ import annotations

import math

import numpy as np

from platewright.geometry import Contour, Profile

Corner = tuple[float, float, float]


def rounded(corners: list[Corner]) -> Contour:
    """Return the polygon through (x, y) with each corner rounded by its own radius, tangent on both sides."""
    rows: list[tuple[float, float, float]] = []
    points = np.array([c[:2] for c in corners], dtype=float)
    for i, (x, y, radius) in enumerate(corners):
        here = np.array([x, y])
        back, on = points[i - 1] - here, points[(i + 1) % len(points)] - here
        back, on = back / np.hypot(*back), on / np.hypot(*on)
        turn = math.pi - math.acos(float(np.clip(back @ on, -1, 1)))
        side = math.copysign(1.0, -back[0] * on[1] + back[1] * on[0])
        if radius <= 0 or turn < 1e-9:
            rows.append((x, y, 0.0))
            continue
        reach = radius * math.tan(turn / 2)
        first, second = here + back * reach, here + on * reach
        rows.append((*first, side * math.tan(turn / 4)))
        rows.append((*second, 0.0))
    kept = [r for i, r in enumerate(rows) if math.dist(r[:2], rows[(i + 1) % len(rows)][:2]) > 1e-9]
    return Contour(np.array(kept))


def slot(x: float, y: float, *, length: float, width: float, angle: float = 0.0) -> Contour:
    """Return a slot of a length over all about (x, y)."""
    half, r = (length - width) / 2, width / 2
    c, s = math.cos(angle), math.sin(angle)
    rows = [(-half, -r, 0.0), (half, -r, 1.0), (half, r, 0.0), (-half, r, 1.0)]
    return Contour(np.array([(x + u * c - v * s, y + u * s + v * c, b) for u, v, b in rows]))


def bracket() -> Profile:
    outer = rounded(
        [
            (0, 0, 0),
            (120, 0, 8),
            (120, 80, 8),
            (70, 80, 0),
            (70, 60, 3),
            (45, 60, 3),
            (45, 80, 0),
            (0, 80, 15),
        ]
    )
    return Profile(outer, (Contour.circle(20, 20, 6), slot(90, 30, length=30, width=10)))


def gusset() -> Profile:
    outer = rounded([(0, 0, 0), (200, 0, 0), (200, 30, 0), (40, 150, 25), (0, 150, 0)])
    return Profile(outer, (Contour.circle(40, 40, 9), Contour.circle(120, 28, 7)))


def flange() -> Profile:
    holes = [
        Contour.circle(115 * math.cos(k * math.tau / 6), 115 * math.sin(k * math.tau / 6), 9)
        for k in range(6)
    ]
    return Profile(Contour.circle(0, 0, 150), (Contour.circle(0, 0, 45), *holes))


def angle_piece() -> Profile:
    outer = rounded([(0, 0, 10), (400, 0, 5), (400, 70, 5), (90, 70, 40), (70, 300, 5), (0, 300, 5)])
    return Profile(
        outer, (Contour.circle(35, 260, 8), Contour.circle(360, 35, 8), Contour.circle(40, 40, 12))
    )


def link() -> Profile:
    return Profile(slot(0, 0, length=250, width=60), (Contour.circle(-95, 0, 13), Contour.circle(95, 0, 13)))


def fender() -> Profile:
    """Return a mudguard stay: outside and inside arcs about one centre, square ends."""
    big, small, low, high = 220.0, 150.0, math.radians(35), math.radians(145)
    spots = [(big, low), (big, high), (small, high), (small, low)]
    sweep = math.tan((high - low) / 4)
    rows = [(r * math.cos(a), r * math.sin(a) - 150) for r, a in spots]
    bulges = (sweep, 0.0, -sweep, 0.0)
    outer = Contour(np.array([(*p, b) for p, b in zip(rows, bulges, strict=True)]))
    return Profile(outer, (Contour.circle(0, 35, 10),))


def tab() -> Profile:
    """Return a weld-on tab: round head on a square foot, one hole."""
    outer = rounded([(-30, 0, 0), (30, 0, 0), (30, 60, 30), (-30, 60, 30)])
    return Profile(outer, (Contour.circle(0, 30, 10),))


def hook() -> Profile:
    """Return a tie-down hook plate: deep notch, odd angles."""
    outer = rounded(
        [(0, 0, 6), (160, 0, 12), (180, 60, 20), (150, 110, 15), (110, 90, 6), (125, 55, 18), (60, 50, 10), (40, 110, 10), (0, 110, 6)]
    )  # fmt: skip
    return Profile(outer, (Contour.circle(25, 85, 7), Contour.circle(150, 30, 8)))


SHAPES = {
    "bracket": bracket, "gusset": gusset, "flange": flange, "angle": angle_piece,
    "link": link, "fender": fender, "tab": tab, "hook": hook,
}  # fmt: skip
