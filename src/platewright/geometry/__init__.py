"""Lines and arcs: contours, profiles and what can be asked of them. Imports no other stage.

The values and the plain measures are imported at once; offset, boolean, fit and the like when first asked
for, so that who only needs a contour loads no library for it. Functions that are named like their module
are taken from it: ``from platewright.geometry.chain import chain`` (and `distance`, `intersect`).
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import Box, arc_data, bounds, edge_lengths, length, signed_area
from platewright.geometry.moments import Moments, centroid, moments
from platewright.geometry.primitives import Arc, Line, Point, Vec
from platewright.geometry.profile import Profile
from platewright.geometry.transform import Pose, scaled

if TYPE_CHECKING:
    from platewright.geometry.boolean import difference, intersection, union
    from platewright.geometry.chain import Chained
    from platewright.geometry.distance import Gap, Neck, neck
    from platewright.geometry.edit import chamfered, filleted, split, trimmed
    from platewright.geometry.fit import Fit, FitOptions, ProfileFit, fit_outline, fit_profile
    from platewright.geometry.fit_soup import arcs_from_points
    from platewright.geometry.intersect import Crossing, crossings
    from platewright.geometry.locate import (
        Nearest,
        contains,
        distances,
        nearest,
        point_at,
        points_at,
        tangent_at,
    )
    from platewright.geometry.merge import merged
    from platewright.geometry.nesting import nest
    from platewright.geometry.offset import offset_contour, offset_edges, offset_profile
    from platewright.geometry.polygons import from_polygon, to_polygon, widest
    from platewright.geometry.relations import Relation
    from platewright.geometry.validity import Repaired, explain, repair

_HOME = {
    "boolean": (
        "difference",
        "intersection",
        "union",
    ),
    "chain": ("Chained",),
    "distance": (
        "Gap",
        "Neck",
        "neck",
    ),
    "edit": (
        "chamfered",
        "filleted",
        "split",
        "trimmed",
    ),
    "fit": (
        "Fit",
        "FitOptions",
        "ProfileFit",
        "fit_outline",
        "fit_profile",
    ),
    "fit_soup": ("arcs_from_points",),
    "intersect": (
        "Crossing",
        "crossings",
    ),
    "locate": (
        "Nearest",
        "contains",
        "distances",
        "nearest",
        "point_at",
        "points_at",
        "tangent_at",
    ),
    "merge": ("merged",),
    "nesting": ("nest",),
    "offset": (
        "offset_contour",
        "offset_edges",
        "offset_profile",
    ),
    "polygons": (
        "from_polygon",
        "to_polygon",
        "widest",
    ),
    "relations": ("Relation",),
    "validity": (
        "Repaired",
        "explain",
        "repair",
    ),
}
_WHERE = {name: module for module, names in _HOME.items() for name in names}


def __getattr__(name: str) -> Any:
    """Import what is not imported at once when it is first asked for."""
    if name not in _WHERE:
        raise AttributeError(f"platewright.geometry has no {name}")
    value = getattr(import_module(f"platewright.geometry.{_WHERE[name]}"), name)
    globals()[name] = value
    return value


__all__ = [
    "Arc",
    "Box",
    "Chained",
    "Contour",
    "Crossing",
    "Fit",
    "FitOptions",
    "Floats",
    "Gap",
    "Line",
    "Moments",
    "Nearest",
    "Neck",
    "Point",
    "Pose",
    "Profile",
    "ProfileFit",
    "Relation",
    "Repaired",
    "Vec",
    "arc_data",
    "arcs_from_points",
    "bounds",
    "centroid",
    "chamfered",
    "contains",
    "crossings",
    "difference",
    "distances",
    "edge_lengths",
    "explain",
    "filleted",
    "fit_outline",
    "fit_profile",
    "flatten",
    "from_polygon",
    "intersection",
    "length",
    "merged",
    "moments",
    "nearest",
    "neck",
    "nest",
    "offset_contour",
    "offset_edges",
    "offset_profile",
    "point_at",
    "points_at",
    "repair",
    "scaled",
    "signed_area",
    "split",
    "tangent_at",
    "to_polygon",
    "trimmed",
    "union",
    "widest",
]
