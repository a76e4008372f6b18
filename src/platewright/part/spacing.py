"""Bolt hole spacing and edge distance, as AISC 360-16 J3.3 to J3.5 ask it (tables in ``data/joints.toml``).

The bolt is given, or a round hole or slot of a listed clearance size counts as a hole for that bolt; the
finding says which was taken. Bores and pin holes of other sizes are passed over. Distances are from hole centre, along a slot from its
whole middle line, to the nearest other hole or edge, exact for arcs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, Severity, finding, grouped
from platewright.geometry import Contour
from platewright.part.features import round_holes, slot_holes
from platewright.part.model import Part
from platewright.part.rules.bolts import bolt_diameter, bolt_name, bolt_of_hole
from platewright.part.rules.tables import table

__all__ = ["check_spacing", "edge_distance", "spacing"]

INCH = 25.4
OVERSIZE = 1.25
"""A hole more than this many bolt diameters wide is no hole for it [-]: coarse and loose holes stay below that."""
SMALLEST_BOLT = 5.0
"""Holes for smaller bolts are not structural and are not checked [mm]."""


@dataclass(frozen=True, slots=True)
class Spacing:
    """Least and better distance between hole centres [mm], and the least clear distance between hole edges [mm]."""

    least: float
    better: float
    clear: float
    source: str


def spacing(bolt: str | float) -> Spacing:
    """Return the hole spacing of a bolt [mm], by name ("M20", "3/4 in") or diameter [mm]: 2-2/3 d and 3 d (J3.3)."""
    d = bolt_diameter(bolt) if isinstance(bolt, str) else float(bolt)
    rows = table("bolt_spacing")
    return Spacing(
        rows.row("least")["factor"] * d,
        rows.row("better")["factor"] * d,
        rows.row("clear")["factor"] * d,
        rows.cite(),
    )


def edge_distance(bolt: str | float) -> tuple[float, str]:
    """Return the least distance [mm] from hole centre to edge, and its source (Tables J3.4 and J3.4M).

    Parameters
    ----------
    bolt : "M20", "3/4 in", or a diameter [mm]; a diameter is looked up in the table that lists it

    Notes
    -----
    Above the tables 1.25 d, as they say; below them 1.5 d, which is our choice.
    """
    d = bolt_diameter(bolt) if isinstance(bolt, str) else float(bolt)
    for name, unit in (("edge_distance_mm", 1.0), ("edge_distance_in", INCH)):
        rows = table(name)
        sizes = {row: bolt_diameter(row) for row in rows.rows}
        for row, size in sizes.items():
            if abs(size - d) < 1e-6:
                return float(rows.row(row)["edge"]) * unit, rows.cite()
    largest = max(bolt_diameter(r) for r in table("edge_distance_in").rows)
    metric = table("edge_distance_mm")
    if d > largest + 1e-6:
        return 1.25 * d, f"{metric.source} (over the table: 1.25 d)"
    between = [size for size in map(bolt_diameter, metric.rows) if size >= d]
    if d >= min(map(bolt_diameter, table("edge_distance_in").rows)) and between:
        return edge_distance(min(between))[0], f"{metric.source} (next larger size)"
    return 1.5 * d, "below the tables of AISC 360-16: 1.5 d, our choice"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """One bolt hole: its middle line from `a` to `b` (the same for round holes), diameter and bolt [mm].

    ``bolt_given`` is False where the bolt is guessed from the size of a hole in a captured part.
    """

    number: int
    a: tuple[float, float]
    b: tuple[float, float]
    diameter: float
    bolt: float
    bolt_given: bool


def _spots(part: Part, bolt: str | float | None) -> list[_Spot]:
    found = [(h.number, (h.x, h.y), (h.x, h.y), h.diameter) for h in round_holes(part.profile)]
    for s in slot_holes(part.profile):
        dx, dy = math.cos(s.angle) * s.between / 2, math.sin(s.angle) * s.between / 2
        found.append((s.number, (s.x - dx, s.y - dy), (s.x + dx, s.y + dy), s.width))
    spots = []
    bolts = _bolts_named_in_steps(part)
    for number, a, b, diameter in found:
        if bolt is not None:
            d = bolt_diameter(bolt) if isinstance(bolt, str) else float(bolt)
        else:
            d = bolt_of_hole(diameter) or 0.0
        if d >= SMALLEST_BOLT - 1e-9 and d - 0.1 <= diameter <= OVERSIZE * d + 1e-9:
            sized = bolt is not None or bolts is None or any(abs(d - b) < 1e-6 for b in bolts)
            spots.append(_Spot(number=number, a=a, b=b, diameter=diameter, bolt=d, bolt_given=sized))
    return spots


def _bolts_named_in_steps(part: Part) -> set[float] | None:
    """Return the bolts that the steps of a captured part name [mm], or None if a hole in it is what its maker said."""
    if not part.steps or part.steps[0].op != "source":
        return None
    holes = [value for step in part.steps for value in step.inputs.values() if isinstance(value, dict)]
    return {float(hole["bolt_mm"]) for hole in holes if hole.get("bolt_mm")}


def check_spacing(part: Part, *, bolt: str | float | None = None, strict: bool = False) -> list[Finding]:
    """Return findings on hole spacing and edge distance.

    Parameters
    ----------
    bolt : the bolt in every hole, by name or diameter [mm]; None takes it from the hole
    strict : also tell the preferred spacing (3 d) and the largest edge distance (12 t, 150 mm)

    Raises
    ------
    InputError
        If the bolt is bigger than every hole.
    """
    spots = _spots(part, bolt)
    if bolt is not None and not spots and round_holes(part.profile):
        raise InputError(
            f"No hole of the part is for a bolt of {bolt}.",
            do="Leave the bolt out, and it is taken from each hole.",
        )
    return [*_between(spots, strict), *_to_edges(part, spots, strict)]


def _between(spots: Sequence[_Spot], strict: bool) -> tuple[Finding, ...]:
    """Return what holes too close to each other find, the closest first; more than two alike as one."""
    found: list[tuple[float, Finding]] = []
    for i, one in enumerate(spots):
        for other in spots[:i]:
            apart = _line_distance(one, other)
            d = max(one.bolt, other.bolt)
            limits = spacing(d)
            if apart >= (limits.better if strict else limits.least) - 1e-6:
                continue
            place = ((one.a[0] + other.a[0]) / 2, (one.a[1] + other.a[1]) / 2)
            code = "A010" if apart < limits.least - 1e-6 else "A011"
            least = limits.least if code == "A010" else limits.better
            message = finding(
                code, place=place, distance=apart, least=least, bolt=bolt_name(d), source=limits.source
            )
            found.append((apart, message))
    return grouped(one for _, one in sorted(found, key=lambda pair: pair[0]))


def _line_distance(one: _Spot, other: _Spot) -> float:
    """Return the distance between two middle lines [mm]; exact, since they do not cross."""
    return min(
        _point_to(one.a, other), _point_to(one.b, other), _point_to(other.a, one), _point_to(other.b, one)
    )


def _point_to(p: tuple[float, float], line: _Spot) -> float:
    (ax, ay), (bx, by) = line.a, line.b
    run = (bx - ax) ** 2 + (by - ay) ** 2
    t = 0.0 if run == 0 else min(1.0, max(0.0, ((p[0] - ax) * (bx - ax) + (p[1] - ay) * (by - ay)) / run))
    return math.hypot(p[0] - ax - t * (bx - ax), p[1] - ay - t * (by - ay))


def _to_edges(part: Part, spots: Sequence[_Spot], strict: bool) -> list[Finding]:
    found = []
    plain = set(range(len(part.profile.holes))) - {s.number for s in spots}
    others = [part.profile.outer, *(part.profile.holes[n] for n in sorted(plain))]
    far, most = table("edge_distance_most").rows[0]
    for one in spots:
        away = min(_to_contour(one, c) for c in others)
        least, source = edge_distance(one.bolt)
        place = ((one.a[0] + one.b[0]) / 2, (one.a[1] + one.b[1]) / 2)
        if away < least - 1e-6:
            code = "A013" if away < one.bolt - 1e-6 else "A012"
            severity: Severity | None = None if code == "A013" or one.bolt_given else "note"
            found.append(
                finding(
                    code,
                    place=place,
                    severity=severity,
                    distance=away,
                    least=least,
                    bolt=bolt_name(one.bolt),
                    source=source,
                )
            )
        elif strict and away > min(far * part.thickness, most) + 1e-6:
            limit = min(far * part.thickness, most)
            found.append(
                finding(
                    "A014", place=place, distance=away, most=limit, source=table("edge_distance_most").source
                )
            )
    return found


def _to_contour(one: _Spot, contour: Contour) -> float:
    """Return the distance from a hole's middle line to a contour [mm]: from its ends, and from the contour's corners to it."""
    from platewright.geometry.crossing.locate import distances

    ends = float(np.min(distances(contour, [one.a, one.b])))
    if one.a == one.b:
        return ends
    corners = min(_point_to((float(x), float(y)), one) for x, y in contour.points)
    return min(ends, corners)
