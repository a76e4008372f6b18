"""The one law of kerf: how wide a chart row parts the plate at a speed. Planner and proof both ask here.

A slower torch parts more. Between two speeds whose kerf the chart holds, the kerf follows a power of the speed (a
straight line in logarithms); a row may hold up to three: cut speed (``kerf``), the speed of small holes
(``kerf_hole``) and half the cut speed (``kerf_slow``). Slower than all of them it goes on by the power from cut speed to the
slowest, down to a quarter of cut speed; faster than cut speed it stays as it is. A row with one kerf keeps it at
every speed.

That the kerf is a power of the speed is our assumption; it holds at the speeds that were measured and is smooth between.

What a dimple is stands here too: a very short arc that marks a place for the drill and does not get through. All of that is common practice,
known roughly. The arc heats and quenches the spot, which hardens steel there; on thin plate it may go through.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from platewright.geometry import Contour, Floats, flatten
from platewright.table.model import ChartRow, TableProfile
from platewright.table.motion import speed_plan

__all__ = ["LEAST_PLATE", "MOST_SHARE", "dimple_time", "dimples", "kerf_at", "kerf_of_hole", "steady_speed"]

SLOWEST = 0.25
"""Below this share of the cut speed the kerf is taken to stay as it is [-]."""
SAME = 0.02
"""Speeds closer than this share of the cut speed are one [-]."""


def _known(row: ChartRow) -> list[tuple[float, float]]:
    """Return (share of cut speed [-], kerf [mm]) of what the row holds, slowest first."""
    known = [(1.0, row.kerf)]
    for share, kerf in ((row.hole_speed_factor, row.kerf_hole), (0.5, row.kerf_slow)):
        if kerf > 0 and all(abs(share - s) > SAME for s, _ in known) and share < 1:
            known.append((share, kerf))
    return sorted(known)


def kerf_at(row: ChartRow, speed: ArrayLike) -> Floats:
    """Return the kerf [mm] at torch speeds [mm/s], an array of the same shape."""
    share = np.clip(np.asarray(speed, dtype=np.float64) / row.cut_speed, SLOWEST, 1.0)
    known = _known(row)
    slowest, widest = known[0]
    if slowest < 1:
        power = math.log(widest / row.kerf) / math.log(slowest)
        if slowest > SLOWEST:
            known.insert(0, (SLOWEST, row.kerf * SLOWEST**power))
    logs = np.interp(np.log(share), [math.log(s) for s, _ in known], [math.log(k) for _, k in known])
    return np.asarray(np.round(np.exp(logs), 6))


def steady_speed(table: TableProfile, feed: float, *, radius: float = math.inf, chord: float = 0.0) -> float:
    """Return the speed [mm/s] a table settles at on a line or an arc of a radius [mm] when asked for a feed [mm/s].

    An arc written as chords that lie within `chord` of it [mm] is run by the corners between them: a little faster on
    each chord than on the arc, or slower where they are few. The mean over a chord counts.
    """
    allowed = min(feed, table.max_cut_speed)
    if not chord > 0 or math.isinf(radius):
        return min(allowed, math.sqrt(table.acceleration * radius))
    ring = flatten(Contour.circle(0.0, 0.0, radius), tolerance=chord)
    twice = np.vstack([ring, ring, ring[:1]])
    run = speed_plan(
        np.column_stack([twice, np.zeros(len(twice))]), allowed, acceleration=table.acceleration,
        corner_tolerance=table.corner_tolerance, end_speeds=(allowed, allowed),
    )  # fmt: skip
    return float(run.length[len(ring)] / run.time[len(ring)])


def kerf_of_hole(
    row: ChartRow, table: TableProfile, *, feed: float, diameter: float, chord: float = 0.0
) -> float:
    """Return the kerf [mm] in a round hole of a diameter [mm] cut at a feed [mm/s], by the speed the table keeps in it.

    The torch runs half a kerf inside the edge, and the kerf depends on the speed it can run there: three rounds settle it.
    `chord` is how far chords lie from the arc where the controller takes no arcs [mm]; 0 where it does.
    """
    kerf = row.kerf
    for _ in range(3 if row.kerf_hole or row.kerf_slow else 0):
        radius = max((diameter - kerf) / 2, 0.05)
        kerf = float(kerf_at(row, steady_speed(table, feed, radius=radius, chord=chord)))
    return kerf


# -- dimples ---------------------------------------------------------------------------------------

LEAST_PLATE = 3.0
"""Thinner plate is not dimpled [mm]."""
MOST_SHARE = 0.4
"""Longest arc of a dimple, over the pierce delay [-]: from half of it on the arc may be through."""
USUAL, SHORTEST = 0.25, 0.1
"""Usual arc of a dimple over the pierce delay [-]; shorter than this most torches do not light [s]."""

THICK, LONGEST_ARC = 0.3, 1.0
"""Usual and longest arc where the amperage does not pierce the plate at all [s]."""


def dimple_time(row: ChartRow) -> float:
    """Return how long the arc of a dimple usually burns [s]."""
    return THICK if row.edge_start_only else round(max(SHORTEST, USUAL * row.pierce_delay), 3)


def dimples(row: ChartRow, thickness: float, seconds: float) -> bool:
    """Tell whether an arc of so many seconds [s] leaves a dimple in a plate [mm] rather than a hole."""
    most = LONGEST_ARC if row.edge_start_only else MOST_SHARE * row.pierce_delay
    return thickness >= LEAST_PLATE and seconds <= most + 1e-9
