"""From outlines to lines and arcs: wires a capture to the fit, and says how true each dimension is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from platewright.errors import RefusedError
from platewright.findings import Finding, finding
from platewright.fit.edges.kernels import misfits
from platewright.fit.kernels import distances
from platewright.fit.outline import fit_circle
from platewright.fit.profile import FitOptions, ProfileFit, fit_profile
from platewright.fit.relations.values import Relation
from platewright.geometry import Contour, Profile, flatten
from platewright.geometry.contour import Floats
from platewright.geometry.measure import arc_data, edge_lengths
from platewright.pattern.capture.edge.corners import SPOILT, UNSEEN
from platewright.pattern.capture.edge.gap_circles import OFF, on_circle
from platewright.pattern.loops import grown, normals_of, runs, softened
from platewright.pattern.model import Captured, Outline

__all__ = ["Dimension", "Fitted", "ShapeOptions", "to_profile"]

Mask = NDArray[np.bool_]

RELIABLE = 0.25
"""Points less sure than this are left to the lines and arcs through their neighbours [mm]."""


@dataclass(frozen=True, slots=True)
class ShapeOptions:
    """What the fit may do.

    Attributes
    ----------
    round_to : grid of round numbers [mm]; None for no rounding
    relations : whether parallel, equal, tangent and the like are looked for
    refuse : ids of relations the person refused
    anyway : fit although the findings say stop (for looking at only)
    tolerance : farthest a captured point may lie from the shape [mm]; None takes it from the measured noise
    """

    round_to: float | None = 0.5
    relations: bool = True
    refuse: frozenset[str] = frozenset()
    anyway: bool = False
    tolerance: float | None = None


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension of the shape: what it is, contour and edge [-], its value and 95 % uncertainty [mm]."""

    what: str
    contour: int
    edge: int
    value: float
    uncertainty: float

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values [mm]."""
        return {
            "what": self.what,
            "contour": self.contour,
            "edge": self.edge,
            "value_mm": self.value,
            "uncertainty_95_mm": self.uncertainty,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A shape of lines and arcs.

    Attributes
    ----------
    profile : the shape
    relations : what was adopted, each refusable by its id
    moved_max, moved_rms : how far the shape lies from what was captured [mm]
    dimensions : lengths, radii, diameters and places of holes, each with its uncertainty
    findings : of the capture and of the fit
    """

    profile: Profile
    relations: tuple[Relation, ...]
    moved_max: float
    moved_rms: float
    dimensions: tuple[Dimension, ...]
    findings: tuple[Finding, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values [mm]."""
        return {
            "profile": self.profile.as_dict(),
            "relations": [r.as_dict() for r in self.relations],
            "moved_max_mm": self.moved_max,
            "moved_rms_mm": self.moved_rms,
            "dimensions": [d.as_dict() for d in self.dimensions],
            "findings": [f.as_dict() for f in self.findings],
        }


DOUBTED = 1.5
"""Places of a loop less sure than its usual one by so much are laid on its circle, if the others lie on one [-]."""
CORRELATED = 4.0
"""Places along the outline nearer than this err together [mm]."""
SURER = 0.25
"""A circle's places are as sure as this share of them is, but for what is doubted of some [-]."""
LESS_SURE, LEAST_SURE_OF = 2.5, 4.0
"""A place of a shape with sides is taken to be less sure than its surest ones by so much at most if it is reliable, and if it is
not [-]: corners are less sure for turning, and with full weights roundings were lost."""
SURE, LEAST_SURE = 0.6, 0.45
"""Share of the points that count as sure however little is known of them, and the least share that is fitted alone [-]."""
LEAST_NOISE = 0.05
"""A captured outline is never reliable better than this [mm]: board frays, and the edge search wanders."""

FRAYED, RUN = 1.5, 32.0
"""Points that err together over a few millimetres count as their sd over a run [mm], times this [-]."""
BOWED = 0.1
"""Sd of the height by which a board's bow leaves a straight along it, once that is laid best [mm]: a third of its rise."""

ASTRAY, FAR_ASTRAY, MOST, CORNERED = 1.5, 3.0, 0.4, 5.0
"""A shape so many standard deviations off a place left out, so near to one of its corners or elsewhere [-], at most of so much each [mm], missed a rounding or more in the gap: what was left out there is then fitted too. And how near that is [mm]."""

BESIDE, TURNED, ASIDE = 3.0, 0.5, 0.4
"""How far beside a stretch its sides are looked at [mm], by how much they turn from one to the other at a rounding [rad], and how far one lies beside the other at a step [mm]."""


def _astray(contour: Contour, outline: Outline) -> Mask:
    """Return which places of the outline the fit lies far from, also of those it did not see (N,)."""
    loop = np.vstack([flat := flatten(contour, tolerance=0.02), flat[:1]])
    steps = np.maximum(np.ceil(np.hypot(*np.diff(loop, axis=0).T) / 0.3), 1).astype(int)
    ends = np.concatenate([[0], np.cumsum(steps)])
    at = np.arange(ends[-1])
    dense = np.column_stack([np.interp(at, ends, v) for v in loop.T])
    off = cKDTree(dense).query(outline.points)[0]
    cornered = cKDTree(contour.points).query(outline.points)[0] < CORNERED
    most = np.where(cornered, ASTRAY, FAR_ASTRAY) * np.clip(outline.sd, RELIABLE, MOST)
    return np.asarray(off > most)


def _left_behind(contour: Contour, outline: Outline, bound: float) -> Finding | None:
    """Return where a shape lies off its seen places by more than their errors bear out, over a stretch and not at a stray [mm].

    The shape is the simplest that the places allow: it draws a shallow rounding sharp. The `bound` holds for one place in 20;
    of the many that err apart along a loop, the farthest lies within its own bound in 19 loops of 20 (Bonferroni).
    """
    step = float(np.median(np.hypot(*np.diff(outline.points, axis=0).T)))
    off, _ = distances(np.ascontiguousarray(outline.points), np.ascontiguousarray(contour.rows), True)
    off = softened(np.where(outline.sd < RELIABLE, off, 0.0), CORRELATED / 4 / step)
    places = max(step * len(off) / CORRELATED, 1.0)
    allowed = np.hypot(bound / 1.96, outline.sd) * NormalDist().inv_cdf(1 - 0.025 / places)
    at = int((off / allowed).argmax())
    if off[at] < allowed[at]:
        return None
    x, y = (float(v) for v in outline.points[at])
    return finding("G503", place=(x, y), moved_mm=float(off[at]), tolerance_mm=float(allowed[at]))


def _sure(outline: Outline, reliable: float = RELIABLE) -> Mask:
    """Return which places are worth fitting (N,): those no surer than `reliable` [mm] are left out, the surest half stays."""
    unsure = (outline.sd >= reliable) & (outline.sd > np.quantile(outline.sd, SURE))
    if not outline.typed:  # what spoiled one point leans on its neighbours too
        unsure = grown(unsure, SPOILT)
    sure = np.asarray(~unsure)
    return sure if sure.sum() > LEAST_SURE * len(sure) else np.ones(len(sure), dtype=bool)


def _bends(points: Floats, stretch: NDArray[np.int64]) -> bool:
    """Tell whether an outline (N, 2) turns over a stretch of it or steps aside [mm]: its sides are then not one side, or one arc, that goes on."""
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    side = np.arange(1, max(2, round(BESIDE / step)) + 1)
    before, after = ((k + side * way) % len(points) for k, way in ((stretch[0], -1), (stretch[-1], 1)))
    first, last = points[before[0]] - points[before[-1]], points[after[-1]] - points[after[0]]
    if np.abs(np.arctan2(first[0] * last[1] - first[1] * last[0], first @ last)) > TURNED:
        return True
    middle, chord = first + last, points[after[0]] - points[before[0]]
    return bool(np.abs(middle[0] * chord[1] - middle[1] * chord[0]) > ASIDE * np.hypot(*middle))


def _with_astray(outline: Outline, contour: Contour, chosen: Mask, *, reliable: float, grain: bool) -> Mask:
    """Return which places to fit (N,), those chosen and every stretch left out that the shape of those lies far from.

    Among grain any; elsewhere an unsure place is one where something lies on the edge, and a side that goes on beyond it
    knows better. But where the outline turns, and seen places left out beside the unsure ones are missed, a rounding is.
    """
    more, far = chosen.copy(), _astray(contour, outline)
    for at, length in runs(~chosen):
        stretch = (at + np.arange(length)) % len(chosen)
        missed = far[stretch] & (grain | (outline.sd[stretch] < reliable))
        more[stretch] = missed.any() and (grain or _bends(outline.points, stretch))
    return more


def _round(outline: Outline) -> Outline:
    """Return an outline that is plainly a circle where it is sure as one where it is not."""
    if outline.typed:
        return outline
    laid = on_circle(outline.points, outline.sd, sure=DOUBTED * float(np.median(outline.sd)))
    return outline if laid is None else replace(outline, points=laid[0], sd=laid[1])


def _wander(outline: Outline) -> float:
    """Return how far points wander from a smooth line through 12 mm of their neighbours, robustly [mm]."""
    from scipy.signal import savgol_filter

    step = float(np.median(np.hypot(*np.diff(outline.points, axis=0).T)))
    window = 2 * round(6.0 / max(step, 1e-3)) + 1
    if outline.typed or window < 9 or len(outline.points) < 2 * window:
        return float(np.median(outline.sd))
    smooth = np.column_stack([savgol_filter(v, window, 2, mode="wrap") for v in outline.points.T])
    along = np.roll(smooth, -1, axis=0) - np.roll(smooth, 1, axis=0)
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    off = outline.points - smooth
    return 1.4826 * float(np.median(np.abs(off[:, 1] * along[:, 0] - off[:, 0] * along[:, 1])))


def _fray(points: Floats) -> float:
    """Return how far points wander from arcs through long runs of them, by the quieter quarter of the runs [mm]."""
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    run = min(round(RUN / max(step, 1e-3)), len(points) // 3)
    if run < 10:
        return 0.0
    starts = np.arange(0, len(points), max(1, run // 20))
    misfit = misfits(np.array(points), starts, starts + run)[:, 1]
    return float(np.sqrt(np.quantile(misfit, 0.25) / (run - 3)))


def _noise(outline: Outline) -> float | None:
    """Return the noise the fit is to reckon with [mm]; None for a person's clicks."""
    if outline.typed:
        return None
    return max(LEAST_NOISE, 1.15 * _wander(outline), FRAYED * _fray(outline.points))


def _slow(captured: Captured) -> float:
    """Return what the template's bow may move a long straight by, away from a straight [mm].

    A height d of the face moves a point p by d (p - F) / H, away from the foot F of the camera H above it.
    """
    view, outline = captured.view, captured.outer
    if view is None or outline is None or outline.typed or captured.source != "photo":
        return 0.0
    lens = view.place
    lever = (outline.points - lens[:2]) / lens[2]
    across = (lever * normals_of(outline.points)).sum(axis=1)
    return BOWED * float(np.sqrt(np.mean(across**2)))


def _is_circle(contour: Contour) -> bool:
    arcs = arc_data(contour)
    return bool(
        len(contour) == 2 and (arcs.sweep != 0).all() and np.hypot(*(arcs.centre[0] - arcs.centre[1])) < 1e-6
    )


def _circle_sd(outline: Outline, centre: tuple[float, float]) -> Floats:
    """Return the standard deviation of a circle's middle, across and up, and of its radius (3,) [mm].

    They follow from the places round it as the fit weighs them: each place's usual error is shared by its neighbours, what is
    doubted beyond that, mostly on the side where a cut edge is seen, is taken to be off the same way at all of them.
    """
    away = outline.points - centre
    rows = np.column_stack([away / np.maximum(np.hypot(*away.T), 1e-9)[:, None], np.ones(len(away))])
    usual = float(np.quantile(outline.sd, SURER))
    doubted = np.sqrt(np.maximum(outline.sd**2 - usual**2, 0.0))
    weighed = rows / outline.sd[:, None] ** 2
    gain = np.linalg.solve(weighed.T @ rows, weighed.T)
    step = float(np.median(np.hypot(*np.diff(outline.points, axis=0).T)))
    own = (gain**2).sum(axis=1) * usual**2 * max(CORRELATED / max(step, 1e-9), 1.0)
    return np.asarray(np.sqrt(own + (gain @ doubted) ** 2))


def _dimensions(profile: Profile, captured: Captured) -> tuple[Dimension, ...]:
    """Return every dimension with its uncertainty: the capture's scale, its edges together and each of them by itself, more on short arcs [mm]."""
    trust = captured.uncertainty
    loops = captured.loops()

    def bound_95(value: float, k: int = 0, along: float = np.inf, sides: float = np.sqrt(2)) -> float:
        """Return what a value [mm] may be off by, between `sides` edges of loop k whose places along them [mm] err for themselves."""
        if trust is None:
            return 0.0
        loop = loops[min(k, len(loops) - 1)]
        own = 1.96 * float(np.median(loop.sd)) / np.sqrt(max(along / CORRELATED, 1.0))
        return float(np.linalg.norm([trust.of_length(value), 2 * 1.96 * loop.doubt, sides * own]))

    found = []
    box = profile.bounds()
    for what, value in (("width over all", box.width), ("height over all", box.height)):
        found.append(Dimension(what, 0, -1, value, bound_95(value, along=0.0)))
    for k, contour in enumerate(profile.contours()):
        arcs, lengths = arc_data(contour), edge_lengths(contour)
        if _is_circle(contour):
            radius, (x, y) = float(arcs.radius[0]), (float(v) for v in arcs.centre[0])
            own = np.zeros(3) if trust is None else 1.96 * _circle_sd(loops[min(k, len(loops) - 1)], (x, y))
            every = 0.0 if trust is None else trust.of_length(2 * radius)
            found.append(Dimension("diameter", k, 0, 2 * radius, float(np.hypot(every, 2 * own[2]))))
            if k:
                for what, far, off in (
                    ("hole from left", x - box.x0, own[0]),
                    ("hole from below", y - box.y0, own[1]),
                ):
                    found.append(Dimension(what, k, 0, far, float(np.hypot(bound_95(far, 0, 0.0), off))))
            continue
        for e, (sweep, radius, length) in enumerate(zip(arcs.sweep, arcs.radius, lengths, strict=True)):
            if sweep == 0:
                found.append(Dimension("length", k, e, float(length), 1.2 * bound_95(float(length), k, 0.0)))
            else:
                # an error e across an arc of sweep s moves its radius by about e / (1 - cos(s / 2))
                lever = max(1 - float(np.cos(min(abs(sweep), np.pi) / 2)), 1e-3)
                edge = 0.0 if trust is None else trust.outline
                bound = float(np.hypot(bound_95(float(radius), k, 0.0), edge / lever))
                found.append(Dimension("radius", k, e, float(radius), bound))
    return tuple(found)


def _weighed(outline: Outline) -> Floats:
    """Return the standard deviations that the fit weighs places by (N,) [mm]: those told, if the surest places lie on one circle.

    Elsewhere what is doubted of a cut edge moves a whole side at once, so it says nothing against a rounding in it.
    """
    usual = float(np.quantile(outline.sd, SURER))
    sure = outline.sd <= DOUBTED * usual
    circle = fit_circle(outline.points[sure])
    off = np.hypot(*(outline.points[sure] - (circle.x, circle.y)).T) - circle.radius
    if np.sqrt(np.mean(off**2)) < OFF:
        return outline.sd
    most = np.where(outline.sd < RELIABLE, LESS_SURE, LEAST_SURE_OF)
    return np.asarray(np.minimum(outline.sd, most * usual))


def _fit(
    loops: Sequence[Outline], chosen: Sequence[Mask], sds: Sequence[Floats] | None, options: FitOptions
) -> ProfileFit:
    outer, *holes = (o.points[kept] for o, kept in zip(loops, chosen, strict=True))
    kept_sds = None if sds is None else [sd[kept] for sd, kept in zip(sds, chosen, strict=True)]
    return fit_profile(outer, [*holes], options=options, sds=kept_sds)


def to_profile(captured: Captured, *, options: ShapeOptions | None = None) -> Fitted:
    """Fit a capture's outlines with the fewest lines and arcs.

    Round numbers are adopted only within the total uncertainty of the capture, scale included.

    Parameters
    ----------
    captured : outlines with their uncertainty [mm]
    options : see `ShapeOptions`

    Raises
    ------
    RefusedError
        If the capture has no outline, or its findings say stop and `anyway` is not set.
    """
    how = options or ShapeOptions()
    if captured.outer is None or (captured.verdict == "stop" and not how.anyway):
        why = next((f for f in captured.findings if f.severity == "stop"), None)
        raise RefusedError(
            "There is no outline to fit." if why is None else why.text, do="" if why is None else why.do
        )
    size = float(np.ptp(captured.outer.points, axis=0).max())
    total = 0.0 if captured.uncertainty is None else captured.uncertainty.of_length(size) / 1.96
    total = float(np.hypot(total, 2 * captured.outer.doubt))
    wanted = FitOptions(
        tolerance=how.tolerance,
        relations=how.relations,
        refuse=how.refuse,
        round_to=how.round_to,
        total_uncertainty=total,
        noise=_noise(captured.outer),
        slow=_slow(captured),
        kind="clicked" if captured.outer.typed else "dense",
    )
    loops = [_round(o) for o in captured.loops()]
    grain = any(f.code == "C025" for f in captured.findings)
    # a place that was seen but may be a cut edge's width off still says whether the outline turns there
    reliable = UNSEEN if captured.source == "photo" and not grain else RELIABLE
    chosen = [_sure(o, reliable) for o in loops]
    sds = None if loops[0].typed else [o.sd if grain else _weighed(o) for o in loops]
    fit = _fit(loops, chosen, sds, wanted)
    more = [
        _with_astray(o, c, kept, reliable=reliable, grain=grain)
        for o, c, kept in zip(loops, fit.profile.contours(), chosen, strict=True)
    ]
    if any((a != b).any() for a, b in zip(more, chosen, strict=True)):
        fit = _fit(loops, more, sds, wanted)
    weights = np.array([len(o.points) for o in loops], dtype=np.float64)
    rms = np.array([f.moved_rms for f in fit.fits])
    uncertainty = captured.uncertainty
    left: list[Finding | None] = []
    if uncertainty is not None and not loops[0].typed and not any(f.code == "G503" for f in fit.findings):
        left = [
            _left_behind(c, o, uncertainty.outline)
            for c, o in zip(fit.profile.contours(), loops, strict=True)
        ]
    found = (
        *captured.findings,
        *fit.findings,
        *(f for f in left if f is not None),
        *(x for f in fit.fits for x in f.findings if x not in fit.findings),
    )
    return Fitted(
        profile=fit.profile,
        relations=fit.relations,
        moved_max=max(f.moved_max for f in fit.fits),
        moved_rms=float(np.sqrt((weights * rms**2).sum() / weights.sum())),
        dimensions=_dimensions(fit.profile, captured),
        findings=found,
    )
