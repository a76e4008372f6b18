"""Keeping edge numbers steady: kernels may start contours elsewhere and list holes in another order."""

from __future__ import annotations

import numpy as np

from platewright.geometry import Contour, Profile, bounds

__all__ = ["steady"]


def steady(before: Profile, after: Profile) -> Profile:
    """Return `after` with contours started at the vertex nearest to the old start, holes in the old order [mm].

    Holes that were not there before come last. Nothing moves.
    """
    middles = [_middle(h) for h in before.holes]
    ranked = sorted(
        ((_rank(_middle(h), middles), n, h) for n, h in enumerate(after.holes)), key=lambda found: found[:2]
    )
    holes = tuple(
        _started(h, before.holes[rank].points[0]) if rank < len(middles) else h for rank, _, h in ranked
    )
    return Profile(_started(after.outer, before.outer.points[0]), holes)


def _middle(contour: Contour) -> tuple[float, float]:
    box = bounds(contour)
    return (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2


def _rank(middle: tuple[float, float], old: list[tuple[float, float]]) -> int:
    """Return the number of the nearest old hole, or how many there were if none is near."""
    if not old:
        return 0
    away = np.hypot(*(np.array(old) - middle).T)
    nearest = int(np.argmin(away))
    others = np.delete(away, nearest)
    near = not len(others) or away[nearest] < 0.5 * float(others.min()) or away[nearest] < 1e-6
    return nearest if near else len(old)


def _started(contour: Contour, at: np.ndarray) -> Contour:
    away = np.hypot(*(contour.points - at).T)
    return contour.started_at(int(np.argmin(away)))
