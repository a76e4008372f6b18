"""Solve camera, lens and cards together from the saddles of one or several photos.

Glossary
--------
world : z = 0 is the mean plane of the cards' paper, z up; x, y of the first photo's best card
state : lens, a pose per photo, then (x, y, angle, lift, two slopes, three curls) per card
lift, slopes, curls : how far a card's paper stands off the mean plane, leans, and is bent to a parabola across, along and
    twisted; no paper is flat, so these are unknowns with priors, not zeros
flatness : how large those are among the cards of one picture

Method: bundle adjustment by Levenberg-Marquardt with a robust (soft L1) loss and priors on everything the
picture may leave undetermined (Triggs et al., "Bundle adjustment: a modern synthesis", 2000). Flatness is a variance
component, learnt with the noise by expectation and maximisation (Dempster, Laird and Rubin 1977): flat cards make one
rigid rule, curled ones bend it no more than they must. Planar pose starts from both solutions of the
infinitesimal-plane method (Collins and Bartoli 2014, as OpenCV ships it), best kept. Covariance from the
normal matrix at the solution, scaled by the residuals seen.

Assumptions: cards of known own size, nearly in one plane; all photos by the same lens.
Cost: about 0.2 s for eight cards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from platewright.errors import RefusedError
from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.cards import FRAMES, card, frame
from platewright.pattern.capture.camera.detect import Sighting
from platewright.pattern.capture.camera.lens import (
    LENS,
    View,
    bent,
    derivatives,
    project,
    rotation,
    to_plane,
    unbent,
)
from platewright.pattern.model import CameraSolution

Ints = NDArray[np.int64]

__all__ = ["Solved", "body_boxes", "solve_camera"]

POSE = 6
PLACE, CARD = 3, 9
"""Unknowns of a photo's pose, of where a card lies, and of a card with its lift, slopes and curls [-]."""

PRIOR_CENTRE = 0.005
"""How far the principal point strays from the middle, as a share of the long side [-]."""
PRIOR_LENS = (0.15, 0.25, 0.002, 0.002)
"""How large k1, k2, p1, p2 are [-]."""
PRIOR_LIFT, PRIOR_SLOPE, PRIOR_CURL = 0.12, 0.002, 0.1
"""How far a card's paper usually stands off the mean plane [mm], leans [-], and is curled up at its saddles farthest out [mm]."""
BELIEVED = 2.0
"""How many lifts, slopes or curls of other cards that belief is worth: how flat these are is learnt from themselves [-]."""
ROUNDS = 6
"""How often noise and flatness are asked anew [-]."""
LEAST_NOISE = 0.03
"""A saddle is never believed better than this [px]."""


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """What the solution knows.

    Attributes
    ----------
    views : one camera a photo
    places : (C, 9) x, y [mm], angle [rad], lift [mm], slopes [-], curls [mm] of every card
    cards : identity of every card
    noise : standard deviation of a saddle [px]
    reprojection : RMS distance of saddles from the solution [px], per photo
    covariance : of the lens and of the first photo's pose, (13, 13)
    left_out : per card, how far its own size is missed when it is left out [-]
    hull : (N, 2) saddles of all cards in the world [mm]
    """

    views: tuple[View, ...]
    places: Floats
    cards: tuple[int, ...]
    noise: float
    reprojection: tuple[float, ...]
    covariance: Floats
    left_out: tuple[float, ...]
    hull: Floats

    def solution(self, photo: int, *, size: tuple[int, int], blur: float) -> CameraSolution:
        """Return the public record of one photo's camera; size and blur [px]."""
        view = self.views[photo]
        k1, k2, p1, p2 = (float(v) for v in view.lens[3:])
        return CameraSolution(
            size,
            float(np.exp(view.lens[0])),
            (float(view.lens[1]), float(view.lens[2])),
            (k1, k2),
            (p1, p2),
            view.place,
            view.turn,
            reprojection=self.reprojection[photo],
            blur=blur,
            cards=self.cards,
            left_out=self.left_out,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """Unknowns: lens (7,), turns (P, 3, 3) and shifts (P, 3) [mm] of the photos, places (C, 9) of the cards."""

    lens: Floats
    turns: Floats
    shifts: Floats
    places: Floats

    def moved(self, step: Floats) -> _State:
        """Return the state after a step; turns are stepped by a small rotation on the camera's side [rad]."""
        end = LENS + POSE * len(self.turns)
        poses = step[LENS:end].reshape(-1, POSE)
        turns = np.stack([rotation(p[:3]) @ t for p, t in zip(poses, self.turns, strict=True)])
        return _State(
            self.lens + step[:LENS],
            turns,
            self.shifts + poses[:, 3:],
            self.places + step[end:].reshape(-1, CARD),
        )

    def views(self) -> tuple[View, ...]:
        return tuple(View(self.lens, r, t) for r, t in zip(self.turns, self.shifts, strict=True))


@dataclass(frozen=True, eq=False)
class _Problem:
    """Flattened observations and priors.

    `photo`, `card`, `local` (N, 2) [mm], `pixels` (N, 2) [px]: one row an observed saddle. `groups`: cards that
    move together have the same group; `fixed` is the card that holds x, y, angle at zero; `flatness`: how far cards
    stand off [mm], lean [-] and are curled [mm].
    """

    size: tuple[int, int]
    photos: int
    cards: tuple[int, ...]
    photo: Ints
    card: Ints
    local: Floats
    pixels: Floats
    focal: float
    focal_sd: float
    fixed: int
    flatness: tuple[float, float, float] = (PRIOR_LIFT, PRIOR_SLOPE, PRIOR_CURL)

    @property
    def unknowns(self) -> int:
        return LENS + POSE * self.photos + CARD * len(self.cards)

    def world(self, places: Floats) -> Floats:
        """Return (N, 3) world points of all observed saddles [mm]."""
        x, y, angle, lift, lean_x, lean_y = places[self.card, :6].T
        curl = (places[self.card, 6:] * self.curls).sum(axis=1)
        c, s = np.cos(angle), np.sin(angle)
        u, v = self.local.T
        return np.column_stack([x + c * u - s * v, y + s * u + c * v, lift + lean_x * u + lean_y * v + curl])

    @cached_property
    def curls(self) -> Floats:
        """How much each curl raises each saddle (N, 3) [-]: across, along, twisted; a card's mean height is its lift."""
        shapes = np.empty((len(self.local), 3))
        for i in range(len(self.cards)):
            mine = self.card == i
            u, v = (self.local[mine] / np.abs(self.local[mine]).max(initial=1e-9)).T
            shape = np.column_stack([u * u, v * v, u * v])
            shapes[mine] = shape - (shape.mean(axis=0) if mine.any() else 0.0)
        return shapes

    @property
    def spreads(self) -> Floats:
        """Usual size of a card's lift, slopes and curls, (6,)."""
        lift, slope, curl = self.flatness
        return np.array([lift, slope, slope, curl, curl, curl])

    def misses(self, state: _State) -> Floats:
        """Return (N, 2) predicted minus observed [px]."""
        world = self.world(state.places)
        seen = np.einsum("nij,nj->ni", state.turns[self.photo], world) + state.shifts[self.photo]
        return bent(state.lens, seen[:, :2] / seen[:, 2:]) - self.pixels

    def slopes(self, state: _State) -> Floats:
        """Return the (2 N, unknowns) derivative of `misses` [px per unit]."""
        count = len(self.pixels)
        world = self.world(state.places)
        turned = np.einsum("nij,nj->ni", state.turns[self.photo], world)
        seen = turned + state.shifts[self.photo]
        to_lens, to_seen = derivatives(state.lens, seen)
        out = np.zeros((count, 2, self.unknowns))
        out[:, :, :LENS] = to_lens
        rows = np.arange(count)[:, None]
        spin = np.zeros((count, 3, 3))
        spin[:, 0, 1], spin[:, 0, 2], spin[:, 1, 2] = turned[:, 2], -turned[:, 1], turned[:, 0]
        spin[:, 1, 0], spin[:, 2, 0], spin[:, 2, 1] = -turned[:, 2], turned[:, 1], -turned[:, 0]
        pose = np.concatenate([to_seen @ spin, to_seen], axis=2)
        at = LENS + POSE * self.photo[:, None] + np.arange(POSE)
        out[rows, :, at] = pose.transpose(0, 2, 1)
        angle = state.places[self.card, 2]
        c, s = np.cos(angle), np.sin(angle)
        u, v = self.local.T
        moved = np.zeros((count, 3, CARD))
        moved[:, 0, 0] = moved[:, 1, 1] = moved[:, 2, 3] = 1.0
        moved[:, 0, 2], moved[:, 1, 2] = -s * u - c * v, c * u - s * v
        moved[:, 2, 4], moved[:, 2, 5] = u, v
        moved[:, 2, 6:] = self.curls
        at = LENS + POSE * self.photos + CARD * self.card[:, None] + np.arange(CARD)
        out[rows, :, at] = (to_seen @ state.turns[self.photo] @ moved).transpose(0, 2, 1)
        return out.reshape(2 * count, -1)

    def priors(self, state: _State) -> Floats:
        middle = (np.array(self.size) - 1) / 2
        return np.concatenate(
            [
                [(state.lens[0] - np.log(self.focal)) / self.focal_sd],
                (state.lens[1:3] - middle) / (PRIOR_CENTRE * max(self.size)),
                state.lens[3:] / PRIOR_LENS,
                (state.places[:, PLACE:] / self.spreads).ravel(),
                1e4 * state.places[self.fixed, :PLACE],
            ]
        )

    def prior_slopes(self) -> Floats:
        """Return the derivative of `priors`, the same everywhere."""
        cards, first = len(self.cards), LENS + POSE * self.photos
        shape = CARD - PLACE
        out = np.zeros((LENS + shape * cards + PLACE, self.unknowns))
        out[:LENS, :LENS] = np.diag(
            [1 / self.focal_sd, *[1 / (PRIOR_CENTRE * max(self.size))] * 2, *(1 / np.array(PRIOR_LENS))]
        )
        rows, at = np.arange(shape), PLACE + np.arange(shape)
        for i in range(cards):
            out[LENS + shape * i + rows, first + CARD * i + at] = 1 / self.spreads
        held = np.arange(PLACE)
        out[LENS + shape * cards + held, first + CARD * self.fixed + held] = 1e4
        return out


def _rigid_parts(sighting: Sighting) -> tuple[int, Floats]:
    """Return the identity of the body a sighting belongs to and its saddles in that body [mm], middle at 0."""
    for page, ids in FRAMES.items():
        if sighting.card in ids:
            placed = next(p for p in frame(page).cards if p.card.id == sighting.card)
            size = frame(page).size
            offset = np.array([placed.x - size[0] / 2, placed.y - size[1] / 2])
            return 1000 + ids[0], placed.card.saddles + offset
    one = card(sighting.card)
    return sighting.card, one.saddles - np.array(one.size) / 2


def body_boxes(body: int) -> list[Floats]:
    """Return the corners (4, 2) of every card of a body [mm], about the body's middle."""
    unit = np.array([(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)])
    if body < 1000:
        return [unit * card(body).size]
    page = next(p for p, ids in FRAMES.items() if ids[0] == body - 1000)
    whole = frame(page)
    return [
        (unit + 0.5) * p.card.size + (p.x - whole.size[0] / 2, p.y - whole.size[1] / 2) for p in whole.cards
    ]


def _problem(
    photos: Sequence[Sequence[Sighting]],
    *,
    size: tuple[int, int],
    focal: float,
    focal_sd: float,
    stretch: tuple[float, float],
) -> _Problem:
    names: list[tuple[int, int]] = []
    rows: list[tuple[Floats, Floats, Floats, Floats]] = []
    for k, sightings in enumerate(photos):
        twins: dict[int, int] = {}
        for s in sightings:
            body, local = _rigid_parts(s)
            twin = 0
            if body < 1000:
                twin = twins.get(body, 0)
                twins[body] = twin + 1
            name = (body, twin)
            if name not in names:
                names.append(name)
            count = len(s.which)
            rows.append(
                (
                    np.full(count, k),
                    np.full(count, names.index(name)),
                    local[s.which] * stretch,
                    s.pixels,
                )
            )
    photo, which, local, pixels = (np.concatenate([r[i] for r in rows]) for i in range(4))
    middle = (np.array(size) - 1) / 2
    off = [
        np.hypot(*(pixels[(which == i) & (photo == 0)].mean(axis=0) - middle))
        if ((which == i) & (photo == 0)).any()
        else np.inf
        for i in range(len(names))
    ]
    return _Problem(
        size, len(photos), tuple(n[0] for n in names), photo, which, local, pixels, focal, focal_sd,
        int(np.argmin(off)),
    )  # fmt: skip


def _planar_poses(local: Floats, pixels: Floats, lens: Floats) -> list[tuple[Floats, Floats]]:
    """Return up to two (turn, shift) of a flat card from its pixels."""
    import cv2

    ideal = unbent(lens, pixels)
    flat = np.column_stack([local, np.zeros(len(local))])
    found = cv2.solvePnPGeneric(flat, ideal, np.eye(3), None, flags=cv2.SOLVEPNP_IPPE)
    return [(rotation(np.ravel(r)), np.ravel(t)) for r, t in zip(found[1], found[2], strict=True)]


def _fitted(local: Floats, seen: Floats) -> tuple[float, float, float]:
    """Return x, y, angle that best lay (N, 2) `local` on `seen` (Kabsch in the plane) [mm, rad]."""
    a, b = local.mean(axis=0), seen.mean(axis=0)
    cross = (local - a).T @ (seen - b)
    angle = float(np.arctan2(cross[0, 1] - cross[1, 0], cross[0, 0] + cross[1, 1]))
    c, s = np.cos(angle), np.sin(angle)
    x, y = b - np.array([[c, -s], [s, c]]) @ a
    return float(x), float(y), angle


def _starts(problem: _Problem, focal: float) -> list[_State]:
    """Return start states: both tilts of the middle card in the first photo, others laid in its plane."""
    middle = (np.array(problem.size) - 1) / 2
    lens = np.array([np.log(focal), *middle, 0, 0, 0, 0])
    mine = (problem.card == problem.fixed) & (problem.photo == 0)
    states = []
    for first in _planar_poses(problem.local[mine], problem.pixels[mine], lens):
        places = np.zeros((len(problem.cards), CARD))
        poses: list[tuple[Floats, Floats]] = []
        known = {problem.fixed}
        try:
            for k in range(problem.photos):
                turn, shift = first if k == 0 else _resected(problem, places, known, photo=k, lens=lens)
                poses.append((turn, shift))
                view = View(lens, turn, shift)
                for i in sorted(set(problem.card[problem.photo == k].tolist()) - known):
                    rows = (problem.card == i) & (problem.photo == k)
                    places[i, :3] = _fitted(problem.local[rows], to_plane(view, problem.pixels[rows]))
                    known.add(i)
        except (np.linalg.LinAlgError, ValueError):
            continue
        state = _State(lens, np.stack([r for r, _ in poses]), np.stack([t for _, t in poses]), places)
        if np.isfinite(places).all() and np.isfinite(problem.misses(state)).all():
            states.append(state)
    return states


def _resected(
    problem: _Problem, places: Floats, known: set[int], *, photo: int, lens: Floats
) -> tuple[Floats, Floats]:
    """Return the pose of a further photo from the cards it shares with earlier ones, the better of two."""
    rows = (problem.photo == photo) & np.isin(problem.card, sorted(known))
    if rows.sum() < 6:
        raise ValueError("no shared cards")
    world = problem.world(places)[rows]
    poses = _planar_poses(world[:, :2], problem.pixels[rows], lens)
    miss = [np.abs(project(View(lens, *p), world) - problem.pixels[rows]).sum() for p in poses]
    return poses[int(np.argmin(miss))]


def _cost(misses: Floats, priors: Floats, noise: float) -> float:
    """Return the robust cost: soft L1 with its knee at three noises, plain squares for priors [-]."""
    z = (misses.ravel() / noise) ** 2
    return float(9 * (np.sqrt(1 + z / 9) - 1).sum() + 0.5 * (priors**2).sum())


def _system(problem: _Problem, state: _State, noise: float) -> tuple[Floats, Floats]:
    """Return weighted Jacobian and residuals at a state for saddles of a noise [px]."""
    flat = problem.misses(state).ravel() / noise
    weight = (1 + flat**2 / 9) ** -0.25
    slopes = np.vstack([problem.slopes(state) * (weight / noise)[:, None], problem.prior_slopes()])
    return slopes, np.concatenate([flat * weight, problem.priors(state)])


def _settled(problem: _Problem, state: _State, *, noise: float, rounds: int) -> tuple[_State, float]:
    """Return state and cost at the optimum (Levenberg-Marquardt on reweighted squares)."""
    damping, cost = 1e-3, _cost(problem.misses(state), problem.priors(state), noise)
    for _ in range(rounds):
        slopes, residuals = _system(problem, state, noise)
        normal, pull = slopes.T @ slopes, slopes.T @ residuals
        while damping < 1e9:
            try:
                damped = normal + damping * np.diag(np.diag(normal))
                step = np.asarray(-np.linalg.solve(damped, pull), dtype=np.float64)
            except np.linalg.LinAlgError:
                damping *= 10
                continue
            step[0] = np.clip(step[0], -0.3, 0.3)
            new = state.moved(step)
            with np.errstate(all="ignore"):
                new_cost = _cost(problem.misses(new), problem.priors(new), noise)
            if np.isfinite(new_cost) and new_cost <= cost:
                break
            damping *= 6
        else:
            return state, cost
        gain = cost - new_cost
        state, cost, damping = new, new_cost, max(damping / 8, 1e-12)
        if gain < 1e-7 * (1 + cost):
            break
    return state, cost


def _best(problem: _Problem, focals: Sequence[float]) -> _State:
    tried = [
        _settled(problem, start, noise=2.0, rounds=30)
        for focal in focals
        for start in _starts(problem, focal)
    ]
    if not tried:
        raise RefusedError(
            "The cards do not add up to one flat bench.",
            do="Lay all cards flat on the same bench and take the picture again.",
        )
    return min(tried, key=lambda t: t[1])[0]


def _covariance(problem: _Problem, state: _State, noise: float) -> Floats:
    """Return the covariance of all unknowns at an optimum."""
    slopes, _ = _system(problem, state, noise)
    lengths = np.sqrt((slopes**2).sum(axis=0))  # columns of like size keep the inverse honest
    covariance = np.linalg.pinv((slopes / lengths).T @ (slopes / lengths), hermitian=True)
    return np.asarray(covariance / np.outer(lengths, lengths))


def _noise(problem: _Problem, state: _State, covariance: Floats) -> float:
    """Return the noise of a saddle [px] from what the unknowns do not explain; those that priors hold explain little."""
    misses = problem.misses(state)
    priors = problem.prior_slopes()
    explained = problem.unknowns - float(((priors @ covariance) * priors).sum())
    left = max(misses.size - explained, 0.25 * misses.size)
    return max(LEAST_NOISE, 1.4826 * float(np.median(np.abs(misses))) * float(np.sqrt(misses.size / left)))


def _flatness(problem: _Problem, state: _State, covariance: Floats) -> tuple[float, float, float]:
    """Return how far these cards stand off [mm], lean [-] and are curled [mm], as belief and they themselves have it."""
    first = LENS + POSE * problem.photos
    doubt = np.diag(covariance)[first:].reshape(-1, CARD)[:, PLACE:]
    square = state.places[:, PLACE:] ** 2 + doubt
    lift, slope, curl = (
        float(np.sqrt((BELIEVED * usual**2 + part.sum()) / (BELIEVED + part.size)))
        for usual, part in zip(
            (PRIOR_LIFT, PRIOR_SLOPE, PRIOR_CURL), (square[:, 0], square[:, 1:3], square[:, 3:]), strict=True
        )
    )
    return lift, slope, curl


def _left_out(problem: _Problem, state: _State, noise: float) -> list[float]:
    """Return, per card, by what share its size is missed by the solution without it [-]."""
    found = []
    for i in range(len(problem.cards)):
        others = problem.card != i
        if len(set(problem.card[others].tolist())) < 2:
            return []
        part = replace(
            problem,
            photo=problem.photo[others],
            card=problem.card[others],
            local=problem.local[others],
            pixels=problem.pixels[others],
        )
        without, _ = _settled(part, state, noise=noise, rounds=8)
        ratios = []
        for k, view in enumerate(without.views()):
            mine = (problem.card == i) & (problem.photo == k)
            if mine.sum() >= 6:
                seen, local = to_plane(view, problem.pixels[mine]), problem.local[mine]
                spread = [np.sqrt(((p - p.mean(axis=0)) ** 2).sum()) for p in (seen, local)]
                ratios.append(float(spread[0] / spread[1] - 1))
        found.append(float(np.mean(ratios)) if ratios else 0.0)
    return found


def solve_camera(
    photos: Sequence[Sequence[Sighting]],
    *,
    size: tuple[int, int],
    focal: float | None = None,
    stretch: tuple[float, float] = (1.0, 1.0),
) -> Solved:
    """Solve lens, cameras and cards from the readable sightings of every photo.

    Parameters
    ----------
    photos : sightings, photo by photo
    size : width and height, the same for all [px]
    focal : what the file says [px], None if it says nothing
    stretch : printed over nominal size of the cards across and up [-], from the check bars

    Returns
    -------
    Solved; places in [mm], [rad]

    Raises
    ------
    RefusedError
        If there is no card, or the cards do not fit one bench.
    """
    sightings = [[s for s in photo if s.readable] for photo in photos]
    if not all(sightings):
        raise RefusedError("No card can be read in the photo.", do="See the findings for what to do.")
    long_side = max(size)
    guess, spread = (focal, 0.05) if focal else (0.78 * long_side, 0.25)
    problem = _problem(sightings, size=size, focal=guess, focal_sd=spread, stretch=stretch)
    state = _best(problem, [guess] if focal else [0.45 * long_side, guess, 1.4 * long_side])
    noise = 1.0
    for turn in range(ROUNDS):
        state, _ = _settled(problem, state, noise=noise, rounds=40)
        covariance = _covariance(problem, state, noise)
        noise = _noise(problem, state, covariance)
        if turn:
            problem = replace(problem, flatness=_flatness(problem, state, covariance))
    state, _ = _settled(problem, state, noise=noise, rounds=40)
    covariance = _covariance(problem, state, noise)
    squares = (problem.misses(state) ** 2).sum(axis=1)
    return Solved(
        state.views(),
        state.places,
        problem.cards,
        noise,
        tuple(float(np.sqrt(squares[problem.photo == k].mean())) for k in range(problem.photos)),
        covariance[: LENS + POSE, : LENS + POSE],
        tuple(_left_out(problem, state, noise)),
        problem.world(state.places)[:, :2],
    )
