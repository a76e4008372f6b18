"""Profiles to polygons of a polygon library, and polygons back to profiles of straight edges.

For topology and for peers only: results meant for the table are put on exact lines and arcs elsewhere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from platewright.errors import InputError
from platewright.geometry.flatten import flatten
from platewright.geometry.profile import Profile

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["to_polygon", "widest"]


def to_polygon(profile: Profile, *, tolerance: float) -> Polygon:
    """Return the profile as a polygon whose chords stray from it by at most `tolerance` [mm], above 0."""
    from shapely import Polygon

    rings = [flatten(c, tolerance=tolerance) for c in profile.contours()]
    if any(len(ring) < 3 for ring in rings):
        raise InputError(
            "A contour encloses nothing: fewer than three points.", do="Repair the profile first."
        )
    return Polygon(rings[0], rings[1:])


def widest(profile: Profile) -> tuple[float, float, float]:
    """Return the middle and radius of the largest disc that lies in the metal [mm], to a hundredth of the part's size."""
    import shapely

    box = profile.bounds()
    size = max(box.width, box.height)
    disc = shapely.maximum_inscribed_circle(to_polygon(profile, tolerance=size / 1000), tolerance=size / 100)
    (x, y), _ = disc.coords
    return float(x), float(y), float(disc.length)
