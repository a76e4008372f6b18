"""Edges that turn out to be one: neighbouring lines on one line, neighbouring arcs on one circle, slivers.

Noise now and then makes the dynamic programme break a straight in two. Once the relations make both halves
parallel to the same third line they are one line, and the shape is solved again with one edge fewer. Lines that
are all but parallel meet anywhere: one that so comes to run against its samples is no edge of its own either.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from platewright.fit.chain import Chain, Normal, in_order, refine
from platewright.fit.edges.pieces import SHORTEST
from platewright.fit.relations import rules
from platewright.geometry.contour import Floats

__all__ = ["joined", "same_edges", "unfolded", "without_slivers"]

SAME = 1e-6
"""Lines turning by less than this [rad], or arcs differing by less than this [mm], are one."""


def _edges(chain: Chain) -> Floats:
    rows = chain.rows
    return np.column_stack([rows, np.roll(rows, -1, axis=0)[:, :2]])


def same_edges(chain: Chain) -> list[int]:
    """Return the edges that only carry on the edge before them [-]."""
    e = _edges(chain)
    found = []
    for k in range(len(e)):
        a, b = e[k - 1], e[k]
        if chain.arcs[k - 1] != chain.arcs[k]:
            continue
        ax, ay = rules.heading(a, end=True)
        bx, by = rules.heading(b, end=False)
        smooth = abs(float(ax * by - ay * bx)) < SAME and float(ax * bx + ay * by) > 0
        if not smooth:
            continue
        if not chain.arcs[k] or (abs(float(rules.radius(a) - rules.radius(b))) < SAME and a[2] * b[2] > 0):
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
        short = np.flatnonzero(size < SHORTEST)
        if not len(short):
            break
        k = int(short[0])
        rows = chain.rows.copy()
        rows[k, 2] = 0.0  # its own turn is lost, not given to the edge before
        chain = joined(replace(chain, rows=rows), k)
    return chain


def _runs_back(chain: Chain) -> list[int]:
    """Return the lines beside a line that run against their samples [-]."""
    e, count = _edges(chain), len(chain.arcs)
    found = []
    for k in np.flatnonzero(~chain.arcs):
        own = in_order(chain, int(k))
        if len(own) < 2:
            continue
        run = chain.points[own[-1]] - chain.points[own[0]]
        beside = [(k + i) % count for i in (-1, 1)]
        if run @ (e[k, 3:] - e[k, :2]) < 0 and not chain.arcs[beside].all():
            found.append(int(k))
    return found


def unfolded(chain: Chain, here: Normal) -> tuple[Chain, Normal]:
    """Return the chain with lines that run against their samples given to the line beside them that takes them best [mm]."""
    while len(chain.arcs) > 3 and (back := _runs_back(chain)):
        count, k = len(chain.arcs), back[0]
        tries = []
        for edge in (k, k + 1):  # given to the one before; the one after given to it
            if chain.arcs[[edge - 1, edge % count]].any():
                continue
            rows = chain.rows.copy()
            for v in (k, (k + 1) % len(rows)):  # back to where the samples change edges
                before, after = in_order(chain, (v - 1) % count), in_order(chain, v % count)
                if len(before) and len(after):
                    rows[v, :2] = 0.5 * (chain.points[before[-1]] + chain.points[after[0]])
            tries.append(refine(joined(replace(chain, rows=rows), edge % count)))
        if not tries:
            break
        chain, here = min(tries, key=lambda t: t[1].total)
    return chain, here
