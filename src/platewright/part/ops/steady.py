"""Keeping edge numbers steady: kernels may start contours elsewhere and list holes in another order."""

from __future__ import annotations

import numpy as np

from platewright.geometry import Contour, Profile, bounds

__all__ = ["steady"]

SAME_PLACE = 1e-9
"""Vertices closer than this are one [mm]; bulges closer than this are one [-]: the kernel's own rounding."""


def steady(before: Profile, after: Profile) -> Profile:
    """Return `after` with contours started at the vertex nearest to the old start, holes in the old order [mm].

    Holes that were not there before come last. A vertex within `SAME_PLACE` of an old one is the old one, so that
    edges nobody touched are bit for bit what they were; nothing else moves.
    """
    middles = [bounds(h).middle for h in before.holes]
    ranked = sorted(
        ((_rank(bounds(h).middle, middles), n, h) for n, h in enumerate(after.holes)),
        key=lambda found: found[:2],
    )
    holes = tuple(_like(h, before.holes[rank]) if rank < len(middles) else h for rank, _, h in ranked)
    return Profile(_like(after.outer, before.outer), holes)


def _rank(middle: tuple[float, float], old: list[tuple[float, float]]) -> int:
    """Return the number of the nearest old hole, or how many there were if none is near."""
    if not old:
        return 0
    away = np.hypot(*(np.array(old) - middle).T)
    nearest = int(np.argmin(away))
    others = np.delete(away, nearest)
    near = not len(others) or away[nearest] < 0.5 * float(others.min()) or away[nearest] < 1e-6
    return nearest if near else len(old)


def _like(contour: Contour, old: Contour) -> Contour:
    """Return a contour started where the old one starts, on the old one's vertices where they are the same."""
    away = np.hypot(*(contour.points - old.points[0]).T)
    rows = contour.started_at(int(np.argmin(away))).rows.copy()
    far = np.hypot(*(rows[:, None, :2] - old.rows[None, :, :2]).transpose(2, 0, 1))
    nearest = far.argmin(axis=1)
    same = far[np.arange(len(rows)), nearest] < SAME_PLACE
    rows[same, :2] = old.rows[nearest[same], :2]
    follows = same & np.roll(same, -1) & (np.roll(nearest, -1) == (nearest + 1) % len(old.rows))
    follows &= np.abs(rows[:, 2] - old.rows[nearest, 2]) < SAME_PLACE
    rows[follows, 2] = old.rows[nearest[follows], 2]
    return Contour(rows)
