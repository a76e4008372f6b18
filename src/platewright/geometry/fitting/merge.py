"""Edges that turn out to be one: neighbouring lines on one line, neighbouring arcs on one circle, slivers.

Noise now and then makes the dynamic programme break a straight in two. Once the relations make both halves
parallel to the same third line they are one line, and the shape is solved again with one edge fewer.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from platewright.geometry.contour import Floats
from platewright.geometry.fitting import rules
from platewright.geometry.fitting.chain import Chain

__all__ = ["joined", "same_edges", "without_slivers"]

ALIKE = 1e-6
"""Lines turning by less than this [rad], or arcs differing by less than this [mm], are one."""

SLIVER = 0.05
"""An edge shorter than this is no edge [mm]: a twentieth of any torch's cut."""


def _edges(chain: Chain) -> Floats:
    rows = chain.rows
    count = len(chain.arcs)
    return np.column_stack([rows[:count], np.roll(rows, -1, axis=0)[:count, :2]])


def same_edges(chain: Chain) -> list[int]:
    """Return the edges that only carry on the edge before them [-]."""
    e = _edges(chain)
    found = []
    for k in range(0 if chain.closed else 1, len(e)):
        a, b = e[k - 1], e[k]
        if chain.arcs[k - 1] != chain.arcs[k]:
            continue
        ax, ay = rules.heading(a, end=True)
        bx, by = rules.heading(b, end=False)
        smooth = abs(float(ax * by - ay * bx)) < ALIKE and float(ax * bx + ay * by) > 0
        if not smooth:
            continue
        if not chain.arcs[k] or (abs(float(rules.radius(a) - rules.radius(b))) < ALIKE and a[2] * b[2] > 0):
            found.append(k)
    return found


def joined(chain: Chain, edge: int) -> Chain:
    """Return the chain with an edge given to the one before it [mm]."""
    count = len(chain.arcs)
    before = (edge - 1) % count
    rows, arcs = chain.rows.copy(), chain.arcs.copy()
    if arcs[before]:
        sweep = 4 * (np.arctan(rows[before, 2]) + np.arctan(rows[edge, 2]))
        rows[before, 2] = np.tan(sweep / 4)
    labels = np.where(chain.labels == edge, before, chain.labels)
    labels = labels - (labels > edge)
    anchors = None if chain.anchors is None else np.delete(chain.anchors, edge, axis=0)
    return replace(
        chain,
        rows=np.delete(rows, edge, axis=0),
        arcs=np.delete(arcs, edge),
        labels=labels.astype(np.int64),
        anchors=anchors,
    )


def without_slivers(chain: Chain) -> Chain:
    """Return the chain without edges too short to be any [mm]; two edges always stay."""
    while len(chain.arcs) > 2:
        e = _edges(chain)
        size = np.hypot(e[:, 3] - e[:, 0], e[:, 4] - e[:, 1])
        short = [k for k in np.flatnonzero(size < SLIVER) if chain.closed or k > 0]
        if not short:
            break
        k = int(short[0])
        rows = chain.rows.copy()
        rows[k, 2] = 0.0  # its own turn is lost, not given to the edge before
        chain = joined(replace(chain, rows=rows), k)
    return chain
