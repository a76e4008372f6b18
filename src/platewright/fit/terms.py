"""What a fit may do, and what comes of it: plain values, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.fit.relations.values import Relation
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.profile import Profile

__all__ = ["Fit", "FitOptions", "ProfileFit", "strays_finding"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitOptions:
    """What a fit may do.

    Attributes
    ----------
    tolerance : how far the shape may lie from the points [mm]; None takes it from the noise. If given and
        `noise` is not, wobble up to it counts as noise
    noise : sd of the points across the outline [mm]; None estimates it
    slow : sd of what points may be off by together over long stretches, which their noise does not show, such
        as a template that does not lie flat [mm]
    relations : whether to look for relations
    refuse : ids of relations not to adopt
    round_to : the grid of round numbers [mm] (0.5, or 1.5875 for sixteenths of an inch); None for no rounding
    total_uncertainty : what a length may be wrong by for reasons the points do not show, such as the
        camera's scale [mm]; a number is rounded only if it is round within this too
    kind : "dense" (traced), "clicked" (by hand, ends of straights), or "auto"
    max_gap : distance from the last to the first point that still counts as closed [mm]
    """

    tolerance: float | None = None
    noise: float | None = None
    slow: float = 0.0
    relations: bool = True
    refuse: frozenset[str] = frozenset()
    round_to: float | None = 0.5
    total_uncertainty: float = 0.0
    kind: Literal["auto", "dense", "clicked"] = "auto"
    max_gap: float = 2.0

    def __post_init__(self) -> None:
        for name in ("tolerance", "noise", "round_to"):
            value = getattr(self, name)
            if value is not None and not (np.isfinite(value) and value > 0):
                raise InputError(f"{name} is {value} mm.", allowed="above 0 mm, or none")
        for name in ("slow", "total_uncertainty"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0):
                raise InputError(f"{name} is {value} mm.", allowed="0 mm or more")
        if self.kind not in ("auto", "dense", "clicked"):
            raise InputError(f"kind is '{self.kind}'.", allowed="auto, dense or clicked")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """An outline as lines and arcs.

    Attributes
    ----------
    contour : the result; closed ones run counterclockwise
    relations : what was adopted, in the order adopted
    moved_max, moved_rms : distance of the captured points from the contour, strays left out [mm]
    noise : sd of the points across the outline [mm], found or given
    cost, bound : description length of the cut and a lower limit on that of any other cut [-] (nats)
    findings : what a person should know
    """

    contour: Contour
    relations: tuple[Relation, ...]
    moved_max: float
    moved_rms: float
    noise: float
    cost: float
    bound: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class ProfileFit:
    """A profile as lines and arcs.

    Attributes
    ----------
    profile : the result
    relations : what was adopted, over all contours
    fits : the outline's fit, then each hole's [mm]
    findings : what a person should know of the whole
    """

    profile: Profile
    relations: tuple[Relation, ...]
    fits: tuple[Fit, ...] = field(default=())
    findings: tuple[Finding, ...] = ()


def strays_finding(places: Floats, subject: str) -> Finding:
    """Return the finding that points [mm] were left out."""
    return finding("G502", place=(places[0, 0], places[0, 1]), subject=subject, count=len(places))
