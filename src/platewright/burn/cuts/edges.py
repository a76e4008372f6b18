"""Small tools on chains of lines and arcs: places along them, splitting, restarting, cutting out pieces.

Everything works on rows of (x, y, bulge) so that arcs stay exact: a piece of an arc with sweep share s has the bulge
``tan(s sweep / 4)``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from platewright.geometry import Contour, Floats, edge_lengths
from platewright.geometry.crossing import locate
from platewright.geometry.measure import on_edges

__all__ = [
    "at_distance", "nearest", "piece", "share_bulge", "split_many",
]  # fmt: skip


Ints = NDArray[np.int64]


def share_bulge(bulge: Floats | float, share: Floats | float) -> Floats:
    """Return the bulge [-] of a share [-] of an edge."""
    return np.asarray(np.tan(np.arctan(bulge) * share), dtype=np.float64)


def at_distance(contour: Contour, along: Floats) -> tuple[Floats, Floats, Ints, Floats]:
    """Return points [mm], directions [rad], edge numbers [-] and shares [-] at distances along a contour [mm]."""
    lengths = edge_lengths(contour)
    ends = np.cumsum(lengths)
    along = np.clip(np.asarray(along, dtype=np.float64), 0.0, ends[-1])
    edge = np.minimum(np.searchsorted(ends, along, side="right"), len(ends) - 1)
    share = np.clip((along - (ends[edge] - lengths[edge])) / np.maximum(lengths[edge], 1e-12), 0.0, 1.0)
    points, headings = on_edges(contour, edge, share)
    return points, headings, edge, share


SAME = 1e-6
"""Places whose distances differ by less are as near [mm]."""


def nearest(contour: Contour, x: float, y: float) -> float:
    """Return the distance along a contour [mm] of its point nearest to (x, y) [mm]; the first of several as near."""
    found, lengths = locate.nearest(contour, (x, y)), edge_lengths(contour)
    for edge in range(found.edge):
        one = locate.nearest(Contour(contour.rows[edge : edge + 2], closed=False), (x, y))
        if one.distance <= found.distance + SAME:
            return float(lengths[:edge].sum()) + one.along
    return found.along


def piece(rows: Floats, start: float, end: float) -> Floats:
    """Return the piece of an open chain between two distances along it [mm], as rows of its own."""
    chain = Contour(rows, closed=False)
    points, _, edges, shares = at_distance(chain, np.array([start, end]))
    (e0, e1), (s0, s1) = edges, shares
    if e0 < e1 and s0 > 1 - 1e-12:
        e0, s0 = e0 + 1, 0.0
    if e1 > e0 and s1 < 1e-12:
        e1, s1 = e1 - 1, 1.0
    out = [[*points[0], 0.0]]
    for e in range(int(e0), int(e1) + 1):
        low, high = (s0 if e == e0 else 0.0), (s1 if e == e1 else 1.0)
        out[-1][2] = float(share_bulge(rows[e, 2], high - low))
        tail = points[1] if e == e1 else rows[e + 1, :2]
        out.append([float(tail[0]), float(tail[1]), 0.0])
    return np.array(out)


NEAR = 0.05
"""A new vertex nearer than this to an old one [mm] would leave an edge that a program's digits bend."""


def split_many(rows: Floats, distances: Floats) -> Floats:
    """Return an open chain [mm, -] with vertices added at distances along it [mm]; ones at or near vertices are left out."""
    chain = Contour(rows, closed=False)
    lengths = edge_lengths(chain)
    ends = np.cumsum(lengths)
    wanted = np.unique(distances[(distances > 1e-6) & (distances < ends[-1] - 1e-6)])
    edge = np.searchsorted(ends, wanted, side="right")
    into = wanted - (ends[edge] - lengths[edge])
    keep = (into > NEAR) & (lengths[edge] - into > NEAR)
    edge, share = edge[keep], into[keep] / lengths[edge[keep]]
    if not len(edge):
        return rows
    points, _ = on_edges(chain, edge, share)
    where = np.concatenate([np.arange(len(rows), dtype=np.float64), edge + share])
    order = np.argsort(where, kind="stable")
    merged = np.vstack([rows, np.column_stack([points, np.zeros(len(points))])])[order]
    spot = where[order]
    owner = np.minimum(spot.astype(np.int64), len(lengths) - 1)
    upto = np.append(np.minimum(spot[1:], np.floor(spot[:-1]) + 1), spot[-1])
    merged[:, 2] = share_bulge(rows[owner, 2], upto - spot)
    merged[-1, 2] = 0.0
    return merged
