"""Closed contours freed of twins and nested into profiles; quick for many thousand contours.

Method: a contour's witness (middle of its longest edge) is tested only against contours whose box holds it
(found by a spatial index), all witnesses of one contour at once. Depth even is an outline, odd a hole of the
smallest contour around it. Cost: n log n + witnesses in boxes. Contours may touch but not cross.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Contour, Floats, Profile
from platewright.geometry.crossing.locate import contains
from platewright.pattern.tangle import crossing_pairs

__all__ = ["nested", "without_twins"]

SAME = 1e-3
"""Vertices and midpoints closer than this make two contours twins [mm]."""
MOST_NESTED = 3_000_000
"""Pairs of contours one of which may hold the other [-]; a sheet of parts with holes has a few a hole."""


@dataclass(frozen=True, slots=True)
class _Facts:
    """Of every contour: box (C, 4), length, unsigned area, and a point on it (C, 2) [mm, mm²]."""

    box: Floats
    length: Floats
    area: Floats
    spot: Floats


def _facts(contours: Sequence[Contour]) -> _Facts:
    """Return the facts of all contours at once."""
    count = np.array([len(c.rows) for c in contours])
    head = np.cumsum(count) - count
    rows = np.vstack([c.rows for c in contours])
    after = np.arange(1, len(rows) + 1)
    after[head + count - 1] = head
    start, end, bulge = rows[:, :2], rows[after, :2], rows[:, 2]
    chord = np.hypot(*(end - start).T)
    sweep = 4 * np.arctan(bulge)
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where(bulge == 0, 0.0, chord * (1 + bulge**2) / (4 * np.abs(bulge)))
    length = np.where(bulge == 0, chord, radius * np.abs(sweep))
    local = start - np.repeat(start[head], count, axis=0)
    away = local + (end - start)
    area = 0.5 * (local[:, 0] * away[:, 1] - local[:, 1] * away[:, 0]) + 0.5 * radius**2 * (
        sweep - np.sin(sweep)
    )
    low, high = np.minimum.reduceat(start, head), np.maximum.reduceat(start, head)
    arcs = np.flatnonzero(bulge)
    if len(arcs):
        way, bent = (end - start)[arcs], bulge[arcs, None]
        left = np.column_stack([-way[:, 1], way[:, 0]])
        centre = start[arcs] + way / 2 + left * (1 - bent**2) / (4 * bent)
        first = np.arctan2(*(start[arcs] - centre).T[::-1])
        whose = np.repeat(np.arange(len(count)), count)[arcs]
        for quarter in range(4):
            angle = quarter * math.pi / 2
            turned = np.mod((angle - first) * np.sign(sweep[arcs]), math.tau)
            hit = turned <= np.abs(sweep[arcs])
            out = centre[hit] + radius[arcs][hit, None] * [math.cos(angle), math.sin(angle)]
            np.minimum.at(low, whose[hit], out)
            np.maximum.at(high, whose[hit], out)
    box = np.hstack([low, high])
    longest = np.lexsort((-length, np.repeat(np.arange(len(count)), count)))[head]
    way = (end - start)[longest]
    out = bulge[longest, None] / 2 * np.column_stack([way[:, 1], -way[:, 0]])
    spot = (start + end)[longest] / 2 + out
    return _Facts(box, np.add.reduceat(length, head), np.abs(np.add.reduceat(area, head)), spot)


def without_twins(contours: Sequence[Contour]) -> tuple[list[Contour], int]:
    """Return contours [mm] without those that repeat an earlier one, and how many were dropped [-].

    Twins have the same box, area and length within a micrometre, whichever way and from wherever they run.
    """
    if not contours:
        return [], 0
    facts = _facts(contours)
    seen: dict[tuple[int, ...], list[int]] = defaultdict(list)
    kept: list[Contour] = []
    for k, contour in enumerate(contours):
        x0, _, _, y1 = facts.box[k].tolist()
        cell = (math.floor(x0), math.floor(y1))
        near = [n for i in (-1, 0, 1) for j in (-1, 0, 1) for n in seen.get((cell[0] + i, cell[1] + j), ())]
        if any(_twins(facts, k, n) for n in near):
            continue
        seen[cell].append(k)
        kept.append(contour)
    return kept, len(contours) - len(kept)


def _twins(facts: _Facts, i: int, j: int) -> bool:
    size = float(facts.length[i])
    return bool(
        np.abs(facts.box[i] - facts.box[j]).max() <= SAME
        and abs(size - facts.length[j]) <= 4 * SAME
        and abs(facts.area[i] - facts.area[j]) <= SAME * max(1.0, size)
    )


def _holders(contours: Sequence[Contour], facts: _Facts) -> list[list[int]]:
    """Return for each contour the contours it lies in."""
    from shapely import STRtree, box, points

    tree = STRtree(points(facts.spot))
    holder, held = tree.query(box(*facts.box.T))
    area = facts.area
    real = (holder != held) & ((area[held] < area[holder]) | ((area[held] == area[holder]) & (held > holder)))
    order = np.argsort(holder[real], kind="stable")
    holder, held = holder[real][order], held[real][order]
    inside: list[list[int]] = [[] for _ in contours]
    for j in np.unique(holder).tolist():
        some = held[np.searchsorted(holder, j) : np.searchsorted(holder, j, "right")]
        for i in some[contains(contours[j], facts.spot[some])].tolist():
            inside[i].append(j)
    return inside


def nested(contours: Sequence[Contour]) -> tuple[Profile, ...]:
    """Return profiles from closed contours [mm] by even and odd depth, largest outline first."""
    if not contours:
        return ()
    facts = _facts(contours)
    if len(contours) > 1_000 and crossing_pairs(facts.box[:, :2], facts.box[:, 2:]) > MOST_NESTED:
        raise InputError(
            f"{len(contours)} outlines lie within or over each other; no part can be told among them.",
            do="Save only the outlines you want to cut.",
        )
    inside = _holders(contours, facts)
    area = facts.area.tolist()
    holes: dict[int, list[Contour]] = {k: [] for k, around in enumerate(inside) if len(around) % 2 == 0}
    for k, around in enumerate(inside):
        if len(around) % 2 == 0:
            continue
        outlines = [j for j in around if len(inside[j]) == len(around) - 1] or around
        holes.setdefault(min(outlines, key=lambda j: area[j]), []).append(contours[k])
    order = sorted(holes, key=lambda k: -area[k])
    return tuple(Profile(contours[k], tuple(holes[k])) for k in order)
