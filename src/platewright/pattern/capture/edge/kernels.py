"""Compiled inner loops of the edge search."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from platewright.compiled import njit

__all__ = ["Camera", "Scene", "closed_path", "edge_costs", "painted"]

Singles = NDArray[np.float32]


DIM = 1.2
"""How far the contact shadow beside an edge reaches [mm]."""
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


@njit(cache=True, fastmath=True)
def _rise(at: float) -> float:
    if at <= -WIDE:
        return 0.0
    if at >= WIDE:
        return 1.0
    return STEPS[int((at + WIDE) * FINE + 0.5)]  # type: ignore[no-any-return]


@njit(cache=True, fastmath=True)
def edge_costs(
    signal: NDArray[np.float64],
    span: NDArray[np.float64],
    tries: NDArray[np.float64],
    wall: NDArray[np.float64],
    shades: NDArray[np.float64],
    sigma: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return, for every profile, shade of the wall and edge place, the squared misfit of face | wall | bench (N, S, E).

    The bench may darken towards the edge, as it does in the contact shadow: a level that fades over `DIM`.

    Parameters
    ----------
    signal : (N, M) profiles [-]
    span : (M,) places along the normal, outward positive [mm]
    tries : (E,) edge places to try [mm]
    wall, sigma : (N,) wall width [mm], blur [mm]
    shades : (S,) wall over face brightness to try [-]
    """
    count, length = signal.shape
    costs = np.empty((count, len(shades), len(tries)))
    fade = np.empty(length)
    for j in range(length):
        fade[j] = math.exp(-(span[j] - span[0]) / DIM)
    for i in range(count):
        total = 0.0
        steep = 1.0 / sigma[i]
        for j in range(length):
            total += signal[i, j] * signal[i, j]
        for k in range(len(tries)):
            ff = fw = ww = fb = wb = bb = fd = wd = bd = fy = wy = by = dy = 0.0
            dd = STIFF
            lift = math.exp((tries[k] + wall[i] - span[0]) / DIM)
            for j in range(length):
                first = _rise((span[j] - tries[k]) * steep)
                second = _rise((span[j] - tries[k] - wall[i]) * steep)
                face, mid = 1.0 - first, first - second
                dim = second * min(fade[j] * lift, 1.0)
                y = signal[i, j]
                ff += face * face
                fw += face * mid
                ww += mid * mid
                fb += face * second
                wb += mid * second
                bb += second * second
                fd += face * dim
                wd += mid * dim
                bd += second * dim
                dd += dim * dim
                fy += face * y
                wy += mid * y
                by += second * y
                dy += dim * y
            for m in range(len(shades)):
                s = shades[m]
                ac, ay = fd + s * wd, fy + s * wy
                # the shadow's share is taken out first, then face and bench are solved
                aa = ff + 2 * s * fw + s * s * ww - ac * ac / dd
                ab, sq = fb + s * wb - ac * bd / dd, bb - bd * bd / dd
                ry, sy = ay - ac * dy / dd, by - bd * dy / dd
                det = aa * sq - ab * ab
                if det < 1e-9:
                    costs[i, m, k] = total
                    continue
                high = (ry * sq - sy * ab) / det
                low = (sy * aa - ry * ab) / det
                costs[i, m, k] = max(total - dy * dy / dd - high * ry - low * sy, 0.0)
    return costs


@njit(cache=True)
def closed_path(
    costs: NDArray[np.float64], step: float, spread: float, fickle: float, most: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the cheapest way round a closed loop: which shade and which try [-] at each place, jumps paid for.

    Parameters
    ----------
    costs : (N, S, E) cost of each shade and try at each place [-]
    step : distance of tries [mm]
    spread : jump from place to place that costs one half [mm]
    fickle : the same for the shade, in steps of it [-]
    most : the most a jump of either costs [-]
    """
    count, kinds, tries = costs.shape
    reach = min(tries - 1, int(spread * math.sqrt(2.0 * most) / step) + 1)
    far = min(kinds - 1, int(fickle * math.sqrt(2.0 * most)) + 1)
    back = np.empty((2 * count, kinds, tries), np.int32)
    other = np.empty((kinds, tries), np.int64)
    total = costs[0].copy()
    moved, fresh, came = np.empty((kinds, tries)), np.empty(tries), np.empty(tries, np.int64)
    jumps, turns = np.empty(reach + 1), np.empty(far + 1)
    for m in range(reach + 1):
        jumps[m] = min(0.5 * (m * step / spread) ** 2, most)
    for m in range(far + 1):
        turns[m] = min(0.5 * (m / fickle) ** 2, most)
    for i in range(1, 2 * count):
        for k in range(tries):  # the shade passes first, at the place it had
            low, at_low = total[0, k], 0
            for n in range(1, kinds):
                if total[n, k] < low:
                    low, at_low = total[n, k], n
            for s in range(kinds):
                moved[s, k], other[s, k] = low + most, at_low
            for n in range(kinds):
                if total[n, k] < low + most:  # others are never passed from
                    for s in range(max(0, n - far), min(kinds, n + far + 1)):
                        cost = total[n, k] + turns[abs(s - n)]
                        if cost < moved[s, k]:
                            moved[s, k], other[s, k] = cost, n
        for s in range(kinds):
            low, at_low = moved[s, 0], 0
            for k in range(1, tries):
                if moved[s, k] < low:
                    low, at_low = moved[s, k], k
            for k in range(tries):
                fresh[k], came[k] = low + most, at_low
            for m in range(tries):
                if moved[s, m] < low + most:
                    for k in range(max(0, m - reach), min(tries, m + reach + 1)):
                        cost = moved[s, m] + jumps[abs(k - m)]
                        if cost < fresh[k]:
                            fresh[k], came[k] = cost, m
            for k in range(tries):
                back[i, s, k] = other[s, came[k]] * tries + came[k]
                total[s, k] = fresh[k] + costs[i % count, s, k]
    path, shade = np.empty(count, np.int64), np.empty(count, np.int64)
    at = int(np.argmin(total))
    for i in range(2 * count - 1, 0, -1):
        if count // 2 <= i < count // 2 + count:
            shade[i % count], path[i % count] = at // tries, at % tries
        at = back[i, at // tries, at % tries]
    return shade, path


@njit(cache=True, fastmath=True)
def _toned(light: float) -> tuple[float, float]:
    """Return the tone-curved value of linear light and its slope (IEC 61966-2-1) [-]."""
    v = max(light, 1e-5)
    if v <= 0.0031308:
        return 12.92 * v, 12.92
    root = v ** (1 / 2.4)
    return 1.055 * root - 0.055, 1.055 / 2.4 * root / v


@njit(cache=True, fastmath=True)
def _between(at: float, knots: NDArray[np.float64]) -> tuple[int, float]:
    """Return the knot left of a place and the share of the next one [-]; flat beyond both ends."""
    if at <= knots[0]:
        return 0, 0.0
    for k in range(len(knots) - 1):
        if at < knots[k + 1]:
            return k, (at - knots[k]) / (knots[k + 1] - knots[k])
    return len(knots) - 2, 1.0


@njit(cache=True, fastmath=True)
def _step_and_slopes(off: float, soft: float, wide: float, gain: float, out: NDArray[np.float64]) -> None:
    """Fill `out` (6,) with a step blurred by a bell and sharpened by a wider one [-], its slopes over the place [1/mm] and over the log of the blur [-]; then the same without sharpening."""
    z, s = off / soft, off / wide
    rise, p = _rise(z), 0.3989422804 * math.exp(-0.5 * z * z) / soft
    out[3], out[4], out[5] = rise, p, p * z * soft
    if gain == 0.0:
        out[0], out[1], out[2] = out[3], out[4], out[5]
        return
    wider, q = _rise(s), 0.3989422804 * math.exp(-0.5 * s * s) / wide
    more = 1.0 + gain
    out[0] = more * rise - gain * wider
    out[1] = more * p - gain * q
    out[2] = more * p * z * soft - gain * q * s * soft * soft / wide


@njit(cache=True, fastmath=True)
def _softened(rows: NDArray[np.float64], bell: NDArray[np.float64], out: NDArray[np.float64]) -> None:
    """Fill `out` with rows (M, C) softened along the first axis by a bell (T,); ends are held."""
    length, columns = rows.shape
    half = len(bell) // 2
    for j in range(length):
        for n in range(columns):
            out[j, n] = 0.0
        for t in range(len(bell)):
            at = min(max(j + t - half, 0), length - 1)
            weight = bell[t]
            for n in range(columns):
                out[j, n] += weight * rows[at, n]


class Camera(NamedTuple):
    """What the camera does to light.

    Attributes
    ----------
    mix : (3, 3) from tone-curved colours to brightness and colour differences [-]
    lens : by how much the camera sharpens linear brightness, over what breadth for each of the blur's, by how much tone-curved [-]
    soften, halo : bells that soften colour differences, and that tone-curved brightness is sharpened with [-]
    """

    mix: NDArray[np.float64]
    lens: NDArray[np.float64]
    soften: NDArray[np.float64]
    halo: NDArray[np.float64]


class Scene(NamedTuple):
    """What the profiles show beside their unknowns.

    Attributes
    ----------
    span : (M,) places along the normal [mm]
    wall, sigma : (N,) wall width and blur [mm]
    colours : (N, 2, 3) linear colour of face and bench [-]
    knots : (K,) places beyond the wall's foot where the bench's brightness is free [mm]
    thrown : (N, 3) linear colour of the wall, which throws light onto the bench
    thick : height of the wall [mm]
    """

    span: NDArray[np.float64]
    wall: NDArray[np.float64]
    sigma: NDArray[np.float64]
    colours: NDArray[np.float64]
    knots: NDArray[np.float64]
    thrown: NDArray[np.float64]
    thick: float


@njit(cache=True, fastmath=True)
def _painted(
    state: NDArray[np.float64], i: int, scene: Scene, camera: Camera, out: NDArray[np.float64]
) -> None:
    """Fill `out` (3, M, P + 1): brightness and colour differences the camera writes, slopes by unknown, then values.

    Linear brightness is sharpened, what is left of each colour without it (its tint) is not. Lengthy for speed:
    all slopes of one sample are made side by side.
    """
    mix, lens, span, knots, thick = camera.mix, camera.lens, scene.span, scene.knots, scene.thick
    wall, sigma, colours, thrown = scene.wall[i], scene.sigma[i], scene.colours[i], scene.thrown[i]
    count = len(state)
    last = count - 1
    soft = sigma * math.exp(state[1])
    wide = math.hypot(soft, lens[1] * sigma)
    level = (colours[0, 0] + colours[0, 1] + colours[0, 2]) / 3
    bright = np.zeros(4)  # of face, wall, bench, light thrown back: each as if its unknown were one
    for c in range(3):
        bright[0] += mix[0, c] * colours[0, c]
        bright[1] += mix[0, c] * state[5 + c] * level
        bright[2] += mix[0, c] * colours[1, c]
        bright[3] += mix[0, c] * colours[1, c] * thrown[c]
    row, rim, foot = np.empty(count + 1), np.empty(6), np.empty(6)
    for j in range(len(span)):
        x = span[j]
        _step_and_slopes(x - state[0], soft, wide, lens[0], rim)
        _step_and_slopes(x - state[0] - wall * (1 + state[4]), soft, wide, lens[0], foot)
        first, p, pz, tint1, pt, pzt = rim
        second, q, qv, tint2, qt, qvt = foot
        k, share = _between(x - wall, knots)
        face, bench = state[2] + state[3] * x, (1 - share) * state[8 + k] + share * state[9 + k]
        away = max(x - wall, 0.0)
        sees = 0.5 * (1.0 - away / math.hypot(away, thick))
        lent = sees * state[last]
        upper, lower = bright[0] * face, bright[2] * bench + bright[3] * lent
        for y in range(3):
            for n in range(count + 1):
                out[y, j, n] = 0.0
        for c in range(3):
            near, mid = face * colours[0, c] - upper, state[5 + c] * level - bright[1]
            far = colours[1, c] * (bench + thrown[c] * lent) - lower
            lit, slope = _toned(
                upper * (1 - first) + bright[1] * (first - second) + lower * second
                + near * (1 - tint1) + mid * (tint1 - tint2) + far * tint2
            )  # fmt: skip
            fall, drop = upper - bright[1], bright[1] - lower
            every, own = level * (first - second), level * (tint1 - tint2)
            reach = bright[2] * second + (colours[1, c] - bright[2]) * tint2
            row[0] = fall * p + drop * q + (near - mid) * pt + (mid - far) * qt
            row[1] = fall * pz + drop * qv + (near - mid) * pzt + (mid - far) * qvt
            row[2] = bright[0] * (1 - first) + (colours[0, c] - bright[0]) * (1 - tint1)
            row[3] = row[2] * x
            row[4] = (drop * q + (mid - far) * qt) * wall
            for d in range(3):
                row[5 + d] = mix[0, d] * (every - own)
            row[5 + c] += own
            for d in range(8, last):
                row[d] = 0.0
            row[8 + k], row[9 + k] = (1 - share) * reach, share * reach
            row[last] = sees * (bright[3] * second + (colours[1, c] * thrown[c] - bright[3]) * tint2)
            row[count] = lit / slope
            for y in range(3):
                weight = mix[y, c] * slope
                for n in range(count + 1):
                    out[y, j, n] += weight * row[n]


@njit(cache=True, fastmath=True)
def painted(
    which: NDArray[np.int64], state: NDArray[np.float64], scene: Scene, camera: Camera
) -> NDArray[np.float64]:
    """Return some profiles as the camera would write them (n, 3, M, P + 1): slopes by unknown, then values [-].

    Parameters
    ----------
    which : (n,) numbers of the profiles
    state : (N, P) unknowns: edge [mm], log blur, face brightness, its slope [1/mm], share the wall is wider, wall's red,
        green and blue over the face's level, bench brightnesses, light thrown back by the wall [-]
    scene : what is known of the profiles
    camera : what the camera does to light
    """
    _, lens, soften, halo = camera
    count, length, columns = len(which), len(scene.span), state.shape[1] + 1
    out = np.empty((count, 3, length, columns))
    made = np.empty((length, columns))
    for r in range(count):
        rows = out[r]
        _painted(state[which[r]], which[r], scene, camera, rows)
        for y in range(3):
            if y > 0:
                for j in range(length):
                    for n in range(columns):
                        made[j, n] = rows[y, j, n]
                _softened(made, soften, rows[y])
            elif lens[2] > 0:
                _softened(rows[y], halo, made)
                for j in range(length):
                    for n in range(columns):
                        rows[y, j, n] += lens[2] * (rows[y, j, n] - made[j, n])
    return out
