"""The unknowns of a camera solution, the saddles that were observed, and how far a state misses them.

`solve` minimises what stands here; see there for the words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.cards import FRAMES, card, frame
from platewright.pattern.capture.camera.detect import Sighting
from platewright.pattern.capture.camera.lens import LENS, View, bent, derivatives, rotation

Ints = NDArray[np.int64]

__all__ = ["CARD", "PLACE", "POSE", "PRIOR_CURL", "PRIOR_LIFT", "PRIOR_SLOPE", "Problem", "State", "body_boxes", "problem_of"]  # fmt: skip

POSE = 6
PLACE, CARD = 3, 9
"""Unknowns of a photo's pose, of where a card lies, and of a card with its lift, slopes and curls [-]."""

PRIOR_CENTRE = 0.003
"""How far the principal point strays from the middle, as a share of the long side (sd) [-]."""
PRIOR_LENS = (0.06, 0.08, 0.0006, 0.0006)
"""How large k1, k2, p1, p2 are (RMS) [-]. All as our own camera draws them (`examples/camera/scene`; recalled of phones, not
measured): cards that lie on one side of the template do not part them from the camera's tilt, and what they leave open is carried
on into the template. Where cards lie all around, a third or three times as much moves lengths by about 0.005 %, and a lens
twice as strong is read as well (decision 21)."""
PRIOR_LIFT, PRIOR_SLOPE, PRIOR_CURL = 0.12, 0.002, 0.1
"""How far a card's paper usually stands off the mean plane [mm], leans [-], and is curled up at its saddles farthest out [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Unknowns: lens (7,), turns (P, 3, 3) and shifts (P, 3) [mm] of the photos, places (C, 9) of the cards."""

    lens: Floats
    turns: Floats
    shifts: Floats
    places: Floats

    def moved(self, step: Floats) -> State:
        """Return the state after a step; turns are stepped by a small rotation on the camera's side [rad]."""
        end = LENS + POSE * len(self.turns)
        poses = step[LENS:end].reshape(-1, POSE)
        turns = np.stack([rotation(p[:3]) @ t for p, t in zip(poses, self.turns, strict=True)])
        return State(
            self.lens + step[:LENS],
            turns,
            self.shifts + poses[:, 3:],
            self.places + step[end:].reshape(-1, CARD),
        )

    def views(self) -> tuple[View, ...]:
        """Return the cameras, one a photo [mm]."""
        return tuple(View(self.lens, r, t) for r, t in zip(self.turns, self.shifts, strict=True))


@dataclass(frozen=True, eq=False, kw_only=True)
class Problem:
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
        """Return how many unknowns there are [-]."""
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

    def misses(self, state: State) -> Floats:
        """Return (N, 2) predicted minus observed [px]."""
        world = self.world(state.places)
        in_camera = np.einsum("nij,nj->ni", state.turns[self.photo], world) + state.shifts[self.photo]
        return bent(state.lens, in_camera[:, :2] / in_camera[:, 2:]) - self.pixels

    def slopes(self, state: State) -> Floats:
        """Return the (2 N, unknowns) derivative of `misses` [px per unit]."""
        count = len(self.pixels)
        world = self.world(state.places)
        turned = np.einsum("nij,nj->ni", state.turns[self.photo], world)
        in_camera = turned + state.shifts[self.photo]
        to_lens, to_point = derivatives(state.lens, in_camera)
        out = np.zeros((count, 2, self.unknowns))
        out[:, :, :LENS] = to_lens
        rows = np.arange(count)[:, None]
        spin = np.zeros((count, 3, 3))
        spin[:, 0, 1], spin[:, 0, 2], spin[:, 1, 2] = turned[:, 2], -turned[:, 1], turned[:, 0]
        spin[:, 1, 0], spin[:, 2, 0], spin[:, 2, 1] = -turned[:, 2], turned[:, 1], -turned[:, 0]
        pose = np.concatenate([to_point @ spin, to_point], axis=2)
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
        out[rows, :, at] = (to_point @ state.turns[self.photo] @ moved).transpose(0, 2, 1)
        return out.reshape(2 * count, -1)

    def priors(self, state: State) -> Floats:
        """Return what the priors miss, each over its own spread [-]."""
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
        """Return the derivative of `priors`, the same everywhere [-]."""
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


def problem_of(
    photos: Sequence[Sequence[Sighting]],
    *,
    size: tuple[int, int],
    focal: float,
    focal_sd: float,
    stretch: tuple[float, float],
) -> Problem:
    """Return the observed saddles of all photos [px] in one, with what their file says of the focal length [px]."""
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
    return Problem(
        size=size, photos=len(photos), cards=tuple(n[0] for n in names), photo=photo, card=which, local=local, pixels=pixels, focal=focal, focal_sd=focal_sd,
        fixed=int(np.argmin(off)),
    )  # fmt: skip
