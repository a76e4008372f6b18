"""What several part tests need."""

from __future__ import annotations

import math
import random

import numpy as np

from platewright.declared import Option
from platewright.geometry import Contour, Profile, bounds
from platewright.part.families import families, make
from platewright.part.model import Part


def ten_edges() -> Profile:
    """Return a plate of ten straight edges, convex and reflex corners, with one hole."""
    points = [
        (0, 0),
        (120, 0),
        (120, 40),
        (160, 40),
        (160, 110),
        (90, 110),
        (90, 90),
        (50, 90),
        (50, 120),
        (0, 100),
    ]
    return Profile(Contour.from_points(points), (Contour.circle(60, 45, 12),))


def worst_gap(one: Contour, other: Contour) -> float:
    """Return how far the edges of two closed contours are from each other, whatever vertex they start at [mm].

    Infinite if they differ in number of edges. Vertices and midpoints are compared.
    """
    if len(one) != len(other):
        return math.inf
    a = _marks(one.counterclockwise())
    b = _marks(other.counterclockwise())
    return min(float(np.abs(a - np.roll(b, k, axis=0)).max()) for k in range(len(b)))


def _marks(contour: Contour) -> np.ndarray:  # type: ignore[type-arg]
    middles = [(e.at(0.5).x, e.at(0.5).y) for e in contour.edges()]
    return np.hstack([contour.starts, np.array(middles)])


def circle_like(contour: Contour) -> tuple[float, float, float]:
    """Return middle and radius of a round contour [mm]."""
    box = bounds(contour)
    return (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2, box.width / 2


def same_profile(one: Profile, other: Profile) -> float:
    """Return the largest difference of edges of two profiles [mm]; circles by middle and radius; holes in any order."""
    if len(one.holes) != len(other.holes):
        return math.inf
    left = list(other.contours())
    worst = 0.0
    for contour in one.contours():
        gaps = [_gap(contour, c) for c in left]
        best = int(np.argmin(gaps))
        worst = max(worst, gaps[best])
        left.pop(best)
    return worst


def _gap(a: Contour, b: Contour) -> float:
    if len(a) == len(b) == 2 and (a.bulges != 0).all() and (b.bulges != 0).all():
        return float(np.abs(np.array(circle_like(a)) - circle_like(b)).max())
    return worst_gap(a, b)


def random_value(parameter: Option, rng: random.Random) -> str | float:
    """Return a value that is usual for a parameter: near its default, or one of its choices."""
    if parameter.kind == "choice":
        return rng.choice(parameter.choices)
    if parameter.kind == "count":
        return str(max(int(max(parameter.low, 0)), int(float(parameter.default)) + rng.randint(-1, 3)))
    if parameter.kind == "length":
        number, _, unit = parameter.default.partition(" ")
        return f"{float(number) * rng.uniform(0.8, 1.25):.6f} {unit}"
    if parameter.kind == "angle":
        return f"{float(parameter.default.split()[0]) * rng.uniform(0.8, 1.2):.6f} deg"
    return parameter.default


def generated(count: int, seed: int) -> list[Part]:
    """Return parts of every family in turn with usual values, the same every time.

    After two of each come no more signs: one takes about a second to make.
    """
    from platewright.errors import InputError

    rng, parts = random.Random(seed), []
    every = list(families().values())
    quick = [f for f in every if not any(p.kind == "font" for p in f.parameters)]
    while len(parts) < count:
        kinds = every if len(parts) < 2 * len(every) else quick
        family = kinds[len(parts) % len(kinds)]
        try:
            parts.append(make(family.name, {p.name: random_value(p, rng) for p in family.parameters}))
        except InputError:
            continue
    return parts
