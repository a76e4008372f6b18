"""Cuts that share: common lines and chains. Both off by default, as they ask more of layout and table.

*Common line*: two parts laid a kerf apart along straight edges share one cut there. The first part is cut whole; the
second is cut from one end of the shared stretch round to the other, starting in the open kerf without a pierce.
*Chain*: after a part the torch stays lit and runs through scrap to the next one's lead-in, if the straight way there is short
and clear of everything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from platewright.burn.cuts.build import settled
from platewright.burn.cuts.leads import Leg, Start
from platewright.burn.cuts.loops import Loop
from platewright.burn.cuts.obstacles import Clear, Obstacles
from platewright.burn.model import Cut
from platewright.geometry import Contour, Floats, edge_lengths, length
from platewright.table.model import TableProfile

__all__ = ["Shared", "chained", "common_start", "shared_edges"]

IN_LINE = 0.05
"""How far two cuts may lie from one line and still be one [mm]."""
SHORTEST = 10.0
"""Shared stretches shorter than this are not worth it [mm]."""
LINK = 40.0
"""Longest way through scrap in a chain [mm]."""


@dataclass(frozen=True, slots=True)
class Shared:
    """Loop `second` shares a straight stretch with loop `first` [-]: from and to along the second [mm]."""

    first: int
    second: int
    start: float
    end: float


def shared_edges(loops: Sequence[Loop]) -> list[Shared]:
    """Return shared straight stretches of outer loops [mm]; each loop is the first of one pair at most, and the second of one."""
    import shapely

    owner, lines, begins = [], [], []
    for i, loop in enumerate(loops):
        if loop.kind != "outer":
            continue
        sizes = edge_lengths(loop.path)
        for e in np.flatnonzero((loop.path.bulges == 0) & (sizes > SHORTEST)):
            owner.append(i)
            lines.append((loop.path.starts[e], loop.path.ends[e]))
            begins.append(float(np.cumsum(sizes)[e] - sizes[e]))
    if not lines:
        return []
    ends = np.array(lines)
    shapes = shapely.linestrings(ends)
    found: list[Shared] = []
    firsts: set[int] = set()
    seconds: set[int] = set()
    a, b = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=IN_LINE)
    for k, m in sorted(zip(a.tolist(), b.tolist(), strict=True)):
        i, j = owner[k], owner[m]
        if i >= j or i in firsts or j in seconds:
            continue
        span = _overlap(ends[k], ends[m])
        if span is not None:
            firsts.add(i)
            seconds.add(j)
            found.append(Shared(i, j, begins[m] + span[0], begins[m] + span[1]))
    return found


def _overlap(first: Floats, second: Floats) -> tuple[float, float] | None:
    """Return where along the second straight edge the first lies on it [mm], if they are in line long enough."""
    along = second[1] - second[0]
    size = float(np.hypot(*along))
    u = along / size
    away = first - second[0]
    off = np.abs(away @ np.array([-u[1], u[0]]))
    if (off > IN_LINE).any():
        return None
    spots = np.sort(away @ u)
    low, high = max(0.0, float(spots[0])), min(size, float(spots[1]))
    return (low, high) if high - low > SHORTEST else None


def common_start(loop: Loop, shared: Shared, other: str) -> Start:
    """Return the start of the second loop: from the end of the shared stretch round to its beginning [mm]."""
    from platewright.burn.cuts.edges import at_distance

    whole = length(loop.path)
    at, _, _, _ = at_distance(loop.path, np.array([shared.end]))
    spot = (float(at[0, 0]), float(at[0, 1]))
    leg = Leg(shared.end, shared.start + whole, spot, 0.0)
    why = f"Shares {shared.end - shared.start:.0f} mm with {other}, cut once; starts in that kerf without a pierce."
    return Start(
        along=shared.end, pierce=spot, bulge=0.0, kind="common", score=0.0, exit_radius=0.0, why=why,
        legs=(leg,),
    )  # fmt: skip


def chained(cuts: Sequence[Cut], obstacles: Obstacles, table: TableProfile, clear: Clear) -> list[Cut]:
    """Join neighbouring outer cuts through scrap where the way is short and clear [mm].

    Parameters
    ----------
    cuts : in order
    obstacles : the layout's boundaries
    table : for times and height control
    clear : free distances of leads
    """
    made: list[Cut] = []
    for cut in cuts:
        joined = _link(made[-1], cut, obstacles, clear) if made else None
        if joined is None:
            made.append(cut)
        else:
            made[-1] = settled(joined, table)
    return made


def _plain(cut: Cut) -> bool:
    return cut.kind == "outer" and cut.pierced and not cut.tabs


def _link(first: Cut, second: Cut, obstacles: Obstacles, clear: Clear) -> Cut | None:
    """Return both cuts as one, or None if they cannot be joined."""
    if not (_plain(first) and _plain(second)) or first.placement == second.placement:
        return None
    rows = first.path.rows[: len(first.path) - first.exit_edges + 1]
    way = np.linspace(rows[-1, :2], second.path.rows[0, :2], 9)
    if math.dist(way[0], way[-1]) > LINK:
        return None
    room = Clear(
        lead_own=clear.lead_own,
        lead_other=clear.lead_own,
        lead_plate=clear.lead_plate,
        pierce_own=clear.lead_own,
        pierce_other=clear.lead_own,
        pierce_plate=clear.lead_plate,
    )
    if not obstacles.legal(way[None], first.placement, room)[0]:
        return None
    tail = rows.copy()
    tail[-1, 2] = 0.0
    path = Contour(np.vstack([tail, second.path.rows]), closed=False)
    kept = len(rows) - 1
    return replace(
        first,
        path=path,
        speeds=(*first.speeds[:kept], first.speeds[-1], *second.speeds),
        height_control=(False,) * len(path),
        exit_edges=second.exit_edges,
        also=(*first.also, (second.placement, second.contour), *second.also),
        why=(*first.why, "Stays lit and runs through scrap to the next part: no second pierce.", *second.why),
    )
