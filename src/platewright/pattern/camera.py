"""Solve camera, lens and cards together from the saddles of one or several photos.

Glossary
--------
world : z = 0 is the mean plane of the cards' paper, z up; x, y of the first photo's best card
state : lens (log f, cx, cy, k1, k2, p1, p2), a pose per photo, then (x, y, angle, lift, two slopes) per card
lift, slopes : how far a card's paper stands off the mean plane and leans; cards curl, so these are unknowns
    with priors, not zeros

Method: bundle adjustment by Levenberg-Marquardt with a robust (soft L1) loss and priors on everything the
picture may leave undetermined (Triggs et al., "Bundle adjustment: a modern synthesis", 2000). Lens model of
Brown (1971), two radial and two tangential terms. Planar pose starts from both solutions of the
infinitesimal-plane method (Collins and Bartoli 2014, as OpenCV ships it), best kept. Covariance from the
normal matrix at the solution, scaled by the residuals seen.

Assumptions: cards of known own size, nearly in one plane; all photos by the same lens.
Cost: about 0.1 s for eight cards. Limits: a wide-angle fisheye is outside the lens model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.errors import RefusedError
from platewright.geometry.contour import Floats
from platewright.pattern.cards import FRAMES, card, frame
from platewright.pattern.model import CameraSolution
from platewright.pattern.sight import Sighting

Ints = NDArray[np.int64]

__all__ = ["Solved", "View", "bent", "body_boxes", "project", "rotation", "solve_camera", "to_plane"]

LENS = 7
"""Lens unknowns [-]: log f, cx, cy, k1, k2, p1, p2."""
POSE = 6
CARD = 6

PRIOR_CENTRE = 0.005
"""How far the principal point strays from the middle, as a share of the long side [-]."""
PRIOR_LENS = (0.15, 0.25, 0.002, 0.002)
"""How large k1, k2, p1, p2 are [-]."""
PRIOR_LIFT = 0.12
"""How far a card's paper stands off the mean plane [mm]."""
PRIOR_SLOPE = 0.004
"""How much a card leans [-]: 0.2 mm at its edge."""
LEAST_NOISE = 0.03
"""A saddle is never believed better than this [px]."""


def rotation(vector: Floats) -> Floats:
    """Return the 3 by 3 turn of a rotation vector [rad] (Rodrigues)."""
    angle = float(np.sqrt(vector @ vector))
    x, y, z = vector
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    if angle < 1e-12:
        return np.asarray(np.eye(3) + cross, dtype=np.float64)
    return np.asarray(
        np.eye(3) + np.sin(angle) / angle * cross + (1 - np.cos(angle)) / angle**2 * cross @ cross
    )


def bent(lens: Floats, ideal: Floats) -> Floats:
    """Return pixels [px] of ideal image coordinates (..., 2) [-] under a lens (log f, cx, cy, k1, k2, p1, p2)."""
    x, y = ideal[..., 0], ideal[..., 1]
    log_f, cx, cy, k1, k2, p1, p2 = lens
    r2 = x * x + y * y
    stretch = 1 + r2 * (k1 + k2 * r2)
    u = x * stretch + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
    v = y * stretch + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
    f = np.exp(log_f)
    return np.stack([f * u + cx, f * v + cy], axis=-1)


def _ideal(lens: Floats, pixels: Floats) -> Floats:
    """Return ideal image coordinates [-] of pixels [px]: fixed point, to far below a thousandth of a pixel."""
    f, centre = np.exp(lens[0]), lens[1:3]
    aim = (pixels - centre) / f
    ideal = aim.copy()
    for _ in range(25):
        off = (bent(lens, ideal) - centre) / f - aim
        # beyond the fold of a strong lens there is no answer; stay finite there
        ideal = np.clip(ideal - off, -3.0, 3.0)
        if np.abs(off).max(initial=0.0) < 1e-9:
            break
    return np.asarray(ideal, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One photo's camera: lens vector, turn (3, 3) and shift (3,) [mm] so that camera = turn @ world + shift."""

    lens: Floats
    turn: Floats
    shift: Floats

    @property
    def place(self) -> Floats:
        """Where the lens is in the world [mm]."""
        return np.asarray(-self.turn.T @ self.shift)


def project(view: View, points: Floats) -> Floats:
    """Return pixels (N, 2) [px] of world points (N, 3) [mm]."""
    seen = points @ view.turn.T + view.shift
    return bent(view.lens, seen[:, :2] / seen[:, 2:])


def to_plane(view: View, pixels: Floats, z: float | Floats = 0.0) -> Floats:
    """Return world x, y (N, 2) [mm] where the rays of pixels (N, 2) [px] meet the height z [mm]."""
    ideal = _ideal(view.lens, pixels)
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ view.turn
    place = view.place
    far = (z - place[2]) / rays[:, 2]
    return np.asarray(place[:2] + far[:, None] * rays[:, :2])


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """What the solution knows.

    Attributes
    ----------
    views : one camera a photo
    places : (C, 6) x, y [mm], angle [rad], lift [mm], slopes [-] of every card
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
    """Unknowns: lens (7,), turns (P, 3, 3) and shifts (P, 3) [mm] of the photos, places (C, 6) of the cards."""

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


def _derivatives(lens: Floats, seen: Floats) -> tuple[Floats, Floats]:
    """Return the derivatives of pixels by lens (N, 2, 7) and by camera coordinates (N, 2, 3) [mm]."""
    z = seen[:, 2]
    x, y = seen[:, 0] / z, seen[:, 1] / z
    log_f, _, _, k1, k2, p1, p2 = lens
    f, r2 = np.exp(log_f), x * x + y * y
    stretch, grow = 1 + r2 * (k1 + k2 * r2), 2 * k1 + 4 * k2 * r2
    one, nil = np.ones_like(x), np.zeros_like(x)
    u = x * stretch + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
    v = y * stretch + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
    by_u = [f * u, one, nil, f * x * r2, f * x * r2 * r2, 2 * f * x * y, f * (r2 + 2 * x * x)]
    by_v = [f * v, nil, one, f * y * r2, f * y * r2 * r2, f * (r2 + 2 * y * y), 2 * f * x * y]
    to_lens = np.stack([np.stack(by_u, axis=1), np.stack(by_v, axis=1)], axis=1)
    ux = stretch + x * x * grow + 2 * p1 * y + 6 * p2 * x
    uy = x * y * grow + 2 * p1 * x + 2 * p2 * y
    vy = stretch + y * y * grow + 6 * p1 * y + 2 * p2 * x
    to_seen = np.empty((len(x), 2, 3))
    for row, (dx, dy) in enumerate(((ux, uy), (uy, vy))):
        to_seen[:, row, 0], to_seen[:, row, 1] = f * dx / z, f * dy / z
        to_seen[:, row, 2] = -f * (dx * x + dy * y) / z
    return to_lens, to_seen


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """Flattened observations and priors.

    `photo`, `card`, `local` (N, 2) [mm], `pixels` (N, 2) [px]: one row an observed saddle. `groups`: cards that
    move together have the same group; `fixed` is the card that holds x, y, angle at zero.
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

    @property
    def unknowns(self) -> int:
        return LENS + POSE * self.photos + CARD * len(self.cards)

    def world(self, places: Floats) -> Floats:
        """Return (N, 3) world points of all observed saddles [mm]."""
        x, y, angle, lift, lean_x, lean_y = places[self.card].T
        c, s = np.cos(angle), np.sin(angle)
        u, v = self.local.T
        return np.column_stack([x + c * u - s * v, y + s * u + c * v, lift + lean_x * u + lean_y * v])

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
        to_lens, to_seen = _derivatives(state.lens, seen)
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
                state.places[:, 3] / PRIOR_LIFT,
                state.places[:, 4:].ravel() / PRIOR_SLOPE,
                1e4 * state.places[self.fixed, :3],
            ]
        )

    def prior_slopes(self) -> Floats:
        """Return the derivative of `priors`, the same everywhere."""
        cards, first = len(self.cards), LENS + POSE * self.photos
        out = np.zeros((LENS + 3 * cards + 3, self.unknowns))
        out[:LENS, :LENS] = np.diag(
            [1 / self.focal_sd, *[1 / (PRIOR_CENTRE * max(self.size))] * 2, *(1 / np.array(PRIOR_LENS))]
        )
        for i in range(cards):
            out[LENS + i, first + CARD * i + 3] = 1 / PRIOR_LIFT
            out[LENS + cards + 2 * i, first + CARD * i + 4] = 1 / PRIOR_SLOPE
            out[LENS + cards + 2 * i + 1, first + CARD * i + 5] = 1 / PRIOR_SLOPE
        for k in range(3):
            out[LENS + 3 * cards + k, first + CARD * self.fixed + k] = 1e4
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

    ideal = _ideal(lens, pixels)
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
    for _ in range(3):
        state, _ = _settled(problem, state, noise=noise, rounds=40)
        noise = max(LEAST_NOISE, 1.4826 * float(np.median(np.abs(problem.misses(state)))))
    state, _ = _settled(problem, state, noise=noise, rounds=40)
    slopes, _ = _system(problem, state, noise)
    lengths = np.sqrt((slopes**2).sum(axis=0))  # columns of like size keep the inverse honest
    covariance = np.linalg.pinv((slopes / lengths).T @ (slopes / lengths), hermitian=True)
    covariance = covariance / np.outer(lengths, lengths)
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
