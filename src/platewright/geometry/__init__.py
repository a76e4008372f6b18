"""Lines and arcs: contours, profiles and what can be asked of them. Imports no other stage.

Values and plain measures stand here; offset, boolean and the like are imported from their own modules, so
that who only needs a contour loads no library for it.
"""

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import Box, arc_data, bounds, edge_lengths, length, signed_area
from platewright.geometry.moments import Moments, centroid, moments
from platewright.geometry.primitives import Arc, Line, Point, Vec
from platewright.geometry.profile import Profile
from platewright.geometry.transform import Pose, scaled

__all__ = [
    "Arc", "Box", "Contour", "Floats", "Line", "Moments", "Point", "Pose", "Profile", "Vec", "arc_data",
    "bounds", "centroid", "edge_lengths", "flatten", "length", "moments", "scaled", "signed_area",
]  # fmt: skip
