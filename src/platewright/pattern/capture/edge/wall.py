"""Which of several readings of the cut wall is the right one, by what the light says of each.

Glossary
--------
reading : where the edge is and how bright the wall beside it, found from one idea of how bright the wall may be
cost : how badly a reading's picture fits what the camera wrote, and how unusual it is (nats)

A step in the light says where two surfaces meet, not which. With the wall as dark as the bench the edge is where the
step is; with the wall as bright as the face it is one wall's width inside, and both fit a straight cut through
brightness equally well. So neither is taken for granted: the edge is followed once for dark, once for middling and once
for bright walls, the light is followed through the camera from each (``light``), and the readings share the loop out
between them by what they cost all along it: neighbours hold together, a change costs. A stretch on which two readings
are about as likely and lie apart says so in its error.
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
"""Distance of the profiles that are judged, along the loop [mm]."""
ALIKE = 4.0
"""How many neighbouring judged profiles err together [-]."""
CHANGE = 6.0
"""What passing from one reading to another costs (nats) [-]."""
THIN = 0.3
"""A wall narrower than this says little of itself: sharpening paints such a seam beside any edge [mm]."""
AROUND = 5.0
"""Over how much of the loop the wall's colour is learnt (sd) [mm]."""
APART = 0.06
"""Readings nearer to each other than this are the same [mm]."""
STRETCH = 6.0
"""Over how much of the loop costs are compared (sd) [mm]: a single place is noise."""
FLOOR = 0.08
"""By what share of its cost a reading may be dearer only because the model is not the camera [-]."""
LIKELY, LIKELY_SD, LIKELY_TINT, MOST_ODD = 0.45, 0.3, 0.4, 6.0
"""How bright walls are over the face as a rule, lamps being above (and sd), how much of another hue, and the most that being otherwise costs (nats) [-]."""
DIM = 0.15
"""Below this brightness over the face a hue is not told [-]."""
FACING, ELSEWHERE = 0.6, 0.03
"""Over which turn walls are lit alike [rad], and what walls that face elsewhere count for [-]."""
PLAIN = 8.0
"""A reading better by so much than those that lie apart from it is plain (nats) [-]."""
WIDE = 0.7
"""Places where less of a wall is seen, by the square of its width over `THIN`, say nothing of other places [-]."""
FEW = 3.0
"""So many plain places facing the same way are half believed [-]."""
VOTES = 2.0
"""How many times a loop what walls are as a rule counts [-]: its places are not asked one by one."""
TOLD_VOTES, TOLD_ODD, TOLD_FLOOR = 1.0, 2.0, 0.1
"""`VOTES`, `MOST_ODD` and `FLOOR` where it is only told how far off an edge may be: a core of another colour is not rare [-]. At the
edge's true places in 27 photos by the path tracer the right reading is dearer than the best by more than a tenth at 5 % of them
where the wall is one to three pixels wide."""
PASSING = 2
"""How many readings are not followed along the loop but made at each place: the wall passes for bench, or for face [-]."""
KIN, KIN_TINT = 0.25, 0.25
"""How much brighter or darker a wall may be than others that face the same way, and how much of another colour (sd) [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """Where the edge is along the normals (N,) [mm] and how bright the wall is over the face (N,) [-]."""

    place: Floats
    shade: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ReadingCosts:
    """What the light says of K readings at some places round a loop of `count`, the last `PASSING` made there [-].

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
        """Return the readings that were followed along the loop, without those in which the wall passes for something else."""
        own = slice(0, self.cost.shape[1] - PASSING)
        return replace(self, cost=self.cost[:, own], place=self.place[:, own], wall=self.wall[:, own])

    def gain(self, floor: float) -> Floats:
        """Return by how much each reading (n, K) is dearer than the best beyond what the model itself is wrong by, a share of it (nats) [-]."""
        much = softened(self.weight, STRETCH / EVERY)[:, None]
        cost = softened(self.cost * self.weight[:, None], STRETCH / EVERY) / np.maximum(much, 1e-6)
        best = cost.min(axis=1, keepdims=True)
        return np.asarray(np.maximum(cost - best - floor * best, 0.0) * self.weight[:, None])


@dataclass(frozen=True, slots=True, eq=False)
class _Rule:
    """How much what walls are as a rule counts: how many times a loop, the most for being otherwise, what the model's error is granted [-]."""

    votes: float
    odd: float
    floor: float


CHOOSE, TELL = _Rule(VOTES, MOST_ODD, FLOOR), _Rule(TOLD_VOTES, TOLD_ODD, TOLD_FLOOR)


@dataclass(frozen=True, slots=True, eq=False)
class WallPrior:
    """What the picture's plain places say of the wall: its colour (n, 3) [-], the direction it faces (n,) [rad], and how plainly (n,) [-]."""

    colour: Floats
    angle: Floats
    weight: Floats

    def strain(self, angle: Floats, wall: Floats, most: float) -> Floats:
        """Return how unlike what is known walls (n, K, 3) are that face so [rad], at most so much (nats) [-]."""
        if not len(self.angle):
            return np.zeros(wall.shape[:2])
        turn = np.angle(np.exp(1j * (angle[:, None] - self.angle[None])))
        weight = (np.exp(-0.5 * (turn / FACING) ** 2) + ELSEWHERE) * self.weight
        much = weight.sum(axis=1)
        usual = ((weight @ self.colour) / np.maximum(much, 1e-9)[:, None])[:, None]
        bright, common = wall.mean(axis=2), usual.mean(axis=2)
        # the core has one colour, however it is lit
        strain = 0.5 * ((bright - common) / KIN) ** 2 + _tinted(wall, usual, KIN_TINT)
        return np.asarray(np.minimum(strain, most) * (much / (much + FEW))[:, None])


def _tinted(wall: Floats, usual: Floats, sd: float) -> Floats:
    """Return how unlike the hue of walls (..., 3) is to what is usual (nats) [-]; of a dark wall it is hardly told."""
    bright = wall.mean(axis=-1)
    own, other = (v / np.maximum(v.mean(axis=-1, keepdims=True), DIM) for v in (wall, usual))
    certainty = np.clip(bright / (2 * DIM), 0, 1) ** 2
    return np.asarray(0.5 * certainty * ((own - other) ** 2).sum(axis=-1) / sd**2)


@dataclass(frozen=True, slots=True, eq=False)
class WallVerdict:
    """Where the edge is along the loop, how far off it may be for what other readings say (sd) (N,) [mm], the wall there."""

    place: Floats
    doubt: Floats
    wall: Wall


def _spread(values: Floats, weight: Floats, width: float) -> Floats:
    """Return weighed values (N, C) softened along the loop; what was not weighed there takes the loop's mean."""
    mean = (values * weight[:, None]).sum(axis=0) / max(weight.sum(), 1e-9)
    some = softened(weight, width)[:, None]
    return np.asarray((softened(values * weight[:, None], width) + 0.02 * mean) / (some + 0.02))


def reading_costs(
    across: LoopProfiles, normals: Floats, readings: Sequence[Reading], statistics: PictureStatistics | None
) -> tuple[ReadingCosts, PictureStatistics]:
    """Return what the light says of readings along a loop with normals (N, 2) [-], and the picture's habits; learnt here if not before."""
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
    """Return readings in which the wall passes for bench, then for face: steps in the light that say least of what they part."""
    places = np.stack([fitted.shift for fitted in free])
    low, high, wide = places.min(axis=0), places.max(axis=0), profiles.wall
    level = profiles.colours[:, 0].mean(axis=1, keepdims=True)
    # a closer prior is a shorter description only for what it leaves out
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
    """Return the log of how much room a wall's colour has, brighter or darker and each colour for itself (sd) [-]."""
    return float(np.log(tint**2 * np.hypot(tint, np.sqrt(3) * sd)))


def _wall_prior(loops: Sequence[ReadingCosts], beliefs: Sequence[Floats], rule: _Rule) -> WallPrior:
    """Return what loops say of the wall, each place as plainly as its light speaks against the readings not believed there."""
    colour, angle, weight = [], [], []
    for loop, belief in zip(loops, beliefs, strict=True):
        best = belief.argmax(axis=1)
        rows = np.arange(len(best))
        gain = loop.gain(rule.floor)
        apart = np.abs(loop.place - loop.place[rows, best][:, None]) > APART
        margin = np.where(apart, gain - gain[rows, best][:, None], np.inf).min(axis=1)
        # where all readings end at one place there is nothing against it
        margin = np.where(np.isfinite(margin), np.maximum(margin, 0.0), PLAIN)
        colour.append(loop.wall[rows, best])
        angle.append(loop.angle)
        # a seam hardly wider than a pixel tells no colour
        plain = np.clip(softened(margin, 1.0) / PLAIN, 0, 1) ** 2
        weight.append(np.where(loop.weight > WIDE, plain, 0.0))
    if not loops:
        return WallPrior(np.zeros((0, 3)), np.zeros(0), np.zeros(0))
    return WallPrior(np.concatenate(colour), np.concatenate(angle), np.concatenate(weight))


def _reading_probabilities(loop: ReadingCosts, kin: WallPrior, rule: _Rule) -> Floats:
    """Return how likely each reading is (n, K) [-]: what the light says place by place, what walls are as a rule a few times a loop."""
    odd = 0.5 * ((loop.wall.mean(axis=2) - LIKELY) / LIKELY_SD) ** 2
    odd = np.minimum(odd + _tinted(loop.wall, loop.face[:, None], LIKELY_TINT), rule.odd)
    # readings that ended at one place are one
    same = (np.abs(loop.place[:, :, None] - loop.place[:, None, :]) < APART).sum(axis=2)
    usual = odd + kin.strain(loop.angle, loop.wall, rule.odd) + np.log(same) / rule.votes
    votes = min(rule.votes / max(float(loop.weight.sum()), 1e-9), 1.0)
    costs = loop.gain(rule.floor) / ALIKE + votes * usual * loop.weight[:, None]
    return reading_marginals(np.ascontiguousarray(costs), CHANGE)


def choose_readings(loops: Sequence[ReadingCosts]) -> list[WallVerdict]:
    """Return which reading holds along each loop of a picture; each is judged by the light and by the walls of the others.

    Readings that were followed are chosen among; how far off they may be is told by those in which the wall passes for
    bench or face too. These fit whatever the light is as long as it takes one step, so they are not believed, only minded.
    """
    followed = _probabilities([loop.followed() for loop in loops], loops, CHOOSE)
    return [_verdict(*each) for each in zip(loops, followed, _probabilities(loops, loops, TELL), strict=True)]


def _probabilities(loops: Sequence[ReadingCosts], full: Sequence[ReadingCosts], rule: _Rule) -> list[Floats]:
    """Return how likely each reading is all along loops, which say of one another's walls what is plain against all in `full` [-]."""
    none = _wall_prior([], [], rule)
    beliefs = [_reading_probabilities(loop, none, rule) for loop in loops]
    for _ in range(2):
        others = [
            (
                [full[j] for j in range(len(full)) if j != k],
                [beliefs[j] for j in range(len(loops)) if j != k],
            )
            for k in range(len(loops))
        ]
        beliefs = [
            _reading_probabilities(loop, _wall_prior(*other, rule), rule)
            for loop, other in zip(loops, others, strict=True)
        ]
    return beliefs


def _verdict(loop: ReadingCosts, followed: Floats, every: Floats) -> WallVerdict:
    """Return the reading that is likeliest of those followed, and by all of them how far off it may be [mm]."""
    rows = np.arange(len(followed))
    place = loop.followed().place
    # readings that ended at one place are one
    same = np.abs(place[:, :, None] - place[:, None, :]) < APART
    best = np.einsum("nk,nkj->nj", followed, same).argmax(axis=1)
    chosen = place[rows, best]
    doubt = np.sqrt((every * (loop.place - chosen[:, None]) ** 2).sum(axis=1))
    all_round = np.arange(loop.count)
    spread = [
        np.interp(all_round, loop.at, v, period=loop.count) for v in (chosen, doubt, *loop.wall[rows, best].T)
    ]
    return WallVerdict(spread[0], spread[1], Wall(np.stack(spread[2:], axis=1), KNOWN_SD, KNOWN_TINT))
