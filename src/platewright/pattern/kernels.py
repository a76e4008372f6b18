"""Compiled inner loops of the edge search."""

from __future__ import annotations

import math

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["closed_path", "edge_costs"]

Singles = NDArray[np.float32]


DIM = 1.2
"""How far the contact shadow beside an edge reaches [mm]."""
STILL = 1e-3
"""Steps of the edge [mm] and of the blur [-] below which a profile has settled."""
STIFF = 0.5
"""How strongly the contact shadow is held to none, in samples."""

FINE = 256.0
"""Entries of the step table per standard deviation."""
WIDE = 4.0


def _step_table() -> NDArray[np.float64]:
    at = np.arange(-WIDE, WIDE + 1.5 / FINE, 1 / FINE)
    return np.array([0.5 * math.erfc(-v / math.sqrt(2.0)) for v in at])


STEPS = _step_table()
"""The Gauss step from 0 to 1 [-], from -4 to 4 standard deviations; never handed over as a default,
which would be compiled anew in every process."""


@numba.njit(cache=True, fastmath=True)
def _rise(at: float) -> float:
    if at <= -WIDE:
        return 0.0
    if at >= WIDE:
        return 1.0
    return STEPS[int((at + WIDE) * FINE + 0.5)]  # type: ignore[no-any-return]


@numba.njit(cache=True, fastmath=True)
def edge_costs(
    signal: NDArray[np.float64],
    span: NDArray[np.float64],
    tries: NDArray[np.float64],
    wall: NDArray[np.float64],
    shade: NDArray[np.float64],
    sigma: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return, for every profile and every tried edge place, the squared misfit of face | wall | bench and their contrast.

    The bench may darken towards the edge, as it does in the contact shadow: a level that fades over `DIM`.

    Parameters
    ----------
    signal : (N, M) profiles [-]
    span : (M,) places along the normal, outward positive [mm]
    tries : (E,) edge places to try [mm]
    wall, shade, sigma : (N,) wall width [mm], wall over face brightness [-], blur [mm]
    """
    count, length = signal.shape
    costs = np.empty((count, len(tries)))
    steps = np.empty((count, len(tries)))
    fade = np.empty(length)
    for j in range(length):
        fade[j] = math.exp(-(span[j] - span[0]) / DIM)
    for i in range(count):
        total = 0.0
        steep = 1.0 / sigma[i]
        for j in range(length):
            total += signal[i, j] * signal[i, j]
        for k in range(len(tries)):
            aa = ab = bb = ac = bc = ay = by = cy = 0.0
            cc = STIFF
            lift = math.exp((tries[k] + wall[i] - span[0]) / DIM)
            for j in range(length):
                first = _rise((span[j] - tries[k]) * steep)
                second = _rise((span[j] - tries[k] - wall[i]) * steep)
                face = 1.0 - first + shade[i] * (first - second)
                dim = second * min(fade[j] * lift, 1.0)
                y = signal[i, j]
                aa += face * face
                ab += face * second
                bb += second * second
                ac += face * dim
                bc += second * dim
                cc += dim * dim
                ay += face * y
                by += second * y
                cy += dim * y
            # the shadow's share is taken out first, then face and bench are solved
            aa, ab, bb = aa - ac * ac / cc, ab - ac * bc / cc, bb - bc * bc / cc
            ry, sy = ay - ac * cy / cc, by - bc * cy / cc
            det = aa * bb - ab * ab
            if det < 1e-9:
                costs[i, k] = total
                steps[i, k] = 0.0
                continue
            high = (ry * bb - sy * ab) / det
            low = (sy * aa - ry * ab) / det
            costs[i, k] = max(total - cy * cy / cc - high * ry - low * sy, 0.0)
            steps[i, k] = high - low
    return costs, steps


@numba.njit(cache=True)
def closed_path(costs: NDArray[np.float64], step: float, spread: float, most: float) -> NDArray[np.int64]:
    """Return the cheapest way round a closed loop: which try [-] at each place, jumps paid for.

    Parameters
    ----------
    costs : (N, E) cost of each try at each place [-]
    step : distance of tries [mm]
    spread : jump from place to place that costs one half [mm]; `most` is the most a jump costs [-]
    """
    count, tries = costs.shape
    reach = min(tries - 1, int(spread * math.sqrt(2.0 * most) / step) + 1)
    back = np.empty((2 * count, tries), np.int64)
    total = costs[0].copy()
    fresh = np.empty(tries)
    for i in range(1, 2 * count):
        low = total.min()
        at_low = int(np.argmin(total))
        for k in range(tries):
            best, at = low + most, at_low
            for m in range(max(0, k - reach), min(tries, k + reach + 1)):
                jump = (k - m) * step / spread
                cost = total[m] + min(0.5 * jump * jump, most)
                if cost < best:
                    best, at = cost, m
            back[i, k] = at
            fresh[k] = best + costs[i % count, k]
        for k in range(tries):
            total[k] = fresh[k]
    path = np.empty(count, np.int64)
    k = int(np.argmin(total))
    for i in range(2 * count - 1, 0, -1):
        if count // 2 <= i < count // 2 + count:
            path[i % count] = k
        k = back[i, k]
    return path


@numba.njit(cache=True, fastmath=True)
def _toned(light: float) -> tuple[float, float]:
    """Return the tone-curved value of linear light and its slope (IEC 61966-2-1) [-]."""
    v = max(light, 1e-5)
    if v <= 0.0031308:
        return 12.92 * v, 12.92
    root = v ** (1 / 2.4)
    return 1.055 * root - 0.055, 1.055 / 2.4 * root / v


@numba.njit(cache=True, fastmath=True)
def _between(at: float, knots: NDArray[np.float64]) -> tuple[int, float]:
    """Return the knot left of a place and the share of the next one [-]; flat beyond both ends."""
    if at <= knots[0]:
        return 0, 0.0
    for k in range(len(knots) - 1):
        if at < knots[k + 1]:
            return k, (at - knots[k]) / (knots[k + 1] - knots[k])
    return len(knots) - 2, 1.0


@numba.njit(cache=True, fastmath=True)
def _painted(
    state: NDArray[np.float64],
    span: NDArray[np.float64],
    wall: float,
    sigma: float,
    colours: NDArray[np.float64],
    knots: NDArray[np.float64],
    mix: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Fill `out` (3, M, P + 1): brightness and colour differences the camera writes, slopes by unknown, then values."""
    count = len(state)
    soft = sigma * math.exp(state[1])
    rows = np.empty((2, count))
    for j in range(len(span)):
        x = span[j]
        z, v = (x - state[0]) / soft, (x - state[0] - wall * (1 + state[5])) / soft
        first, second = _rise(z), _rise(v)
        p, q = 0.3989422804 * math.exp(-0.5 * z * z), 0.3989422804 * math.exp(-0.5 * v * v)
        k, share = _between(x - wall, knots)
        face, bench = state[2] + state[3] * x, (1 - share) * state[6 + k] + share * state[7 + k]
        rows[:] = 0.0
        rows[0, 0], rows[1, 0] = (face * p - state[4] * (p - q)) / soft, -bench * q / soft
        rows[0, 1], rows[1, 1] = face * p * z - state[4] * (p * z - q * v), -bench * q * v
        rows[0, 2], rows[0, 3], rows[0, 4] = 1 - first, (1 - first) * x, first - second
        rows[0, 5], rows[1, 5] = state[4] * wall * q / soft, -bench * wall * q / soft
        rows[1, 6 + k], rows[1, 7 + k] = (1 - share) * second, share * second
        near, far = face * (1 - first) + state[4] * (first - second), bench * second
        tones = (
            _toned(near * colours[0, 0] + far * colours[1, 0]),
            _toned(near * colours[0, 1] + far * colours[1, 1]),
            _toned(near * colours[0, 2] + far * colours[1, 2]),
        )
        for y in range(3):
            value, of_face, of_bench = 0.0, 0.0, 0.0
            for c in range(3):
                lit, slope = tones[c]
                value += mix[y, c] * lit
                of_face += mix[y, c] * slope * colours[0, c]
                of_bench += mix[y, c] * slope * colours[1, c]
            for n in range(count):
                out[y, j, n] = of_face * rows[0, n] + of_bench * rows[1, n]
            out[y, j, count] = value


@numba.njit(cache=True, fastmath=True)
def light_fits(
    seen: NDArray[np.float64],
    span: NDArray[np.float64],
    wall: NDArray[np.float64],
    sigma: NDArray[np.float64],
    colours: NDArray[np.float64],
    knots: NDArray[np.float64],
    soften: NDArray[np.float64],
    mix: NDArray[np.float64],
    weight: NDArray[np.float64],
    usual: NDArray[np.float64],
    prior: NDArray[np.float64],
    rounds: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Fit every profile with what the camera would write of face, wall and a bench of changing brightness (Gauss-Newton).

    Parameters
    ----------
    seen : (N, 3, M) brightness and colour differences along profiles [-]
    span : (M,) places along the normal [mm]
    wall, sigma : (N,) wall width and blur [mm]
    colours : (N, 2, 3) linear colour of face and bench [-]
    knots : (K,) places beyond the wall's foot where the bench's brightness is free [mm]
    soften : (M, M) what softens colour differences along a profile [-]
    mix : (3, 3) from tone-curved colours to brightness and colour differences [-]
    weight : (3,) inverse variances of `seen`
    usual, prior : (P,) and (P, P) what the unknowns usually are and how surely (inverse covariance); unknowns: edge
        [mm], log blur, face brightness, its slope [1/mm], wall brightness, share the wall is wider, bench brightnesses [-]
    rounds : how often to solve at most [-]

    Returns
    -------
    unknowns (N, P), standard deviation of the edge (N,) [mm], mean squared misfit (N, 3) [-]
    """
    count, length, size = len(seen), len(span), len(usual)
    found, sd, misfit = np.empty((count, size)), np.empty(count), np.zeros((count, 3))
    made = np.empty((3, length, size + 1))
    for i in range(count):
        state = usual.copy()
        grip = prior.copy()
        still = False
        for turn in range(rounds + 1):
            _painted(state, span, wall[i], sigma[i], colours[i], knots, mix, made)
            made[1] = soften @ made[1]
            made[2] = soften @ made[2]
            if still or turn == rounds:
                break
            grip = prior.copy()
            pull = prior @ (usual - state)
            for y in range(3):
                slopes = np.ascontiguousarray(made[y, :, :size])
                miss = seen[i, y] - made[y, :, size]
                grip += weight[y] * (slopes.T @ slopes)
                pull += weight[y] * (slopes.T @ miss)
            step = np.linalg.solve(grip, pull)
            state += step * min(1.0, 0.25 / max(abs(step[0]), 1e-9), 0.3 / max(abs(step[1]), 1e-9))
            still = abs(step[0]) < STILL and abs(step[1]) < STILL
        for y in range(3):
            misfit[i, y] = ((seen[i, y] - made[y, :, size]) ** 2).mean()
        found[i] = state
        sd[i] = math.sqrt(np.linalg.inv(grip)[0, 0])
    return found, sd, misfit
