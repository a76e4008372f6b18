"""Operations on corners: round, cut off, bite out, and relief holes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from platewright.errors import InputError
from platewright.geometry import Contour, Profile
from platewright.part.inside import refuse_unsound
from platewright.part.model import Part
from platewright.part.ops.steady import steady
from platewright.part.ops.steps import operation, recorded
from platewright.part.ops.welds import whole
from platewright.part.refs import CornerRef, Said, corner_refs, turn_at

__all__ = ["chamfer_corners", "fillet_corners", "relief_holes", "snipe_corners"]

Kind = Literal["straight", "round"]


def _each(part: Part, corners: Iterable[Said | CornerRef] | None) -> tuple[CornerRef, ...]:
    refs = corner_refs(part.profile, corners)
    if not refs:
        raise InputError("The part has no such corner.", do="Choose corners where edges turn.")
    return refs


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


@operation("fillet_corners")
def fillet_corners(part: Part, *, radius: float, corners: Iterable[Said | CornerRef] | None = None) -> Part:
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
    refs = _each(part, corners)
    profile = _changed(part, refs, "fillet", float(radius))
    inputs = {"radius": float(radius), "corners": [r.as_dict() for r in refs]}
    return recorded(part, "fillet_corners", inputs, profile=profile)


@operation("chamfer_corners")
def chamfer_corners(part: Part, *, size: float, corners: Iterable[Said | CornerRef] | None = None) -> Part:
    """Return the part with corners cut off straight, `size` along each edge [mm]; corners as in `fillet_corners`."""
    refs = _each(part, corners)
    profile = _changed(part, refs, "chamfer", float(size))
    inputs = {"size": float(size), "corners": [r.as_dict() for r in refs]}
    return recorded(part, "chamfer_corners", inputs, profile=profile)


@operation("snipe_corners")
def snipe_corners(
    part: Part, *, size: float, corners: Iterable[Said | CornerRef], kind: Kind = "straight"
) -> Part:
    """Return the part with outside corners sniped, to clear the weld or the radius they go into.

    Parameters
    ----------
    size : along each edge (straight), or radius about the corner (round) [mm]
    corners : (contour, vertex) pairs [-] or references
    kind : straight, or round (a quarter circle bitten out, easier on the weld's ends)
    """
    refs = _each(part, corners)
    contours = list(part.profile.contours())
    for ref in refs:
        if turn_at(contours[ref.contour], ref.vertex) <= 0:
            raise InputError(
                f"Corner {ref.vertex} of contour {ref.contour} is an inside corner.",
                do="Use a relief hole there.",
            )
    if kind == "straight":
        profile = _changed(part, refs, "chamfer", float(size))
    else:
        profile = _bitten(part, refs, float(size), "The snipe")
    inputs = {"size": float(size), "corners": [r.as_dict() for r in refs], "kind": kind}
    return recorded(part, "snipe_corners", inputs, profile=profile)


@operation("relief_holes")
def relief_holes(part: Part, *, diameter: float, corners: Iterable[Said | CornerRef] | None = None) -> Part:
    """Return the part with a round relief at inside corners, so that a square edge fits in or a bend does not tear.

    Parameters
    ----------
    diameter : of the circle about the corner [mm]
    corners : (contour, vertex) pairs [-] or references; None is every inside corner of the outline
    """
    if corners is None:
        outer = part.profile.outer
        corners = [(0, v) for v in range(len(outer)) if turn_at(outer, v) < -1e-6]
    refs = _each(part, corners)
    profile = _bitten(part, refs, float(diameter) / 2, "The relief hole")
    inputs = {"diameter": float(diameter), "corners": [r.as_dict() for r in refs]}
    return recorded(part, "relief_holes", inputs, profile=profile)


def _bitten(part: Part, refs: tuple[CornerRef, ...], radius: float, what: str) -> Profile:
    from platewright.geometry.regions.boolean import difference

    if not radius > 0:
        raise InputError(f"{what} of {radius:g} mm cannot be.", allowed="above 0 mm")
    tools = [Profile(Contour.circle(*ref.at, radius)) for ref in refs]
    return steady(part.profile, whole(difference(part.profile, tools), what))
