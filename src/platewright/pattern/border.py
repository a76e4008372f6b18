"""The upper edge of a template on a bench of its own colour: two honest opinions, and where they differ nobody knows.

Glossary
--------
offset : log brightness and log colour ratios of a place, less those of the board a few millimetres further in
weight : log-likelihood ratio board over bench of an offset, within limits [-]
opinion : the border as found with one limit on what a look-alike place may say for the board
unsure : where the two opinions lie apart

Method: along the rough outline, lines across it are sampled from the photo. The border most likely lies where the
sum of weights taken from inside is greatest, the visible cut wall in between; exact marginals round the loop
(forward and backward sums) give place and error. Grain is coherent: a light streak that looks like board says so
with hundreds of pixels at once. How much that may count cannot be known, so the loop is solved twice, once where
it counts for little (the border then errs inwards) and once for much (outwards). Where both agree the border is
known; elsewhere a stiff curve bridges from the known parts, with an error that grows with the gap. Last, where
known, a step is fitted as on any bench.

Cost: about 1.2 s for a metre. Limits: a gap in which a corner lies is bridged wrongly; the caller refuses long gaps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from platewright.geometry.contour import Floats
from platewright.pattern.bells import Materials
from platewright.pattern.corners import UNSEEN, sharpened
from platewright.pattern.edges import Edge, Setting, blurs_across, longest_gap, sampled, wall_widths
from platewright.pattern.image import Bytes
from platewright.pattern.loops import even, normals_of, softened
from platewright.pattern.region import tones
from platewright.pattern.steady import bridged, settled

__all__ = ["find_borders"]

Mask = NDArray[np.bool_]

ALONG, ACROSS = 0.4, 0.1
"""Distance of lines along the outline and of samples across it [mm]."""
CORRELATED = 0.08
"""Weight of a sample among neighbours that say the same [-]."""
AGAINST = -3.0
"""Least weight of a place [-]."""
FOR = (0.2, 0.9)
"""Most weight of a place, in the cautious and in the bold opinion [-]."""
SPREAD, MOST = 0.08, 12.0
"""How much the border wanders from line to line [mm], and the most that a jump costs [-]."""
ROUNDS = ((3.0, 1.5), (1.8, 0.8), (1.0, 0.5))
"""How far the border is looked for, and how much the outline is softened first, round by round [mm]."""
STIFF = 30.0
"""What bending costs where the border is bridged, against places known to a millimetre [-]."""
APART = 0.25
"""Opinions further apart than this leave the border unsure [mm]."""
KNOWN = 0.05
"""Standard deviation of the edge where it is known [mm]."""
SPOILT, LONGEST = 3, 12.0
"""How many places beside a gap lean on it [-], and the longest gap that is bridged [mm]."""
STIFFER = 3e5
"""What bending costs where the known edge is carried on over a gap: its direction is that of a few millimetres [-]."""
SIDE, MOST_BEND = 5, 2.1
"""How many places beside a gap its sides' directions are taken from [-], and the most they are believed to turn [rad]."""
BULGE = 0.07
"""How far a bridged border may be off, as a share of the gap [-]."""
WALL, WALL_SD = float(np.log(0.7)), np.array([0.15, 0.03, 0.03])
"""The cut wall's log brightness over the face's, and how far it wanders in brightness and colour [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Lines across the outline: their feet and normals, what to try, and the gain of each try without the board's share."""

    feet: Floats
    normals: Floats
    weights: Floats
    beyond: Floats
    start: Floats


def _offsets(
    rgb: Bytes, setting: Setting, feet: Floats, *, normals: Floats, span: Floats, reach: float
) -> Floats:
    """Return offsets (N, M, 3) from the board further in [-]; span [mm]."""
    light = softened(sampled(rgb, setting, feet[:, None] + span[None, :, None] * normals[:, None]), 0.5)
    seen = tones(light.astype(np.float32)).astype(np.float64)
    within = np.median(seen[:, span < -0.6 * reach - 0.6], axis=1)
    half = round(6.0 / ALONG)
    index = (np.arange(len(feet))[:, None] + np.arange(-half, half + 1)) % len(feet)
    board = softened(np.median(within[index], axis=1), half)
    return np.asarray(seen - board[:, None], dtype=np.float64)


def _summed(values: Floats, at: Floats) -> Floats:
    """Return running sums of values (N, M) along lines, up to fractional places (N, E) [samples]."""
    run = np.pad(np.cumsum(values, axis=1), ((0, 0), (1, 0)))
    low = np.clip(np.floor(at).astype(int), 0, run.shape[1] - 2)
    rows, share = np.arange(len(values))[:, None], at - low
    return np.asarray(run[rows, low] * (1 - share) + run[rows, low + 1] * share)


def _lines(rgb: Bytes, setting: Setting, feet: Floats, materials: Materials, reach: float) -> _Lines:
    normals = normals_of(feet)
    wall = wall_widths(feet, normals, setting)
    span = np.arange(-reach - 4.0, reach + float(wall.max()) + 0.8, ACROSS)
    off = _offsets(rgb, setting, feet, normals=normals, span=span, reach=reach)
    bench = materials.bench.log_density(off.astype(np.float32)).astype(np.float64)
    board = materials.board.log_density(off.astype(np.float32)).astype(np.float64)
    wander = (off - (WALL, 0.0, 0.0)) / WALL_SD
    cut = np.clip(-0.5 * (wander**2).sum(axis=-1) - np.log(WALL_SD).sum() - bench, AGAINST, 0.3)
    tries = np.arange(-reach, reach + 1e-9, ACROSS)
    # places within the blur of the edge are a mix of both and say nothing
    before = (tries - span[0]) / ACROSS + 0.5 - blurs_across(feet, normals, setting)[:, None] / ACROSS
    after = before + wall[:, None] / ACROSS
    return _Lines(feet, normals, board - bench, _summed(cut, after) - _summed(cut, before), before)


def _round(lines: _Lines, reach: float) -> tuple[Floats, Floats, Mask]:
    """Return the border's place on each line and its error [mm], and where it is unsure."""
    from platewright.pattern.beliefs import believed

    found = []
    for most in FOR:
        gain = _summed(np.clip(lines.weights, AGAINST, most), lines.start) + lines.beyond
        found.append(believed(gain * CORRELATED, ACROSS, SPREAD, MOST))
    (cautious, first), (bold, second) = found
    apart = np.abs(cautious - bold)
    unsure = softened((apart > APART).astype(np.float64), 1.0) > 0.05
    sd = np.sqrt(0.05**2 + 0.25 * np.minimum(first, second) ** 2 + apart**2)
    return (cautious + bold) / 2 - reach, sd, unsure


def _gap_errors(points: Floats, unsure: Mask) -> tuple[Floats, Floats]:
    """Return the error of each place in a gap and the gap's length, 0 where the edge is known [mm].

    Both sides carried on meet in a corner that may hide in the gap: its height over the gap counts.
    """
    error, size = np.zeros(len(unsure)), np.zeros(len(unsure))
    if unsure.all():
        return error + BULGE * ALONG * len(unsure), size + ALONG * len(unsure)
    start = int(np.argmin(unsure))
    turned = np.roll(unsure, -start).astype(np.int8)
    steps = np.flatnonzero(np.diff(np.concatenate([[0], turned, [0]])))
    for low, high in zip(steps[::2], steps[1::2], strict=True):
        gap = np.arange(low, high) + start
        beside = np.array([low - 2 * SIDE, low - SIDE, high + SIDE, high + 2 * SIDE]) + start
        around = points[beside % len(points)]
        a, b = around[1] - around[0], around[3] - around[2]
        bend = min(abs(float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))), MOST_BEND)
        height = 0.5 * float(np.hypot(*(around[2] - around[1]))) * np.tan(bend / 2)
        size[gap % len(points)] = ALONG * (high - low)
        error[gap % len(points)] = np.hypot(BULGE * ALONG * (high - low), 0.6 * height)
    return error, size


def _followed(rgb: Bytes, loop: Floats, setting: Setting, materials: Materials) -> Floats:
    """Return the rough loop (N, 2) moved to where its materials part [mm]."""
    points = loop
    for reach, soft in ROUNDS:
        feet = even(softened(even(points, ALONG), soft / ALONG), ALONG)
        lines = _lines(rgb, setting, feet, materials, reach)
        places, sd, unsure = _round(lines, reach)
        shift = np.clip(bridged(places, sd, unsure, stiff=STIFF), -reach, reach)
        points = feet + shift[:, None] * lines.normals
    return points


def find_borders(rgb: Bytes, loops: Sequence[Floats], setting: Setting, materials: Materials) -> list[Edge]:
    """Move rough loops onto the upper edge of a board hard to tell from its bench.

    Parameters
    ----------
    rgb : the photo
    loops : (N, 2) world places within about 3 mm of the edge; metal on the left of travel [mm]
    setting : camera, heights [mm], blur [px]
    materials : board and bench as learnt from the picture above

    Returns
    -------
    Edges; places and errors [mm]; their `fair` [-] counts the places that are known
    """
    rough = [_followed(rgb, loop, setting, materials) for loop in loops]
    return [_edge(points, errors) for points, errors in settled(rgb, setting, rough)]


def _edge(points: Floats, errors: Floats) -> Edge:
    """Return the edge with corners where their sides meet and short gaps bridged [mm]."""
    unseen = errors >= UNSEEN
    doubt, size = _gap_errors(points, unseen)
    wide = np.hypot(errors, doubt)
    points, wide = sharpened(points, step=ALONG, sd=wide, among_grain=True)
    left = (wide >= UNSEEN) & (size <= LONGEST)
    spoilt = np.any([np.roll(left, k) for k in range(-SPOILT, SPOILT + 1)], axis=0)
    smooth = [bridged(v, np.full(len(v), KNOWN), spoilt, stiff=STIFFER) for v in points.T]
    points = np.where(spoilt[:, None], np.column_stack(smooth), points)
    # what lies beside a gap is no surer than the gap
    gaps = np.where(wide >= UNSEEN, wide, 0.0)
    wide = np.max([wide, *(np.roll(gaps, k) for k in range(-SPOILT, SPOILT + 1))], axis=0)
    return Edge(points, wide, 0.0, float(1 - unseen.mean()), longest_gap(~unseen) * ALONG)
