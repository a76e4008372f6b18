"""Operations on corners: round, cut off, bite out, and relief holes."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from platewright.errors import InputError
from platewright.geometry import Contour, Profile
from platewright.part.inside import refuse_unsound
from platewright.part.model import Part
from platewright.part.ops.inputs import EVERY, InsideCorners
from platewright.part.ops.steady import steady
from platewright.part.ops.steps import operation
from platewright.part.ops.welds import whole
from platewright.part.refs import CornerRef, turn_at

__all__ = ["chamfer_corners", "fillet_corners", "relief_holes", "snipe_corners"]

Kind = Literal["straight", "round"]


def _changed(part: Part, refs: tuple[CornerRef, ...], how: str, size: float) -> Profile:
    """Round or cut corners one by one, the last first so that numbers stay good."""
    from platewright.geometry.regions.edit import chamfered, filleted

    contours = list(part.profile.contours())
    for ref in sorted(refs, key=lambda r: (r.contour, r.vertex), reverse=True):
        one = contours[ref.contour]
        contours[ref.contour] = (
            filleted(one, ref.vertex, size) if how == "fillet" else chamfered(one, ref.vertex, size)
        )
    return refuse_unsound(Profile(contours[0], tuple(contours[1:])), what="The corner")


@operation
def fillet_corners(part: Part, *, radius: float, corners: tuple[CornerRef, ...] = EVERY) -> Part:
    """Return the part with corners rounded, outside or inside, between lines or arcs.

    Parameters
    ----------
    radius : [mm]
    corners : (contour, vertex) pairs [-] or references; None is every corner of the outline

    Raises
    ------
    InputError
        If a radius does not fit; the sentence says what would.
    """
    return replace(part, profile=_changed(part, corners, "fillet", radius))


@operation
def chamfer_corners(part: Part, *, size: float, corners: tuple[CornerRef, ...] = EVERY) -> Part:
    """Return the part with corners cut off straight, `size` along each edge [mm]; corners as in `fillet_corners`."""
    return replace(part, profile=_changed(part, corners, "chamfer", size))


@operation
def snipe_corners(
    part: Part, *, size: float, corners: tuple[CornerRef, ...], kind: Kind = "straight"
) -> Part:
    """Return the part with outside corners sniped, to clear the weld or the radius they go into.

    Parameters
    ----------
    size : along each edge (straight), or radius about the corner (round) [mm]
    corners : (contour, vertex) pairs [-] or references
    kind : straight, or round (a quarter circle bitten out, easier on the weld's ends)
    """
    contours = list(part.profile.contours())
    for ref in corners:
        if turn_at(contours[ref.contour], ref.vertex) <= 0:
            raise InputError(
                f"Corner {ref.vertex} of contour {ref.contour} is an inside corner.",
                do="Use a relief hole there.",
            )
    if kind == "straight":
        return replace(part, profile=_changed(part, corners, "chamfer", size))
    return replace(part, profile=_bitten(part, corners, size, "The snipe"))


@operation
def relief_holes(part: Part, *, diameter: float, corners: InsideCorners = EVERY) -> Part:
    """Return the part with a round relief at inside corners, so that a square edge fits in or a bend does not tear.

    Parameters
    ----------
    diameter : of the circle about the corner [mm]
    corners : (contour, vertex) pairs [-] or references; None is every inside corner of the outline
    """
    return replace(part, profile=_bitten(part, corners, diameter / 2, "The relief hole"))


def _bitten(part: Part, refs: tuple[CornerRef, ...], radius: float, what: str) -> Profile:
    from platewright.geometry.regions.boolean import difference

    if not radius > 0:
        raise InputError(f"{what} of {radius:g} mm cannot be.", allowed="above 0 mm")
    tools = [Profile(Contour.circle(*ref.at, radius)) for ref in refs]
    return steady(part.profile, whole(difference(part.profile, tools), what))
