"""Fit: from captured points to the fewest lines and arcs, and the relations they keep.

Method
------
1. Clean the points (``fit.prepare``).
2. Cut the outline into edges by dynamic programming on a description length: squared misfit over noise plus
   a price for each edge (``fit.edges.segment``, ``fit.edges.clicks``; J. Rissanen, 1978).
3. Fit all vertices and bulges at once (``fit.chain``).
4. Adopt relations the points support, one after the other, as exact constraints (``regularise``).

Cost: 5,000 points in well under a second. Limits: an edge whose presence moves the outline by less than
about four standard errors of the points there cannot be told from noise and is not drawn.
"""

from __future__ import annotations

from collections.abc import Sequence

from numpy.typing import ArrayLike

from platewright.fit.terms import Fit, FitOptions, ProfileFit
from platewright.fit.whole import fit_all
from platewright.geometry.contour import Floats
from platewright.geometry.profile import Profile

__all__ = ["Fit", "FitOptions", "ProfileFit", "fit_outline", "fit_profile"]


def fit_outline(points: ArrayLike, *, options: FitOptions | None = None) -> Fit:
    """Return the fewest lines and arcs through ordered points, and the relations they keep.

    Parameters
    ----------
    points : (N, 2) [mm] in order, either way round, from anywhere; repeats, single strays and a gap at the end
        (up to `options.max_gap`) are dealt with
    options : see `FitOptions`

    Raises
    ------
    InputError
        If the points are not an (N, 2) array of finite numbers or too few of them differ.
    """
    return fit_all([points], options=options or FitOptions())[0][0]


def fit_profile(
    outer: ArrayLike,
    holes: list[ArrayLike] | None = None,
    *,
    options: FitOptions | None = None,
    sds: Sequence[Floats] | None = None,
) -> ProfileFit:
    """Return a profile through an outline's and its holes' points [mm], with relations across them.

    Holes that are circles become circles; if one is near a standard diameter [mm] a finding offers it. Where the points of
    each contour are not alike, `sds` are their standard deviations across it, (N,) each [mm]: how they compare is what counts.

    Raises
    ------
    InputError
        If any contour's points cannot be used; `where` names the hole.
    """
    fits, relations, findings = fit_all([outer, *(holes or [])], options=options or FitOptions(), sds=sds)
    profile = Profile(fits[0].contour, tuple(f.contour for f in fits[1:]))
    return ProfileFit(profile, relations, tuple(fits), findings)
