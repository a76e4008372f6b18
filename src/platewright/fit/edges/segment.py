"""Where edges end: the dynamic programme over a closed or open run of dense samples, solved to a proven bound.

A closed outline has no first sample. The programme therefore starts free anywhere in a window about the
sharpest place and may end anywhere in the same window one lap later. Because such a path need not close,
its cost is a lower limit on the closed optimum; if it does close it is the optimum (`bound` equals
`cost`). Otherwise the closed programme is solved from both ends found, and the gap is reported. An
optimum with no break in the window is ruled out by the cost of one edge through the whole window.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from platewright.fit.edges import kernels
from platewright.geometry.contour import Floats

__all__ = ["Cut", "Price", "cut_closed", "cut_open", "firmness", "turned_back", "walked"]

EDGE_NEWS = 1.0
"""Price of one more edge beyond its numbers [-]: one chance in e of a further edge."""

ARC_NEWS = 1.5
"""Price of an edge being an arc beyond its third number [-]: straights outnumber arcs in plate work."""

FEW = 120
"""Up to this many samples a closed outline is solved from every start [-]."""


@dataclass(frozen=True, slots=True)
class Price:
    """What the description of an edge costs.

    Attributes
    ----------
    weight : 1 / (2 sd² stretch) [1/mm²]; stretch is how many samples carry the news of one [-]
    parameter : price of one real number [-] (nats)
    click, clicks : price of one click along a line and of all those of one line at most [-]; 0 if not clicked
    """

    weight: float
    parameter: float
    click: float = 0.0
    clicks: float = 0.0

    @property
    def line(self) -> float:
        """Price of a line [-]: two numbers and that it is there."""
        return 2 * self.parameter + EDGE_NEWS

    @property
    def arc(self) -> float:
        """Price of an arc [-]: three numbers, that it is there and that it is no line."""
        return 3 * self.parameter + EDGE_NEWS + ARC_NEWS

    @property
    def prices(self) -> kernels.Prices:
        """The same as the compiled loops take it [1/mm², -]."""
        return kernels.Prices(self.weight, self.line, self.arc, self.click, self.clicks)

    @staticmethod
    def of(noise: float, *, stretch: float, samples: int) -> Price:
        """Return the prices for a noise sd [mm], a stretch [-] and a number of samples [-].

        Half the logarithm of the independent samples is the classical price of a real number (J. Rissanen,
        1978; G. Schwarz, 1978); the addition pays for choosing the place of the break.
        """
        independent = max(samples / stretch, 8.0)
        return Price(1.0 / (2 * noise**2 * stretch), 0.5 * math.log(independent) + 0.8)


@dataclass(frozen=True, slots=True)
class Cut:
    """Edges as runs of samples: edge k is samples starts[k] to starts[k + 1] (past the end: next lap).

    Attributes
    ----------
    starts : first sample of each edge, rising
    arcs : whether each edge is an arc
    cost, bound : cost of this cut and a lower limit on any cut's cost [-]
    """

    starts: tuple[int, ...]
    arcs: tuple[bool, ...]
    cost: float
    bound: float


def walked(came: np.ndarray, kind: np.ndarray, end: int) -> tuple[list[int], list[bool]]:
    """Return the start of every edge on the best way to a node, and whether it is an arc [-]."""
    starts: list[int] = []
    arcs: list[bool] = []
    node = end
    while came[node] >= 0:
        arcs.append(bool(kind[node]))
        node = int(came[node])
        starts.append(node)
    return starts[::-1], arcs[::-1]


def _run(  # type: ignore[no-untyped-def]
    points: Floats, price: Price, first: Floats, ahead: Floats | None = None, most: float = math.inf
):
    ahead = np.zeros(len(points) + 1) if ahead is None else ahead
    return kernels.partition(np.ascontiguousarray(points), price.prices, first, ahead, most)


def cut_open(points: Floats, price: Price, ahead: Floats | None = None, most: float = math.inf) -> Cut:
    """Return the best cut of an open run of samples [mm]; its bound is its cost.

    With `ahead`, what the way from each node to the end costs at least [-], only cuts that cost no more than
    `most` [-] are looked for; if there is none, what is found costs more, or is nothing at infinite cost.
    """
    total, came, kind = _run(points, price, np.zeros(1), ahead, most)
    starts, arcs = walked(came, kind, len(points))
    return Cut(tuple(starts), tuple(arcs), float(total[-1]), float(total[-1]))


def sharpest(points: Floats, reach: int) -> int:
    """Return the sample where a closed run bends most over `reach` samples either way [-]."""
    bend = np.roll(points, reach, axis=0) + np.roll(points, -reach, axis=0) - 2 * points
    return int(np.argmax((bend**2).sum(axis=1)))


def turned_back(cut: Cut, start: int, n: int) -> Cut:
    """Return a cut of a closed run of n samples that was numbered from sample `start` [-]."""
    starts = [(s + start) % n for s in cut.starts]
    turn = int(np.argmin(starts))
    return replace(cut, starts=tuple(starts[turn:] + starts[:turn]), arcs=cut.arcs[turn:] + cut.arcs[:turn])


def _from(
    points: Floats, price: Price, start: int, ahead: Floats | None = None, most: float = math.inf
) -> Cut:
    """Return the best cut that has a break just before sample `start`; `ahead` and `most` as in `cut_open`."""
    n = len(points)
    cut = cut_open(np.roll(points, -start, axis=0), price, ahead, most)
    if not cut.starts:
        return cut
    return replace(turned_back(cut, start, n), bound=-math.inf)


def _spans(cut: Cut, n: int) -> NDArray[np.int64]:
    """Return (E, 2) first sample and one past the last of every edge, running on into the next lap."""
    starts = np.asarray(cut.starts)
    return np.column_stack([starts, np.append(starts[1:], starts[0] + n)])


def firmness(points: Floats, cut: Cut) -> Floats:
    """Return what taking away the start of each edge would cost in misfit [mm²]."""
    start, stop = np.ascontiguousarray(_spans(cut, len(points)).T)
    merged = kernels.misfits(points, start - np.roll(stop - start, 1), stop)[:, 1]
    apart = kernels.misfits(points, start, stop)[:, 1]
    return np.asarray(merged - apart - np.roll(apart, 1))


def firmest(points: Floats, cut: Cut, avoid: int) -> int:
    """Return the edge [-] whose start, taken away, would cost most; not the start at sample `avoid`."""
    loss = firmness(points, cut)
    loss[(np.asarray(cut.starts) == avoid) & (len(cut.starts) > 2)] = -1.0
    return int(np.argmax(loss))


def _hill(points: Floats, cut: Cut, price: Price, window: NDArray[np.int64]) -> Floats:
    """Return the running cost of the samples of a window under a cut [-], from 0."""
    n = len(points)
    spans = _spans(cut, n)
    out = np.zeros(len(window))
    edge = (np.searchsorted(spans[:, 0], window % n, side="right") - 1) % len(spans)
    for e in np.unique(edge):
        run = points[np.arange(spans[e, 0], spans[e, 1]) % n]
        here = edge == e
        out[here] = residuals(run, points[window[here] % n], arc=cut.arcs[e]) ** 2
    return np.concatenate([[0.0], np.cumsum(out * price.weight)])


def residuals(run: Floats, at: Floats, *, arc: bool) -> Floats:
    """Return signed distances of points `at` to the best line or circle of a run of samples [mm]."""
    mean = run.mean(axis=0)
    rel, rest = run - mean, at - mean
    if not arc:
        normal = np.linalg.svd(rel, full_matrices=False)[2][-1]
        return np.asarray(rest @ normal)
    z = (rel**2).sum(axis=1)
    matrix = np.column_stack([(z - z.mean()) / (2 * np.sqrt(max(z.mean(), 1e-30))), rel])
    a, b, c = np.linalg.svd(matrix, full_matrices=False)[2][-1]
    a /= 2 * np.sqrt(max(z.mean(), 1e-30))
    value = a * ((rest**2).sum(axis=1) - z.mean()) + rest @ np.array([b, c])
    slope = np.hypot(2 * a * rest[:, 0] + b, 2 * a * rest[:, 1] + c)
    return np.asarray(value / np.maximum(slope, 1e-12))


def _halved(cut: Cut, n: int) -> Cut:
    """Return a loop that came out as one edge as two [-]."""
    start = cut.starts[0]
    starts = tuple(sorted({start, (start + n // 2) % n}))
    return Cut(starts, cut.arcs * 2, cut.cost, cut.cost)


def cut_closed(points: Floats, price: Price) -> Cut:
    """Return the best cut of a closed run of samples [mm] with a lower limit on the cost of any."""
    n = len(points)
    if n <= FEW:
        best = min((_from(points, price, s) for s in range(n)), key=lambda c: c.cost)
        return _halved(best, n) if len(best.starts) < 2 else replace(best, bound=best.cost)
    first = _from(points, price, sharpest(points, min(12, (n - 1) // 4)))
    if len(first.starts) < 2:
        return _halved(first, n)
    edge = firmest(points, first, sharpest(points, min(12, (n - 1) // 4)))
    spans = _spans(first, n)
    sizes = spans[:, 1] - spans[:, 0]
    reach = int(np.clip(min(sizes[edge], sizes[edge - 1]) // 2, 3, 100))
    reach = min(reach, (n - 1) // 4)
    begin = int(spans[edge, 0]) - reach
    window = np.arange(begin, begin + 2 * reach)
    laps = points[np.arange(begin, begin + n + 2 * reach) % n]
    hill = _hill(points, first, price, window)
    total, came, kind = _run(laps, price, hill)
    ends = total[n:] - hill
    end = int(np.argmin(ends))
    bound = float(ends[end])
    starts, arcs = walked(came, kind, n + end)
    if starts[0] == end:  # it closes, and none is cheaper
        tried = [turned_back(Cut(tuple(starts), tuple(arcs), bound, bound), begin, n)]
    else:
        # no run costs less than what the free way's cost rises by along it: that limits what is ahead
        most = first.cost + price.parameter
        tried = [
            _from(points, price, (begin + s) % n, total[s + n] - total[s : s + n + 1], most)
            for s in sorted({starts[0], end, reach})
        ]
    best = min([first, *tried], key=lambda c: c.cost)
    sides = kernels.misfits(laps, np.array([0, 0, reach]), np.array([2 * reach, reach, 2 * reach]))
    cheap = (sides * price.weight + [price.line, price.arc]).min(axis=1)
    spanned = bound + price.weight * float(sides[0, 1]) - float(cheap[1] + cheap[2]) - price.arc
    return Cut(best.starts, best.arcs, best.cost, min(best.cost, bound, spanned))
