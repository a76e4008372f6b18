"""Captured points made fit to fit: duplicates, closing point, strays, direction; and how noisy they are.

Everything here gives the same answer whichever sample comes first, whichever way round the outline runs
and however it is turned or moved, up to float noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from platewright.errors import InputError
from platewright.geometry.contour import Floats
from platewright.geometry.flatten import ring_area
from platewright.geometry.tolerance import WELD

__all__ = ["Samples", "checked", "looks_clicked", "noise_of", "prepare", "without_duplicates"]

FAR = 1e5
"""A coordinate beyond this is a mistake in the unit [mm]: a hundred metres."""

LEAST_NOISE = 0.002
"""Noise is never taken below this [mm]: coordinates are often rounded to 0.01."""

APART = 0.75
"""Clicks round a curve lie further apart than this [mm]; a tracing has more samples."""

UNEVEN = 0.32
"""Spread of the steps between clicks over their mean is above this [-]; a tracing's samples are evener."""

SHAKY = 0.2
"""Clicks lie further off the outline than this [mm], sd; drawings and tracings are closer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Cleaned samples.

    Attributes
    ----------
    points : (N, 2), counterclockwise, about their own mean [mm]
    centre : what was taken off [mm]
    clicked : whether they were clicked by hand rather than traced densely
    gap : distance from the last to the first sample [mm]
    strays : places of samples dropped as strays (M, 2) [mm]
    weights : (N,) how much each counts, 1 in the mean [-]
    """

    points: Floats
    centre: Floats
    clicked: bool
    gap: float
    strays: Floats
    weights: Floats


def checked(points: ArrayLike, least: int) -> Floats:
    """Return points [mm] as an (N, 2) array of at least `least` finite rows; raises `InputError` otherwise."""
    try:
        xy = np.asarray(points, dtype=np.float64)
    except (TypeError, ValueError) as bad:
        raise InputError("The outline's points are not numbers.", allowed="an (N, 2) array in mm") from bad
    if xy.ndim != 2 or xy.shape[1] != 2:
        raise InputError(f"The outline's points have shape {xy.shape}.", allowed="an (N, 2) array in mm")
    if not np.isfinite(xy).all():
        row = int(np.flatnonzero(~np.isfinite(xy).all(axis=1))[0])
        raise InputError(f"Point {row} of the outline is not finite.", do="Take it out and fit again.")
    if len(xy) and np.abs(xy).max() > FAR:
        raise InputError(
            f"A point lies {np.abs(xy).max():.4g} mm from the origin.",
            allowed=f"up to {FAR:.0f} mm",
            do="Check the unit of the points.",
        )
    if len(xy) < least:
        raise InputError(f"The outline has {len(xy)} points.", allowed=f"at least {least}")
    return xy


def without_duplicates(xy: Floats, closed: bool) -> Floats:
    """Return points [mm] without those that repeat the one before."""
    return np.asarray(xy[_differing(xy, closed)])


def _differing(xy: Floats, closed: bool) -> NDArray[np.int64]:
    """Return which points [mm] do not repeat the one before [-]."""
    step = np.hypot(*np.diff(xy, axis=0).T)
    kept = np.flatnonzero(np.r_[True, step > WELD])
    while closed and len(kept) > 1 and np.hypot(*(xy[kept[0]] - xy[kept[-1]])) <= WELD:
        kept = kept[:-1]
    return kept


def _weights(sd: Floats | None, count: int) -> Floats:
    """Return how much samples of standard deviations `sd` (N,) [mm] count, 1 in the mean [-]; alike without."""
    if sd is None:
        return np.ones(count)
    weight = 1 / np.maximum(sd, LEAST_NOISE) ** 2
    return np.asarray(weight / weight.mean())


def steps_of(xy: Floats) -> Floats:
    """Return the distances between samples and the next [mm], from the last back to the first not among them."""
    return np.asarray(np.hypot(*np.diff(xy, axis=0).T))


def looks_clicked(xy: Floats) -> bool:
    """Tell whether samples [mm] were clicked: few of them, or long empty stretches between close ones."""
    if len(xy) < 40:
        return True
    steps = steps_of(xy)
    far = 5 * float(np.median(steps))
    long = steps > far
    over = np.hypot(*(xy[2:] - xy[:-2]).T)  # the step if the sample between were a stray
    stray = np.append(long[:-1] & long[1:] & (over < far), False)
    empty = long & (steps > 3.0) & ~stray & ~np.roll(stray, 1)
    if steps[empty].sum() > 0.2 * steps.sum() or empty.sum() >= 2:
        return True
    uneven = float(steps.std()) > UNEVEN * float(steps.mean())
    return uneven and float(np.median(steps)) > APART and noise_of(xy) > SHAKY


def _windows(xy: Floats, half: int) -> Floats:
    """Return (M, 2 half + 1, 2): every run of samples centred on a sample."""
    xy = np.vstack([xy[-half:], xy, xy[:half]])
    return np.lib.stride_tricks.sliding_window_view(xy, 2 * half + 1, axis=0).transpose(0, 2, 1)


def _carried_on(u: Floats, v: Floats, half: int, side: slice) -> Floats:
    """Return how far the middle sample lies off the line through the samples on one side of it [mm]."""
    us, vs = u[:, side], v[:, side]
    um, vm = us.mean(axis=1, keepdims=True), vs.mean(axis=1, keepdims=True)
    spread = np.maximum(((us - um) ** 2).sum(axis=1), 1e-12)
    slope = ((us - um) * (vs - vm)).sum(axis=1) / spread
    return np.asarray(np.abs(v[:, half] - vm[:, 0] - slope * (u[:, half] - um[:, 0])))


def _strays(xy: Floats) -> NDBool:
    """Mark single samples off a run that is smooth without them, and off what either side leads on to."""
    half = 4
    if len(xy) < 4 * half:
        return np.zeros(len(xy), bool)
    win = _windows(xy, half)
    along = win[:, -1] - win[:, 0]
    along = along / np.maximum(np.hypot(*along.T), 1e-12)[:, None]
    rel = win - win[:, :1]
    u = np.einsum("nkd,nd->nk", rel, along)
    v = rel[..., 1] * along[:, :1] - rel[..., 0] * along[:, 1:]
    keep = np.arange(2 * half + 1) != half
    reach = np.maximum(np.abs(u[:, keep]).max(axis=1), 1e-9)[:, None]
    base = np.stack([np.ones_like(u), u / reach, (u / reach) ** 2], axis=-1)
    other = base[:, keep]
    square = np.einsum("nka,nkb->nab", other, other) + 1e-9 * np.eye(3)
    coef = np.linalg.solve(square, np.einsum("nka,nk->na", other, v[:, keep])[..., None])[..., 0]
    rest = v - np.einsum("nka,na->nk", base, coef)
    spread = np.sqrt((rest[:, keep] ** 2).sum(axis=1) / (2 * half - 3))
    typical = max(float(np.median(spread)), LEAST_NOISE)
    off = np.abs(rest[:, half])
    sides = [_carried_on(u, v, half, side) for side in (slice(0, half), slice(half + 1, None))]
    bad: NDBool = (np.minimum.reduce([off, *sides]) > 6 * typical) & (spread < 2 * typical)
    return bad


NDBool = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def prepare(points: ArrayLike, *, kind: str = "auto", sd: Floats | None = None) -> Samples:
    """Clean captured points [mm]: finite, no repeats, no strays, counterclockwise, about their mean.

    `sd` : (N,) standard deviation of each across the outline [mm], if they are known one by one

    Raises
    ------
    InputError
        If the points are not an (N, 2) array of finite numbers, or fewer than 3 differ.
    """
    least = 3
    raw = checked(points, least)
    kept = _differing(raw, True)
    xy = raw[kept]
    if len(xy) < least:
        raise InputError(
            f"Only {len(xy)} of the outline's {len(raw)} points differ.", allowed=f"at least {least}"
        )
    clicked = looks_clicked(xy) if kind == "auto" else kind == "clicked"
    stray = np.zeros(len(xy), bool) if clicked else _strays(xy)
    strays, xy, kept = xy[stray], xy[~stray], kept[~stray]
    area = 2 * ring_area(xy - xy[0])
    if abs(area) < 1e-6 * float(steps_of(np.vstack([xy, xy[:1]])).sum()) ** 2:
        raise InputError("The outline's points enclose nothing.", do="Take it again.")
    if area < 0:
        xy, kept = xy[::-1], kept[::-1]
    centre = xy.mean(axis=0)
    gap = float(np.hypot(*(raw[0] - raw[-1])))
    weights = _weights(None if sd is None else sd[kept], len(xy))
    return Samples(
        points=np.ascontiguousarray(xy - centre), centre=centre, clicked=clicked, gap=gap,
        strays=strays, weights=weights,
    )  # fmt: skip


def noise_of(xy: Floats) -> float:
    """Return the noise sd of dense samples across the outline [mm], from short runs' best circles.

    The lower quartile over runs of 10 samples, so that corners in half of the runs do little harm. Noise
    that changes slower than such a run is not seen here but in the residuals of the fit.
    """
    from platewright.fit.edges.kernels import misfits

    n, run = len(xy), min(10, len(xy))
    if run < 6:
        return LEAST_NOISE
    starts = np.arange(n)
    misfit = misfits(xy, starts, starts + run)[:, 1]
    dof = run - 3
    # the lower quartile of chi squared (E. B. Wilson, M. M. Hilferty, 1931)
    quartile = dof * (1 - 2 / (9 * dof) - 0.6745 * np.sqrt(2 / (9 * dof))) ** 3
    return max(float(np.sqrt(np.quantile(misfit, 0.25) / quartile)), LEAST_NOISE)
