"""Choose among several readings of the cut wall by the likelihood of the light.

Glossary
--------
reading : where the edge is and how bright the wall beside it, found from one idea of how bright the wall may be
cost : how badly a reading's picture fits what the camera wrote, and how unusual it is (nats)

A step in brightness shows where two surfaces meet, but not which two. If the wall is as dark as the bench, the edge is at
the step; if it is as bright as the face, the edge is one wall width inside, and both fit the brightness profile equally well.
So the edge is traced once each for dark, middling and bright walls, the camera model is fitted to each (``light``), and a
chain model along the loop gives the probability of each reading at each place: changing the reading between neighbours
has a cost. Where two readings are about equally likely, the stated error grows with the distance between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.edge.light import (
    KNOWN_SD,
    KNOWN_TINT,
    WALL_SD,
    WALL_TINT,
    LightFit,
    LoopProfiles,
    PictureStatistics,
    Profiles,
    Wall,
    fit_light,
    learn_statistics,
    profiles_of,
    usual_wall,
)
from platewright.pattern.capture.edge.marginals import reading_marginals
from platewright.pattern.loops import softened

__all__ = ["Reading", "ReadingCosts", "WallVerdict", "choose_readings", "reading_costs"]

EVERY = 2.4
"""Distance along the loop between the profiles that are evaluated [mm]."""
CORRELATED = 4.0
"""Number of neighbouring evaluated profiles whose errors are correlated [-]."""
CHANGE = 6.0
"""Cost of a change of reading between neighbours (nats) [-]."""
THIN = 0.3
"""A wall narrower than this carries little information: sharpening draws such a seam beside any edge [mm]."""
AROUND = 5.0
"""Smoothing of the wall's colour along the loop (sd) [mm]."""
SAME_PLACE = 0.06
"""Readings nearer to each other than this are the same [mm]."""
STRETCH = 6.0
"""Smoothing of the costs along the loop before they are compared (sd) [mm]; a single place is too noisy."""
FLOOR = 0.08
"""Share of a reading's cost that may be due to the error of the camera model alone [-]."""
LIKELY, LIKELY_SD, LIKELY_TINT, MOST_ODD = 0.45, 0.3, 0.4, 6.0
"""Prior of a wall: brightness over the face's, with lamps above (mean and sd), spread of hue (sd), and the largest penalty for an unusual wall (nats) [-]."""
DIM = 0.15
"""Below this brightness over the face's, hue cannot be determined [-]."""
FACING, ELSEWHERE = 0.6, 0.03
"""Angle over which walls share their lighting (sd) [rad], and the weight of walls that face elsewhere [-]."""
CERTAIN = 8.0
"""Margin over all readings that lie elsewhere at which a reading counts as certain (nats) [-]."""
WIDE = 0.7
"""Least visibility of a wall, (width / `THIN`)², at which its colour is used for other places [-]."""
FEW = 3.0
"""Number of certain places facing one way at which their common colour gets half weight [-]."""
VOTES = 2.0
"""How many independent times the wall prior counts on one loop [-]: its places are not independent."""
TOLD_VOTES, TOLD_ODD, TOLD_FLOOR = 1.0, 2.0, 0.1
"""`VOTES`, `MOST_ODD` and `FLOOR` used for the stated error [-]; weaker, because a core of another colour is not rare. In 27 photos
by the path tracer the right reading costs more than a tenth above the best at 5 % of the places where the wall is one to three
pixels wide."""
PASSING = 2
"""Number of readings made at each place instead of traced along the loop: wall like the bench, and wall like the face [-]."""
FACING_SD = 0.25
"""Spread of brightness and of hue between walls that face the same way (sd) [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """Where the edge is along the normals (N,) [mm] and how bright the wall is over the face (N,) [-]."""

    place: Floats
    shade: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ReadingCosts:
    """Costs of K readings at some places round a loop of `count`; the last `PASSING` were made place by place [-].

    Attributes
    ----------
    at : (n,) which places
    angle : (n,) direction of the normals there [rad]
    weight : (n,) how much of the wall is seen [-]
    cost : (n, K) of each reading (nats) [-]
    place : (n, K) where each puts the edge [mm]
    wall : (n, K, 3) the wall's colour over the face's level, smoothed along the loop [-]
    face : (n, 3) the face's colour over its level [-]
    """

    at: NDArray[np.int64]
    count: int
    angle: Floats
    weight: Floats
    cost: Floats
    place: Floats
    wall: Floats
    face: Floats

    def followed(self) -> ReadingCosts:
        """Return the traced readings only, without those in which the wall looks like bench or face."""
        own = slice(0, self.cost.shape[1] - PASSING)
        return replace(self, cost=self.cost[:, own], place=self.place[:, own], wall=self.wall[:, own])

    def gain(self, floor: float) -> Floats:
        """Return each reading's cost (n, K) above the best's, less the model error granted as a share of the best (nats) [-]."""
        much = softened(self.weight, STRETCH / EVERY)[:, None]
        cost = softened(self.cost * self.weight[:, None], STRETCH / EVERY) / np.maximum(much, 1e-6)
        best = cost.min(axis=1, keepdims=True)
        return np.asarray(np.maximum(cost - best - floor * best, 0.0) * self.weight[:, None])


@dataclass(frozen=True, slots=True, eq=False)
class _Rule:
    """Weight of the wall prior: independent times a loop, largest penalty (nats), model error as a share of the cost [-]."""

    votes: float
    odd: float
    floor: float


CHOOSE, TELL = _Rule(VOTES, MOST_ODD, FLOOR), _Rule(TOLD_VOTES, TOLD_ODD, TOLD_FLOOR)


@dataclass(frozen=True, slots=True, eq=False)
class WallPrior:
    """Wall colours (n, 3) [-] at the certain places of a picture, their facing directions (n,) [rad] and weights (n,) [-]."""

    colour: Floats
    angle: Floats
    weight: Floats

    def strain(self, angle: Floats, wall: Floats, most: float) -> Floats:
        """Return the penalty (n, K), at most `most`, of walls (n, K, 3) that differ from known walls facing the same way (nats) [-]."""
        if not len(self.angle):
            return np.zeros(wall.shape[:2])
        turn = np.angle(np.exp(1j * (angle[:, None] - self.angle[None])))
        weight = (np.exp(-0.5 * (turn / FACING) ** 2) + ELSEWHERE) * self.weight
        much = weight.sum(axis=1)
        usual = ((weight @ self.colour) / np.maximum(much, 1e-9)[:, None])[:, None]
        bright, common = wall.mean(axis=2), usual.mean(axis=2)
        # the core has one colour, however it is lit
        strain = 0.5 * ((bright - common) / FACING_SD) ** 2 + _tinted(wall, usual, FACING_SD)
        return np.asarray(np.minimum(strain, most) * (much / (much + FEW))[:, None])


def _tinted(wall: Floats, usual: Floats, sd: float) -> Floats:
    """Return the penalty of a wall's hue (..., 3) against the usual one (nats) [-]; near zero for dark walls."""
    bright = wall.mean(axis=-1)
    own, other = (v / np.maximum(v.mean(axis=-1, keepdims=True), DIM) for v in (wall, usual))
    certainty = np.clip(bright / (2 * DIM), 0, 1) ** 2
    return np.asarray(0.5 * certainty * ((own - other) ** 2).sum(axis=-1) / sd**2)


@dataclass(frozen=True, slots=True, eq=False)
class WallVerdict:
    """Edge places along the loop (N,), their uncertainty from competing readings (sd) (N,) [mm], and the wall there."""

    place: Floats
    doubt: Floats
    wall: Wall


def _spread(values: Floats, weight: Floats, width: float) -> Floats:
    """Return a weighted smoothing of values (N, C) along the loop; where the weights vanish, the loop's mean."""
    mean = (values * weight[:, None]).sum(axis=0) / max(weight.sum(), 1e-9)
    some = softened(weight, width)[:, None]
    return np.asarray((softened(values * weight[:, None], width) + 0.02 * mean) / (some + 0.02))


def reading_costs(
    across: LoopProfiles, normals: Floats, readings: Sequence[Reading], statistics: PictureStatistics | None
) -> tuple[ReadingCosts, PictureStatistics]:
    """Return the costs of readings along a loop with normals (N, 2) [-], and the picture's statistics, learnt here if not given."""
    places = np.stack([r.place for r in readings])
    profiles = profiles_of(across, places.min(axis=0), places.max(axis=0))
    if statistics is None:
        first = readings[len(readings) // 2]
        statistics = learn_statistics(
            profiles, across.pixel, place=first.place, shade=first.shade[:, None] * profiles.face
        )
    at = np.arange(0, len(across.wall), max(1, round(EVERY / across.along)))
    some = profiles.some(at)
    usual = usual_wall(some)
    weight = np.clip(some.wall / THIN, 0, 1) ** 2
    free = [
        fit_light(some, statistics, usual, place=r.place[at], shade=r.shade[at, None] * some.face)[0]
        for r in readings
    ]
    every = [*free, *_passing(some, statistics, free)]
    cost, place = [fitted.cost for fitted in every], [fitted.shift for fitted in every]
    wall = [_spread(fitted.wall, weight + 1e-3, AROUND / EVERY) for fitted in every]
    angle = np.arctan2(normals[at, 1], normals[at, 0])
    costs, ends, walls = np.array(cost).T, np.array(place).T, np.stack(wall, axis=1)
    return ReadingCosts(
        at=at,
        count=len(across.wall),
        angle=angle,
        weight=weight,
        cost=costs,
        place=ends,
        wall=walls,
        face=some.face,
    ), statistics


def _passing(profiles: Profiles, statistics: PictureStatistics, free: Sequence[LightFit]) -> list[LightFit]:
    """Return readings in which the wall looks like the bench, then like the face: the least informative steps in brightness."""
    places = np.stack([fitted.shift for fitted in free])
    low, high, wide = places.min(axis=0), places.max(axis=0), profiles.wall
    level = profiles.colours[:, 0].mean(axis=1, keepdims=True)
    # the two priors have different volumes: this puts both costs on one scale
    apart = _volume(WALL_SD, WALL_TINT) - _volume(KNOWN_SD, KNOWN_TINT)
    made = []
    for colour, starts in (
        (profiles.colours[:, 1] / level, (high, low + wide)),
        (profiles.face, (low, high - wide)),
    ):
        wall = Wall(colour, KNOWN_SD, KNOWN_TINT)
        first, other = (fit_light(profiles, statistics, wall, place=p, shade=colour)[0] for p in starts)
        best = other.cost < first.cost
        made.append(
            LightFit(
                np.where(best, other.shift, first.shift),
                np.where(best, other.sd, first.sd),
                np.where(best, other.cost, first.cost) - apart,
                np.where(best[:, None], other.wall, first.wall),
            )
        )
    return made


def _volume(sd: float, tint: float) -> float:
    """Return the log volume of a prior of wall colour with these spreads of brightness and hue (sd) [-]."""
    return float(np.log(tint**2 * np.hypot(tint, np.sqrt(3) * sd)))


def _wall_prior(loops: Sequence[ReadingCosts], probabilities: Sequence[Floats], rule: _Rule) -> WallPrior:
    """Return the wall prior learnt from loops; places weigh by their best reading's margin over the others."""
    colour, angle, weight = [], [], []
    for loop, probability in zip(loops, probabilities, strict=True):
        best = probability.argmax(axis=1)
        rows = np.arange(len(best))
        gain = loop.gain(rule.floor)
        apart = np.abs(loop.place - loop.place[rows, best][:, None]) > SAME_PLACE
        margin = np.where(apart, gain - gain[rows, best][:, None], np.inf).min(axis=1)
        # if all readings agree on the place, the margin is full
        margin = np.where(np.isfinite(margin), np.maximum(margin, 0.0), CERTAIN)
        colour.append(loop.wall[rows, best])
        angle.append(loop.angle)
        # a seam hardly wider than a pixel has no usable colour
        plain = np.clip(softened(margin, 1.0) / CERTAIN, 0, 1) ** 2
        weight.append(np.where(loop.weight > WIDE, plain, 0.0))
    if not loops:
        return WallPrior(np.zeros((0, 3)), np.zeros(0), np.zeros(0))
    return WallPrior(np.concatenate(colour), np.concatenate(angle), np.concatenate(weight))


def _reading_probabilities(loop: ReadingCosts, known: WallPrior, rule: _Rule) -> Floats:
    """Return the probability of each reading (n, K) [-] from the light at each place and the wall prior, counted `votes` times a loop."""
    odd = 0.5 * ((loop.wall.mean(axis=2) - LIKELY) / LIKELY_SD) ** 2
    odd = np.minimum(odd + _tinted(loop.wall, loop.face[:, None], LIKELY_TINT), rule.odd)
    # readings that ended at the same place count once
    same = (np.abs(loop.place[:, :, None] - loop.place[:, None, :]) < SAME_PLACE).sum(axis=2)
    usual = odd + known.strain(loop.angle, loop.wall, rule.odd) + np.log(same) / rule.votes
    votes = min(rule.votes / max(float(loop.weight.sum()), 1e-9), 1.0)
    costs = loop.gain(rule.floor) / CORRELATED + votes * usual * loop.weight[:, None]
    return reading_marginals(np.ascontiguousarray(costs), CHANGE)


def choose_readings(loops: Sequence[ReadingCosts]) -> list[WallVerdict]:
    """Return the most likely reading along each loop of a picture, judged by the light and by the walls of the other loops.

    Only traced readings can be chosen. The uncertainty also counts the readings in which the wall looks like bench or face:
    those fit any single step in brightness, so they never win, but they widen the stated error.
    """
    followed = _probabilities([loop.followed() for loop in loops], loops, CHOOSE)
    return [_verdict(*each) for each in zip(loops, followed, _probabilities(loops, loops, TELL), strict=True)]


def _probabilities(loops: Sequence[ReadingCosts], full: Sequence[ReadingCosts], rule: _Rule) -> list[Floats]:
    """Return the probability of each reading along loops [-]; each loop's prior is learnt from the others, with margins over all of `full`."""
    none = _wall_prior([], [], rule)
    probabilities = [_reading_probabilities(loop, none, rule) for loop in loops]
    for _ in range(2):
        others = [
            (
                [full[j] for j in range(len(full)) if j != k],
                [probabilities[j] for j in range(len(loops)) if j != k],
            )
            for k in range(len(loops))
        ]
        probabilities = [
            _reading_probabilities(loop, _wall_prior(*other, rule), rule)
            for loop, other in zip(loops, others, strict=True)
        ]
    return probabilities


def _verdict(loop: ReadingCosts, followed: Floats, every: Floats) -> WallVerdict:
    """Return the most likely traced reading and its uncertainty from all readings [mm]."""
    rows = np.arange(len(followed))
    place = loop.followed().place
    # readings that ended at one place are one
    same = np.abs(place[:, :, None] - place[:, None, :]) < SAME_PLACE
    best = np.einsum("nk,nkj->nj", followed, same).argmax(axis=1)
    chosen = place[rows, best]
    doubt = np.sqrt((every * (loop.place - chosen[:, None]) ** 2).sum(axis=1))
    all_round = np.arange(loop.count)
    spread = [
        np.interp(all_round, loop.at, v, period=loop.count) for v in (chosen, doubt, *loop.wall[rows, best].T)
    ]
    return WallVerdict(spread[0], spread[1], Wall(np.stack(spread[2:], axis=1), KNOWN_SD, KNOWN_TINT))
