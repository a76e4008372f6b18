"""One outline: samples to chain. Chooses between a circle, a dense outline and a clicked one."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from platewright.fit.chain import Chain, Normal, first_rows, labels_of, normal, refine
from platewright.fit.edges.clicks import chain_of_clicks, cut_clicks, priced, widest_step
from platewright.fit.edges.merge import unfolded
from platewright.fit.edges.moves import shortest
from platewright.fit.edges.segment import Cut, Price, cut_closed
from platewright.fit.edges.settle import settle
from platewright.fit.edges.slow import bend_price, eased
from platewright.fit.edges.wobble import wobble
from platewright.fit.prepare import LEAST_NOISE, Samples, noise_of
from platewright.geometry.contour import Floats

__all__ = ["Circle", "Traced", "trace"]

CLICK_NOISE = 0.3
"""What a hand on a mouse or a finger on a screen is taken to miss by, before the clicks say [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A closed outline that is one circle [mm], with the inverse covariance of (x, y, radius) times noise²; weights (N,) of its samples [-]."""

    x: float
    y: float
    radius: float
    total: float
    hessian: Floats
    weights: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """An outline as a chain (or a circle) with what it rests on.

    Attributes
    ----------
    chain, normal : the chain at its least squares, None for a circle
    circle : the circle, None for a chain
    noise : sd of the points across the outline [mm]
    stretch : samples that carry the news of one [-]
    cost, bound : of the cut, in nats [-]
    """

    chain: Chain | None
    normal: Normal | None
    circle: Circle | None
    noise: float
    stretch: float
    cost: float
    bound: float


def fit_circle(points: Floats, weights: Floats | None = None) -> Circle:
    """Return the circle of least squared distance to points [mm], weighted [-] (Gauss and Newton from the algebraic fit)."""
    mean = points.mean(axis=0)
    rel = points - mean
    weights = np.ones(len(rel)) if weights is None else weights
    root = np.sqrt(weights)
    z = (rel**2).sum(axis=1)
    a = np.column_stack([2 * rel, np.ones(len(rel))])
    cx, cy, k = np.linalg.lstsq(a * root[:, None], z * root, rcond=None)[0]
    r = math.sqrt(max(k + cx * cx + cy * cy, 1e-12))
    j = np.ones((len(rel), 3))
    for _ in range(20):
        away = rel - (cx, cy)
        far = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-12)
        j = np.column_stack([-away / far[:, None], -np.ones(len(rel))])
        move = np.linalg.lstsq(j * root[:, None], (r - far) * root, rcond=None)[0]
        cx, cy, r = cx + move[0], cy + move[1], r + move[2]
        if np.abs(move).max() < 1e-10:
            break
    miss = np.hypot(rel[:, 0] - cx, rel[:, 1] - cy) - r
    total, hessian = float(weights @ miss**2), j.T @ (j * weights[:, None])
    return Circle(
        x=float(cx + mean[0]), y=float(cy + mean[1]), radius=float(abs(r)), total=total, hessian=hessian,
        weights=weights,
    )  # fmt: skip


def _stretch(chain: Chain, misfit: Floats, noise: float) -> float:
    """Return 1 + 2 sum of the residuals' autocorrelation within edges [-]: samples that carry the news of one."""
    clipped = np.clip(misfit, -4 * noise, 4 * noise)
    most = min(200, len(clipped) // 8)
    own = float(np.mean(clipped**2))
    if own <= 0 or most < 2:
        return 1.0
    total = 1.0
    for lag in range(1, most):
        same = chain.labels[lag:] == chain.labels[:-lag]
        if same.sum() < 20:
            break
        rho = float(np.mean((clipped[lag:] * clipped[:-lag])[same])) / own
        if rho < 0.05:
            break
        total += 2 * rho
    return total


def _dense(samples: Samples, price: Price) -> tuple[Chain, Normal, Cut]:
    cut = cut_closed(samples.points, price)
    n = len(samples.points)
    chain = Chain(
        points=samples.points, weights=samples.weights, labels=labels_of(cut.starts, n),
        rows=first_rows(samples.points, cut.starts, cut.arcs), arcs=np.array(cut.arcs), closed=True, frozen=np.zeros(n, bool),
    )  # fmt: skip
    chain, here = refine(chain)
    return chain, here, cut


def _spread(chain: Chain, here: Normal) -> float:
    """Return the noise sd [mm] from the residuals, strays clipped."""
    dof = max(float(chain.weights.sum()) - float(chain.free.sum()) * 0.75, 1.0)
    rough = 1.4826 * float(np.median(np.abs(here.misfit)))
    kept = np.minimum(np.abs(here.misfit), 4 * max(rough, 1e-9))
    return math.sqrt(float((chain.weights * kept**2).sum()) / dof)


def _trace_dense(samples: Samples, noise: float | None) -> Traced:
    n = len(samples.points)
    sd = noise or noise_of(samples.points)
    stretch = 1.0
    slow = None if noise else wobble(samples.points)
    if slow is not None:
        sd, stretch = slow.sd, slow.stretch
    chain, here, cut = _dense(samples, Price.of(sd, stretch=stretch, samples=n))
    for _ in range(3):
        new_sd = noise or _spread(chain, here)
        new_stretch = _stretch(chain, here.misfit, new_sd)
        if 0.97 * sd < new_sd < 1.03 * sd and abs(math.log(new_stretch / stretch)) < 0.2:
            break
        sd, stretch = new_sd, new_stretch
        chain, here, cut = _dense(samples, Price.of(sd, stretch=stretch, samples=n))
    price = Price.of(sd, stretch=stretch, samples=n)
    chain, here = unfolded(*shortest(*settle(chain, here, price), price))
    return Traced(
        chain=chain, normal=here, circle=None, noise=sd, stretch=stretch, cost=cut.cost, bound=cut.bound
    )


def _trace_clicks(samples: Samples, noise: float | None) -> Traced:
    sd = noise or CLICK_NOISE
    readings = [samples.points]
    if 0 < np.hypot(*(samples.points[0] - samples.points[-1])) <= 2.0 and len(samples.points) > 3:
        both = 0.5 * (samples.points[:1] + samples.points[-1:])
        readings.append(np.vstack([both, samples.points[1:-1]]))
    prices = [priced(p, Price.of(sd, stretch=1.0, samples=len(p))) for p in readings]
    cuts = [cut_clicks(p, price) for p, price in zip(readings, prices, strict=True)]
    best = min(range(len(cuts)), key=lambda k: cuts[k].cost)
    chain, here = refine(chain_of_clicks(readings[best], cuts[best]))
    chain, here = settle(chain, here, prices[best])
    return Traced(
        chain=chain, normal=here, circle=None, noise=sd, stretch=1.0, cost=cuts[best].cost,
        bound=cuts[best].bound,
    )  # fmt: skip


def _described(traced: Traced, price: Price) -> float:
    """Return the description length of a chain [-]: its cut's, or its own where samples do not count alike."""
    if traced.chain is None or traced.normal is None or (traced.chain.weights == 1).all():
        return traced.cost
    arcs = int(traced.chain.arcs.sum())
    prices = arcs * price.arc + (len(traced.chain.arcs) - arcs) * price.line
    return traced.normal.total * price.weight + prices


def _as_circle(samples: Samples, other: Traced, slow: float) -> Traced | None:
    """Return the outline as one circle if that is the shorter description than `other`."""
    points = samples.points
    if len(points) < 6:
        return None
    circle = fit_circle(points, samples.weights)
    turn = np.sort(np.arctan2(points[:, 1] - circle.y, points[:, 0] - circle.x))
    widest = float(np.max(np.diff(np.append(turn, turn[0] + math.tau))))
    if widest > math.radians(100):
        return None
    step = widest * circle.radius
    if samples.clicked and step > max(widest_step(points), 3 * math.tau * circle.radius / len(points)):
        return None
    price = Price.of(other.noise, stretch=other.stretch, samples=len(points))
    missed = circle.total * price.weight
    if slow > 0 and other.normal is not None:
        apart = min(other.normal.total, circle.total)
        missed = apart * price.weight + bend_price(circle.total - apart, points, price, slow=slow)
    if missed + price.arc > _described(other, price) + price.parameter:
        return None
    own = max(math.sqrt(circle.total / (len(points) - 3)), LEAST_NOISE)
    cost = circle.total * price.weight + price.arc
    return Traced(
        chain=None, normal=None, circle=circle, noise=own, stretch=other.stretch, cost=cost,
        bound=min(cost, other.bound),
    )  # fmt: skip


def trace(samples: Samples, *, noise: float | None, slow: float = 0.0) -> Traced:
    """Return lines and arcs through cleaned samples, no relations yet; `noise` fixes the sd [mm] if given.

    `slow` : sd of what dense samples may be off by together over long stretches [mm].
    """
    traced = (_trace_clicks if samples.clicked else _trace_dense)(samples, noise)
    circle = _as_circle(samples, traced, slow)
    if circle is not None:
        return circle
    if slow == 0 or samples.clicked or traced.chain is None or traced.normal is None:
        return traced
    price = Price.of(traced.noise, stretch=traced.stretch, samples=len(samples.points))
    chain, here = eased(traced.chain, traced.normal, price, slow=slow)
    return replace(traced, chain=chain, normal=here)


def reweighed(chain: Chain, here: Normal, noise: float) -> tuple[Chain, Normal]:
    """Return the chain refitted without samples beyond 5 sd [mm] that stand alone."""
    if len(chain.arcs) != here.slope.size // 3:
        chain, here = refine(chain)
    off = np.abs(here.misfit) > 5 * noise
    alone = off & ~np.roll(off, 1) & ~np.roll(off, -1)
    if not alone.any():
        return chain, here
    chain = replace(chain, weights=np.where(alone, 0.0, chain.weights))
    chain, here = refine(chain)
    return chain, normal(chain)
