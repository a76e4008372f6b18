"""Lines and arcs: contours, profiles and what can be asked of them. Imports no other stage."""

from platewright.geometry.contour import Contour, Floats
from platewright.geometry.fit import Fit, FitOptions, ProfileFit, fit_outline, fit_profile
from platewright.geometry.fit_soup import arcs_from_points
from platewright.geometry.flatten import flatten
from platewright.geometry.measure import Box, arc_data, bounds, edge_lengths, length, signed_area
from platewright.geometry.primitives import Arc, Line, Point, Vec
from platewright.geometry.profile import Profile
from platewright.geometry.relations import Relation
from platewright.geometry.transform import Pose, scaled

__all__ = [
    "Arc",
    "Box",
    "Contour",
    "Fit",
    "FitOptions",
    "Floats",
    "Line",
    "Point",
    "Pose",
    "Profile",
    "ProfileFit",
    "Relation",
    "Vec",
    "arc_data",
    "arcs_from_points",
    "bounds",
    "edge_lengths",
    "fit_outline",
    "fit_profile",
    "flatten",
    "length",
    "scaled",
    "signed_area",
]
