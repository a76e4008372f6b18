"""Shapes like real plate parts, the ways a person captures them, and how to tell whether a fit is right.

Every shape is made of lines and arcs with known numbers. A shape is used only if each of its edges can be told
from the points: taking the edge away (merged with the one before, merged with the one after, or both
neighbours carried on until they meet) or turning an arc into a line must move the outline by more than four
standard errors of the points there, that is by a sum of squares above 16 sd².
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platewright.fit.edges.kernels import misfits
from platewright.fit.kernels import distances
from platewright.geometry import Arc, Contour, Line, Pose, flatten

Floats = np.ndarray


def _filleted(corners: Floats, radii: Floats) -> Contour | None:
    """Return a polygon [mm] with a radius at each corner [mm], or None if they do not fit."""
    n = len(corners)
    before, after = np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0)
    a, b = before - corners, after - corners
    la, lb = np.hypot(*a.T), np.hypot(*b.T)
    turn = np.pi - np.arccos(np.clip((a * b).sum(axis=1) / (la * lb), -1, 1))
    cut = radii * np.tan(turn / 2)
    if (cut + np.roll(cut, -1) > lb - 3.0).any():
        return None
    left = (-a[:, 0] * b[:, 1] + a[:, 1] * b[:, 0]) > 0
    rows: list[tuple[float, float, float]] = []
    for i in range(n):
        if radii[i] == 0:
            rows.append((*corners[i], 0.0))
            continue
        bulge = math.tan(turn[i] / 4) * (1 if left[i] else -1)
        rows.append((*(corners[i] + a[i] / la[i] * cut[i]), bulge))
        rows.append((*(corners[i] + b[i] / lb[i] * cut[i]), 0.0))
    return Contour(np.array(rows))


def _size(rng: np.random.Generator, low: float, high: float, grid: float) -> float:
    value = rng.uniform(low, high)
    return round(value / grid) * grid if grid else value


def _radii(rng: np.random.Generator, count: int, grid: float, most: float) -> Floats:
    share = rng.choice([0.0, 0.3, 0.6, 1.0])
    kinds = [max(3.0, _size(rng, 3.0, 3.0 + (most - 3.0) * rng.random(), grid)) for _ in range(2)]
    return np.array([kinds[rng.integers(2)] if rng.random() < share else 0.0 for _ in range(count)])


def _steps(rng: np.random.Generator, grid: float) -> Contour | None:
    """Draw a bracket: an L, T or U, or a comb of notches."""
    w, h = _size(rng, 80, 400, grid), _size(rng, 60, 250, grid)
    teeth = int(rng.integers(0, 8))
    xs = np.linspace(0, w, 2 * teeth + 2)
    depth = _size(rng, 10, h * 0.5, grid)
    top = [(w, h)]
    for k in range(teeth):
        x1, x0 = xs[-2 - 2 * k], xs[-3 - 2 * k]
        top += [(x1, h), (x1, h - depth), (x0, h - depth), (x0, h)]
    corners = np.array([(0, 0), (w, 0), *top, (0, h)], dtype=float)
    return _filleted(corners, _radii(rng, len(corners), grid, min(30.0, depth / 2.2)))


def _gusset(rng: np.random.Generator, grid: float) -> Contour | None:
    """Draw a convex plate of 3 to 8 corners, some rounded, some chamfered by chance of the angles."""
    n = int(rng.integers(3, 9))
    angles = np.sort(rng.uniform(0, math.tau, n))
    if np.diff(np.append(angles, angles[0] + math.tau)).max() > 2.8 or np.diff(angles).min() < 0.25:
        return None
    radius = _size(rng, 50, 200, grid) * rng.uniform(0.85, 1.15, n)
    corners = np.column_stack([radius * np.cos(angles), 0.7 * radius * np.sin(angles)])
    if grid:
        corners = np.round(corners / grid) * grid
    return _filleted(corners, _radii(rng, n, grid, 60.0))


def _link(rng: np.random.Generator, grid: float) -> Contour | None:
    """Draw a link: two round ends of their own radii joined by their tangents."""
    r1, r2 = _size(rng, 8, 60, grid), _size(rng, 8, 60, grid)
    d = _size(rng, 60, 350, grid)
    if abs(r1 - r2) > 0.6 * d or r1 + r2 > 0.9 * d:
        return None
    a = math.acos((r1 - r2) / d)
    p = [(r1 * math.cos(a), -r1 * math.sin(a)), (d + r2 * math.cos(a), -r2 * math.sin(a))]
    q = [(d + r2 * math.cos(a), r2 * math.sin(a)), (r1 * math.cos(a), r1 * math.sin(a))]
    rows = [(*p[0], 0), (*p[1], math.tan(2 * a / 4)), (*q[0], 0), (*q[1], math.tan((math.tau - 2 * a) / 4))]
    return Contour(np.array(rows))


def _fender(rng: np.random.Generator, grid: float) -> Contour | None:
    """Draw a fender: two concentric arcs, squared ends or returned lips."""
    inner = _size(rng, 60, 260, grid)
    width = _size(rng, 15, 60, grid)
    if inner + width > 300:
        return None
    sweep = rng.uniform(0.6, 2.6)
    ends = np.array([0.0, sweep])
    o = np.column_stack([np.cos(ends), np.sin(ends)])
    lip = _size(rng, 8, 40, grid) if rng.random() < 0.6 else 0.0
    t = math.tan(sweep / 4)
    rows = [(*(o[0] * (inner + width)), t), (*(o[1] * (inner + width)), 0.0)]
    out = np.array([-o[1, 1], o[1, 0]]) * lip
    if lip:
        rows += [(*(o[1] * (inner + width) + out), 0.0), (*(o[1] * inner + out), 0.0)]
    rows.append((*(o[1] * inner), -t))
    rows.append((*(o[0] * inner), 0.0))
    if lip:
        down = np.array([o[0, 1], -o[0, 0]]) * lip
        rows += [(*(o[0] * inner + down), 0.0), (*(o[0] * (inner + width) + down), 0.0)]
    return Contour(np.array(rows))


def _lobes(rng: np.random.Generator, grid: float) -> Contour | None:
    """Draw a flange: sharp scallops or flats about a circle."""
    n = int(rng.integers(3, 13))
    big = _size(rng, 60, 200, grid)
    bite = rng.uniform(0.25, 0.6) * math.tau / n / 2
    rows: list[tuple[float, float, float]] = []
    flat = rng.random() < 0.4
    inner = _size(rng, max(3.0, big * math.sin(bite) * 1.05), big * math.sin(bite) * 2.5, grid)
    if not flat and big * math.sin(bite) / inner > 0.99:
        return None
    for k in range(n):
        mid = math.tau * k / n
        a, b, c = mid - bite, mid + bite, mid + math.tau / n - bite
        dip = 0.0 if flat else -math.tan(math.asin(big * math.sin(bite) / inner) / 2)
        rows.append((big * math.cos(a), big * math.sin(a), dip))
        rows.append((big * math.cos(b), big * math.sin(b), math.tan((c - b) / 4)))
    return Contour(np.array(rows))


FAMILIES = (_steps, _gusset, _link, _fender, _lobes)


def along(contour: Contour, spacing: float, offset: float = 0.0) -> tuple[Floats, Floats]:
    """Return points every `spacing` [mm] along a contour and the edge each lies on."""
    points, edges = [], []
    carry = offset
    for k, edge in enumerate(contour.edges()):
        size = edge.length()
        at = np.arange(carry, size, spacing)
        carry = (at[-1] + spacing if len(at) else carry) - size
        points += [(p.x, p.y) for p in (edge.at(float(s / size)) for s in at)]
        edges += [k] * len(at)
    return np.array(points), np.array(edges)


def _carrier_misfit(points: Floats, edge: Line | Arc) -> Floats:
    """Return squared distances [mm²] of points to the whole line or circle of an edge."""
    if isinstance(edge, Arc):
        away = np.hypot(points[:, 0] - edge.centre.x, points[:, 1] - edge.centre.y) - edge.radius
        return np.asarray(away**2)
    d = edge.end - edge.start
    return np.asarray(
        ((points[:, 0] - edge.start.x) * d.y - (points[:, 1] - edge.start.y) * d.x) ** 2 / d.length() ** 2
    )


def distinguishable(contour: Contour, spacing: float, sd: float) -> bool:
    """Tell whether every edge [mm] moves the outline by over four standard errors if taken away."""
    points, label = along(contour, spacing)
    n, limit = len(contour), 16 * sd**2
    edges = list(contour.edges())
    for k in range(n):
        own = np.flatnonzero(label == k)
        if len(own) < 3:
            return False
        start, size = own[0], len(own)
        after = int((label == (k + 1) % n).sum())
        if misfits(points, np.array([start]), np.array([start + size + after])).min() < limit:
            return False
        if edges[k].bulge != 0 and misfits(points, np.array([start]), np.array([start + size]))[0, 0] < limit:
            return False
        mine = points[own]
        carried = np.minimum(_carrier_misfit(mine, edges[k - 1]), _carrier_misfit(mine, edges[(k + 1) % n]))
        if n > 3 and carried.sum() < limit:
            return False
    return True


def part(rng: np.random.Generator, *, spacing: float, sd: float) -> Contour:
    """Draw one plate part of 4 to 40 distinguishable edges, radii 3 to 300 mm, turned and placed anyhow."""
    while True:
        grid = 0.5 if rng.random() < 0.7 else 0.0
        contour = FAMILIES[rng.integers(len(FAMILIES))](rng, grid)
        if contour is None or not 4 <= len(contour) <= 40:
            continue
        radii = [e.radius for e in contour.edges() if isinstance(e, Arc)]
        if radii and not (min(radii) >= 3 - 1e-9 and max(radii) <= 300 + 1e-9):
            continue
        if distinguishable(contour, spacing, sd):
            return Pose(*rng.uniform(-200, 200, 2), rng.uniform(0, math.tau)).apply(contour)


def dense(
    contour: Contour, rng: np.random.Generator, *, spacing: float, sd: float, length: float = 0.0
) -> Floats:
    """Capture a contour densely [mm]: noise of an sd, white or correlated over a length; any start, any way round."""
    points, _ = along(contour, spacing, float(rng.uniform(0, spacing)))
    noise = rng.normal(0, sd, points.shape)
    if length:
        steps = np.arange(len(points))
        steps = np.minimum(steps, len(points) - steps) * spacing
        kernel = np.exp(-0.5 * (steps / (length / 2)) ** 2)
        kernel /= np.sqrt((kernel**2).sum())
        noise = np.fft.ifft(np.fft.fft(noise, axis=0) * np.fft.fft(kernel)[:, None], axis=0).real
    points = np.roll(points + noise, -int(rng.integers(len(points))), axis=0)
    return points[::-1] if rng.random() < 0.5 else points


def clicks(contour: Contour, rng: np.random.Generator, *, sd: float = 0.3, gap: float = 1.0) -> Floats:
    """Capture a contour by clicks [mm]: ends of straights, about 1 mm round curves, ends open by a gap."""
    spots: list[tuple[float, float]] = []
    first = int(rng.integers(len(contour)))
    turned = contour.started_at(first)
    for edge in turned.edges():
        spots.append((edge.start.x, edge.start.y))
        if isinstance(edge, Arc):
            count = max(2, round(edge.length()))
            at = (np.arange(1, count) + rng.uniform(-0.2, 0.2, count - 1)) / count
            spots += [(p.x, p.y) for p in map(edge.at, at.tolist())]
    points = np.array(spots)
    angle = rng.uniform(0, math.tau)
    last = points[:1] + gap * np.array([[math.cos(angle), math.sin(angle)]])
    points = points + rng.normal(0, sd, points.shape)
    points = np.vstack([points, last + rng.normal(0, sd, (1, 2))]) if gap else points
    return points[::-1] if rng.random() < 0.5 else points


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a fit compares with the truth [mm]: kind of failure ('' if exact), radius errors, deviation."""

    failure: str
    radius_errors: tuple[float, ...]
    deviation: float


def _kinds(contour: Contour) -> str:
    return "".join("A" if b else "L" for b in contour.bulges)


def deviation(truth: Contour, found: Contour) -> float:
    """Return the Hausdorff distance of two contours [mm], sampled at 0.02 mm chord error."""
    a, b = flatten(truth, tolerance=0.002), flatten(found, tolerance=0.002)
    rows_a, rows_b = np.array(truth.rows), np.array(found.rows)
    return float(max(distances(a, rows_b, True)[0].max(), distances(b, rows_a, True)[0].max()))


def judge(truth: Contour, found: Contour) -> Verdict:
    """Compare a fit with the truth: edge kinds in order, radii of matched arcs [mm], deviation [mm]."""
    truth, found = truth.counterclockwise(), found.counterclockwise()
    off = deviation(truth, found)
    want, got = _kinds(truth), _kinds(found)
    if len(want) != len(got):
        more = len(got) - len(want)
        return Verdict(
            f"{abs(more)} edge{'s' if abs(more) > 1 else ''} {'more' if more > 0 else 'fewer'}", (), off
        )
    n = len(want)
    fits = [k for k in range(n) if got[k:] + got[:k] == want]
    if not fits:
        return Verdict("line for arc or arc for line", (), off)
    near = [float(np.hypot(*(np.roll(found.points, -k, axis=0) - truth.points).T).mean()) for k in fits]
    best = found.started_at(fits[int(np.argmin(near))])
    errors = []
    for e, f in zip(truth.edges(), best.edges(), strict=True):
        if isinstance(e, Arc) and isinstance(f, Arc):
            errors.append(abs(e.radius - f.radius))
    return Verdict("", tuple(errors), off)
