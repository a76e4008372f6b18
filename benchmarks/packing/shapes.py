"""Parts of the invented gate maker, for the layout benchmark and the layout tests."""

from __future__ import annotations

import math

import numpy as np
from shapely import Polygon

from platewright.geometry import Contour, Profile, flatten
from platewright.part.model import Part

__all__ = ["bracket", "flange", "generated", "gusset", "ragged", "strap"]


def flange(radius: float, bore: float, name: str = "flange") -> Part:
    return Part(
        name=name, profile=Profile(Contour.circle(0, 0, radius), (Contour.circle(0, 0, bore),)), thickness=6.0
    )


def gusset(a: float, b: float, name: str = "gusset") -> Part:
    return Part(
        name=name,
        profile=Profile(Contour.from_points([(0, 0), (a, 0), (a, 20), (20, b), (0, b)])),
        thickness=6.0,
    )


def bracket(w: float, h: float, t: float, name: str = "bracket") -> Part:
    outline = Contour.from_points([(0, 0), (w, 0), (w, t), (t, t), (t, h), (0, h)])
    return Part(
        name=name, profile=Profile(outline, (Contour.circle(t / 2, h - t / 2, t / 5),)), thickness=6.0
    )


def strap(w: float, h: float, radius: float = 0.0, name: str = "strap") -> Part:
    return Part(name=name, profile=Profile(Contour.rectangle(w, h, radius=radius)), thickness=6.0)


def ragged(rng: np.random.Generator, size: float) -> Profile:
    """Return a star-shaped outline of lines and arcs that does not cross itself."""
    count = int(rng.integers(3, 9))
    angles = (np.arange(count) + rng.uniform(0, 0.8, count)) * math.tau / count
    radii = rng.uniform(0.4, 1.0, count) * size
    bulge = np.where(rng.random(count) < 0.3, rng.uniform(0.0, 0.25, count), 0.0)
    rows = np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulge])
    if not Polygon(flatten(Contour(rows), tolerance=0.01)).is_valid:
        rows[:, 2] = 0.0  # a bulge met its neighbour; straight stars never cross themselves
    return Profile(Contour(rows))


def generated(rng: np.random.Generator, index: int, sizes: tuple[float, float] = (20, 160)) -> Part:
    """Return one of six kinds of part in a size within bounds [mm]."""
    size = float(rng.uniform(*sizes))
    kind = int(rng.integers(0, 6))
    if kind == 0:
        return flange(size, size * float(rng.uniform(0.3, 0.8)), f"flange{index}")
    if kind == 1:
        return gusset(size + 25, size * float(rng.uniform(1.0, 1.6)) + 25, f"gusset{index}")
    if kind == 2:
        return bracket(
            size + 10, size * 1.3 + 10, size * float(rng.uniform(0.2, 0.45)) + 4, f"bracket{index}"
        )
    if kind == 3:
        return strap(2 * size, size * 0.4, size * 0.1, f"strap{index}")
    if kind == 4:
        arc = Contour(np.array([(0, 0, 0.0), (size, 0, 0.6), (size, size * 0.7, 0.0), (0, size * 0.7, -0.2)]))
        return Part(name=f"cam{index}", profile=Profile(arc), thickness=6.0)
    return Part(name=f"ragged{index}", profile=ragged(rng, size), thickness=6.0)
