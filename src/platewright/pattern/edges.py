"""The template's upper edge to a few hundredths of a millimetre.

Glossary
--------
profile : linear light along a line across the edge, face inside, bench outside
face, wall, bench : the template's top, its cut edge where the camera sees it, what lies beyond
direction : the mix of colours along which face and bench differ most for the disturbance there is; shadows on
    the bench, grain and noise are learnt from this very picture (Fisher 1936), so a shadow's edge vanishes
    where colours differ, and weighs what it should where they don't

Method: along the rough outline, profiles are sampled from the photo itself (through camera, lens and the
plane of the upper face), averaged a little along the edge, and fitted with face | wall | bench steps softened
by the blur of the picture. The wall's width follows from the thickness and where the camera stands; only its
shade is unknown and is learnt along the outline. The outline is moved onto the edges found and the whole
repeated, with a narrower search each time. Light is linear throughout (a half-way level in tone-curved values is biased),
and offsets are taken along the normals of the moving outline, so that curved edges are not pulled inwards.

Last, the light is followed through the camera (``light``) to take out what blur, shadow, wall and soft colours shift,
and sharp corners are put where their sides meet (``corners``).

Cost: about 1 s for 1.5 m of outline. Limits: within a millimetre or two of a corner a profile sees the other edge
too; such points carry a larger error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.corners import UNSEEN, sharpened, turning
from platewright.pattern.image import Bytes
from platewright.pattern.lens import View, project
from platewright.pattern.light import ACROSS, BENCH_SIDE, FACE_SIDE, Habits, Lit, lit_edges
from platewright.pattern.loops import even, normals_of, softened
from platewright.pattern.plan import LINEAR

__all__ = [
    "Edge",
    "Setting",
    "blurs_across",
    "find_edges",
    "lit_along",
    "longest_gap",
    "sampled",
    "wall_widths",
]

TOGETHER = 8.0
"""How many neighbouring samples of averaged profiles say the same thing [-]."""

BLEED = 0.6
"""Share of a colour step that is missing beside an edge in a picture saved at half colour resolution [-]."""

SHADED = 0.2
"""How much darker a shadow makes the bench [-]; GLARED: how much the face's brightness wanders."""
GLARED = 0.04

NEAR = 0.5
"""The last look moves the edge by less than this, or saw something else [mm]."""

COARSE = 0.35
"""Pixels larger than this on the template see a shadow's foot and the edge as one: the last look moves nothing [mm]."""

STORED = np.linspace(0, 1, 256, dtype=np.float32)
"""A stored value as a share of the largest [-]."""

STEP = 0.4
"""Distance of points along the finished outline [mm]."""


@dataclass(frozen=True, slots=True)
class _Pass:
    """One round: how far from the outline the edge is looked for, and how fine along, across and in trying [mm]."""

    reach: float
    along: float
    across: float
    tries: float
    soften: float


PASSES = (
    _Pass(3.2, 0.8, 0.14, 0.10, 1.2),
    _Pass(1.6, 0.8, 0.10, 0.06, 0.9),
    _Pass(0.9, STEP, 0.07, 0.03, 0.5),
    _Pass(0.7, STEP, 0.07, 0.03, 0.5),
)


@dataclass(frozen=True, slots=True)
class Setting:
    """What the edge search must know: camera, height of the upper face over the cards' paper [mm], blur [px].

    Also the thickness and its standard deviation [mm].
    """

    view: View
    z: float
    thickness: float
    blur: float
    thickness_sd: float = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """A loop on the upper edge.

    Attributes
    ----------
    points, sd : (N, 2) world places and their standard deviation across [mm]
    contrast : share of the variation in the profiles that the edge explains [-]
    fair : share of points where an edge was found [-]
    blind : longest stretch without an edge [mm]
    open : longest stretch that was not seen and that nothing else bears out [mm]; None: as `blind`
    """

    points: Floats
    sd: Floats
    contrast: float
    fair: float
    blind: float
    open: float | None = None


def sampled(rgb: Bytes, setting: Setting, spots: Floats, *, linear: bool = True) -> Floats:
    """Return linear (or tone-curved) RGB (N, M, 3) [-] at world places (N, M, 2) on the upper face's plane [mm]."""
    flat = spots.reshape(-1, 2)
    seen = project(setting.view, np.column_stack([flat, np.full(len(flat), setting.z)]))
    low = np.maximum(np.floor(seen.min(axis=0)).astype(int) - 2, 0)
    high = np.minimum(np.ceil(seen.max(axis=0)).astype(int) + 3, np.array(rgb.shape[1::-1]))
    part = cv2.LUT(rgb[low[1] : high[1], low[0] : high[0]], LINEAR if linear else STORED)
    x, y = (seen - low).astype(np.float32).reshape(*spots.shape[:2], 2).transpose(2, 0, 1)
    found = cv2.remap(
        part,
        np.ascontiguousarray(x),
        np.ascontiguousarray(y),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(found, dtype=np.float64)


def _directions(profiles: Floats, span: Floats, wall: Floats, *, along: float) -> Floats:
    """Return (N, 3) colour directions along which face and bench differ most for the disturbance there is [-]."""
    inside = (span < -0.6)[None, :] & np.ones((len(profiles), 1), bool)
    outside = span[None, :] > wall[:, None] + 0.6
    sums = [
        np.einsum("nm,nmc->nc", m, profiles) / np.maximum(m.sum(axis=1), 1)[:, None]
        for m in (inside, outside)
    ]
    face, bench = (softened(s, 8.0 / along) for s in sums)
    spread = np.zeros((3, 3))
    for mask, mean in ((inside, face), (outside, bench)):
        off = (profiles - mean[:, None, :])[mask]
        spread += 0.5 * off.T @ off / max(len(off), 1)
    noise = spread[None] + 1e-6 * np.eye(3) + _bleeding(face, bench)
    shaded = SHADED * bench
    glared = GLARED * face
    noise = noise + shaded[:, :, None] * shaded[:, None, :] + glared[:, :, None] * glared[:, None, :]
    return np.asarray(np.linalg.solve(noise, (face - bench)[..., None])[..., 0])


def _bleeding(face: Floats, bench: Floats) -> Floats:
    """Return the covariance (N, 3, 3) of colours that bleed across an edge [-].

    Cameras save colour differences at half resolution and brightness at full (4:2:0), so near an edge colour is
    off by a share of its step though brightness is not.
    """
    tone_face, tone_bench = (np.maximum(v, 1e-4) ** (1 / 2.2) for v in (face, bench))
    middle = np.maximum((tone_face + tone_bench) / 2, 1e-3)
    slope = 2.2 * middle**1.2
    step = tone_face - tone_bench
    bright = step @ np.array([0.299, 0.587, 0.114])
    red, blue = 0.713 * (step[:, 0] - bright), 0.564 * (step[:, 2] - bright)
    out = np.zeros((len(face), 3, 3))
    for size, mix in ((red, (1.402, -0.714, 0.0)), (blue, (0.0, -0.344, 1.772))):
        off = BLEED * size[:, None] * np.array(mix) * slope
        out += off[:, :, None] * off[:, None, :]
    return out


def _shades(signal: Floats, span: Floats, edge: Floats, *, wall: Floats, along: float) -> Floats:
    """Return the wall's brightness over the face's, learnt where the wall is wide and softened along the loop [-]."""
    place = span[None, :] - edge[:, None]
    face, mid = place < -0.4, (place > 0.3 * wall[:, None]) & (place < 0.75 * wall[:, None])
    out = place > wall[:, None] + 0.4
    wide = (wall > 0.35) & (mid.sum(axis=1) > 1) & (out.sum(axis=1) > 3)
    mean = [np.where(m, signal, 0).sum(axis=1) / np.maximum(m.sum(axis=1), 1) for m in (face, mid)]
    ratio = np.clip(mean[1] / np.where(np.abs(mean[0]) < 1e-9, 1e-9, mean[0]), 0.2, 1.1)
    if wide.sum() < 8:
        return np.full(len(signal), 0.7)
    typical = float(np.median(ratio[wide]))
    weight = wide.astype(np.float64)
    soft = softened(np.where(wide, ratio, 0.0), 10.0 / along), softened(weight, 10.0 / along)
    return np.asarray(np.clip((soft[0] + 0.1 * typical) / (soft[1] + 0.1), 0.2, 1.1))


def wall_widths(points: Floats, normals: Floats, setting: Setting) -> Floats:
    """Return the visible width of the cut wall at each point, seen in the upper face's plane [mm].

    The foot of the wall is seen moved towards the camera's foot; round a hole or a corner that move has a share
    along the edge, which bares a little more of a hollow wall and hides a little of a bulging one.
    """
    place = setting.view.place
    move = setting.thickness * (place[:2] - points) / (place[2] - setting.z + setting.thickness)
    across, along = (move * normals).sum(axis=1), move[:, 1] * normals[:, 0] - move[:, 0] * normals[:, 1]
    return np.asarray(np.maximum(across + 0.5 * _hollow(points, normals) * along**2, 0.0), dtype=np.float64)


def _hollow(points: Floats, normals: Floats) -> Floats:
    """Return the curvature over a few millimetres, positive where the metal is hollow as round a hole [1/mm]."""
    soft = softened(normals, 3.0)
    turn, chord = (np.roll(v, -8, axis=0) - np.roll(v, 8, axis=0) for v in (soft, points))
    bend = -(turn * chord).sum(axis=1) / np.maximum((chord**2).sum(axis=1), 1e-9)
    return np.asarray(np.clip(bend, -0.25, 0.25), dtype=np.float64)


def blurs_across(points: Floats, normals: Floats, setting: Setting) -> Floats:
    """Return the picture's blur across the edge [mm]."""
    z = np.full(len(points), setting.z)
    ends = [project(setting.view, np.column_stack([points + s * 0.5 * normals, z])) for s in (-1, 1)]
    scale = np.hypot(*(ends[1] - ends[0]).T)
    return np.asarray(setting.blur / np.maximum(scale, 1e-6))


def _calm(shift: Floats, sure: NDArray[np.bool_]) -> Floats:
    """Return shifts with those of unsure points taken from their sure neighbours [mm]."""
    if sure.all() or not sure.any():
        return shift
    index = np.arange(len(shift))
    known = index[sure]
    ring = np.concatenate([known - len(shift), known, known + len(shift)])
    return np.where(sure, shift, np.interp(index, ring, np.tile(shift[sure], 3)))


def _median_along(values: Floats, half: int) -> Floats:
    index = (np.arange(len(values))[:, None] + np.arange(-half, half + 1)) % len(values)
    return np.asarray(np.median(values[index], axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class _Round:
    shift: Floats
    cost: Floats
    sure: NDArray[np.bool_]
    share: Floats
    bend: Floats


def _signals(
    rgb: Bytes, setting: Setting, points: Floats, *, normals: Floats, wall: Floats, how: _Pass
) -> tuple[Floats, Floats]:
    """Return where profiles are sampled (M,) [mm] and their one-colour signal (N, M), face near 1 [-]."""
    side = how.reach + 1.6
    span = np.arange(-side, side + float(wall.max(initial=0.0)) + 1e-9, how.across)
    profiles = sampled(rgb, setting, points[:, None, :] + span[None, :, None] * normals[:, None, :])
    profiles = softened(profiles, 0.5 / how.along)
    direction = _directions(profiles, span, wall, along=how.along)
    signal = np.einsum("nmc,nc->nm", profiles, direction)
    scale = np.maximum(np.abs(np.median(signal[:, span < -0.6], axis=1)), 1e-9)
    return span, signal / scale[:, None]


def _searched(
    rgb: Bytes, setting: Setting, points: Floats, *, normals: Floats, shade: Floats, how: _Pass
) -> tuple[_Round, Floats]:
    """Fit every profile once; return shifts along the normals [mm] and the wall shades learnt."""
    from platewright.pattern.kernels import closed_path, edge_costs

    wall, sigma = wall_widths(points, normals, setting), blurs_across(points, normals, setting)
    span, signal = _signals(rgb, setting, points, normals=normals, wall=wall, how=how)
    tries = np.arange(-how.reach, how.reach + 1e-9, how.tries)
    costs, _ = edge_costs(signal, span, tries, wall, shade, sigma)
    # samples of a profile err together; the usual misfit at the best place says how much they err
    noise = max(float(np.median(costs.min(axis=1))), 1e-12) / len(span)
    excess = (costs - costs.min(axis=1, keepdims=True)) / (2 * noise * TOGETHER)
    first = closed_path(excess, how.tries, 0.35 * how.along, 12.0)
    best, row = np.clip(first, 1, len(tries) - 2), np.arange(len(points))
    left, mid, right = costs[row, best - 1], costs[row, best], costs[row, best + 1]
    bend = np.maximum(left - 2 * mid + right, 1e-12)
    shift = tries[best] + np.clip(0.5 * (left - right) / bend, -1, 1) * how.tries
    varied = ((signal - signal.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    share = 1 - mid / np.maximum(varied, 1e-12)
    off = np.abs(shift - _median_along(shift, round(3.0 / how.along)))
    limit = 0.12 + 4 * 1.4826 * float(np.median(off))
    inside = (first > 1) & (first < len(tries) - 2)
    sure = inside & (share > 0.5) & ((off < limit) | (turning(points, how.along) > 0.35))
    shade = _shades(signal, span, shift, wall=wall, along=how.along)
    return _Round(shift, mid / len(span), sure, share, bend / how.tries**2), shade


def longest_gap(sure: NDArray[np.bool_]) -> int:
    """Return how many places round a closed loop are unsure at a stretch, at most [-]."""
    if sure.all():
        return 0
    if not sure.any():
        return len(sure)
    turned = np.roll(sure, -int(np.argmax(sure)))
    known = np.flatnonzero(np.append(turned, True))
    return int(np.diff(known).max() - 1)


def find_edges(rgb: Bytes, loops: Sequence[Floats], setting: Setting) -> list[Edge]:
    """Move rough loops onto the template's upper edge; what is usual in the picture is learnt from the first, the outline.

    Parameters
    ----------
    rgb : the photo
    loops : (N, 2) each, world places within about 3 mm of the edge; metal on the left of travel [mm]
    setting : camera, heights, blur

    Returns
    -------
    Edges; places and errors [mm]
    """
    edges: list[Edge] = []
    habits: Habits | None = None
    for loop in loops:
        edge, habits = _found(rgb, loop, setting, habits)
        edges.append(edge)
    return edges


def _found(rgb: Bytes, loop: Floats, setting: Setting, habits: Habits | None) -> tuple[Edge, Habits]:
    """Return one loop's edge [mm], and what is usual in the picture."""
    points, shade = loop, np.full(1, 0.75)
    last: _Round | None = None
    for how in PASSES:
        guide = even(points, how.along)
        guide = even(softened(guide, how.soften / how.along), how.along)
        normals = normals_of(guide)
        shade = np.interp(np.linspace(0, 1, len(guide)), np.linspace(0, 1, len(shade)), shade)
        last, shade = _searched(rgb, setting, guide, normals=normals, shade=shade, how=how)
        points = guide + _calm(last.shift, last.sure)[:, None] * normals
    assert last is not None
    points, sd, habits = _last_look(rgb, points, setting, last=last, habits=habits)
    edge = Edge(
        points,
        sd,
        float(np.median(last.share)),
        float((sd < UNSEEN).mean()),
        longest_gap(sd < UNSEEN) * STEP,
    )
    return edge, habits


def lit_along(
    rgb: Bytes,
    setting: Setting,
    feet: Floats,
    *,
    normals: Floats,
    along: float,
    habits: Habits | None = None,
) -> tuple[Lit, float]:
    """Follow the light through the camera across a closed loop (N, 2) of feet `along` apart [mm].

    `habits` : of this picture, if learnt before. Return what the light says of the edge, shifts along the normals
    [mm], and the size of a pixel on the template [mm].
    """
    wall, sigma = wall_widths(feet, normals, setting), blurs_across(feet, normals, setting)
    span = np.arange(-FACE_SIDE, BENCH_SIDE + float(wall.max()) + 1e-9, ACROSS)
    spots = feet[:, None, :] + span[None, :, None] * normals[:, None, :]
    stored = softened(sampled(rgb, setting, spots, linear=False), 0.5 / along)
    pixel = float(np.median(sigma)) / setting.blur
    wider = max(0.03, setting.thickness_sd / max(setting.thickness, 0.1))
    lit = lit_edges(
        stored, span, wall=wall, sigma=sigma, along=along, pixel=pixel, wider=wider, habits=habits
    )
    return lit, pixel


def _last_look(
    rgb: Bytes, points: Floats, setting: Setting, *, last: _Round, habits: Habits | None
) -> tuple[Floats, Floats, Habits]:
    """Return the loop moved by following the light through the camera, each point's standard deviation [mm], and the picture's habits."""
    guide = even(softened(even(points, STEP), 0.5 / STEP), STEP)
    normals = normals_of(guide)
    lit, pixel = lit_along(rgb, setting, guide, normals=normals, along=STEP, habits=habits)
    before = np.round(np.linspace(0, len(last.sure) - 1, len(guide))).astype(int)
    sure = last.sure[before] & (np.abs(lit.shift) < NEAR)
    if pixel > COARSE:
        lit = replace(lit, shift=np.zeros(len(guide)), sd=np.maximum(lit.sd, pixel / 5))
    points = guide + _calm(lit.shift, sure)[:, None] * normals
    return *sharpened(points, step=STEP, sd=_errors(points, lit, sure)), lit.habits


def _errors(points: Floats, lit: Lit, sure: NDArray[np.bool_]) -> Floats:
    """Return the standard deviation of each point across the edge [mm]."""
    rough = 1.4826 * float(np.median(np.abs(lit.shift - _median_along(lit.shift, 4))))
    sd = np.hypot(np.clip(lit.sd, 0, 0.3), max(rough, 0.012))
    sd = np.where(turning(points, STEP) > 0.35, np.maximum(sd, 0.15), sd)
    return np.where(sure, sd, UNSEEN)
