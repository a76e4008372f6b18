"""The edge of a template on a bench of its own colour, to a few hundredths of a millimetre, from two or more photos.

Glossary
--------
parallax edge : where the photos together say the edge is, to about 0.2 mm (``parallax``)
shift : where one photo's light says it is, followed from the parallax edge (``light``): to 0.03 mm, or another edge of the grain

An edge of the grain that passes for the template's in one photo lies elsewhere in the next. So where photos tell the same
place it is the edge; where only one of them tells a place near the parallax edge it is so most likely; else that
edge stands. It is found twice, from the outline as one photo and as all photos show it roughly; where the two
ends differ it counts as unseen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.spatial import cKDTree

from platewright.geometry.contour import Floats
from platewright.pattern.capture.edge.corners import UNSEEN
from platewright.pattern.capture.edge.gaps import completed, curved
from platewright.pattern.capture.edge.light import PictureStatistics, fit_light, profiles_of
from platewright.pattern.capture.edge.parallax import EdgeEstimate, PhotoView, edge_by_parallax
from platewright.pattern.capture.edge.profiles import across_loop
from platewright.pattern.capture.edge.search import STEP, Edge
from platewright.pattern.capture.edge.wall import choose_walls, wall_evidence
from platewright.pattern.loops import even, grown, normals_of, softened

__all__ = ["MultiviewEdges", "find_edges_multiview"]

AGREEING, NEAR, FAR = 0.12, 0.3, 0.6
"""Distances below which two photos' places agree, below which a place is near the parallax edge, and beyond which it is on another edge [mm]."""
AGREED, SINGLE, PARALLAX = 0.05, 0.2, 0.5
"""Standard deviation of a place on which photos agree, that one photo gives, and that only the parallax edge gives [mm]."""
AROUND = 1.6
"""Smoothing of the standard deviations along the loop (sd) [mm]."""
LEAST_LIFT, MOST_LIFT, USUAL = -0.25, 1.5, 0.5
"""Height of the board above the stated one: least (cards may be curled), largest, and usual [mm]."""
VOTE, VOICE = 0.06, 0.05
"""Spread of the photos' places at the right height [mm], and weight of the usual height against informative places [-]."""
BOW_SHARE = 0.5
"""Standard deviation of a shift by a bow, as a share of it [-]: a wall as bright as the face can look like a bow."""
CORRELATED = 8.0
"""Smoothing of the votes for a height along the loop (sd) [mm]."""
ASTRAY, LOST = 0.35, 0.3
"""A place is unseen if two starts end farther apart than this, or the parallax edge has a larger standard deviation [mm]."""
MATCH = 3.0
"""Loops farther apart are not of the same edge [mm]."""
BESIDE = 4.0
"""How far beside an unseen stretch the edge is not trusted either [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class MultiviewEdges:
    """What several photos tell.

    Attributes
    ----------
    edges : all photos together [mm]
    alone : each photo for itself, places in the same order [mm]
    differ : how far apart the photos' usual places are [mm]
    bow_sd : standard deviation of what was taken out because the board is bowed [mm]
    """

    edges: list[Edge]
    alone: list[list[Edge]]
    differ: float
    bow_sd: float


def _combined(shifts: Floats, doubt: Floats) -> tuple[Floats, Floats]:
    """Return the place on each line and its standard deviation (N,) [mm] from what photos tell (P, N) beside the parallax edge at 0."""
    rows = np.arange(shifts.shape[1])
    same = (np.abs(shifts[:, None] - shifts[None]) < AGREEING) & (np.abs(shifts) < FAR)[None]
    support = np.where(np.abs(shifts) < FAR, same.sum(axis=1), 0)
    # most photos first, then the nearest to the parallax edge
    best = np.argmax(support - np.minimum(np.abs(shifts), 0.99), axis=0)
    agreed = support[best, rows] > 1
    friends = same[best, :, rows]
    mean = (friends * shifts.T).sum(axis=1) / np.maximum(friends.sum(axis=1), 1)
    nearest = shifts[np.abs(shifts).argmin(axis=0), rows]
    single = ~agreed & (np.abs(nearest) < NEAR)
    place = np.where(agreed, mean, np.where(single, nearest, 0.0))
    # what one of two photos tells may be so; what one of three tells is not worth more than what none does
    alone = SINGLE if len(shifts) == 2 else PARALLAX
    sd = np.where(agreed, AGREED, np.where(single, alone, np.hypot(PARALLAX, doubt)))
    return place, sd


def _pull(photo: PhotoView, feet: Floats, normals: Floats) -> Floats:
    """Return by how much the edge seems moved outwards for every millimetre that the board stands higher there (N,) [-]."""
    place = photo.view.place
    return np.asarray(((feet - place[:2]) * normals).sum(axis=1) / (place[2] - photo.setting.z))


def _lifts(shifts: Floats, pulls: Floats) -> Floats:
    """Return how much higher than said the board stands along the outline (N,), from how photos differ (P, N) [mm].

    Board is seldom flat. Each place votes for the heights at which photos would agree; neighbours vote together, and
    the grain's edges, which agree at any height or none, do not count. It lies on the bench, so it can hardly be lower:
    photos that seem to say so follow the foot of a wall as bright as the face.
    """
    tries = np.arange(LEAST_LIFT, MOST_LIFT + 1e-9, 0.05)
    votes = np.zeros((shifts.shape[1], len(tries)))
    for i, j in combinations(range(len(shifts)), 2):
        off = (shifts[i] - shifts[j])[:, None] - (pulls[i] - pulls[j])[:, None] * tries
        votes += np.exp(-0.5 * (off / VOTE) ** 2)
    votes = softened(votes, CORRELATED / STEP)
    votes = votes + VOICE * np.exp(-0.5 * (tries / USUAL) ** 2)
    best = np.clip(votes.argmax(axis=1), 1, len(tries) - 2)
    rows = np.arange(len(best))
    left, mid, right = (votes[rows, best + k] for k in (-1, 0, 1))
    part = 0.5 * (left - right) / np.minimum(left - 2 * mid + right, -1e-12)
    return softened(tries[best] + 0.05 * np.clip(part, -1, 1), CORRELATED / STEP)


def _shifts_by_photo(
    photos: Sequence[PhotoView], feet: Floats, normals: Floats, statistics: list[PictureStatistics | None]
) -> tuple[Floats, Floats]:
    """Return the shift of the edge each photo gives alone (P, N), and their standard deviations [mm]; learn their habits."""
    found = []
    none = np.zeros(len(feet))
    for k, photo in enumerate(photos):
        across = across_loop(photo.rgb, photo.setting, feet, normals=normals, along=STEP, reach=NEAR)
        light, own = wall_evidence(across, normals, [none], statistics[k])
        statistics[k], wall = own, choose_walls([light])[0].wall
        fitted, _, _ = fit_light(profiles_of(across, none, none), own, wall, place=none)
        found.append((fitted.shift, fitted.sd))
    shifts, sd = zip(*found, strict=True)
    return np.array(shifts), np.array(sd)


def _finished(
    photos: Sequence[PhotoView],
    start: EdgeEstimate,
    other: Sequence[EdgeEstimate],
    statistics: list[PictureStatistics | None],
) -> tuple[Edge, list[Edge], Floats]:
    """Return the edge all photos give together from the parallax edge, the ones each gives alone, and what the bow moved (N,) [mm]."""
    every = cKDTree(np.vstack([even(one.points, 0.1) for one in other]))
    lost = grown(np.asarray(every.query(start.points)[0] > ASTRAY) | (start.sd > LOST), round(BESIDE / STEP))
    feet = even(softened(even(start.points, STEP), 0.5 / STEP), STEP)
    normals = normals_of(feet)
    nearest = cKDTree(start.points).query(feet)[1]
    shifts, own = _shifts_by_photo(photos, feet, normals, statistics)
    pulls = np.array([_pull(p, feet, normals) for p in photos])
    lift = _lifts(shifts, pulls)
    place, sd = _combined(shifts - lift * pulls, start.sd[nearest])
    points = feet + curved(place, sd)[:, None] * normals
    errors = np.sqrt(softened(sd**2, AROUND / STEP))
    alone = [
        Edge(
            points=feet + t[:, None] * normals,
            sd=np.where(np.abs(t) < NEAR, np.maximum(o, AGREED), UNSEEN),
            fair=1.0,
            blind=0.0,
        )
        for t, o in zip(shifts, own, strict=True)
    ]
    bowed = np.abs(lift) * np.abs(pulls).max(axis=0)
    return completed(points, np.where(lost[nearest], UNSEEN, errors)), alone, bowed


def find_edges_multiview(
    photos: Sequence[PhotoView], loops: Sequence[Floats], first: Sequence[Floats]
) -> MultiviewEdges:
    """Move rough loops onto the upper edge of a board hard to tell from its bench.

    Parameters
    ----------
    photos : two or more, from different sides
    loops, first : (N, 2) each, within about 3 mm of the edge, as all photos and as one shows it; metal on the left of travel [mm]
    """
    statistics: list[PictureStatistics | None] = [None] * len(photos)
    starts = [edge_by_parallax(photos, loop) for loop in loops]
    known = cKDTree(np.vstack([even(loop, 0.5) for loop in first]))
    new = [even(loop, STEP) for loop in loops if np.median(known.query(loop)[0]) > MATCH]
    # moved inwards, so that they are another start
    other = [edge_by_parallax(photos, loop) for loop in [*first, *(loop - normals_of(loop) for loop in new)]]
    found = [_finished(photos, start, other, statistics) for start in starts]
    alone = [list(edges) for edges in zip(*(own for _, own, _ in found), strict=True)]
    # places of one photo alone may be another edge of the grain: what half of them keep says whether something moved
    off = [np.hypot(*(a.points - b.points).T) for a, b in combinations([edges[0] for edges in alone], 2)]
    differ = 2.0 * float(np.median(np.concatenate(off)))
    bow_sd = BOW_SHARE * float(np.percentile(np.concatenate([bowed for _, _, bowed in found]), 90))
    return MultiviewEdges([edge for edge, _, _ in found], alone, differ, bow_sd)
