"""How bright the cut wall is, by the likelihood of the light, and with it where the edge is.

Glossary
--------
level : a brightness of the wall over the face's that is tried
cost : minus the log evidence of a profile if its wall is of a level (nats)

A step in brightness shows where two surfaces meet, but not which two. If the wall is as dark as the bench, the edge is at
the step; if it is as bright as the face, the edge is one wall width inside, and both fit the brightness profile equally well.
So the camera model is fitted to each profile (``light``) for each level of a ladder, from both sides: from where the edge is
if the wall is dark, and from where it is if it is bright. The ladder is even in the logarithm, as light is: an albedo times
a share of the sky. A place may depart from its level by a share of it, and nothing is held against it for the room that it has:
the wall is not another at each place, and one bell over all brightness would have let it fill the less of it the darker it is.

One profile seldom tells. But a core has one colour, and walls that face one way are lit alike: along the outline, and
across the loops of a picture. So the levels are one smooth function of the direction faced, from which single places deviate
a little, or now and then altogether. How likely each is comes from a chain round the circle of directions, with the places as
leaves. The edge is the median of what is then likely; where levels or sides that lie apart are about equally likely, the
stated error grows with the distance between their edges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from platewright.geometry.contour import Floats
from platewright.pattern.capture.edge.light import (
    KNOWN_SD,
    KNOWN_TINT,
    LightFit,
    LoopProfiles,
    PictureStatistics,
    Profiles,
    Wall,
    fit_light,
    learn_statistics,
    profiles_of,
)
from platewright.pattern.loops import softened

__all__ = ["WallEvidence", "WallVerdict", "choose_walls", "wall_evidence"]

EVERY = 2.4
"""Distance along the loop between the profiles that are evaluated [mm]."""
BESIDE, SHARP = 1.6, 0.9
"""An outline that turns by more than this [rad] from so far before a place to so far behind it [mm] has a corner there."""
LEVELS = 0.05 * 1.6 ** np.arange(10.0)
"""Brightness of the wall over the face's that is tried [-]: from a dark core in its own shade to a white one under a lamp."""
WITHIN, HUE = 0.25, 0.35
"""By what share a wall's brightness, and each colour for itself, departs from its level (sd) [-]."""
THIN = 0.3
"""A wall narrower than this carries little information: sharpening draws such a seam beside any edge [mm]."""
SEEN = 0.03
"""Least visibility of a wall, (width / `THIN`)², at which its levels are tried [-]."""
STRETCH = 6.0
"""Smoothing of the costs along the loop before they are compared (sd) [mm]; a single place is too noisy."""
AROUND = 5.0
"""Smoothing of the wall's colour along the loop (sd) [mm]."""
CORRELATED = 15.0
"""Number of neighbouring evaluated profiles that err together [-]: with the grain, and with what the camera model lacks."""
DIRECTIONS = 24
"""Number of directions faced that are told apart [-]."""
TURN = 0.35
"""By how much the log of the level changes from one direction to the next (sd) [-]."""
DEVIATES, ELSEWISE = 0.3, 0.05
"""By how much the log of a place's level departs from its direction's (sd), and how often it is anything at all [-]."""
USUAL, USUAL_SD = 0.4, 0.9
"""The usual level, and the spread of its log [-]: told once for a picture."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class WallEvidence:
    """Evidence at some places round a loop of `count` for each level, once with the edge as if the wall were dark, once as if bright (J = 2 K).

    Attributes
    ----------
    at : (n,) which places
    angle : (n,) direction of the normals there [rad]
    weight : (n,) how much of the wall is seen [-]
    cost : (n, J) of each (nats) [-]
    place : (n, J) where each puts the edge [mm]
    wall : (n, J, 3) the wall's colour over the face's level, smoothed along the loop [-]
    """

    at: NDArray[np.int64]
    count: int
    angle: Floats
    weight: Floats
    cost: Floats
    place: Floats
    wall: Floats

    @property
    def facing(self) -> NDArray[np.int64]:
        """Which of the directions each place faces (n,) [-]."""
        return np.round(self.angle / (2 * np.pi) * DIRECTIONS).astype(int) % DIRECTIONS

    def likelihood(self) -> Floats:
        """Return the log-likelihood of each (n, J) [-], neighbours together."""
        much = softened(self.weight, STRETCH / EVERY)[:, None]
        mean = softened(self.cost * self.weight[:, None], STRETCH / EVERY) / np.maximum(much, 1e-6)
        return np.asarray((mean.min(axis=1, keepdims=True) - mean) * self.weight[:, None] / CORRELATED)


@dataclass(frozen=True, slots=True, eq=False)
class WallVerdict:
    """Edge places along the loop (N,), their uncertainty from competing levels (sd) (N,) [mm], and the wall there."""

    place: Floats
    doubt: Floats
    wall: Wall


def _spread(values: Floats, weight: Floats, width: float) -> Floats:
    """Return a weighted smoothing of values (N, C) along the loop; where the weights vanish, the loop's mean."""
    mean = (values * weight[:, None]).sum(axis=0) / max(weight.sum(), 1e-9)
    some = softened(weight, width)[:, None]
    return np.asarray((softened(values * weight[:, None], width) + 0.02 * mean) / (some + 0.02))


def wall_evidence(
    across: LoopProfiles, normals: Floats, starts: Sequence[Floats], statistics: PictureStatistics | None
) -> tuple[WallEvidence, PictureStatistics]:
    """Return the evidence along a loop with normals (N, 2) [-], and the picture's statistics, learnt here if not given.

    `starts` : places (N,) of the edge, if the wall is dark, to, if it is bright [mm].
    """
    places = np.stack(starts)
    profiles = profiles_of(across, places.min(axis=0), places.max(axis=0))
    if statistics is None:
        statistics = learn_statistics(profiles, across.pixel, place=places[len(places) // 2])
    at = _straights(normals, across.along)
    weight = np.clip(across.wall[at] / THIN, 0, 1) ** 2
    seen = weight > SEEN
    cost = np.zeros((len(at), 2 * len(LEVELS)))
    place = np.repeat(places[:1, at].T, 2 * len(LEVELS), axis=1)
    wall = np.tile(LEVELS, 2)[:, None] * _hue(profiles.some(at))[:, None]
    if seen.any():
        some = profiles.some(at[seen])
        fits = _fits(some, statistics, dark=places[0, at][seen], bright=places[-1, at][seen])
        for values, found in ((cost, "cost"), (place, "shift"), (wall, "wall")):
            values[seen] = np.stack([getattr(f, found) for f in fits], axis=1)
    angle = np.arctan2(normals[at, 1], normals[at, 0])
    smooth = [_spread(one, weight + 1e-3, AROUND / EVERY) for one in wall.swapaxes(0, 1)]
    return WallEvidence(
        at=at,
        count=len(across.wall),
        angle=angle,
        weight=weight,
        cost=cost,
        place=place,
        wall=np.stack(smooth, axis=1),
    ), statistics


def _straights(normals: Floats, along: float) -> NDArray[np.int64]:
    """Return the places that are evaluated round a loop with normals (N, 2), `along` apart [mm]: none at a corner, where a profile sees the other side too."""
    at = np.arange(0, len(normals), max(1, round(EVERY / along)))
    near = round(BESIDE / along)
    turned = (np.roll(normals, near, axis=0) * np.roll(normals, -near, axis=0)).sum(axis=1)[at]
    plain = at[turned > np.cos(SHARP)]
    return plain if 2 * len(plain) > len(at) else at


def _hue(profiles: Profiles) -> Floats:
    """Return the usual colour of a wall over its level (N, 3) [-]: halfway between the face's and grey."""
    return (profiles.face + 1) / 2


def _fits(
    profiles: Profiles, statistics: PictureStatistics, *, dark: Floats, bright: Floats
) -> list[LightFit]:
    """Return the fits at each level, followed up the ladder from where the edge is if the wall is `dark`, then down it from where it is if `bright` (n,) [mm]."""
    hue = _hue(profiles)

    def followed(order: Sequence[int], place: Floats) -> dict[int, LightFit]:
        found = {}
        for k in order:
            wall = Wall(LEVELS[k] * hue, WITHIN, HUE)
            found[k], _, _ = fit_light(profiles, statistics, wall, place=place)
            place = found[k].shift
        return found

    ladder = range(len(LEVELS))
    up, down = followed(ladder, dark), followed(ladder[::-1], bright)
    return [way[k] for way in (up, down) for k in ladder]


def _bells(sd: float) -> Floats:
    """Return the log of a bell (K, K) over how far the logs of two levels are apart, of standard deviation `sd` [-].

    Symmetric: with each row made to add up to one, levels at the ladder's ends would be likelier for nothing.
    """
    log = np.log(LEVELS)
    return np.asarray(-0.5 * ((log[:, None] - log) / sd) ** 2)


def _passed(heard: Floats, order: Sequence[int]) -> Floats:
    """Return the messages that come in at each direction (D, K) from one side; twice round, so that the start is forgotten."""
    turn, message, messages = _bells(TURN), np.zeros(len(LEVELS)), np.empty_like(heard)
    for k in (*order, *order):
        messages[k] = message
        message = logsumexp(turn + (message + heard[k])[:, None], axis=0)
        message -= message.max()
    return messages


def _probabilities(loops: Sequence[WallEvidence]) -> list[Floats]:
    """Return the probability of each level and edge (n, J) [-] along the loops of a picture."""
    # a direction's level down, a place's across
    near = _bells(DEVIATES)
    given = np.logaddexp(
        np.log(1 - ELSEWISE) + near - logsumexp(near, axis=1, keepdims=True), np.log(ELSEWISE / len(LEVELS))
    )
    usual = -0.5 * (np.log(LEVELS / USUAL) / USUAL_SD) ** 2
    heard = np.tile(usual / DIRECTIONS, (DIRECTIONS, 1))
    both = [loop.likelihood().reshape(-1, 2, len(LEVELS)) for loop in loops]
    # of the two edges the likelier speaks for a level; the other is no other wall
    likely = [each.max(axis=1) for each in both]
    said = [logsumexp(given + own[:, None], axis=2) for own in likely]
    for loop, one in zip(loops, said, strict=True):
        np.add.at(heard, loop.facing, one)
    order = range(DIRECTIONS)
    direction = heard + _passed(heard, order) + _passed(heard, order[::-1])
    found = []
    for loop, each, own, one in zip(loops, both, likely, said, strict=True):
        # what the others say of a place, without what it said itself
        level = own + logsumexp(given + (direction[loop.facing] - one)[..., None], axis=1)
        every = level[:, None] + each - logsumexp(each, axis=1, keepdims=True)
        found.append(np.exp(every - logsumexp(level, axis=1)[:, None, None]).reshape(len(level), -1))
    return found


def choose_walls(loops: Sequence[WallEvidence]) -> list[WallVerdict]:
    """Return the edge and the wall along each loop of a picture, judged by the light at all of them."""
    return [_verdict(*each) for each in zip(loops, _probabilities(loops), strict=True)]


def _verdict(loop: WallEvidence, probability: Floats) -> WallVerdict:
    """Return the median edge and the wall there, and the edge's spread [mm]."""
    order = loop.place.argsort(axis=1)
    places, walls = (
        np.take_along_axis(loop.place, order, 1),
        np.take_along_axis(loop.wall, order[..., None], 1),
    )
    likely = np.take_along_axis(probability, order, 1)
    below = likely.cumsum(axis=1) - likely / 2
    middle = np.array([np.interp(0.5, row, np.arange(len(row))) for row in below])
    low = np.minimum(middle.astype(int), likely.shape[1] - 2)
    share, rows = middle - low, np.arange(len(low))
    place, wall = (
        values[rows, low].T * (1 - share) + values[rows, low + 1].T * share for values in (places, walls)
    )
    doubt = np.sqrt((likely * (places - place[:, None]) ** 2).sum(axis=1))
    all_round = np.arange(loop.count)
    spread = [np.interp(all_round, loop.at, v, period=loop.count) for v in (place, doubt, *wall)]
    return WallVerdict(spread[0], spread[1], Wall(np.stack(spread[2:], axis=1), KNOWN_SD, KNOWN_TINT))
