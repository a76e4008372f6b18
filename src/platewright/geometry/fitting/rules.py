"""Exact rules between edges, as equations in the unknowns of the chains, with their slopes.

Every equation is in millimetres, so that sizes compare: an angle counts as what it moves the end of the
shorter edge. An edge is (x0, y0, bulge, x1, y1); functions take any number of trailing-axis stacks at once,
so that slopes come from one call (central differences, step 1e-6 mm, exact to about 1e-9).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats

__all__ = ["Rule", "equations"]

STEP = 1e-6
"""Step of the central differences [mm]."""


@dataclass(frozen=True, slots=True)
class Rule:
    """Equations that must be 0.

    Attributes
    ----------
    columns : which unknowns they read [-]
    of : from values (..., M) to equations (..., E) [mm]
    """

    columns: NDArray[np.int64]
    of: Callable[[Floats], Floats]

    def at(self, unknowns: Floats) -> Floats:
        """Return the equations' values [mm]."""
        return self.of(unknowns[self.columns])

    def slope(self, unknowns: Floats) -> Floats:
        """Return the equations' slopes by their own columns, (E, M) [-]."""
        here = unknowns[self.columns]
        shift = STEP * np.eye(len(here))
        return np.asarray((self.of(here + shift) - self.of(here - shift)).T / (2 * STEP))


def equations(rules: Sequence[Rule], unknowns: Floats) -> tuple[Floats, Floats]:
    """Return all equations' values (E,) [mm] and slopes (E, N) [-]."""
    values = [rule.at(unknowns) for rule in rules]
    g = np.concatenate(values) if values else np.zeros(0)
    slopes = np.zeros((len(g), len(unknowns)))
    row = 0
    for rule, value in zip(rules, values, strict=True):
        # a column may appear twice (a vertex shared by both edges): add, do not overwrite
        local = rule.slope(unknowns)
        for c, column in enumerate(rule.columns):
            slopes[row : row + len(value), column] += local[:, c]
        row += len(value)
    return g, slopes


# -- what an edge is ---------------------------------------------------------------------------


def chord(e: Floats) -> tuple[Floats, Floats, Floats]:
    """Return unit direction x, y [-] and length [mm] of edges' chords."""
    dx, dy = e[..., 3] - e[..., 0], e[..., 4] - e[..., 1]
    size = np.maximum(np.hypot(dx, dy), 1e-12)
    return dx / size, dy / size, size


def radius(e: Floats) -> Floats:
    """Return the radius of arcs [mm]."""
    b = e[..., 2]
    return np.asarray(chord(e)[2] * (1 + b * b) / (4 * np.abs(b)))


def centre(e: Floats) -> Floats:
    """Return the centre of arcs, (..., 2) [mm]."""
    b = e[..., 2]
    g = (1 - b * b) / (4 * b)
    dx, dy = e[..., 3] - e[..., 0], e[..., 4] - e[..., 1]
    return np.stack([0.5 * (e[..., 0] + e[..., 3]) - g * dy, 0.5 * (e[..., 1] + e[..., 4]) + g * dx], axis=-1)


def heading(e: Floats, *, end: bool) -> tuple[Floats, Floats]:
    """Return the unit direction of travel at an edge's end or start [-]."""
    tx, ty, _ = chord(e)
    b = e[..., 2]
    c, s = (1 - b * b) / (1 + b * b), 2 * b / (1 + b * b)
    s = s if end else -s
    return tx * c - ty * s, tx * s + ty * c


# -- equations ---------------------------------------------------------------------------------


def tangent(v: Floats) -> Floats:
    """Edges e, f with e's end f's start run on smoothly (a radian counts as 10 mm) [mm]."""
    ax, ay = heading(v[..., :5], end=True)
    bx, by = heading(v[..., 5:10], end=False)
    return np.asarray(10.0 * (ax * by - ay * bx))[..., None]


def parallel(v: Floats) -> Floats:
    """Lines run the same or the opposite way (sine times the shorter length) [mm]."""
    ax, ay, la = chord(v[..., :5])
    bx, by, lb = chord(v[..., 5:10])
    return np.asarray((ax * by - ay * bx) * np.minimum(la, lb))[..., None]


def perpendicular(v: Floats) -> Floats:
    """Lines stand square (cosine times the shorter length) [mm]."""
    ax, ay, la = chord(v[..., :5])
    bx, by, lb = chord(v[..., 5:10])
    return np.asarray((ax * bx + ay * by) * np.minimum(la, lb))[..., None]


def concentric(v: Floats) -> Floats:
    """Arcs have one centre [mm]."""
    return centre(v[..., :5]) - centre(v[..., 5:10])


def equal_radius(v: Floats) -> Floats:
    """Arcs have one radius [mm]."""
    return np.asarray(radius(v[..., :5]) - radius(v[..., 5:10]))[..., None]


def equal_length(v: Floats) -> Floats:
    """Lines have one length [mm]."""
    return np.asarray(chord(v[..., :5])[2] - chord(v[..., 5:10])[2])[..., None]


def apart(v: Floats) -> Floats:
    """Return the signed distance of the middle of line f from line e [mm]."""
    ax, ay, _ = chord(v[..., :5])
    mx = 0.5 * (v[..., 5] + v[..., 8]) - v[..., 0]
    my = 0.5 * (v[..., 6] + v[..., 9]) - v[..., 1]
    return np.asarray(ax * my - ay * mx)
