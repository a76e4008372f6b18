"""A chain of edges with shared vertices, fitted to all its samples at once.

The vertices and bulges are the unknowns, so a closed chain closes by construction and a gap between the
first and the last sample vanishes. Gauss and Newton's steps, damped (D. Marquardt, 1963).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.fit import descent, kernels
from platewright.geometry.contour import Floats

__all__ = ["Chain", "Normal", "facing", "first_rows", "in_order", "normal", "refine"]

Labels = NDArray[np.int64]

ROUND = 0.4
"""Bulge from which an arc may have come to lie opposite its samples [-]: a sweep of a quarter turn."""

NOWHERE = np.empty((0, 2))
"""Anchors of a chain without any [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Samples and the edges laid through them.

    Attributes
    ----------
    points : (N, 2) [mm]
    weights : (N,) 1 for a sample that counts, 0 for a stray [-]
    labels : (N,) edge each sample belongs to [-]
    rows : (V, 3) x, y, bulge; an open chain has one row more than edges [mm, mm, -]
    arcs : (E,) whether each edge is an arc
    closed : whether the last edge returns to row 0
    frozen : (N,) whether a sample stays with its edge
    anchors : (V, 2) where the vertices were clicked, or None [mm]
    hold : weight of an anchor beside a sample's [-]: without it a vertex between smooth edges could slide
    """

    points: Floats
    weights: Floats
    labels: Labels
    rows: Floats
    arcs: NDArray[np.bool_]
    closed: bool
    frozen: NDArray[np.bool_]
    anchors: Floats | None = None
    hold: float = 0.0

    @property
    def held(self) -> Floats:
        """The anchors (V, 2), or (0, 2) if there are none [mm]."""
        return NOWHERE if self.anchors is None else self.anchors

    @property
    def free(self) -> NDArray[np.bool_]:
        """Which of the 3 V unknowns may move [-]: all but the bulges of lines."""
        free = np.ones((len(self.rows), 3), bool)
        free[:, 2] = False
        free[: len(self.arcs), 2] = self.arcs
        return free.ravel()


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal equations at a chain: Hessian (3V, 3V), slope (3V,), sum of squares [mm²], misfit of each sample [mm]."""

    hessian: Floats
    slope: Floats
    total: float
    misfit: Floats
    labels: Labels


def normal(chain: Chain) -> Normal:
    """Return the normal equations of a chain [mm]; samples not frozen may pass to a neighbouring edge."""
    samples = kernels.Sampled(chain.points, chain.weights, chain.labels.copy(), chain.frozen)
    hessian, slope, total, misfit = kernels.normal_equations(
        samples, chain.rows, chain.closed, chain.held, chain.hold
    )
    return Normal(hessian, slope, float(total), misfit, samples.labels)


def bulge_through(start: Floats, middle: Floats, end: Floats) -> float:
    """Return the bulge [-] of the arc from start to end through a middle point [mm]."""
    chord = end - start
    length = max(float(np.hypot(*chord)), 1e-12)
    t = chord / length
    rel = middle - start
    u, v = float(rel @ t), float(rel[1] * t[0] - rel[0] * t[1])
    if abs(v) < 1e-9 * length:
        return 0.0
    w = u * u - length * u + v * v
    root = float(np.hypot(w, length * v))
    return -length * v / (root - w) if w < 0 else -(w + root) / (length * v)


def facing(chain: Chain) -> Chain:
    """Return the chain with every arc on the side of its chord that its samples lie on [mm].

    A sample's misfit is its distance to the whole circle, so a step may end on the part opposite the samples, which is
    the same circle; the part whose middle is nearer to one of its samples is the one that was traced.
    """
    rows = chain.rows.copy()
    for k in np.flatnonzero(chain.arcs & (np.abs(rows[: len(chain.arcs), 2]) > ROUND)):
        start, end, bulge = rows[k, :2], rows[(k + 1) % len(rows), :2], rows[k, 2]
        right = np.array([end[1] - start[1], start[0] - end[0]]) / 2
        this, other = ((start + end) / 2 + b * right for b in (bulge, -1 / bulge))
        own = chain.points[chain.labels == k] if (chain.labels == k).any() else chain.points
        near = [float(np.hypot(*(own - middle).T).min()) for middle in (this, other)]
        if near[1] < near[0]:
            rows[k, 2] = -1 / bulge
    return replace(chain, rows=rows)


def first_rows(points: Floats, starts: tuple[int, ...], arcs: tuple[bool, ...]) -> Floats:
    """Return first rows of a chain cut between samples: vertices halfway, bulges through the middle sample [mm, -]."""
    n, count = len(points), len(starts)
    before = np.array([(s - 1) % n for s in starts])
    rows = np.zeros((count, 3))
    rows[:, :2] = 0.5 * (points[np.array(starts) % n] + points[before])
    for k in range(count):
        if arcs[k]:
            stop = starts[k + 1] if k + 1 < count else starts[0] + n
            span = np.arange(starts[k], stop)
            middle = points[span[len(span) // 2] % n]
            rows[k, 2] = bulge_through(rows[k, :2], middle, rows[(k + 1) % count, :2])
    return rows


def in_order(chain: Chain, edge: int) -> NDArray[np.int64]:
    """Return the samples of an edge in the order of travel [-]."""
    own = np.flatnonzero((chain.labels == edge) & (chain.weights > 0))
    if len(own) > 1 and own[0] == 0 and own[-1] == len(chain.points) - 1:
        own = np.roll(own, -int(np.argmax(np.diff(own))) - 1)
    return own


def labels_of(starts: tuple[int, ...], samples: int) -> Labels:
    """Return the edge [-] of each sample from the first sample of each edge."""
    labels = np.searchsorted(np.asarray(starts), np.arange(samples), side="right") - 1
    return np.asarray(labels % len(starts), dtype=np.int64)


def refine(chain: Chain, *, rounds: int = 40) -> tuple[Chain, Normal]:
    """Return the chain at its least sum of squares, and the normal equations there [mm].

    `rounds` caps the iterations [-]. No step moves anything more than 1 mm.
    """
    here = normal(chain)
    chain, free, damp = replace(chain, labels=here.labels), np.flatnonzero(chain.free), 1e-3
    for _ in range(rounds):
        move = np.zeros(chain.rows.size)
        move[free] = descent.step(here.hessian, here.slope, free, damp)
        move *= min(1.0, 1.0 / max(descent.largest(move), 1e-12))
        trial = replace(chain, rows=chain.rows + move.reshape(-1, 3))
        there = normal(trial)
        if there.total <= here.total:
            gained = here.total - there.total
            chain, here, damp = replace(trial, labels=there.labels), there, max(damp * 0.2, 1e-6)
            if gained < 1e-6 * here.total:
                break
        else:
            damp *= 8
            if damp > 1e4:
                break
    return chain, here
