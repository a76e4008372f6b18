"""Findings on a part: is it a sound shape, and can this table and torch make it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.findings import Finding, finding
from platewright.geometry import Profile, arc_data, edge_lengths
from platewright.part.features import RoundHole, round_holes
from platewright.part.model import Part
from platewright.part.refs import turn_at
from platewright.part.rules.bends import Bend, check_bend
from platewright.part.spacing import check_spacing

__all__ = ["CutWith", "check"]

TINY = 0.3
"""Edges shorter than this tell of a bad drawing or fit [mm]: no table cuts them as drawn."""
SHARP = math.radians(20)
"""An inside corner that turns less than this is cut as drawn for practical purposes [rad]."""


@dataclass(frozen=True, slots=True)
class CutWith:
    """What the part will be cut with.

    Attributes
    ----------
    kerf : width of the cut [mm]; the starter value of a small air plasma
    smallest_hole : smallest diameter that cuts well [mm] (the cut chart's row); None takes the thickness, the
        common rule of thumb for plasma
    reach : the table's width and height [mm], None for no check
    bolt : bolt of the holes, None to take it from each hole
    strict : whether preferred spacing and largest edge distance are told too
    """

    kerf: float = 1.5
    smallest_hole: float | None = None
    reach: tuple[float, float] | None = None
    bolt: str | float | None = None
    strict: bool = False


def check(part: Part, *, cut_with: CutWith | None = None) -> list[Finding]:
    """Return what is wrong or worth knowing about a part.

    Parameters
    ----------
    cut_with : what it will be cut with, lengths in [mm]; see `CutWith`

    Returns
    -------
    findings with places; the gravest first. A shape that crosses itself is not looked at further.
    """
    from platewright.geometry.regions.validity import explain

    cut_with = cut_with or CutWith()
    found = [*explain(part.profile)]
    if not any(f.severity == "stop" for f in found):
        found += [
            *_tiny_edges(part.profile),
            *_webs(part, cut_with.kerf),
            *_inside_corners(part.profile, cut_with.kerf),
            *_small_holes(part, cut_with.smallest_hole),
            *_too_big(part.profile, cut_with.reach),
            *_tight_bends(part),
            *check_spacing(part, bolt=cut_with.bolt, strict=cut_with.strict),
        ]
    rank = {"stop": 0, "look": 1, "note": 2}
    return sorted(found, key=lambda f: rank[f.severity])


def _tight_bends(part: Part) -> list[Finding]:
    """Look at the bend lines and the bent strips among the part's steps, each radius, thickness and metal once."""
    bends = list[tuple[float, float, str]]()
    for step in part.steps:
        inputs = step.inputs.get("values", {}) if step.op == "family" else step.inputs
        radius = {"add_bend_line": inputs.get("radius"), "family": inputs.get("inside_radius")}.get(step.op)
        if radius is not None:
            bends.append(
                (float(radius), inputs.get("sheet", part.thickness), inputs.get("metal") or part.grade)
            )
    return [
        f
        for r, thick, metal in dict.fromkeys(bends)
        for f in check_bend(Bend(r), thickness=thick, metal=metal)
    ]


def _tiny_edges(profile: Profile) -> list[Finding]:
    spots = []
    for contour in profile.contours():
        short = np.flatnonzero(edge_lengths(contour) < TINY)
        spots += [(float(x), float(y)) for x, y in contour.starts[short]]
    return [finding("A001", place=spots[0], count=len(spots), least=TINY)] if spots else []


def _webs(part: Part, kerf: float) -> list[Finding]:
    """Tell the narrowest neck if it is below the kerf, or below the thickness."""
    from platewright.geometry.crossing.distance import neck

    narrow = neck(part.profile, below=max(kerf, part.thickness))
    if narrow is None:
        return []
    place = ((narrow.first.x + narrow.second.x) / 2, (narrow.first.y + narrow.second.y) / 2)
    if narrow.width < kerf:
        return [finding("A002", place=place, width=narrow.width, kerf=kerf)]
    return [finding("A003", place=place, width=narrow.width, thickness=part.thickness)]


def _inside_corners(profile: Profile, kerf: float) -> list[Finding]:
    sharp: list[tuple[float, float]] = []
    tight: list[tuple[float, tuple[float, float]]] = []
    for contour in profile.contours():
        sharp += [
            (float(x), float(y)) for v, (x, y) in enumerate(contour.points) if turn_at(contour, v) < -SHARP
        ]
        arcs = arc_data(contour)
        small = np.flatnonzero((arcs.sweep < 0) & (arcs.radius < kerf / 2)).tolist()
        tight += [
            (float(arcs.radius[k]), (float(contour.starts[k, 0]), float(contour.starts[k, 1]))) for k in small
        ]
    found = []
    if sharp:
        found.append(finding("A004", place=sharp[0], count=len(sharp), radius=kerf / 2))
    if tight:
        radius, place = min(tight)
        found.append(finding("A005", place=place, count=len(tight), radius=radius, least=kerf / 2))
    return found


def _small_holes(part: Part, smallest: float | None) -> list[Finding]:
    limit = part.thickness if smallest is None else smallest
    why = (
        "the cut chart's smallest hole" if smallest is not None else "the plate's thickness, a rule of thumb"
    )
    small: dict[float, list[RoundHole]] = {}
    for hole in round_holes(part.profile):
        if hole.diameter < limit - 1e-6:
            small.setdefault(round(hole.diameter, 2), []).append(hole)
    return [
        finding(
            "A020", place=(same[0].x, same[0].y), diameter=same[0].diameter, least=limit, why=why,
            subject=("hole " if len(same) == 1 else "holes ") + ", ".join(str(h.number + 1) for h in same),
        )
        for same in small.values()
    ]  # fmt: skip


def _too_big(profile: Profile, reach: tuple[float, float] | None) -> list[Finding]:
    """Tell a part whose box fits the table neither way round; on the slant it might still."""
    if reach is None:
        return []
    box = profile.bounds()
    long, short = max(box.width, box.height), min(box.width, box.height)
    if long <= max(reach) and short <= min(reach):
        return []
    return [finding("A006", width=box.width, height=box.height, table_width=reach[0], table_height=reach[1])]
