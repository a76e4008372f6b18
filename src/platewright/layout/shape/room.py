"""From plates and parts to the search's polygons: the free room, part covers, the turn that stands a part straight."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Contour, Floats, Pose, Profile, length
from platewright.layout.model import Clearance, KeepOut
from platewright.layout.shape.loops import CHORD, Loops, core, cover, grown, joined, loops_area, shrunk
from platewright.stock.model import Plate

__all__ = ["free_room", "mirrored", "shape_of", "straight_turn"]


def mirrored(profile: Profile) -> Profile:
    """Return the other hand of a profile: x becomes -x [mm]."""
    return Pose(mirrored=True).apply(profile)


def shape_of(profile: Profile, *, name: str = "") -> Loops:
    """Return outward-safe loops of a profile [mm].

    Raises
    ------
    InputError
        If the outline crosses itself or a hole is not inside it, even at the finest cover.
    """
    import shapely

    reason = ""
    for tolerance in (CHORD, CHORD / 10, CHORD / 100):
        loops = cover(profile, tolerance=tolerance)
        polygon = shapely.Polygon(loops[0], loops[1:])
        if polygon.is_valid:
            return loops
        reason = reason or shapely.is_valid_reason(polygon)
    cleaned = _cleaned(cover(profile))
    if cleaned and abs(loops_area(cleaned) - profile.area()) < 0.01 * profile.area() + CHORD * length(
        profile.outer
    ):
        return cleaned  # it crosses itself only by rounding at a corner
    raise InputError(
        f"The outline of {f'part {name!r}' if name else 'a part'} is not sound: {reason}.",
        do="Repair the outline first; a part cannot cross itself.",
    )


def _cleaned(loops: Loops) -> Loops:
    """Return the union of the outer loop less the holes, largest loop first, without crumbs."""
    united = joined(loops[:1], [p[::-1] for p in loops[1:]])
    kept = [p for p in united if abs(loops_area((p,))) > CHORD**2]
    return tuple(sorted(kept, key=lambda p: -loops_area((p,))))


def free_room(
    plate: Plate, keepouts: Sequence[KeepOut], clearance: Clearance, reached: Sequence[Contour] | None = None
) -> Loops:
    """Return the loops of plate where part material may lie [mm]; empty if nothing is left.

    Parameters
    ----------
    plate : outline and old holes
    keepouts : grown by their clearance and taken away
    clearance : [mm]
    reached : outlines of what the torch reaches, in plate coordinates [mm]; None for everywhere
    """
    room = shrunk(core(plate.profile), clearance.edge)
    taken = [loop for k in keepouts for loop in grown(cover(Profile(k.contour)), clearance.keepout)]
    if reached is not None:
        box = plate.profile.bounds()
        far = 10 * max(box.width, box.height) + 10
        frame = np.array(
            [
                (box.x0 - far, box.y0 - far),
                (box.x1 + far, box.y0 - far),
                (box.x1 + far, box.y1 + far),
                (box.x0 - far, box.y1 + far),
            ]
        )
        taken += joined((frame,), [p for c in reached for p in core(Profile(c))])
    return joined(room, taken) if room else ()


def straight_turn(loops: Sequence[Floats]) -> float:
    """Return the turn [rad] in (-pi/4, pi/4] that gives the shape's smallest upright box."""
    from shapely import MultiPoint

    hull = MultiPoint(loops[0]).convex_hull
    ring = np.asarray(hull.exterior.coords)
    edges = np.diff(ring, axis=0)
    angles = np.unique(np.round(np.mod(np.arctan2(edges[:, 1], edges[:, 0]), math.pi / 2), 9))
    areas = []
    for a in angles:
        c, s = math.cos(-a), math.sin(-a)
        spread = np.ptp(ring @ np.array([[c, s], [-s, c]]), axis=0)
        areas.append(float(spread[0] * spread[1]))
    upright = float(np.prod(np.ptp(ring, axis=0)))
    best = int(np.argmin(areas))
    if areas[best] > upright * (1 - 1e-6):
        return 0.0
    lean = -float(angles[best])
    return lean + math.pi / 2 if lean <= -math.pi / 4 else lean
