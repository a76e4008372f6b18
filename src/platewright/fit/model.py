"""All contours of a profile as one vector of unknowns, with its covariance, solved under rules across them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.fit import descent
from platewright.fit.chain import Chain, normal
from platewright.fit.outline import Circle, Traced
from platewright.fit.relations.rules import Rule, System, system
from platewright.fit.solve import SETTLED, pseudo, step_under
from platewright.geometry.contour import Floats

__all__ = ["Model", "Ref", "model_of", "solve"]

ROAM = 3.0
"""What a vertex between smooth edges may slide by for all the data say, as a sd [mm]; keeps the covariance finite."""


@dataclass(frozen=True, slots=True)
class Ref:
    """An edge of the model: where it is and which unknowns make it.

    Attributes
    ----------
    contour, edge : its place [-]
    kind : "line", "arc" or "circle"
    columns : its unknowns: x0, y0, bulge, x1, y1, or x, y, radius of a circle
    """

    contour: int
    edge: int
    kind: str
    columns: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """Contours as one vector.

    Attributes
    ----------
    parts : a chain or a circle a contour
    points : each circle's samples, None for a chain [mm]
    scale : noise² times stretch of each contour [mm²]
    offsets : first unknown of each contour [-]
    unknowns : (N,) [mm, -]
    refs : every edge
    """

    parts: tuple[Chain | Circle, ...]
    points: tuple[Floats | None, ...]
    scale: tuple[float, ...]
    offsets: tuple[int, ...]
    unknowns: Floats
    refs: tuple[Ref, ...]

    def name(self, ref: Ref) -> str:
        """Return an edge's name in words, counted from 1 [-]."""
        where = "" if len(self.parts) == 1 or ref.contour == 0 else f" of hole {ref.contour}"
        return f"the circle{where}" if ref.kind == "circle" else f"edge {ref.edge}{where}"

    def names(self, a: Ref, b: Ref) -> str:
        """Return the names of two edges as a sentence begins with them [-]."""
        return f"{self.name(a).capitalize()} and {self.name(b)}"

    def free(self) -> NDArray[np.bool_]:
        """Return which unknowns may move [-]."""
        return np.concatenate([p.free if isinstance(p, Chain) else np.ones(3, bool) for p in self.parts])

    def with_unknowns(self, unknowns: Floats) -> Model:
        """Return the model at other unknowns [mm, -]."""
        parts: list[Chain | Circle] = []
        for part, start in zip(self.parts, self.offsets, strict=True):
            if isinstance(part, Chain):
                rows = unknowns[start : start + part.rows.size].reshape(-1, 3)
                parts.append(replace(part, rows=np.ascontiguousarray(rows)))
            else:
                x, y, r = map(float, unknowns[start : start + 3])
                parts.append(replace(part, x=x, y=y, radius=abs(r)))
        return replace(self, parts=tuple(parts), unknowns=unknowns)


def _refs(part: Chain | Circle, contour: int, start: int) -> list[Ref]:
    if isinstance(part, Circle):
        return [Ref(contour, 0, "circle", np.arange(start, start + 3))]
    n, rows = len(part.arcs), len(part.rows)
    found = []
    for k in range(n):
        a, b = start + 3 * k, start + 3 * ((k + 1) % rows)
        kind = "arc" if part.arcs[k] else "line"
        found.append(Ref(contour, k, kind, np.array([a, a + 1, a + 2, b, b + 1])))
    return found


def model_of(traced: Sequence[Traced], points: Sequence[Floats], shifts: Sequence[Floats]) -> Model:
    """Return the model of traced contours; `shifts` [mm] bring each contour's own middle into one frame."""
    parts: list[Chain | Circle] = []
    kept: list[Floats | None] = []
    offsets, unknowns, refs, start = [], [], [], 0
    for i, (t, xy, shift) in enumerate(zip(traced, points, shifts, strict=True)):
        part: Chain | Circle
        if t.circle is not None:
            part = replace(t.circle, x=t.circle.x + float(shift[0]), y=t.circle.y + float(shift[1]))
            vector = np.array([part.x, part.y, part.radius])
            kept.append(xy + shift)
        else:
            assert t.chain is not None
            anchors = None if t.chain.anchors is None else t.chain.anchors + shift
            part = replace(
                t.chain, points=t.chain.points + shift, rows=t.chain.rows + [*shift, 0.0], anchors=anchors
            )
            vector = part.rows.ravel()
            kept.append(None)
        parts.append(part)
        offsets.append(start)
        unknowns.append(vector)
        refs += _refs(part, i, start)
        start += len(vector)
    scale = tuple(t.noise**2 * t.stretch for t in traced)
    return Model(
        parts=tuple(parts), points=tuple(kept), scale=scale, offsets=tuple(offsets),
        unknowns=np.concatenate(unknowns), refs=tuple(refs),
    )  # fmt: skip


def _circle_normal(circle: Circle, points: Floats) -> tuple[Floats, Floats, float]:
    away = points - (circle.x, circle.y)
    far = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-12)
    j = np.column_stack([-away / far[:, None], -np.ones(len(far))])
    miss = far - circle.radius
    weighed = j * circle.weights[:, None]
    return weighed.T @ j, weighed.T @ miss, float(circle.weights @ miss**2)


def information(model: Model) -> tuple[Model, Floats, Floats, float]:
    """Return the model with its samples at their nearest edges, the information matrix and slope of half chi squared, and chi squared [-]."""
    size = len(model.unknowns)
    hessian, slope, total = np.zeros((size, size)), np.zeros(size), 0.0
    parts: list[Chain | Circle] = []
    for part, points, scale, start in zip(model.parts, model.points, model.scale, model.offsets, strict=True):
        if isinstance(part, Chain):
            here = normal(part)
            parts.append(replace(part, labels=here.labels))
            h, s, t = here.hessian, here.slope, here.total
        else:
            assert points is not None
            h, s, t = _circle_normal(part, points)
            parts.append(part)
        own = slice(start, start + len(s))
        hessian[own, own] += h / scale
        slope[own] += s / scale
        total += t / scale
    return replace(model, parts=tuple(parts)), hessian, slope, total


@dataclass(frozen=True, slots=True)
class State:
    """A solved model: covariance (N, N) under the rules [mm²], chi squared [-], largest rule unmet [mm].

    A model given up has no covariance, and a rule infinitely unmet.
    """

    model: Model
    covariance: Floats
    total: float
    unmet: float


def _frozen(model: Model, *, like: Model | None = None) -> Model:
    """Return the model with every sample staying at its edge, or free to pass as in another model."""
    parts: list[Chain | Circle] = []
    for part, other in zip(model.parts, (like or model).parts, strict=True):
        if isinstance(part, Chain) and isinstance(other, Chain):
            kept = np.ones(len(part.points), bool) if like is None else other.frozen
            part = replace(part, frozen=kept)
        parts.append(part)
    return replace(model, parts=tuple(parts))


def _labels(model: Model) -> list[NDArray[np.int64]]:
    return [p.labels for p in model.parts if isinstance(p, Chain)]


def _newton(model: Model, rules: System, rounds: int, most: float) -> Model | None:
    """Return the model solved under the rules, no sample passing between edges; None if chi squared settles over `most`."""
    free = np.flatnonzero(model.free())
    edges = np.array([r.columns for r in model.refs if r.kind != "circle"], dtype=np.int64).reshape(-1, 5)
    model = _frozen(model)
    damp, size = 0.1, math.inf
    for _ in range(rounds):
        model, hessian, slope, total = information(model)
        if size < SETTLED and total > most:
            return None
        known = descent.known(hessian, free, damp, _even(model, hessian), 1 / ROAM**2)
        damp = damp * 0.2 if damp > 1e-5 else 0.0
        g, slopes = rules.at(model.unknowns)
        move = np.zeros(len(model.unknowns))
        move[free] = step_under(known, slope[free], g, slopes[:, free])
        size = float(np.abs(move).max())
        trial = model.with_unknowns(model.unknowns + move * min(1.0, 1.0 / max(size, 1e-12)))
        if not _whole(trial, edges):
            break
        model = trial
        if size < 1e-8 and damp == 0.0:
            break
    return model


def _whole(model: Model, edges: NDArray[np.int64]) -> bool:
    """Tell whether every edge (a row of its columns) is still one: finite, longer than nothing, no full turn."""
    if not np.isfinite(model.unknowns).all():
        return False
    e = model.unknowns[edges]
    return not len(e) or bool(
        np.hypot(e[:, 3] - e[:, 0], e[:, 4] - e[:, 1]).min() > 1e-3 and np.abs(e[:, 2]).max() < 50
    )


def _even(model: Model, hessian: Floats) -> Floats:
    """Return the diagonal of the information matrix, made the same whichever way the axes lie."""
    ends = itertools.pairwise((*model.offsets, len(hessian)))
    return np.concatenate([descent.spread_evenly(hessian[a:b, a:b]) for a, b in ends])


def solve(model: Model, rules: Sequence[Rule], *, most: float = math.inf) -> State:
    """Return the model of least chi squared under the rules [mm]; a step moves nothing more than 1 mm.

    The first steps of a pass are damped, and less each time. Without rules it stays where it is. Samples pass between edges only between three passes [-], so that each
    pass is a smooth problem and converges. It is given up where a pass settles with chi squared over `most` [-].
    """
    free = np.flatnonzero(model.free())
    given, ready = model, system(rules)
    for _ in range(3 if rules else 0):
        before = _labels(model)
        found = _newton(information(_frozen(model, like=given))[0], ready, 16, most)
        if found is None:
            return State(given, np.zeros((0, 0)), math.inf, math.inf)
        model = found
        if all(np.array_equal(a, b) for a, b in zip(before, _labels(model), strict=True)):
            break
    model, hessian, _, total = information(_frozen(model, like=given))
    known = descent.known(hessian, free, 0.0, np.zeros(len(hessian)), 1 / ROAM**2)
    for _ in range(8):  # the rules to float noise, moved least in the data's own measure
        g, slopes = ready.at(model.unknowns)
        if not len(g) or np.abs(g).max() < 1e-12:
            break
        move = np.zeros(len(model.unknowns))
        move[free] = step_under(known, np.zeros(len(free)), g, slopes[:, free])
        model = model.with_unknowns(model.unknowns + move)
    g, slopes = ready.at(model.unknowns)
    inner = descent.solved(known, np.eye(len(free)))
    if len(g):
        spread = inner @ slopes[:, free].T
        inner = inner - spread @ pseudo(slopes[:, free] @ spread) @ spread.T
    covariance = np.zeros((len(model.unknowns), len(model.unknowns)))
    covariance[np.ix_(free, free)] = inner
    return State(model, covariance, total, float(np.abs(g).max()) if len(g) else 0.0)
