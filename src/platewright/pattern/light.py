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
to what is usual in this picture. How soft the stored colours are, how dark the wall and how large the noise is are
learnt from the picture itself, so nothing is taken from one camera, file kind or lamp. Gauss-Newton, about 0.15 ms a
profile.

Limits: a shadow is taken to darken all colours alike; light thrown back by the board is not followed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from platewright.geometry.contour import Floats
from platewright.pattern.loops import softened
from platewright.pattern.plan import LINEAR

__all__ = ["Habits", "Lit", "lit_edges"]

KNOTS = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.5])
"""Places beyond the wall's foot where the bench's brightness is free [mm]."""
FACE_SIDE, BENCH_SIDE, ACROSS = 2.4, 2.6, 0.1
"""How far a profile reaches over face and bench, and the distance of its samples [mm]."""
SOFT = (0.0, 0.4, 0.8, 1.2, 1.6)
"""Softness of stored colours that is tried [px]."""
ALIKE = 6.0
"""How many neighbouring samples say the same thing, after averaging along the edge [-]."""
EVERY = 30
"""Which profiles the picture's own habits are learnt from: one of so many."""
MIX = np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])
"""From tone-curved red, green, blue to brightness and colour differences (JFIF 1.02)."""


@dataclass(frozen=True, slots=True, eq=False)
class Habits:
    """What is usual in this picture: softness of colours [mm], inverse variances, blur against the cards' (log), wall's brightness [-]."""

    soft: float
    weight: Floats
    blur: float
    wall: float


@dataclass(frozen=True, slots=True, eq=False)
class Lit:
    """Shift of the edge along each normal, its standard deviation [mm], and the squared misfit against the usual one [-]."""

    shift: Floats
    sd: Floats
    misfit: Floats
    habits: Habits


@dataclass(frozen=True, slots=True, eq=False)
class _Profiles:
    seen: Floats
    span: Floats
    wall: Floats
    sigma: Floats
    colours: Floats
    wider: float

    def some(self) -> _Profiles:
        # whole arrays, not views: the loops are compiled once
        step = max(1, min(EVERY, len(self.seen) // 24))
        return replace(
            self,
            seen=np.ascontiguousarray(self.seen[::step]),
            wall=np.ascontiguousarray(self.wall[::step]),
            sigma=np.ascontiguousarray(self.sigma[::step]),
            colours=np.ascontiguousarray(self.colours[::step]),
        )


def _prior(wider: float) -> Floats:
    """Return how surely the unknowns are what is usual (inverse covariance)."""
    count = len(KNOTS)
    grip = np.diag(
        [1 / 5.0**2, 1 / 0.15**2, 1 / 0.1**2, 1 / 0.03**2, 1 / 0.15**2, 1 / wider**2, *np.zeros(count)]
    )
    for k in range(count - 1):
        # brightness wanders by a fifth over half a millimetre
        hold = 1 / 0.2**2
        grip[6 + k : 8 + k, 6 + k : 8 + k] += hold * np.array([[1.0, -1.0], [-1.0, 1.0]])
    grip[-1, -1] += 1 / 0.1**2
    return grip


def _softening(width: float, count: int) -> Floats:
    """Return the matrix that softens profiles of `count` samples by a bell of a width [mm]; ends are held."""
    if width < 0.3 * ACROSS:
        return np.eye(count)
    reach = int(np.ceil(3 * width / ACROSS))
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) * ACROSS / width) ** 2)
    matrix = np.zeros((count, count))
    row = np.arange(count)
    for off, weight in zip(range(-reach, reach + 1), bell / bell.sum(), strict=True):
        np.add.at(matrix, (row, np.clip(row + off, 0, count - 1)), weight)
    return matrix


def _fitted(profiles: _Profiles, habits: Habits, *, rounds: int) -> tuple[Floats, Floats, Floats]:
    from platewright.pattern.kernels import light_fits

    usual = np.array([0.0, 0.0, 1.0, 0.0, habits.wall, 0.0, *np.ones(len(KNOTS))])
    return light_fits(
        profiles.seen,
        profiles.span,
        profiles.wall,
        profiles.sigma * np.exp(habits.blur),
        profiles.colours,
        KNOTS,
        _softening(habits.soft, len(profiles.span)),
        MIX,
        habits.weight / ALIKE,
        usual,
        _prior(profiles.wider),
        rounds,
    )


def _learnt(profiles: _Profiles, pixel: float) -> Habits:
    """Return this picture's habits from some of its profiles; `pixel` is the size of one [mm]."""
    some = profiles.some()
    habits = Habits(0.8 * pixel, np.array([1 / 0.005**2, 1 / 0.004**2, 1 / 0.004**2]), 0.0, 0.75)
    for _ in range(2):
        tried = []
        for soft in SOFT:
            trial = Habits(soft * pixel, habits.weight, habits.blur, habits.wall)
            found, _sd, misfit = _fitted(some, trial, rounds=4)
            tried.append((float(np.median(misfit @ habits.weight)), soft, found, misfit))
        _, soft, found, misfit = min(tried, key=lambda t: t[0])
        noise = np.clip(np.median(misfit, axis=0), 0.0015**2, 0.05**2)
        wide = some.wall > 0.35
        wall = float(np.clip(np.median(found[wide, 4]), 0.1, 1.3)) if wide.sum() > 5 else habits.wall
        habits = Habits(soft * pixel, 1 / noise, habits.blur + float(np.median(found[:, 1])), wall)
    return habits


def lit_edges(
    stored: Floats,
    span: Floats,
    *,
    wall: Floats,
    sigma: Floats,
    along: float,
    pixel: float,
    wider: float,
    habits: Habits | None = None,
) -> Lit:
    """Fit profiles with what the camera would write; return the edge's place in each.

    Parameters
    ----------
    stored : (N, M, 3) tone-curved colours along each profile of a closed loop [-]
    span : (M,) places of the samples along the normal, bench positive [mm]
    wall, sigma : (N,) visible width of the cut wall, and blur [mm]
    along : distance of profiles along the loop [mm]
    pixel : size of a pixel on the template [mm]
    wider : standard deviation of the share by which the wall is wider than said [-]
    habits : of this picture, if they were learnt before: learning costs more than the edges of a short loop
    """
    linear = np.interp(stored, np.arange(256) / 255.0, LINEAR)
    beyond = span[None, :] - wall[:, None]
    bare = (beyond > 1.2) & (beyond < BENCH_SIDE)
    face = linear[:, span < -0.8].mean(axis=1)
    bench = np.einsum("nm,nmc->nc", bare, linear) / bare.sum(axis=1)[:, None]
    colours = np.stack([softened(c, 3.0 / along) for c in (face, bench)], axis=1)
    seen = np.ascontiguousarray(np.einsum("yc,nmc->nym", MIX, stored))
    profiles = _Profiles(seen, span, wall, sigma, colours, wider)
    habits = habits or _learnt(profiles, pixel)
    found, sd, misfit = _fitted(profiles, habits, rounds=5)
    return Lit(found[:, 0], sd, misfit @ habits.weight / 3, habits)
