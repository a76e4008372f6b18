"""What is wrong with a shape, in findings (``catalogue/geometry.md``), each with its place.

Method: meetings of edges that are not neighbours give the places; whether a contour crosses or only
touches itself is read off the windings of its arrangement. Cost: n log n.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from platewright.findings import Finding, finding
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.arrange import Flags, arrange, doubled
from platewright.geometry.crossing.pairs import box_pairs, meetings, weld
from platewright.geometry.curves import Curves, Ints, gather
from platewright.geometry.measure import edge_lengths, length, signed_area
from platewright.geometry.profile import Profile
from platewright.geometry.regions.nesting import inside_matrix
from platewright.geometry.tolerance import WELD

__all__ = ["explain"]

_MOST_PLACES = 10
"""No more places than this are named for one contour [-]; the first few tell the story."""


def explain(shape: Profile | Contour) -> tuple[Finding, ...]:
    """Return what is wrong with a shape, with places [mm]; nothing for a valid one.

    A contour by itself is asked to be closed and not to cross itself. A profile's holes are asked to lie
    inside the outer edge, apart from each other and not inside each other.
    """
    contours = list(shape.contours()) if isinstance(shape, Profile) else [shape]
    found: list[Finding] = []
    for number, contour in enumerate(contours):
        name = _name(number, len(contours))
        found += _short_edges(contour, name)
        if not contour.closed:
            a, b = contour.points[0], contour.points[-1]
            apart = float(math.hypot(*(b - a)))
            found.append(finding("G001", place=_at(a), subject=name, edges=len(contour), gap=apart))
        crossings = _self_meetings(contour, name)
        empty = contour.closed and abs(signed_area(contour)) <= WELD * length(contour)
        if empty and not any(f.code == "G006" for f in crossings):
            crossings = [finding("G012", place=_at(contour.points[0]), subject=name)]
        found += crossings
    return (*found, *_between(contours))


def _name(number: int, count: int) -> str:
    if count == 1:
        return "contour"
    return "outer edge" if number == 0 else f"hole {number}"


def _at(xy: Floats) -> tuple[float, float]:
    return float(xy[0]), float(xy[1])


def _short_edges(contour: Contour, name: str) -> list[Finding]:
    short = np.flatnonzero(edge_lengths(contour) <= WELD)
    if len(short) == 0:
        return []
    return [finding("G004", place=_at(contour.starts[short[0]]), subject=name, count=len(short))]


def _grown(curves: Curves) -> Floats:
    grown: Floats = curves.boxes() + np.array([-WELD, -WELD, WELD, WELD])
    return grown


def _places(curves: Curves, i: Ints, j: Ints, *, joined: Flags) -> Floats:
    """Return where pairs of curves meet (N, 2), other than at an end that joined ones share."""
    if len(i) == 0:
        return np.zeros((0, 2))
    met = meetings(curves, (i, j))
    key = i * len(curves) + j
    order = np.argsort(key)
    pair = np.minimum(met.curve, met.mate) * len(curves) + np.maximum(met.curve, met.mate)
    by_right = joined[order][np.searchsorted(key[order], pair)]
    ends = [
        np.minimum(np.hypot(*(met.point - curves.start[k]).T), np.hypot(*(met.point - curves.end[k]).T))
        for k in (met.curve, met.mate)
    ]
    spots = met.point[~(by_right & (np.maximum(*ends) <= 2 * WELD))]
    return weld(spots, WELD)[1] if len(spots) else spots


def _self_meetings(contour: Contour, name: str) -> list[Finding]:
    """Return findings for a contour that crosses, touches or runs along itself."""
    curves = gather([contour])
    keep = curves.lengths() > WELD
    curves = curves.take(keep)
    count = len(curves)
    if count < 2:
        return []
    i, j = box_pairs(_grown(curves))
    near = (j - i == 1) | ((i == 0) & (j == count - 1) & contour.closed)
    spots = _places(curves, i, j, joined=near)
    twice = _doubled(curves)
    found = []
    if twice is not None:
        found.append(finding("G015", place=_at(twice[0]), subject=name, length=twice[1]))
    if len(spots) == 0:
        return found
    code = "G006" if not contour.closed or _crosses(contour) else "G011"
    if twice is not None and code == "G011":
        return found
    return [*found, *(finding(code, place=_at(s), subject=name) for s in spots[:_MOST_PLACES])]


def _crosses(contour: Contour) -> bool:
    """Tell whether a closed contour winds other than once about what it encloses."""
    windings = arrange(gather([contour.counterclockwise()])).windings[:, 0]
    return bool((windings < 0).any() or (windings > 1).any())


def _doubled(curves: Curves) -> tuple[Floats, float] | None:
    """Return the first place where two of the curves run along each other, and for how long in all."""
    twice = doubled(curves)
    total = float(twice.lengths().sum())
    return (twice.middles()[0], total) if total > 2 * WELD else None


def _between(contours: Sequence[Contour]) -> list[Finding]:
    """Return findings for contours of one profile that cross, touch, or nest wrongly."""
    if len(contours) < 2:
        return []
    counts = [len(c) for c in contours]
    whose = np.repeat(np.arange(len(contours)), counts)
    curves = gather(contours)
    i, j = box_pairs(_grown(curves))
    other = whose[i] != whose[j]
    i, j = i[other], j[other]
    found: list[Finding] = []
    crossed: set[int] = set()
    for a, b in sorted(set(zip(whose[i].tolist(), whose[j].tolist(), strict=True))):
        of = (whose[i] == a) & (whose[j] == b)
        spots = _places(curves, i[of], j[of], joined=np.zeros(int(of.sum()), dtype=bool))
        if len(spots) == 0:
            continue
        over = _overlap(contours[a], contours[b])
        crossed |= {a, b} if over else set()
        code = "G008" if over else "G011"
        name = f"{_name(a, 2 if a == 0 else 3)} and hole {b}"
        found += [finding(code, place=_at(s), subject=name) for s in spots[:_MOST_PLACES]]
    holds = inside_matrix(contours)
    for k in range(1, len(contours)):
        place = _at(contours[k].points[0])
        if k in crossed:
            continue
        if not holds[k, 0]:
            found.append(finding("G007", place=place, subject=f"hole {k}"))
        elif holds[k, 1:].any():
            found.append(finding("G009", place=place, subject=f"hole {k}"))
    return found


def _overlap(a: Contour, b: Contour) -> bool:
    """Tell whether two contours that meet also cross: share some area but neither holds the other."""
    faces = arrange(gather([a.counterclockwise(), b.counterclockwise()], [0, 1]), groups=2)
    w = faces.windings
    both, one, two = (w > 0).all(axis=1), (w[:, 0] > 0) & (w[:, 1] <= 0), (w[:, 1] > 0) & (w[:, 0] <= 0)
    return bool(both.any() and one.any() and two.any())
