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

import numpy as np

from platewright.errors import RefusedError
from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.bundle import (
    CARD,
    PLACE,
    POSE,
    PRIOR_CURL,
    PRIOR_LIFT,
    PRIOR_SLOPE,
    Problem,
    State,
    problem_of,
)
from platewright.pattern.capture.camera.detect import Sighting
from platewright.pattern.capture.camera.lens import (
    LENS,
    View,
    project,
    rotation,
    to_plane,
    unbent,
)

__all__ = ["Solved", "solve_camera"]

PRIOR_WEIGHT = 2.0
"""How many measured lifts, slopes or curls the prior counts as; how flat these cards are is learnt from themselves [-]."""
ROUNDS = 6
"""How often noise and flatness are estimated again [-]."""
LEAST_NOISE = 0.03
"""The least noise of a saddle assumed [px]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
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


def _planar_poses(local: Floats, pixels: Floats, lens: Floats) -> list[tuple[Floats, Floats]]:
    """Return up to two (turn, shift) of a flat card from its pixels."""
    import cv2

    ideal = unbent(lens, pixels)
    flat = np.column_stack([local, np.zeros(len(local))])
    found = cv2.solvePnPGeneric(flat, ideal, np.eye(3), None, flags=cv2.SOLVEPNP_IPPE)
    return [(rotation(np.ravel(r)), np.ravel(t)) for r, t in zip(found[1], found[2], strict=True)]


def _fitted(local: Floats, target: Floats) -> tuple[float, float, float]:
    """Return x, y, angle that best lay (N, 2) `local` on `target` (Kabsch in the plane) [mm, rad]."""
    a, b = local.mean(axis=0), target.mean(axis=0)
    cross = (local - a).T @ (target - b)
    angle = float(np.arctan2(cross[0, 1] - cross[1, 0], cross[0, 0] + cross[1, 1]))
    c, s = np.cos(angle), np.sin(angle)
    x, y = b - np.array([[c, -s], [s, c]]) @ a
    return float(x), float(y), angle


def _starts(problem: Problem, focal: float) -> list[State]:
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
        state = State(lens, np.stack([r for r, _ in poses]), np.stack([t for _, t in poses]), places)
        if np.isfinite(places).all() and np.isfinite(problem.misses(state)).all():
            states.append(state)
    return states


def _resected(
    problem: Problem, places: Floats, known: set[int], *, photo: int, lens: Floats
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


def _system(problem: Problem, state: State, noise: float) -> tuple[Floats, Floats]:
    """Return weighted Jacobian and residuals at a state for saddles of a noise [px]."""
    flat = problem.misses(state).ravel() / noise
    weight = (1 + flat**2 / 9) ** -0.25
    slopes = np.vstack([problem.slopes(state) * (weight / noise)[:, None], problem.prior_slopes()])
    return slopes, np.concatenate([flat * weight, problem.priors(state)])


def _settled(problem: Problem, state: State, *, noise: float, rounds: int) -> tuple[State, float]:
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


def _best(problem: Problem, focals: Sequence[float]) -> State:
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


def _covariance(problem: Problem, state: State, noise: float) -> Floats:
    """Return the covariance of all unknowns at an optimum."""
    slopes, _ = _system(problem, state, noise)
    lengths = np.sqrt((slopes**2).sum(axis=0))  # columns of like size keep the inverse well conditioned
    covariance = np.linalg.pinv((slopes / lengths).T @ (slopes / lengths), hermitian=True)
    return np.asarray(covariance / np.outer(lengths, lengths))


def _noise(problem: Problem, state: State, covariance: Floats) -> float:
    """Return the noise of a saddle [px] from what the unknowns do not explain; those that priors hold explain little."""
    misses = problem.misses(state)
    priors = problem.prior_slopes()
    explained = problem.unknowns - float(((priors @ covariance) * priors).sum())
    left = max(misses.size - explained, 0.25 * misses.size)
    return max(LEAST_NOISE, 1.4826 * float(np.median(np.abs(misses))) * float(np.sqrt(misses.size / left)))


def _flatness(problem: Problem, state: State, covariance: Floats) -> tuple[float, float, float]:
    """Return how far these cards stand off [mm], lean [-] and are curled [mm], from the prior and themselves."""
    first = LENS + POSE * problem.photos
    doubt = np.diag(covariance)[first:].reshape(-1, CARD)[:, PLACE:]
    square = state.places[:, PLACE:] ** 2 + doubt
    lift, slope, curl = (
        float(np.sqrt((PRIOR_WEIGHT * usual**2 + part.sum()) / (PRIOR_WEIGHT + part.size)))
        for usual, part in zip(
            (PRIOR_LIFT, PRIOR_SLOPE, PRIOR_CURL), (square[:, 0], square[:, 1:3], square[:, 3:]), strict=True
        )
    )
    return lift, slope, curl


def _left_out(problem: Problem, state: State, noise: float) -> list[float]:
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
                measured, local = to_plane(view, problem.pixels[mine]), problem.local[mine]
                spread = [np.sqrt(((p - p.mean(axis=0)) ** 2).sum()) for p in (measured, local)]
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
    problem = problem_of(sightings, size=size, focal=guess, focal_sd=spread, stretch=stretch)
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
        views=state.views(), places=state.places, cards=problem.cards, noise=noise,
        reprojection=tuple(float(np.sqrt(squares[problem.photo == k].mean())) for k in range(problem.photos)),
        covariance=covariance[: LENS + POSE, : LENS + POSE], left_out=tuple(_left_out(problem, state, noise)),
        hull=problem.world(state.places)[:, :2],
    )  # fmt: skip
