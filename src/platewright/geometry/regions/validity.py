"""What is wrong with a shape, and what can be put right.

`explain` looks and reports; `repair` changes and reports what it changed. Both speak in findings
(``catalogue/geometry.md``), each with its place.
Method: meetings of edges that are not neighbours give the places; whether a contour crosses or only
touches itself is read off the windings of its arrangement. Cost: n log n.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.crossing.arrange import Flags, arrange, doubled
from platewright.geometry.crossing.intersect import crossings
from platewright.geometry.crossing.pairs import box_pairs, meetings, weld
from platewright.geometry.curves import Curves, Ints, gather
from platewright.geometry.measure import bounds, edge_lengths, length, signed_area
from platewright.geometry.profile import Profile
from platewright.geometry.regions.boolean import difference
from platewright.geometry.regions.chain import chain
from platewright.geometry.regions.merge import merged
from platewright.geometry.regions.nesting import inside_matrix, nest
from platewright.geometry.tolerance import WELD

__all__ = ["Repaired", "explain", "repair"]

_MOST_PLACES = 10
"""No more places than this are named for one contour [-]; the first few tell the story."""


@dataclass(frozen=True, slots=True)
class Repaired:
    """What `repair` made: valid profiles, chains left open [mm], and what was changed."""

    profiles: tuple[Profile, ...]
    open: tuple[Contour, ...]
    findings: tuple[Finding, ...]


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


# -- repair ---------------------------------------------------------------------------------------------


def repair(
    shape: Profile | Contour | Iterable[Contour], *, gap: float = 0.05, speck: float = 0.01
) -> Repaired:
    """Return valid profiles made of a shape's contours, and what was changed.

    Edges of no length and edges and contours drawn twice are dropped, gaps closed, crossings undone (what a
    contour winds about stays enclosed; a hole across the outer edge bites into it), specks dropped, contours
    turned and nested by even and odd depth.

    Parameters
    ----------
    shape : profile, contour or contours, closed or open
    gap : ends up to this far apart are joined [mm], 0 or more
    speck : contours enclosing less than this are dropped [mm²], 0 or more
    """
    if not (math.isfinite(speck) and speck >= 0):
        raise InputError(f"A speck must be a finite number of mm², 0 or more, got {speck}.")
    found: list[Finding] = []
    if isinstance(shape, Profile):
        bites = [h for h in shape.holes if _bites(shape.outer, h)]
        given = [shape.outer, *(h for h in shape.holes if not any(h is b for b in bites))]
    else:
        bites, given = [], [shape] if isinstance(shape, Contour) else list(shape)
    closed, loose = _closed(given, gap, found)
    closed = _undoubled([c for contour in closed for c in _uncrossed(contour, found)], found)
    closed = _without_specks(closed, speck, found)
    profiles: list[Profile] = []
    for profile in nest(closed):
        profiles += _apart(profile, found)
    if bites:
        profiles = _bitten(profiles, bites, found)
    return Repaired(tuple(profiles), tuple(loose), tuple(found))


def _bites(outer: Contour, hole: Contour) -> bool:
    """Tell whether a hole crosses the outer edge."""
    return len(crossings(outer, hole)) > 0 and _overlap(outer, hole)


def _bitten(profiles: Sequence[Profile], bites: Sequence[Contour], found: list[Finding]) -> list[Profile]:
    """Return profiles less the holes that cross their outer edges."""
    parts = difference(profiles, [Profile(b) for b in bites])
    found.append(finding("G014", place=_at(bites[0].points[0]), count=sum(1 + len(p.holes) for p in parts)))
    return list(parts)


def _closed(
    given: Sequence[Contour], gap: float, found: list[Finding]
) -> tuple[list[Contour], list[Contour]]:
    """Return closed contours, and open chains that could not be closed."""
    shut = [c for c in given if c.closed]
    short = sum(int((edge_lengths(c) <= WELD).sum()) for c in shut)
    if short:
        found.append(finding("G004", count=short))
    chained = chain([e for c in given if not c.closed for e in c.edges()], gap=gap)
    found += chained.findings
    return [*shut, *chained.closed], list(chained.open)


def _uncrossed(contour: Contour, found: list[Finding]) -> list[Contour]:
    """Return the outlines of what a closed contour winds about, doubled edges gone."""
    contour = _without_short(contour)
    curves = gather([contour])
    if not _self_meetings(contour, ""):
        return [contour]
    loops = arrange(curves).border(lambda w: w[:, 0] != 0)
    result = [merged(loop.contour) for loop in loops]
    place = _at(contour.points[0])
    found.append(finding("G014", place=place, count=len(result)))
    return result


def _without_short(contour: Contour) -> Contour:
    keep = edge_lengths(contour) > WELD
    if keep.all() or keep.sum() < 2:
        return contour
    return Contour(contour.rows[keep])


def _undoubled(contours: Sequence[Contour], found: list[Finding]) -> list[Contour]:
    """Return contours without those that repeat an earlier one."""
    kept: list[Contour] = []
    for contour in contours:
        if not any(_same(contour, other) for other in kept):
            kept.append(contour)
    if len(kept) < len(contours):
        found.append(finding("G013", count=len(contours) - len(kept)))
    return kept


def _same(a: Contour, b: Contour) -> bool:
    """Tell whether two closed contours enclose the same, within the weld distance on average."""
    reach = WELD * (length(a) + length(b))
    if abs(abs(signed_area(a)) - abs(signed_area(b))) > reach:
        return False
    p, q = bounds(a), bounds(b)
    if max(abs(p.x0 - q.x0), abs(p.y0 - q.y0), abs(p.x1 - q.x1), abs(p.y1 - q.y1)) > 4 * WELD:
        return False
    from platewright.geometry.crossing.locate import distances

    return bool((distances(b, gather([a]).middles()) <= 4 * WELD).all())


def _without_specks(contours: Sequence[Contour], speck: float, found: list[Finding]) -> list[Contour]:
    kept = [c for c in contours if abs(signed_area(c)) > max(speck, WELD * length(c))]
    if len(kept) < len(contours):
        gone = next(c for c in contours if not any(c is k for k in kept))
        found.append(
            finding("G010", place=_at(gone.points[0]), count=len(contours) - len(kept), area=float(speck))
        )
    return kept


def _apart(profile: Profile, found: list[Finding]) -> list[Profile]:
    """Return a profile whose contours cross each other as profiles whose contours do not."""
    if not any(f.code == "G008" for f in _between(list(profile.contours()))):
        return [profile]
    parts = difference(Profile(profile.outer), [Profile(h) for h in profile.holes])
    found.append(
        finding("G014", place=_at(profile.outer.points[0]), count=sum(1 + len(p.holes) for p in parts))
    )
    return list(parts)
