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
by the blur of the picture. The wall's width follows from the thickness and where the camera stands. How bright it is is
not known, and a wrong idea of it moves the edge by the wall's width: so places and brightnesses are searched together
round the loop, once among dark, once among middling and once among bright walls, and the light says which holds where
(``wall``). The outline is moved onto the edges found and the whole repeated, with a narrower search each time. Light is
linear throughout (a half-way level in tone-curved values is biased), and offsets are taken along the normals of the
moving outline, so that curved edges are not pulled inwards.

Last, the light is followed through the camera (``light``) to take out what blur, shadow, wall and soft colours shift,
and sharp corners are put where their sides meet (``corners``).

Cost: about 2 s for 1.5 m of outline. Limits: within a millimetre or two of a corner a profile sees the other edge
too; such points carry a larger error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.capture.camera.response import MIX
from platewright.pattern.capture.edge.corners import CORNER, TURN, UNSEEN, sharpened, turning
from platewright.pattern.capture.edge.light import (
    LightFit,
    PictureStatistics,
    fit_light,
    profiles_of,
)
from platewright.pattern.capture.edge.profiles import Setting, across_loop, blurs_across, sampled, wall_widths
from platewright.pattern.capture.edge.wall import (
    WallEvidence,
    WallVerdict,
    choose_walls,
    wall_evidence,
)
from platewright.pattern.image import Bytes
from platewright.pattern.loops import even, normals_of, softened

__all__ = [
    "Edge",
    "find_edges",
    "longest_gap",
]

CORRELATED = 8.0
"""How many neighbouring samples of averaged profiles say the same thing [-]."""

BLEED = 0.6
"""Share of a colour step that is missing beside an edge in a picture saved at half colour resolution [-]."""

SHADED = 0.2
"""How much darker a shadow makes the bench [-]; GLARED: how much the face's brightness wanders."""
GLARED = 0.04

NEAR = 0.5
"""The last look moves the edge by less than this, or saw something else [mm]."""

ODD = 6.0
"""Where the light fits worse than this against what is usual in the picture, it is not this edge that is seen [-]."""

SEEN = 0.98 * UNSEEN
"""The most that is told of a place where an edge was seen, for the doubt which edge it is (sd) [mm]."""

COARSE = 0.35
"""Pixels larger than this on the template see a shadow's foot and the edge as one: the last look moves nothing [mm]."""

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
)
LAST = _Pass(0.6, 0.8, 0.10, 0.05, 0.6)
FINE = (_Pass(1.0, STEP, 0.08, 0.04, 0.5), _Pass(0.7, STEP, 0.07, 0.03, 0.5))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Edge:
    """A loop on the upper edge.

    Attributes
    ----------
    points, sd : (N, 2) world places and their standard deviation across [mm]
    fair : share of points where an edge was found [-]
    blind : longest stretch without an edge [mm]
    open : longest stretch that was not seen and that nothing else bears out [mm]; None: as `blind`
    doubt : standard deviation of all places together, for what else the light may tell of the cut edge [mm]
    """

    points: Floats
    sd: Floats
    fair: float
    blind: float
    open: float | None = None
    doubt: float = 0.0


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
    bright = step @ MIX[0]
    red, blue = 0.713 * (step[:, 0] - bright), 0.564 * (step[:, 2] - bright)
    out = np.zeros((len(face), 3, 3))
    for size, mix in ((red, (1.402, -0.714, 0.0)), (blue, (0.0, -0.344, 1.772))):
        off = BLEED * size[:, None] * np.array(mix) * slope
        out += off[:, :, None] * off[:, None, :]
    return out


DARK, MIDDLE, BRIGHT = (
    np.array([0.0, 0.1, 0.2, 0.3, 0.4]),
    np.array([0.35, 0.45, 0.55, 0.65, 0.75, 0.85]),
    np.array([0.85, 0.95, 1.05, 1.2, 1.4, 1.7]),
)
"""Brightness of the cut wall over the face's that is tried [-]: in its own shade to lit from the side."""
ANY = np.concatenate([DARK, MIDDLE[1:], BRIGHT[1:]])
USUAL, USUAL_SD = 0.75, 0.25
"""How bright it usually is, weakly [-]."""
SHADE_SD = 0.1
"""How much brighter or darker the wall may be than a little way along (sd) [-]."""
FICKLE = 1.0
"""By how many of these steps the wall's brightness changes over a millimetre of edge [-]."""


def _unsure_interpolated(shift: Floats, sure: NDArray[np.bool_]) -> Floats:
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
    """The edge along the normals [mm], how bright the wall is there [-], and where it is sure."""

    shift: Floats
    shade: Floats
    sure: NDArray[np.bool_]


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
    rgb: Bytes,
    setting: Setting,
    points: Floats,
    *,
    normals: Floats,
    how: _Pass,
    kinds: Sequence[Floats],
    shade: Floats | None = None,
) -> list[_Round]:
    """Follow the edge once for each kind of wall, by how bright it may be; `shade` (N,): how bright it is known to be [-]."""
    from platewright.pattern.capture.edge.kernels import closed_path, edge_costs

    wall, sigma = wall_widths(points, normals, setting), blurs_across(points, normals, setting)
    span, signal = _signals(rgb, setting, points, normals=normals, wall=wall, how=how)
    tries = np.arange(-how.reach, how.reach + 1e-9, how.tries)
    every = edge_costs(signal, span, tries, wall, np.concatenate(kinds), sigma)
    # samples of a profile err together; the usual misfit at the best place says how much they err
    least = every.min(axis=(1, 2))
    noise = max(float(np.median(least)), 1e-12) / len(span)
    excess = (every - least[:, None, None]) / (2 * noise * CORRELATED)
    usual, sd = (np.full(len(points), USUAL), USUAL_SD) if shade is None else (shade, SHADE_SD)
    excess += 0.5 * ((np.concatenate(kinds)[None, :] - usual[:, None]) / sd)[:, :, None] ** 2
    varied = ((signal - signal.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    cornered = turning(points, how.along) > TURN
    row, start, found = np.arange(len(points)), 0, []
    for kind in kinds:
        here = slice(start, start + len(kind))
        start += len(kind)
        own = np.ascontiguousarray(excess[:, here])
        bright, first = closed_path(own, how.tries, 0.35 * how.along, FICKLE * how.along, 12.0)
        best = np.clip(first, 1, len(tries) - 2)
        costs = every[:, here][row, bright]
        left, mid, right = costs[row, best - 1], costs[row, best], costs[row, best + 1]
        bend = np.maximum(left - 2 * mid + right, 1e-12)
        shift = tries[best] + np.clip(0.5 * (left - right) / bend, -1, 1) * how.tries
        share = 1 - mid / np.maximum(varied, 1e-12)
        off = np.abs(shift - _median_along(shift, round(3.0 / how.along)))
        limit = 0.12 + 4 * 1.4826 * float(np.median(off))
        inside = (first > 1) & (first < len(tries) - 2)
        sure = inside & (share > 0.5) & ((off < limit) | cornered)
        found.append(_Round(shift, kind[bright], sure))
    return found


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
    starts: list[_Start] = []
    statistics: PictureStatistics | None = None
    for loop in loops:
        start, statistics = _started(rgb, loop, setting, statistics)
        starts.append(start)
    if statistics is None:
        return []
    verdicts = choose_walls([s.evidence for s in starts])
    return [
        _found(rgb, s, setting, verdict=v, statistics=statistics)
        for s, v in zip(starts, verdicts, strict=True)
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Start:
    """A loop as found roughly: feet and normals (N, 2) [mm], the edge by each kind of wall, what the light says of each."""

    guide: Floats
    normals: Floats
    rounds: list[_Round]
    evidence: WallEvidence


def _guided(points: Floats, along: float, soften: float) -> tuple[Floats, Floats]:
    """Return feet along an outline, evenly, and their normals [mm]."""
    guide = even(softened(even(points, along), soften / along), along)
    return guide, normals_of(guide)


def _started(
    rgb: Bytes, loop: Floats, setting: Setting, statistics: PictureStatistics | None
) -> tuple[_Start, PictureStatistics]:
    """Return a loop followed once for each kind of wall, and what is usual in the picture."""
    points = loop
    for how in PASSES:
        guide, normals = _guided(points, how.along, how.soften)
        (last,) = _searched(rgb, setting, guide, normals=normals, how=how, kinds=[ANY])
        points = guide + _unsure_interpolated(last.shift, last.sure)[:, None] * normals
    # either side of what was found, as far as the wall is wide
    guide, normals = _guided(points, LAST.along, LAST.soften)
    how = replace(LAST, reach=LAST.reach + float(wall_widths(guide, normals, setting).max()))
    rounds = _searched(rgb, setting, guide, normals=normals, how=how, kinds=[DARK, MIDDLE, BRIGHT])
    places = [_unsure_interpolated(r.shift, r.sure) for r in rounds]
    across = across_loop(rgb, setting, guide, normals=normals, along=how.along, reach=how.reach)
    evidence, statistics = wall_evidence(across, normals, places, statistics)
    return _Start(guide, normals, rounds, evidence), statistics


def _found(
    rgb: Bytes, start: _Start, setting: Setting, *, verdict: WallVerdict, statistics: PictureStatistics
) -> Edge:
    """Return one loop's edge [mm]."""
    # of the edges followed the one that passes where the light says, finer along
    off = np.stack([np.abs(_unsure_interpolated(r.shift, r.sure) - verdict.place) for r in start.rounds])
    which, row = off.argmin(axis=0), np.arange(len(start.guide))
    place = np.stack([_unsure_interpolated(r.shift, r.sure) for r in start.rounds])[which, row]
    shade = np.stack([r.shade for r in start.rounds])[which, row]
    points = start.guide + place[:, None] * start.normals
    for how in FINE:
        fine, normals = _guided(points, how.along, how.soften)
        before = np.round(np.linspace(0, len(row) - 1, len(fine))).astype(int)
        (last,) = _searched(rgb, setting, fine, normals=normals, how=how, kinds=[ANY], shade=shade[before])
        points = fine + _unsure_interpolated(last.shift, last.sure)[:, None] * normals
    points, sd = _last_look(rgb, points, setting, sure=last.sure, verdict=verdict, statistics=statistics)
    return Edge(
        points=points,
        sd=sd,
        fair=float((sd < UNSEEN).mean()),
        blind=longest_gap(sd < UNSEEN) * STEP,
        doubt=min(
            float(np.sqrt(np.mean(verdict.doubt**2))),
            _widest(start.guide, start.normals, setting) / (2 * 1.96),
        ),
    )


def _widest(points: Floats, normals: Floats, setting: Setting) -> float:
    """Return the most that taking the cut edge for wrong moves two opposite sides of a loop apart [mm]: as wide as it is seen on both."""
    thick = setting.thickness + 1.96 * setting.thickness_sd
    wall = wall_widths(points, normals, replace(setting, thickness=thick))
    at = int(wall.argmax())
    return float(wall[at] + wall[normals @ normals[at] < -0.5].max(initial=0.0))


def _last_look(
    rgb: Bytes,
    points: Floats,
    setting: Setting,
    *,
    sure: NDArray[np.bool_],
    verdict: WallVerdict,
    statistics: PictureStatistics,
) -> tuple[Floats, Floats]:
    """Return the loop moved by following the light through the camera, and each point's standard deviation [mm]."""
    guide, normals = _guided(points, STEP, 0.5)
    across = across_loop(rgb, setting, guide, normals=normals, along=STEP)
    before = np.round(np.linspace(0, len(sure) - 1, len(guide))).astype(int)
    judged_at = np.round(np.linspace(0, len(verdict.place) - 1, len(guide))).astype(int)
    none = np.zeros(len(guide))
    wall = replace(verdict.wall, colour=softened(verdict.wall.colour[judged_at], 2.0 / STEP), hides=1.0)
    fitted, _, misfit = fit_light(profiles_of(across, none, none), statistics, wall, place=none)
    # beside a corner a profile sees the other side too
    cornered = softened((turning(guide, STEP) > TURN).astype(np.float64), 1.5 / STEP) > 0.05
    odd = np.where(cornered, 1.0, softened((misfit @ statistics.weight) / 3, 1.0 / STEP))
    sure = sure[before] & (np.abs(fitted.shift) < NEAR) & (odd < ODD)
    fitted = replace(fitted, sd=fitted.sd * np.sqrt(np.maximum(odd, 1.0)))
    if across.pixel > COARSE:
        fitted = replace(fitted, shift=none, sd=np.maximum(fitted.sd, across.pixel / 5))
    points = guide + _unsure_interpolated(fitted.shift, sure)[:, None] * normals
    return sharpened(points, step=STEP, sd=_errors(points, fitted, sure, doubt=verdict.doubt[judged_at]))


def _errors(points: Floats, fitted: LightFit, sure: NDArray[np.bool_], *, doubt: Floats) -> Floats:
    """Return the standard deviation of each point across the edge [mm]; `doubt` (N,): for what the cut edge may be besides [mm]."""
    rough = 1.4826 * float(np.median(np.abs(fitted.shift - _median_along(fitted.shift, 4))))
    sd = np.hypot(np.clip(fitted.sd, 0, 0.3), max(rough, 0.012))
    sd = np.where(turning(points, STEP) > TURN, np.maximum(sd, CORNER), sd)
    return np.where(sure, np.minimum(np.hypot(sd, doubt), SEEN), UNSEEN)
