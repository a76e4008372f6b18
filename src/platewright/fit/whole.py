"""From captured points of one or more outlines to fits: clean, trace, regularise, report."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from platewright.errors import InputError
from platewright.findings import Finding, finding
from platewright.fit import kernels
from platewright.fit.chain import Chain, facing, refine
from platewright.fit.edges.merge import joined, same_edges, without_slivers
from platewright.fit.holes import near_standard
from platewright.fit.model import Model, model_of
from platewright.fit.outline import Circle, Traced, reweighed, trace
from platewright.fit.prepare import Samples, prepare
from platewright.fit.relations.regularise import MOST_EDGES, regularise
from platewright.fit.relations.values import Relation
from platewright.fit.terms import Fit, FitOptions, strays_finding
from platewright.geometry.contour import Contour, Floats
from platewright.geometry.measure import edge_lengths

__all__ = ["fit_all"]


def _noise_allowed(options: FitOptions) -> float | None:
    """Return the noise sd [mm] the options fix, or None to estimate it."""
    if options.noise is not None:
        return options.noise
    return None if options.tolerance is None else options.tolerance / 3.0


def _name(index: int) -> str:
    return "outline" if index == 0 else f"hole {index}"


def _samples(points: ArrayLike, index: int, options: FitOptions, sd: Floats | None) -> Samples:
    try:
        return prepare(points, kind=options.kind, sd=sd)
    except InputError as bad:
        if bad.where or index == 0:
            raise
        raise InputError(bad.what, where=_name(index), allowed=bad.allowed, do=bad.do) from bad


def _traced(samples: Samples, options: FitOptions) -> Traced:
    traced = trace(samples, noise=_noise_allowed(options), slow=options.slow)
    if traced.chain is None or traced.normal is None or samples.clicked:
        return traced
    chain, here = reweighed(without_slivers(traced.chain), traced.normal, traced.noise)
    return Traced(
        chain=chain, normal=here, circle=None, noise=traced.noise, stretch=traced.stretch, cost=traced.cost,
        bound=traced.bound,
    )  # fmt: skip


def _started(traced: Traced) -> Traced:
    """Return a chain numbered from its longest edge, so that numbers do not hang on the first sample."""
    chain = traced.chain
    if chain is None:
        return traced
    n = len(chain.arcs)
    first = int(np.argmax(edge_lengths(Contour(chain.rows))))
    turned = replace(
        chain,
        rows=np.roll(chain.rows, -first, axis=0),
        arcs=np.roll(chain.arcs, -first),
        labels=(chain.labels - first) % n,
        anchors=None if chain.anchors is None else np.roll(chain.anchors, -first, axis=0),
    )
    return replace(traced, chain=turned, normal=None)


def contour_of(part: Chain | Circle, shift: Floats) -> Contour:
    """Return a model's contour, back where the points were [mm]."""
    if isinstance(part, Circle):
        return Contour.circle(part.x + float(shift[0]), part.y + float(shift[1]), part.radius)
    return Contour(part.rows + [*shift, 0.0])


def _gap_finding(samples: Samples, points: Floats, options: FitOptions) -> list[Finding]:
    usual = float(np.median(np.hypot(*np.diff(samples.points, axis=0).T)))
    allowed = options.max_gap + 2 * usual
    if samples.clicked or samples.gap <= allowed:
        return []
    place = 0.5 * (points[0] + points[-1])
    return [finding("G501", place=(place[0], place[1]), gap_mm=samples.gap, allowed_mm=options.max_gap)]


def _report(traced: Traced, samples: Samples, options: FitOptions, contour: Contour, name: str) -> Fit:
    """Return the fit of a contour, its relations still to be told, with what a person should know of its samples."""
    kept = samples.points + samples.centre
    away, _ = kernels.distances(np.ascontiguousarray(kept), np.ascontiguousarray(contour.rows), True)
    worst = int(np.argmax(away))
    findings = [strays_finding(samples.strays, name)] if len(samples.strays) else []
    limit = 5 * max(traced.noise, options.noise or 0.0) if options.tolerance is None else options.tolerance
    if len(contour) > MOST_EDGES:
        findings.append(finding("G505", subject=name, count=len(contour)))
    if away[worst] > limit:
        spot = kept[worst]
        moved = float(away[worst])
        findings.append(
            finding("G503", place=(spot[0], spot[1]), subject=name, moved_mm=moved, tolerance_mm=limit)
        )
    return Fit(
        contour=contour, relations=(), moved_max=float(away[worst]), moved_rms=math.sqrt(float(np.mean(away**2))),
        noise=traced.noise, cost=traced.cost, bound=traced.bound, findings=tuple(findings),
    )  # fmt: skip


def _with_offer(fit: Fit, part: Chain | Circle, shift: Floats, name: str) -> Fit:
    """Return a hole's fit with the standard size it is near, if it is a circle and near one [mm]."""
    near = near_standard(2 * part.radius) if isinstance(part, Circle) else None
    if near is None or not isinstance(part, Circle):
        return fit
    offer = finding(
        "G504", place=(part.x + float(shift[0]), part.y + float(shift[1])), subject=name,
        diameter_mm=2 * part.radius, standard=near[0], standard_mm=near[1],
    )  # fmt: skip
    return replace(fit, findings=(*fit.findings, offer))


def _regular(
    traced: list[Traced], samples: list[Samples], middle: Floats, options: FitOptions
) -> tuple[list[Traced], Model, tuple[Relation, ...]]:
    """Return the model with its relations; edges the relations made one are joined, and the rest solved again."""
    shifts = [s.centre - middle for s in samples]
    while True:
        model = model_of(traced, [s.points for s in samples], shifts)
        if not options.relations:
            return traced, model, ()
        regular = regularise(
            model, refuse=options.refuse, round_to=options.round_to, uncertainty=options.total_uncertainty
        )
        again = [_joined(t, p) for t, p in zip(traced, regular.model.parts, strict=True)]
        if all(a is t for a, t in zip(again, traced, strict=True)):
            return traced, regular.model, regular.relations
        traced = [_started(t) for t in again]


def _joined(traced: Traced, part: Chain | Circle) -> Traced:
    """Return a traced contour with edges joined that have become one in the model, or itself if there are none."""
    if traced.chain is None or not isinstance(part, Chain):
        return traced
    same = same_edges(part)
    if not same or len(part.arcs) - len(same) < 2:
        return traced
    chain = traced.chain
    for edge in sorted(same, reverse=True):
        chain = joined(chain, edge)
    return replace(traced, chain=refine(chain)[0])


def fit_all(
    outlines: Sequence[ArrayLike], *, options: FitOptions, sds: Sequence[Floats] | None = None
) -> tuple[list[Fit], tuple[Relation, ...], tuple[Finding, ...]]:
    """Return a fit of every outline (points in [mm], `sds` of each), the relations over all of them, and all findings."""
    samples = [_samples(p, i, options, None if sds is None else sds[i]) for i, p in enumerate(outlines)]
    traced = [_started(_traced(s, options)) for s in samples]
    middle = samples[0].centre
    traced, model, relations = _regular(traced, samples, middle, options)
    fits = []
    for i, (t, s, p) in enumerate(zip(traced, samples, outlines, strict=True)):
        part = model.parts[i]
        contour = contour_of(facing(part) if isinstance(part, Chain) else part, middle)
        own = tuple(r for r in relations if all(c == i for c, _ in r.edges))
        fit = _report(t, s, options, contour, _name(i))
        gaps = _gap_finding(s, np.asarray(p, dtype=np.float64), options)
        fit = replace(fit, relations=own, findings=(*gaps, *fit.findings))
        fits.append(_with_offer(fit, part, middle, _name(i)) if i else fit)
    return fits, relations, tuple(f for fit in fits for f in fit.findings)
