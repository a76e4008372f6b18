"""Outward-safe and inward-safe polygons of true shapes.

Glossary
--------
cover : a polygon that holds the whole shape (arcs bulging outward get tangents, arcs bulging inward chords);
    if covers keep apart, so do the true shapes
core : a polygon held by the whole shape; the room inside a plate is taken from its core
loops : an outer loop counterclockwise and holes clockwise, so that material lies left of every edge

Assumptions: contours are closed, do not cross themselves, and holes lie inside the outer contour. Cost: linear.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from platewright.geometry import Contour, Floats, Profile, arc_data

__all__ = ["CHORD", "Loops", "core", "cover"]

Loops = tuple[Floats, ...]

CHORD = 0.15
"""Largest stray of cover and core from the true shape [mm]: a tenth of a small torch's kerf."""


def _polyline(contour: Contour, tolerance: float, outside: bool) -> Floats:
    """Flatten; edges whose material side is convex get tangents if `outside`, chords otherwise."""
    arcs = arc_data(contour)
    points: list[tuple[float, float]] = []
    for edge in range(len(contour)):
        points.append((float(contour.starts[edge, 0]), float(contour.starts[edge, 1])))
        sweep = float(arcs.sweep[edge])
        if sweep == 0.0:
            continue
        radius, start = float(arcs.radius[edge]), float(arcs.start_angle[edge])
        cx, cy = map(float, arcs.centre[edge])
        # acos(1 - h) = 2 asin(sqrt(h / 2)), which does not round to 0 on very large radii
        most = 4 * math.asin(math.sqrt(min(tolerance / (radius + tolerance), 0.5) / 2))
        for begin, part in _quarters(start, sweep):
            count = max(1, math.ceil(abs(part) / most))
            step = part / count
            if (sweep > 0) == outside:
                far = radius / math.cos(step / 2)
                angles = [begin + step * (k + 0.5) for k in range(count)]
            else:
                far, angles = radius, [begin + step * k for k in range(begin == start, count)]
            points += [(cx + far * math.cos(a), cy + far * math.sin(a)) for a in angles]
    return np.array(points)


def _quarters(start: float, sweep: float) -> list[tuple[float, float]]:
    """Return an arc's pieces (start, sweep) [rad] between the directions of the axes, where it reaches farthest.

    Tangents there make a cover's upright box the shape's own, so that a disc which exactly fits a plate does fit.
    """
    quarter, sign = math.pi / 2, math.copysign(1.0, sweep)
    first = math.floor(sign * start / quarter + 1e-9) + 1
    cuts = [sign * k * quarter for k in range(first, first + 5)]
    cuts = [c for c in cuts if 1e-6 < sign * (c - start) < abs(sweep) - 1e-6]
    ends = [start, *cuts, start + sweep]
    return [(a, b - a) for a, b in itertools.pairwise(ends)]


def cover(profile: Profile, *, tolerance: float = CHORD) -> Loops:
    """Return loops that hold the whole profile and stray from it by at most `tolerance` [mm]."""
    return tuple(_polyline(c, tolerance, True) for c in profile.contours())


def core(profile: Profile, *, tolerance: float = CHORD) -> Loops:
    """Return loops held by the whole profile that stray from it by at most `tolerance` [mm]."""
    return tuple(_polyline(c, tolerance, False) for c in profile.contours())
