"""A letter's outline as contours of lines and arcs within a tolerance.

Method: a font draws with lines and quadratic or cubic curves. Straight pieces stay lines. Curves that run on
smoothly are sampled together, closer than an eighth of the tolerance, and become the fewest arcs through the
samples (``fit.arcs.arcs_from_points``); runs are broken where the direction turns. Contours of one letter may
overlap: what has winding other than 0 is letter.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from platewright.geometry import Contour, Floats, Profile
from platewright.pattern.letters.font import Font, cap_height, em, glyph_name, glyph_set, sound

__all__ = ["TOLERANCE", "filled", "letter_shape"]

TOLERANCE = 0.02
"""How far arcs may lie from the font's own curves [mm]: a fifth of what a good small table repeats to."""
TURN = math.radians(4)
"""Curves that meet at less than this run on smoothly [rad]; fonts round their points to whole units."""
SAMPLES = 8
"""Chords of the samples stray by the tolerance over this [-]; arcs get what is left."""
DEPTH = 400
"""Most pieces a curve is sampled in [-]; a metre high letter needs some 60."""

Piece = Floats
"""Two points are a line, three a quadratic curve, four a cubic one."""


@lru_cache(maxsize=4096)
def letter_shape(
    font: Font, letter: str, *, height: float, tolerance: float = TOLERANCE
) -> tuple[Profile, ...]:
    """Return a letter's metal [mm], its origin on the baseline, for a capital height [mm] and a tolerance [mm].

    Nothing for a space; several profiles for a letter of several pieces, largest first.

    Raises
    ------
    InputError
        If the font has no such letter or its outline cannot be read.
    """
    scale = height / (cap_height(font) * em(font))
    loops = _pieces(font, letter, scale)
    return filled([c for c in (_contour(loop, tolerance) for loop in loops) if c is not None])


def filled(contours: Iterable[Contour]) -> tuple[Profile, ...]:
    """Return what closed contours [mm] enclose by winding number other than 0, overlaps dissolved, largest first."""
    from platewright.geometry.crossing.arrange import arrange
    from platewright.geometry.curves import gather
    from platewright.geometry.regions.merge import merged
    from platewright.geometry.regions.nesting import assemble

    every = list(contours)
    if not every:
        return ()
    faces = arrange(gather(every), groups=1)
    return assemble([merged(loop.contour) for loop in faces.border(lambda w: w[:, 0] != 0)])


@sound
def _pieces(font: Font, letter: str, scale: float) -> list[list[Piece]]:
    """Return the lines and curves of each contour [mm]."""
    from fontTools.pens.basePen import decomposeQuadraticSegment, decomposeSuperBezierSegment
    from fontTools.pens.recordingPen import DecomposingRecordingPen

    pen = DecomposingRecordingPen(glyph_set(font))
    glyph_set(font)[glyph_name(font, letter)].draw(pen)
    loops: list[list[Piece]] = []
    start = here = (0.0, 0.0)
    for kind, points in pen.value:
        if kind == "moveTo":
            loops.append([])
            start = here = points[0]
        elif kind == "lineTo":
            loops[-1].append(np.array([here, points[0]]) * scale)
            here = points[0]
        elif kind == "curveTo":
            for a, b, c in decomposeSuperBezierSegment(points):
                loops[-1].append(np.array([here, a, b, c]) * scale)
                here = c
        elif kind == "qCurveTo":
            if points[-1] is None:  # no point on the curve: it starts half way between the last and first
                points = (*points[:-1], points[0])
                first, last = points[0], points[-2]
                start = here = ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)
                points = (*points[:-1], start)
                loops.append([])
            for a, b in decomposeQuadraticSegment(points):
                loops[-1].append(np.array([here, a, b]) * scale)
                here = b
        elif kind in ("closePath", "endPath") and loops and here != start:
            loops[-1].append(np.array([here, start]) * scale)
            here = start
    return [loop for loop in loops if loop]


def _sampled(piece: Piece, tolerance: float) -> Floats:
    """Return points of a curve [mm], both ends among them, with chords within a tolerance [mm]."""
    bend = np.abs(np.diff(piece, n=2, axis=0)).sum(axis=1).max()
    degree = len(piece) - 1
    count = int(np.clip(math.ceil(math.sqrt(degree * (degree - 1) / 8 * bend / tolerance)), 2, DEPTH))
    t = np.linspace(0.0, 1.0, count + 1)[:, None]
    if degree == 2:
        a, b, c = piece
        return np.asarray((1 - t) ** 2 * a + 2 * t * (1 - t) * b + t**2 * c)
    a, b, c, d = piece
    return np.asarray((1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d)


def _smooth(before: Piece, after: Piece) -> bool:
    """Tell whether two curves run on into each other; lines do not, they stay as they are."""
    if len(before) == 2 or len(after) == 2:
        return False
    one, two = _way(before[::-1]) * -1, _way(after)
    turn = math.atan2(one[0] * two[1] - one[1] * two[0], float(one @ two))
    return abs(turn) < TURN


def _way(piece: Piece) -> Floats:
    """Return the direction a piece starts in, past control points that lie on its start."""
    for point in piece[1:]:
        if np.hypot(*(point - piece[0])) > 1e-9:
            return np.asarray(point - piece[0])
    return np.zeros(2)


def _contour(loop: list[Piece], tolerance: float) -> Contour | None:
    """Return one closed contour of lines and arcs [mm]; None if it encloses nothing."""
    from platewright.fit.arcs import arcs_from_points
    from platewright.geometry.measure import signed_area

    loop = [p for p in loop if np.ptp(p, axis=0).max() > 1e-6]
    if not loop:
        return None
    fine = tolerance / SAMPLES
    breaks = [n for n in range(len(loop)) if not _smooth(loop[n - 1], loop[n])]
    if not breaks:
        run = np.vstack([_sampled(p, fine)[:-1] for p in loop])
        return arcs_from_points(run, tolerance=tolerance - fine, closed=True)
    rows: list[Floats] = []
    for first, last in zip(breaks, [*breaks[1:], breaks[0] + len(loop)], strict=True):
        pieces = [loop[n % len(loop)] for n in range(first, last)]
        if len(pieces) == 1 and len(pieces[0]) == 2:
            rows.append(np.array([[*pieces[0][0], 0.0]]))
            continue
        run = np.vstack([_sampled(p, fine)[:-1] for p in pieces] + [pieces[-1][-1:]])
        rows.append(arcs_from_points(run, tolerance=tolerance - fine).rows[:-1])
    made = Contour(np.vstack(rows)) if sum(map(len, rows)) >= 2 else None
    return made if made is not None and abs(signed_area(made)) > 1e-6 else None
