"""What was cut against what was asked: an outline read from a photo, laid on the part and compared in millimetres.

The outline is laid on the part by turn and shift alone (no scaling), from sixty starting turns, either face up. What is left is
explained by what the cut and what the photo may have got wrong, all at once (`causes`).

What exceeds its 95 % is offered as a correction; what does not is called noise. A size meets a class if it does so even with its
uncertainty added, misses it if it does so even with it taken off, and cannot be told in between (ISO 14253-1, from memory).

Limits: one photo sees the upper face only: no lean of the edge, and a kerf that is the upper face's. Backlash looks like ovality.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError, RefusedError
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Floats, Profile
from platewright.geometry.flatten import along_ring, flatten
from platewright.part.rules.tolerances import linear_tolerance
from platewright.table.iso9013 import limit_deviation
from platewright.tuning.causes import (
    OFFSET,
    OVAL,
    SCALE_X,
    SCALE_Y,
    SKEW,
    Compared,
    Explained,
    PhotoError,
    explained,
)
from platewright.tuning.model import Mean

if TYPE_CHECKING:
    from platewright.pattern.model import Captured

__all__ = ["OVAL_KNOWN", "ROUGH", "Check", "MeasuredHole", "MeasuredSize", "check", "noise"]

STEP = 0.1
"""The part's outline is held as points this far apart [mm]."""
CERTAIN = 0.3
"""A place known to no better, 95 %, is not drawn [mm]."""
LIKE = 0.9
"""Laid either face up an outline lies as far off, to this share, if the part looks the same from both [-]."""
FAR = 6.0
"""An outline that lies further than this off on the mean is not this part [mm]."""
ROUGH = 0.1
"""Where kerf, table and holes leave more than this unexplained (RMS), nothing is offered [mm]: good readings of rendered parts leave 0.06
at most, readings that strayed (glare, the cut wall taken for the face) 0.14 and more."""
OVAL_KNOWN = 0.25
"""An ovality known to no better than this is not told [mm]."""
ROUND_BIAS = 0.015
"""What the edge search itself may add to a hole's ovality in radius, one standard deviation [mm]: half its bias all round."""


@dataclass(frozen=True, slots=True)
class MeasuredHole:
    """A round hole: its middle on the part [mm], the diameter asked for [mm], as measured, and how oval it is [mm]."""

    x: float
    y: float
    nominal: float
    measured: Mean
    oval: Mean


@dataclass(frozen=True, slots=True)
class MeasuredSize:
    """A size: its name, as asked and measured [mm], and for each class whether it is met: yes, no, or cannot be told."""

    name: str
    nominal: float
    measured: Mean
    classes: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What a photo says of a cut part.

    Attributes
    ----------
    kerf : how much wider than planned the kerf is [mm]
    x, y, skew : scales of the axes less 1 [-] and skew [rad], in the part's own directions
    holes : round holes
    sizes : overall sizes and diameters, with their classes
    places : (N, 2) of the part's outline, points were compared at [mm]
    normals : (N, 2) outward normals there [-]
    off : (N,) what was measured there, above 0 where there is metal too much [mm]
    certain : (N,) whether the photo tells that place to `CERTAIN`
    rest : RMS of what the causes above do not explain [mm]
    mirrored : whether the part lay the other face up
    findings : what is offered, and what is noise
    """

    kerf: Mean
    x: Mean
    y: Mean
    skew: Mean
    holes: tuple[MeasuredHole, ...]
    sizes: tuple[MeasuredSize, ...]
    places: Floats
    normals: Floats
    off: Floats
    certain: NDArray[np.bool_]
    rest: float
    mirrored: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Nominal:
    """The part as points: places, outward normals, and which loop each is of."""

    points: Floats
    normals: Floats
    loop: Floats


def _nominal(profile: Profile) -> _Nominal:
    """Return the part's outline as even points with normals away from the metal [mm]."""
    points, normals, loops = [], [], []
    for number, contour in enumerate(profile.contours()):
        even = along_ring(flatten(contour, tolerance=0.002), lambda long: np.arange(0.0, long, STEP))
        ahead = np.roll(even, -1, axis=0) - np.roll(even, 1, axis=0)
        normal = np.column_stack([ahead[:, 1], -ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]
        points.append(even)
        normals.append(normal)
        loops.append(np.full(len(even), number))
    return _Nominal(np.vstack(points), np.vstack(normals), np.concatenate(loops))


def _turned(points: Floats, angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


def _laid(points: Floats, nominal: _Nominal) -> tuple[Floats, Floats, float]:
    """Return points laid on the part by turn and shift, the nearest places of the part to them, and the mean distance [mm]."""
    from scipy.spatial import cKDTree

    tree, coarse = cKDTree(nominal.points), cKDTree(nominal.points[::10])
    few = points[:: max(1, len(points) // 250)]
    best: tuple[float, Floats] | None = None
    for start in np.linspace(0, 2 * math.pi, 60, endpoint=False):
        here = _turned(few - few.mean(axis=0), start) + nominal.points.mean(axis=0)
        moved = _turned(points - few.mean(axis=0), start) + nominal.points.mean(axis=0)
        for _ in range(6):
            near = coarse.query(here)[1] * 10
            here, moved = _step(here, moved, nominal, near)
        off = float(coarse.query(here)[0].mean())
        if best is None or off < best[0]:
            best = off, moved
    assert best is not None
    here = best[1]
    for _ in range(20):
        near = tree.query(here)[1]
        here, _ = _step(here, here, nominal, near)
    far, near = tree.query(here)
    return here, near, float(far.mean())


def _step(here: Floats, moved: Floats, nominal: _Nominal, near: Floats) -> tuple[Floats, Floats]:
    """Return points, and others moved with them, one least-squares step of turn and shift nearer to the part [mm]."""
    normals, middle = nominal.normals[near], nominal.points.mean(axis=0)
    off = ((here - nominal.points[near]) * normals).sum(axis=1)
    lever = here - middle
    slopes = np.column_stack([normals, normals[:, 1] * lever[:, 0] - normals[:, 0] * lever[:, 1]])
    kept = np.abs(off) <= max(1.0, 4 * float(np.median(np.abs(off))))
    shift_x, shift_y, turn = np.linalg.lstsq(slopes[kept], -off[kept], rcond=None)[0]
    return tuple(_turned(p - middle, turn) + middle + (shift_x, shift_y) for p in (here, moved))


def check(captured: Captured, profile: Profile, *, thickness: float, mirrored: bool = False) -> Check:
    """Compare what a photo saw with the part asked for [mm].

    Parameters
    ----------
    captured : read from a photo of the cut part, its thickness told
    profile : the part asked for
    thickness : of the plate, for the classes of ISO 9013
    mirrored : which face is taken to be up of a part that looks the same from both

    Raises
    ------
    RefusedError
        If the photo's outline must not be used.
    InputError
        If what lies there is not this part.
    """
    if captured.outer is None or captured.verdict == "stop":
        stop = next((f for f in captured.findings if f.severity == "stop"), None)
        raise RefusedError(
            f"The photo cannot be measured. {stop.text if stop else ''}".strip(),
            do=stop.do if stop else "Take it again.",
        )
    nominal = _nominal(profile)
    loops = [np.asarray(o.points) for o in captured.loops()]
    points = np.vstack(loops)
    plain, flipped = _laid(points, nominal), _laid(points * (-1, 1), nominal)
    if not LIKE < flipped[2] / max(plain[2], 1e-9) < 1 / LIKE:
        mirrored = flipped[2] < plain[2]
    here, near, far = flipped if mirrored else plain
    if far > FAR or len(loops) - 1 != len(profile.holes):
        raise InputError(
            f"What lies there is not this part: its outline is {far:.1f} mm off on the mean and has {len(loops) - 1} holes of {len(profile.holes)}.",
            do="Choose the part that was photographed, or take the photo again with all holes in view.",
        )
    return _explained(captured, profile, nominal, (here, near), thickness=thickness, mirrored=mirrored)


def _explained(
    captured: Captured,
    profile: Profile,
    nominal: _Nominal,
    laid: tuple[Floats, Floats],
    *,
    thickness: float,
    mirrored: bool,
) -> Check:
    here, near = laid
    places, normals, loop = nominal.points[near], nominal.normals[near], nominal.loop[near]
    off = ((here - places) * normals).sum(axis=1)
    rounds = [(k, c) for k, h in enumerate(profile.holes, 1) if (c := _circle(h)) is not None]
    compared = Compared(
        places=places, normals=normals, loop=loop, off=off, sd=np.concatenate([o.sd for o in captured.loops()]),
        length=len(nominal.points) * STEP, rounds=rounds,
    )  # fmt: skip
    why = explained(compared, _photo_error(captured, float(np.ptp(nominal.points, axis=0).max())))
    # one certain point among uncertain ones is chance
    certain = np.convolve(compared.sd > CERTAIN / 1.96, np.ones(9), mode="same") == 0
    kerf, skew = (_mean(why.value(k), len(off), times) for k, times in ((OFFSET, -2.0), (SKEW, 2.0)))
    x, y = (_mean(why.value(k), len(off)) for k in (SCALE_X, SCALE_Y))
    holes = tuple(_hole(c, why, k) for k, (_, c) in enumerate(rounds))
    sizes = tuple(_sizes(profile, places, why, holes, thickness))
    found = Check(
        kerf=kerf,
        x=x,
        y=y,
        skew=skew,
        holes=holes,
        sizes=sizes,
        places=places,
        normals=normals,
        off=off,
        certain=certain,
        rest=why.rest,
        mirrored=mirrored,
        findings=(),
    )
    if found.rest > ROUGH:
        found = _strayed(found)
    return replace(found, findings=tuple(_findings(found)))


def _photo_error(captured: Captured, size: float) -> PhotoError:
    """Return what the photo itself says it may get wrong of a part so large [mm].

    What it leaves open of cut edges its places say each for itself; what it says of one place holds both.
    """
    sure, outer = captured.uncertainty, captured.outer
    assert outer is not None
    if sure is None:
        return PhotoError(bias=0.15, scale=0.0015, bend=0.0)
    place, shared = sure.outline / 1.96, (sure.outline if sure.shared is None else sure.shared) / 1.96
    shape = math.sqrt(max(place**2 - shared**2 - outer.doubt**2 - float(np.median(outer.sd)) ** 2, 0.0))
    return PhotoError(bias=shared, scale=sure.scale / 1.96, bend=2 * shape / size)


def _mean(found: tuple[float, float], count: int, times: float = 1.0) -> Mean:
    """Return a value with its 95 %, so many times as large [mm or -]."""
    return Mean(times * found[0], 1.96 * abs(times) * found[1], count)


def _strayed(found: Check) -> Check:
    """Return a check whose outline strayed: no size is known better than it strays, and no class is told."""
    sizes = [
        replace(
            z,
            measured=replace(z.measured, spread=math.hypot(z.measured.spread or 0.0, 2 * 1.96 * found.rest)),
            classes=tuple((label, "cannot be told") for label, _ in z.classes),
        )
        for z in found.sizes
    ]
    return replace(found, sizes=tuple(sizes))


def _circle(contour: Contour) -> tuple[float, float, float] | None:
    """Return middle and diameter of a contour that is a circle [mm], else None."""
    ring = flatten(contour, tolerance=0.002)
    box_low, box_high = ring.min(axis=0), ring.max(axis=0)
    x, y = (box_low + box_high) / 2
    radii = np.hypot(ring[:, 0] - x, ring[:, 1] - y)
    if np.ptp(radii) > 0.01 * radii.mean() or len(ring) < 12:
        return None
    return float(x), float(y), float(2 * radii.mean())


def _hole(at: tuple[float, float, float], why: Explained, number: int) -> MeasuredHole:
    """Return one round hole as measured [mm]: metal that grows inward makes it smaller."""
    x, y, diameter = at
    k = why.hole(number)
    own = np.zeros(len(why.found))
    own[OFFSET] = own[k] = -2.0
    own[SCALE_X] = own[SCALE_Y] = diameter / 2  # the scales stretch the hole with the rest
    off = _mean(why.of(own), 0)
    one, other = why.value(k + OVAL), why.value(k + OVAL + 1)
    noise = math.sqrt((one[1] ** 2 + other[1] ** 2) / 2)
    # the length of two noisy numbers is too long by their noise
    swing = math.sqrt(max(0.0, one[0] ** 2 + other[0] ** 2 - 2 * noise**2))
    oval = Mean(4 * swing, 4 * 1.96 * math.hypot(noise, ROUND_BIAS), 0)
    return MeasuredHole(x, y, diameter, replace(off, value=diameter + off.value), oval)


def _sizes(
    profile: Profile, places: Floats, why: Explained, holes: Sequence[MeasuredHole], thickness: float
) -> Iterator[MeasuredSize]:
    """Yield width, height and diameters with the classes they meet [mm]."""
    box = profile.bounds()
    for name, axis, low, high in (("width", 0, box.x0, box.x1), ("height", 1, box.y0, box.y1)):
        ends = [np.abs(places[:, axis] - end) < 0.5 for end in (low, high)]
        if any(e.sum() < 5 for e in ends) or (off := why.mean_off(ends)) is None:
            continue
        value = _mean(off, int(sum(e.sum() for e in ends)))
        yield _classed(name, high - low, replace(value, value=high - low + value.value), thickness)
    for number, hole in enumerate(holes, 1):
        yield _classed(f"hole {number}", hole.nominal, hole.measured, thickness)


def _classed(name: str, nominal: float, measured: Mean, thickness: float) -> MeasuredSize:
    limits = [
        (f"ISO 9013 class {k}", limit_deviation(k, thickness=thickness, nominal=nominal)) for k in (1, 2)
    ]
    for grade in ("f", "m", "c"):
        with contextlib.suppress(InputError):  # the table has no such size in that class
            limits.append((f"ISO 2768-1 {grade}", linear_tolerance(nominal, grade)))
    findings = []
    for label, limit in limits:
        if limit is not None:
            error, spread = abs(measured.value - nominal), measured.spread or 0.0
            findings.append(
                (
                    label,
                    "yes"
                    if error + spread <= limit
                    else "no"
                    if error - spread > limit
                    else "cannot be told",
                )
            )
    return MeasuredSize(name, nominal, measured, tuple(findings))


def noise(subject: str, measured: Mean) -> Finding:
    """Return the finding that something seen is not surely there [mm]."""
    return finding(
        "U031", subject=subject, off_mm=round(measured.value, 2), spread_mm=round(measured.spread or 0.0, 2)
    )


def _findings(found: Check) -> Iterator[Finding]:
    """Yield what is offered as a correction and what is noise [mm, mm/m]; nothing of an outline that strayed."""
    if found.rest > ROUGH:
        yield finding("U036", rest_mm=round(found.rest, 2), allowed_mm=ROUGH)
        return
    kerf = found.kerf
    if abs(kerf.value) > (kerf.spread or 0.0):
        yield finding(
            "U030",
            change_mm=round(kerf.value, 2),
            spread_mm=round(kerf.spread or 0.0, 2),
            way="wider" if kerf.value > 0 else "narrower",
        )
    else:
        yield noise("The kerf", kerf)
    for name, mean in (("X", found.x), ("Y", found.y)):
        if abs(mean.value) > (mean.spread or 0.0):
            yield finding(
                "U032",
                subject=name,
                off_mm=round(1000 * mean.value, 2),
                spread_mm=round(1000 * (mean.spread or 0.0), 2),
            )
    if abs(found.skew.value) > (found.skew.spread or 0.0):
        yield finding(
            "U033",
            off_mm=round(1000 * found.skew.value, 2),
            spread_mm=round(1000 * (found.skew.spread or 0.0), 2),
        )
    for hole in found.holes:
        if hole.oval.value > (hole.oval.spread or 0.0):
            yield finding(
                "U034",
                asked_mm=round(hole.nominal, 1),
                oval_mm=round(hole.oval.value, 2),
                spread_mm=round(hole.oval.spread or 0.0, 2),
                place=(hole.x, hole.y),
            )
    if found.mirrored:
        yield finding("U035")
