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

__all__ = ["Rule", "System", "equations", "system"]

STEP = 1e-6
"""Step of the central differences [mm]."""


@dataclass(frozen=True, slots=True)
class Rule:
    """Equations that must be 0: `sign` times a function of some unknowns, less a `target`.

    Attributes
    ----------
    columns : which unknowns they read [-]
    of : from values (..., M) to lengths (..., E) [mm]; rules with the same function are reckoned in one call
    target : the length asked for [mm]
    sign : 1 or -1 [-]
    """

    columns: NDArray[np.int64]
    of: Callable[[Floats], Floats]
    target: float = 0.0
    sign: float = 1.0

    def at(self, unknowns: Floats) -> Floats:
        """Return the equations' values [mm]."""
        return np.asarray(self.sign * self.of(unknowns[self.columns]) - self.target)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Batch:
    """Rules with one function: their columns (G, M), targets (G, 1), signs (G, 1), places among all rules [-]."""

    of: Callable[[Floats], Floats]
    columns: NDArray[np.int64]
    target: Floats
    sign: Floats
    which: NDArray[np.int64]
    steps: Floats


@dataclass(frozen=True, slots=True)
class System:
    """Rules made ready to be reckoned many times; `count` rules in batches of one function each [-]."""

    batches: tuple[_Batch, ...]
    count: int

    def at(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return all equations' values (E,) [mm] and slopes (E, N) [-], in the order of the rules."""
        sizes = np.zeros(self.count, dtype=np.int64)
        parts = []
        for b in self.batches:
            here = b.of(unknowns[b.columns][:, None, :] + b.steps)
            parts.append(here)
            sizes[b.which] = here.shape[2]
        first = np.cumsum(sizes) - sizes
        total = int(sizes.sum())
        g, slopes = np.zeros(total), np.zeros((total, len(unknowns)))
        for b, here in zip(self.batches, parts, strict=True):
            many = b.columns.shape[1]
            rows = first[b.which][:, None] + np.arange(here.shape[2])
            g[rows] = b.sign * here[:, 0] - b.target
            local = (here[:, 1 : many + 1] - here[:, many + 1 :]) * (b.sign / (2 * STEP))[:, :, None]
            for c in range(many):  # a column may appear twice (a vertex of both edges): add, do not overwrite
                slopes[rows, b.columns[:, c, None]] += local[:, c]
        return g, slopes


def system(rules: Sequence[Rule]) -> System:
    """Return rules batched by their function."""
    own: dict[tuple[Callable[[Floats], Floats], int], list[int]] = {}
    for k, rule in enumerate(rules):
        own.setdefault((rule.of, len(rule.columns)), []).append(k)
    batches = []
    for (of, many), which in own.items():
        shift = STEP * np.eye(many)
        batches.append(
            _Batch(
                of=of, columns=np.array([rules[k].columns for k in which]),
                target=np.array([[rules[k].target] for k in which]), sign=np.array([[rules[k].sign] for k in which]),
                which=np.array(which), steps=np.vstack([np.zeros(many), shift, -shift]),
            )
        )  # fmt: skip
    return System(tuple(batches), len(rules))


def equations(rules: Sequence[Rule], unknowns: Floats) -> tuple[Floats, Floats]:
    """Return all equations' values (E,) [mm] and slopes (E, N) [-]."""
    return system(rules).at(unknowns)


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


def equal_length(v: Floats) -> Floats:
    """Lines have one length [mm]."""
    return np.asarray(chord(v[..., 5:10])[2] - chord(v[..., :5])[2])[..., None]


def long(v: Floats) -> Floats:
    """Return the length of a line [mm]."""
    return chord(v)[2][..., None]


def signed_distance(v: Floats) -> Floats:
    """Return the signed distance of the middle of line f from line e [mm]."""
    ax, ay, _ = chord(v[..., :5])
    mx = 0.5 * (v[..., 5] + v[..., 8]) - v[..., 0]
    my = 0.5 * (v[..., 6] + v[..., 9]) - v[..., 1]
    return np.asarray(ax * my - ay * mx)[..., None]
