"""Lines and arcs: contours, profiles and what can be asked of them. Imports no other stage."""

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import Box, arc_data, bounds, edge_lengths, length, signed_area
from platewright.geometry.primitives import Arc, Line, Point, Vec
from platewright.geometry.profile import Profile
from platewright.geometry.transform import Pose, scaled

__all__ = [
    "Arc",
    "Box",
    "Contour",
    "Floats",
    "Line",
    "Point",
    "Pose",
    "Profile",
    "Vec",
    "arc_data",
    "bounds",
    "edge_lengths",
    "flatten",
    "length",
    "scaled",
    "signed_area",
]
