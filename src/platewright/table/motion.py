"""How the table really moves: a look-ahead speed plan over lines and arcs.

Words
-----
feed : speed asked for on an edge; cap : feed, or less where an arc is too tight; ramp : speeding up or slowing
down at the table's acceleration; corner speed : how fast a corner may be taken.

Method
------
Speed along the path changes at a constant acceleration ``a``. Three limits hold it down:

* on an edge: its feed, and on an arc of radius R the centripetal limit ``v² <= a R``;
* at a corner with interior angle phi: the circle that touches both legs and passes the corner at the tolerance d has
  ``R = d s/(1-s), s = sin(phi/2)``, and ``v² <= a R``; the circle may use no more than half of either leg, which makes a
  run of short chords as slow as the arc they stand for; an edge of a twentieth of the tolerance makes no corner of its own;
* along the path: ``v1² <= v0² + 2 a L``, kept by one pass backward from the end and one forward from the start.

Each edge is then a ramp, a cruise and a ramp (or a triangle), whose time has a closed form. A controller with a jerk
limit j is taken to smooth the speed over time by a moving average of a/j seconds: every stop-to-stop move keeps its
length and takes a/j longer (for a trapezoid the exact S-curve time D/v + v/a + a/j).

Assumptions: the torch follows the drawn path; rounding of corners changes its length by less than the tolerance.
Cost: linear in the number of edges, compiled; 100,000 edges in some hundredths of a second.
Limits: no vibration, no lag of the drives; an arm's joint speeds are kept, its joint accelerations are not modelled.
Used by the planner and, on its own reading of the program's text, by the proof.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from platewright.errors import InputError
from platewright.geometry import Contour, Floats, arc_data, edge_lengths
from platewright.table.model import Arm, TableProfile

__all__ = ["SpeedPlan", "Stretch", "Timed", "move_time", "speed_plan", "timed"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of path slower than asked: from and to along the path [mm], lowest speed over feed [-]."""

    start: float
    end: float
    lowest: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SpeedPlan:
    """Speeds along an open chain; arrays have one value an edge.

    Attributes
    ----------
    entry, peak, exit : speed at the edge's start, its highest, at its end [mm/s]
    time : time on the edge [s]
    length : [mm]
    feed : as asked [mm/s]
    acceleration : [mm/s²]
    smoothing : time added by the jerk limit to the whole stop-to-stop move [s]
    """

    entry: Floats
    peak: Floats
    exit: Floats
    time: Floats
    length: Floats
    feed: Floats
    acceleration: float
    smoothing: float = 0.0

    @property
    def total(self) -> float:
        """Time over the whole chain [s]."""
        return float(self.time.sum()) + self.smoothing

    def at(self, distance: ArrayLike) -> Floats:
        """Return the speed [mm/s] at distances along the path [mm], clipped to its ends."""
        ends = np.cumsum(self.length)
        along = np.clip(np.asarray(distance, dtype=np.float64), 0.0, ends[-1])
        edge = np.minimum(np.searchsorted(ends, along, side="right"), len(ends) - 1)
        into = np.clip(along - (ends[edge] - self.length[edge]), 0.0, self.length[edge])
        rising = np.sqrt(self.entry[edge] ** 2 + 2 * self.acceleration * into)
        falling = np.sqrt(self.exit[edge] ** 2 + 2 * self.acceleration * (self.length[edge] - into))
        return np.minimum(np.minimum(rising, falling), self.peak[edge])

    @property
    def usual(self) -> Floats:
        """The speed that half of each edge's length is run at or above [mm/s]: the cruise, where there is one worth the name."""
        twice = 2 * self.acceleration
        low, high = np.minimum(self.entry, self.exit), np.maximum(self.entry, self.exit)
        steep, short = (self.peak**2 - low**2) / twice, (self.peak**2 - high**2) / twice
        left = self.length / 2 - np.maximum(self.length - steep - short, 0.0)
        square = self.peak**2 - np.where(left <= 2 * short, twice * left / 2, twice * (left - short))
        return np.where(left <= 0, self.peak, np.sqrt(np.maximum(square, low**2)))

    def slow(self, fraction: float = 0.8, *, shortest: float = 0.0) -> tuple[Stretch, ...]:
        """Return the stretches below `fraction` [-] of the feed and longer than `shortest` [mm], exactly."""
        return _stretches(self, fraction, shortest)


def _stretches(plan: SpeedPlan, fraction: float, shortest: float) -> tuple[Stretch, ...]:
    """Walk the edges; on each the speed is below the bar in a head, a tail, or all of it [mm]."""
    bar = fraction * plan.feed
    twice = 2 * plan.acceleration
    head = np.clip((bar**2 - plan.entry**2) / twice, 0.0, plan.length)
    tail = np.clip((bar**2 - plan.exit**2) / twice, 0.0, plan.length)
    whole = (plan.peak < bar) | (head + tail >= plan.length)
    begin = np.cumsum(plan.length) - plan.length
    pieces: list[list[float]] = []
    for i in np.flatnonzero((head + tail > 0) & (plan.length > 0)):
        lows = (float(plan.entry[i] / plan.feed[i]), float(plan.exit[i] / plan.feed[i]))
        start, end = float(begin[i]), float(begin[i] + plan.length[i])
        spans = (
            [(start, end, min(*lows))]
            if whole[i]
            else [(start, start + float(head[i]), lows[0]), (end - float(tail[i]), end, lows[1])]
        )
        for a, b, low in spans:
            if pieces and a <= pieces[-1][1] + 1e-9:
                pieces[-1] = [pieces[-1][0], max(b, pieces[-1][1]), min(low, pieces[-1][2])]
            elif b > a:
                pieces.append([a, b, low])
    return tuple(Stretch(a, b, low) for a, b, low in pieces if b - a > shortest)


def _directions(curved: Floats, chord: Floats) -> tuple[Floats, Floats]:
    """Return the direction of travel at the start and end of each edge [rad]."""
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    half = 2.0 * np.arctan(curved)
    return heading - half, heading + half


def speed_plan(
    rows: ArrayLike,
    feeds: ArrayLike,
    *,
    acceleration: float,
    corner_tolerance: float,
    end_speeds: tuple[float, float] = (0.0, 0.0),
    jerk: float | None = None,
) -> SpeedPlan:
    """Plan the speed over an open chain of lines and arcs.

    Parameters
    ----------
    rows : (N, 3) array of x [mm], y [mm], bulge [-]; the last bulge is unused
    feeds : N-1 feeds [mm/s], or one for all; above 0
    acceleration : [mm/s²], above 0
    corner_tolerance : how far a corner may be rounded [mm], not negative
    end_speeds : speeds the chain is entered and left at [mm/s]
    jerk : [mm/s³], or None for no limit

    Returns
    -------
    SpeedPlan [mm/s, s]

    Raises
    ------
    InputError
        If the rows are no chain, or a feed, the acceleration or the tolerance is not usable.
    """
    from platewright.table.kernels import Law, Way, plan_edges

    path = Contour(np.asarray(rows, dtype=np.float64), closed=False)
    count = len(path)
    feed = np.ascontiguousarray(np.broadcast_to(np.asarray(feeds, dtype=np.float64), (count,)))
    if not (np.isfinite(feed).all() and (feed > 0).all()):
        bad = int(np.flatnonzero(~(feed > 0) | ~np.isfinite(feed))[0])
        raise InputError(f"Edge {bad} has a feed of {feed[bad]} mm/s.", allowed="above 0")
    if not (acceleration > 0 and corner_tolerance >= 0):
        raise InputError(
            f"Acceleration {acceleration} mm/s² and corner tolerance {corner_tolerance} mm cannot be used.",
            allowed="acceleration above 0, tolerance not negative",
        )
    length, arcs = edge_lengths(path), arc_data(path)
    turn_in, turn_out = _directions(path.bulges, path.ends - path.starts)
    cap = np.minimum(feed, np.sqrt(acceleration * arcs.radius))
    cap = np.where(length > 0, cap, feed)
    at, peak, time = plan_edges(
        Way(length, cap, turn_in, turn_out),
        Law(float(acceleration), float(corner_tolerance)),
        *map(float, end_speeds),
    )
    smoothing = 0.0 if jerk is None else acceleration / jerk
    return SpeedPlan(
        entry=at[:-1], peak=peak, exit=at[1:], time=time, length=length, feed=feed,
        acceleration=float(acceleration), smoothing=smoothing,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Timed:
    """How a table runs a path.

    Attributes
    ----------
    total : time from standstill to standstill [s]
    plan : speeds along the path; on an arm its edges are pieces of the path's
    edge_time : time on each edge of the path as given [s], without jerk smoothing
    edge_usual : speed that half of each edge's length is run at or above [mm/s]; on an arm the mean of that over its pieces
    """

    total: float
    plan: SpeedPlan
    edge_time: Floats
    edge_usual: Floats

    def at(self, distance: ArrayLike) -> Floats:
        """Return the torch speed [mm/s] at distances along the path [mm]."""
        return self.plan.at(distance)


def timed(path: Contour, speeds: Sequence[float] | Floats | float, table: TableProfile) -> Timed:
    """Return how the table runs an open path at the feeds asked for.

    Parameters
    ----------
    path : open chain [mm]
    speeds : feed on each edge [mm/s], or one for all
    table : its acceleration, corner tolerance, jerk, fastest feed and, for an arm, joint speeds

    Returns
    -------
    Timed [s, mm/s]
    """
    if path.closed:
        raise InputError("Only an open path can be timed.", do="Repeat the first point at the end.")
    count = len(path)
    feeds = np.broadcast_to(np.asarray(speeds, dtype=np.float64), (count,))
    rows, owner = path.rows, np.arange(count, dtype=np.int64)
    caps = feeds.copy()
    if isinstance(table.reach, Arm):
        from platewright.table.arm import capped

        rows, owner, caps = capped(path, feeds, table.reach)
    plan = speed_plan(
        rows,
        caps,
        acceleration=table.acceleration,
        corner_tolerance=table.corner_tolerance,
        jerk=table.jerk,
    )
    plan = SpeedPlan(
        entry=plan.entry, peak=plan.peak, exit=plan.exit, time=plan.time, length=plan.length,
        feed=feeds[owner], acceleration=plan.acceleration, smoothing=plan.smoothing,
    )  # fmt: skip
    edge_time, usual, length = np.zeros(count), np.zeros(count), np.zeros(count)
    np.add.at(edge_time, owner, plan.time)
    np.add.at(usual, owner, plan.usual * plan.length)
    np.add.at(length, owner, plan.length)
    usual = np.where(length > 0, usual / np.where(length > 0, length, 1.0), feeds)
    return Timed(plan.total, plan, edge_time, usual)


def move_time(
    distance: float,
    *,
    speed: float,
    acceleration: float,
    deceleration: float | None = None,
    jerk: float | None = None,
) -> float:
    """Return the time [s] of a straight move from rest to rest.

    Parameters
    ----------
    distance : [mm], not negative
    speed : fastest [mm/s]
    acceleration, deceleration : [mm/s²]; the second as the first if not given
    jerk : [mm/s³], adds acceleration/jerk

    With v²/2a + v²/2b <= d the move is a trapezoid: ``t = d/v + v/2a + v/2b``; else a triangle with the peak
    ``v = sqrt(2 a b d / (a+b))`` and ``t = v/a + v/b``.
    """
    a, b = acceleration, acceleration if deceleration is None else deceleration
    if not (distance >= 0 and speed > 0 and a > 0 and b > 0):
        raise InputError(
            f"A move of {distance} mm at {speed} mm/s with {a} and {b} mm/s² cannot be timed.",
            allowed="distance not negative, the others above 0",
        )
    if distance == 0:
        return 0.0
    extra = 0.0 if jerk is None else max(a, b) / jerk
    top = math.sqrt(2 * a * b * distance / (a + b))
    if top <= speed:
        return top / a + top / b + extra
    return distance / speed + speed / (2 * a) + speed / (2 * b) + extra
