"""The last look at an edge: what the camera would write of it, fitted to what it wrote.

Glossary
--------
brightness, colour differences : how pictures are stored (ITU-R BT.601, JFIF): one brightness and two colour
    differences of tone-curved values; the colour differences at half the resolution, so they are softer (4:2:0)
bench brightness : the bench keeps its colour but is darker where a shadow lies, also in the contact shadow

A step's half-way level, or any straight sum of colours, misjudges an edge by a few tenths of a pixel where the colours are
soft, the bench is shaded and the cut wall is dark, and always to the same side. Here the light is followed forwards:
face | wall | bench, blurred by the lens, tone-curved, stored, for each profile across the edge. Unknown are the
edge, the blur, the brightness of face and wall and that of the bench at a few places beyond the wall's foot, each held
to what is usual. How soft the stored colours are, how dark the wall and how large the noise is are
learnt from the picture itself, so nothing is taken from one camera, file kind or lamp. Gauss-Newton, all
profiles of a loop at once.

Beside the wall the bench sees less of the sky, by as much as it sees of the wall instead, and is lit by the wall, in the wall's
colour. Limits: a shadow is taken to darken all colours alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.rectify import light_of
from platewright.pattern.capture.camera.response import MIX, Response
from platewright.pattern.loops import softened

__all__ = [
    "LightFit", "LoopProfiles", "PictureStatistics", "Profiles", "Wall", "fit_light", "learn_statistics",
    "profiles_of",
]  # fmt: skip

KNOTS = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.5])
"""Places beyond the wall's foot where the bench's brightness is free [mm]."""
FACE_SIDE, BENCH_SIDE, ACROSS = 2.4, 2.6, 0.1
"""How far a profile reaches over face and bench, and the distance of its samples [mm]."""
SOFT = (0.0, 0.4, 0.8, 1.2, 1.6, 2.0, 2.4)
"""Softness of stored colours that is tried [px]."""
STRENGTHS = 2.0 ** np.arange(-1.0, 2.0, 0.5)
"""Strengths of the template's halo against the cards' that are tried [-]: what phones add is bounded, so it is more beside a fainter step."""
STRENGTH_PENALTY = 0.3 * np.abs(np.log2(STRENGTHS))
"""By how much each must fit better than that of the cards, in noise variances a sample [-]: of a camera that sharpens all steps
alike, one half as strong again fits better by up to 0.1 (shadow and blur)."""
ALIKE = 6.0 * np.array([1.0, 4.0, 4.0])
"""How many neighbouring samples of brightness and of the colour differences say the same thing, after averaging along the edge [-]:
of colour differences stored at half the resolution, four are one."""
EVERY, FEWEST = 30, 24
"""Which profiles the picture's own habits are learnt from: one of so many, and how many at least."""
HIDDEN = 0.05
"""They are learnt where less of the wall is seen than this, if that is somewhere [mm]."""

MOST_STEP = np.array([0.25, 0.3])
"""The most a step moves the edge [mm] and the log of the blur [-]."""
STILL, ROUNDS = 0.05, 20
"""A profile has settled where the next step would better its cost by less than this (nats) [-]; how many steps are taken at most.
A dark wall beside a bright face converges slowly: stopped early, it seems less likely than it is."""
USUAL_WALL, WALL_SD, WALL_TINT = 0.5, 0.5, 0.3
"""How bright the cut wall usually is over the face [-], by what share of it it may be brighter or darker, and each colour for
itself (sd) [-]: a wall in its own shade or lit from the side, a core dark or white."""
FAINT = 0.01
"""What a wall's brightness may be off by besides, over the face's (sd) [-]."""
REFLECTED, REFLECTED_SD = 1.0, 0.3
"""How much of the light that the wall is seen to send out falls on what faces it (and sd) [-]: all, by the law of radiosity."""
BARE = 1.9
"""How far beyond the wall's foot the bench's colour is learnt, in the middle [mm]."""
KNOWN_SD, KNOWN_TINT = 0.3, 0.1
"""The same of a wall whose colour was learnt a little way along [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class PictureStatistics:
    """What is usual in this picture: softness of colours [mm], inverse variances, blur against the cards' (log) [-], how an edge is written."""

    soft: float
    weight: Floats
    blur: float
    response: Response


@dataclass(frozen=True, slots=True, eq=False)
class Wall:
    """What is known of the cut wall along a loop: its colour (N, 3) over the face's level, by what share it may be brighter or darker and each colour for itself (sd), and how much of an even sky it hides from the bench [-]."""

    colour: Floats
    sd: float
    tint: float
    hides: float = 0.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LoopProfiles:
    """Profiles across a closed loop: tone-curved colours (N, M, 3) [-], places of the samples along the normal, bench positive (M,),
    visible width of the wall and blur (N,), distance along the loop, size of a pixel [mm], sd of the share by which the wall is wider [-].
    """

    stored: Floats
    span: Floats
    wall: Floats
    sigma: Floats
    along: float
    pixel: float
    wider: float
    response: Response
    thick: float


@dataclass(frozen=True, slots=True, eq=False)
class LightFit:
    """The edge's place along each normal, its standard deviation [mm], minus the log evidence if the wall is of its colour (N,) [-], the wall's colour over the face's level (N, 3)."""

    shift: Floats
    sd: Floats
    cost: Floats
    wall: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Profiles:
    """Profiles as a picture stores them, with the face's and the bench's colour (N, 2, 3) [-]."""

    stored: Floats
    span: Floats
    wall: Floats
    sigma: Floats
    colours: Floats
    wider: float
    response: Response
    thick: float

    @property
    def face(self) -> Floats:
        """The face's colour over its level (N, 3) [-]."""
        return np.asarray(self.colours[:, 0] / self.colours[:, 0].mean(axis=1, keepdims=True))

    def some(self, which: NDArray[np.int64]) -> Profiles:
        """Return some of the profiles, by their numbers [-]; whole arrays, not views: the loops are compiled once."""
        return replace(
            self,
            stored=np.ascontiguousarray(self.stored[which]),
            wall=np.ascontiguousarray(self.wall[which]),
            sigma=np.ascontiguousarray(self.sigma[which]),
            colours=np.ascontiguousarray(self.colours[which]),
        )


def profiles_of(across: LoopProfiles, first: Floats, last: Floats) -> Profiles:
    """Return profiles whose edges lie between two places (N,) on them [mm]: face and bench are learnt beyond."""
    span = across.span[None, :]
    light = light_of(across.stored)
    far = (last + across.wall)[:, None]
    within = span < np.maximum(first[:, None] - 0.8, span[0, 0] + 0.5)
    bare = (span > np.minimum(far + 1.2, span[0, -1] - 0.5)) & (span < far + BENCH_SIDE)
    means = [np.einsum("nm,nmc->nc", m, light) / m.sum(axis=1)[:, None] for m in (within, bare)]
    colours = np.stack([softened(c, 3.0 / across.along) for c in means], axis=1)
    stored = np.ascontiguousarray(np.einsum("yc,nmc->nym", MIX, across.stored))
    return Profiles(
        stored=stored,
        span=across.span,
        wall=across.wall,
        sigma=across.sigma,
        colours=colours,
        wider=across.wider,
        response=across.response,
        thick=across.thick,
    )


def _prior(wider: float, wall: Wall) -> Floats:
    """Return how surely the unknowns are what is usual (inverse covariances (N, P, P))."""
    count = len(KNOTS)
    grip = np.zeros((len(wall.colour), 9 + count, 9 + count))
    grip[:, :5, :5] = np.diag([1 / 5.0**2, 1 / 0.15**2, 1 / 0.1**2, 1 / 0.03**2, 1 / wider**2])
    # the wall is brighter or darker than it usually is, more than it is of another colour
    bright = np.maximum(wall.colour.mean(axis=1), 0.0)[:, None, None]
    grip[:, 5:8, 5:8] = np.linalg.inv(
        (wall.sd * bright + FAINT) ** 2 + (wall.tint * bright + FAINT) ** 2 * np.eye(3)
    )
    for k in range(count - 1):
        # brightness wanders by a fifth over half a millimetre
        hold = 1 / 0.2**2
        grip[:, 8 + k : 10 + k, 8 + k : 10 + k] += hold * np.array([[1.0, -1.0], [-1.0, 1.0]])
    grip[:, -2, -2] += 1 / 0.1**2
    grip[:, -1, -1] += 1 / REFLECTED_SD**2
    return grip


def _sky(thick: float, hides: float) -> Floats:
    """Return how bright the bench is at the knots under a sky of which a wall so high [mm] hides part, that share of it even, against where its colour is learnt [-]."""
    places = np.append(KNOTS, BARE)
    share = 1 + hides * (places / np.hypot(places, thick) - 1) / 2
    return np.asarray(share[:-1] / share[-1])


def _bell(width: float) -> Floats:
    """Return the weights of samples under a bell of a width [mm]; one where it is hardly any."""
    if width < 0.3 * ACROSS:
        return np.ones(1)
    reach = int(np.ceil(3 * width / ACROSS))
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) * ACROSS / width) ** 2)
    return np.asarray(bell / bell.sum())


def fit_light(
    profiles: Profiles,
    statistics: PictureStatistics,
    wall: Wall,
    *,
    place: Floats,
    rounds: int = ROUNDS,
) -> tuple[LightFit, Floats, Floats]:
    """Fit profiles with what the camera would write, from a first place (N,) [mm].

    Return what the light says, the log of the blur against the cards' (N,), and the mean squared misfits (N, 3) [-].
    """
    count, prior = len(profiles.stored), _prior(profiles.wider, wall)
    usual = np.tile([*np.zeros(2), 1.0, *np.zeros(5), *np.ones(len(KNOTS)), REFLECTED], (count, 1))
    usual[:, 0], usual[:, 5:8], usual[:, 8:-1] = place, wall.colour, _sky(profiles.thick, wall.hides)
    state = usual.copy()
    weight = statistics.weight / ALIKE
    grip, squares = np.empty_like(prior), np.empty((count, 3))
    on, still = np.arange(count), np.zeros(count, bool)
    for turn in range(rounds + 1):
        sums, squares[on] = _sums(profiles, statistics, wall, state=state, which=on, weight=weight)
        go = ~still[on] & (turn < rounds)
        on, sums = on[go], sums[go]
        if not len(on):
            break
        grip[on] = prior[on] + sums[:, :-1, :-1]
        pull = np.einsum("np,npq->nq", usual[on] - state[on], prior[on]) + sums[:, :-1, -1]
        step = np.linalg.solve(grip[on], pull[..., None])[..., 0]
        size = np.maximum(np.abs(step[:, :2]), 1e-9)
        state[on] += step * np.minimum(1.0, (MOST_STEP / size).min(axis=1))[:, None]
        still[on] = 0.5 * (pull * step).sum(axis=1) < STILL
    off = state - usual
    best = 0.5 * squares @ weight + 0.5 * np.einsum("np,npq,nq->n", off, prior, off)
    # how bright the wall is, is asked of all places together (``wall``): what it may be otherwise at each is not held against it
    rest = np.r_[:5, 8 : state.shape[1]]
    volume = [0.5 * np.linalg.slogdet(g[:, rest[:, None], rest])[1] for g in (prior, grip)]
    sd = np.sqrt(np.linalg.inv(grip)[:, 0, 0])
    return (
        LightFit(state[:, 0], sd, best + volume[1] - volume[0], state[:, 5:8]),
        state[:, 1],
        squares / len(profiles.span),
    )


def _sums(
    profiles: Profiles,
    statistics: PictureStatistics,
    wall: Wall,
    *,
    state: Floats,
    which: NDArray[np.int64],
    weight: Floats,
) -> tuple[Floats, Floats]:
    """Return the normal equations (n, P + 1, P + 1) and squared misfits (n, 3) of some profiles painted from their unknowns."""
    from platewright.pattern.capture.edge.kernels import Camera, Scene, painted

    how = statistics.response
    ratio = how.breadth / how.blur
    linear, toned = (0.0, how.amount) if how.toned else (how.amount, 0.0)
    made = painted(
        which,
        state,
        Scene(
            profiles.span,
            profiles.wall,
            profiles.sigma * np.exp(statistics.blur),
            profiles.colours,
            KNOTS,
            np.ascontiguousarray(wall.colour * profiles.colours[:, 0].mean(axis=1, keepdims=True)),
            profiles.thick,
        ),
        Camera(
            MIX,
            np.array([linear, ratio, toned]),
            _bell(statistics.soft),
            _bell(ratio * float(np.median(profiles.sigma))),
        ),
    )
    made[..., -1] = profiles.stored[which] - made[..., -1]
    squares = (made[..., -1] ** 2).sum(axis=2)
    made *= np.sqrt(weight)[:, None, None]
    rows = made.reshape(len(which), -1, made.shape[3])
    return rows.transpose(0, 2, 1) @ rows, squares


def _usual_wall(profiles: Profiles) -> Wall:
    """Return what is known of the wall before it was looked at: what it usually is."""
    return Wall(USUAL_WALL * profiles.face, WALL_SD, WALL_TINT)


def learn_statistics(profiles: Profiles, pixel: float, *, place: Floats) -> PictureStatistics:
    """Return this picture's habits from some of its profiles; `pixel` is the size of one, `place` (N,) where their edges roughly are [mm]."""
    plain = np.flatnonzero(profiles.wall < HIDDEN)
    hidden = len(plain) >= FEWEST
    which = plain if hidden else np.arange(len(profiles.stored))
    which = which[:: max(1, min(EVERY, len(which) // FEWEST))]
    some, here = profiles.some(which), place[which]
    cards = profiles.response
    usual = np.array([1 / 0.005**2, 1 / 0.004**2, 1 / 0.004**2])
    statistics, wall = PictureStatistics(0.8 * pixel, usual, 0.0, cards), _usual_wall(some)
    for _ in range(2):
        tries = [replace(statistics, soft=soft * pixel) for soft in SOFT]
        statistics = _best(some, tries, wall, place=here)
        if hidden:  # no wall, so nothing else passes for a halo
            tries = [
                replace(statistics, response=replace(cards, amount=cards.amount * float(s)))
                for s in STRENGTHS
            ]
            other = _best(some, tries, wall, place=here, penalty=STRENGTH_PENALTY)
            if other.response != cards:  # the cards' own leaves all as it was
                statistics = other
    return statistics


def _best(
    profiles: Profiles,
    tries: list[PictureStatistics],
    wall: Wall,
    *,
    place: Floats,
    penalty: Floats | None = None,
) -> PictureStatistics:
    """Return the habits that fit best, with the noise and the blur they leave; `penalty`: by how much each must be better [-]."""
    tried = []
    for statistics, more in zip(tries, np.zeros(len(tries)) if penalty is None else penalty, strict=True):
        _, blur, misfit = fit_light(profiles, statistics, wall, place=place, rounds=4)
        tried.append((more + float(np.median(misfit @ statistics.weight)), statistics, blur, misfit))
    _, statistics, blur, misfit = min(tried, key=lambda t: t[0])
    noise = np.clip(np.median(misfit, axis=0), 0.0015**2, 0.05**2)
    return replace(statistics, weight=1 / noise, blur=statistics.blur + float(np.median(blur)))
