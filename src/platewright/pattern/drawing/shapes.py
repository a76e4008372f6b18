"""From file curves to lines and arcs: affine maps, circular and elliptic arcs, splines, Béziers.

A circle under a map that keeps angles stays a circle exactly; anything else that is curved is sampled on
its own parameter finely enough that chords stray by less than a twentieth of the tolerance, and arcs are laid through the
samples (``fit.arcs.arcs_from_points``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platewright.geometry import Arc, Contour, Floats, Line, Point

__all__ = ["SAMPLES", "Affine", "arc_edges", "bezier_edges", "fitted", "line_edge"]

Edge = Line | Arc
SMOOTH = math.radians(2)
"""Curves that turn less than this where they meet go on smoothly [rad]."""
CHUNK = 1_500
"""Samples fitted at once [-]: the fit of a straight run costs their square."""
SAMPLES = 100_000
"""Most samples of one spline or one run of Bézier curves [-]; only hostile or absurd curves need more."""
KEEPS = 1e-9
"""A map whose two axes differ by less than this, in length and in squareness, keeps circles round [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Affine:
    """The map x' = a x + c y + e, y' = b x + d y + f, as SVG orders its numbers [-, mm]."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @staticmethod
    def of_axes(x: Sequence[float], y: Sequence[float], origin: Sequence[float]) -> Affine:
        """Return the map from the images of the two unit vectors [-] and of the origin [mm]."""
        return Affine(a=x[0], b=x[1], c=y[0], d=y[1], e=origin[0], f=origin[1])

    def at(self, x: float, y: float) -> Point:
        """Return the image of a point [mm]."""
        return Point(self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f)

    def lettered(
        self, x: float, y: float, turn: float = 0.0, *, down: bool = False
    ) -> tuple[Point, float, float]:
        """Return the image of where letters begin [mm], of their reading direction [rad], and of a unit of their height [mm].

        `turn` is the direction before the map [rad]; `down` says that there y grows downward, so that letters rise against it.
        """
        above = turn - math.pi / 2 if down else turn + math.pi / 2
        begin = self.at(x, y)
        ahead, up = (self.at(x + math.cos(a), y + math.sin(a)) for a in (turn, above))
        direction = math.atan2(ahead.y - begin.y, ahead.x - begin.x)
        return begin, direction, math.dist((up.x, up.y), (begin.x, begin.y))

    def points(self, xy: Floats) -> Floats:
        """Return the images of (N, 2) points [mm]."""
        moved: Floats = xy @ np.array([[self.a, self.b], [self.c, self.d]]) + (self.e, self.f)
        return moved

    def after(self, first: Affine) -> Affine:
        """Return the map that does `first`, then this one [-, mm]."""
        p = self
        return Affine(
            a=p.a * first.a + p.c * first.b,
            b=p.b * first.a + p.d * first.b,
            c=p.a * first.c + p.c * first.d,
            d=p.b * first.c + p.d * first.d,
            e=p.a * first.e + p.c * first.f + p.e,
            f=p.b * first.e + p.d * first.f + p.f,
        )

    def scale(self) -> float | None:
        """Return the map's one scale [-] if circles stay circles, else None."""
        one, two = math.hypot(self.a, self.b), math.hypot(self.c, self.d)
        if one == 0 or two == 0 or abs(one / two - 1) > KEEPS:
            return None
        return one if abs(self.a * self.c + self.b * self.d) <= KEEPS * one * two else None

    def turns(self) -> bool:
        """Tell whether the map flips left and right [-]."""
        return self.a * self.d - self.b * self.c < 0


def line_edge(p: Point, q: Point) -> list[Edge]:
    """Return the line between two points [mm], nothing if they are one."""
    return [Line(p, q)] if p != q else []


def arc_edges(
    centre: tuple[float, float], radius: float, *, start: float, sweep: float, to: Affine, tolerance: float
) -> list[Edge]:
    """Return a circular arc under a map [mm, rad]: an arc if circles stay circles, else arcs within a tolerance."""
    scale = to.scale()
    if scale is None:
        return ellipse_edges(
            Affine.of_axes((radius, 0.0), (0.0, radius), centre),
            start=start,
            sweep=sweep,
            to=to,
            tolerance=tolerance,
        )
    middle = to.at(*centre)
    first = to.at(centre[0] + radius * math.cos(start), centre[1] + radius * math.sin(start))
    return [Arc(middle, radius * scale, (first - middle).angle(), -sweep if to.turns() else sweep)]


def ellipse_edges(axes: Affine, *, start: float, sweep: float, to: Affine, tolerance: float) -> list[Edge]:
    """Return the unit circle from `start` over `sweep` [rad], laid on the ellipse's axes, under a map [mm]."""
    both = to.after(axes)
    if both.scale() is not None:
        return arc_edges((0.0, 0.0), 1.0, start=start, sweep=sweep, to=both, tolerance=tolerance)
    if abs(abs(sweep) - math.tau) < 1e-9:
        return _whole_ellipse(both, tolerance)
    size = max(math.hypot(both.a, both.b), math.hypot(both.c, both.d))

    def sample(t: Floats) -> Floats:
        return both.points(np.column_stack([np.cos(start + sweep * t), np.sin(start + sweep * t)]))

    step = math.sqrt(8 * tolerance / 20 / max(size, tolerance))
    count = int(min(CHUNK, max(16, math.ceil(abs(sweep) / step))))
    return fitted(sample(np.linspace(0.0, 1.0, count + 1)), tolerance=tolerance)


def _whole_ellipse(to: Affine, tolerance: float) -> list[Edge]:
    """Return a whole ellipse, the image of the unit circle, as four mirror images of one fitted quarter."""
    axes, sizes, _ = np.linalg.svd(np.array([[to.a, to.c], [to.b, to.d]]))
    if np.linalg.det(axes) < 0:
        axes = axes * [1.0, -1.0]
    long, short = float(sizes[0]), float(sizes[1])
    count = int(min(CHUNK, max(16, math.ceil(math.pi / 2 / math.sqrt(8 * tolerance / 20 / long)))))
    t = np.linspace(0.0, math.pi / 2, count + 1)
    spots = np.column_stack([long * np.cos(t), short * np.sin(t)])
    spots[-1, 0], spots[0, 1] = 0.0, 0.0
    quarter = Contour(
        np.array(
            [(e.start.x, e.start.y, e.bulge) for e in fitted(spots, tolerance=tolerance)]
            + [(0.0, short, 0.0)]
        ),
        closed=False,
    )
    mirrored = Contour(quarter.rows * [-1.0, 1.0, -1.0], closed=False).reversed()
    half = np.vstack([quarter.rows[:-1], mirrored.rows[:-1]])
    rows = np.vstack([half, half * [-1.0, -1.0, 1.0]])
    rows[:, :2] = rows[:, :2] @ axes.T + (to.e, to.f)
    return list(Contour(rows).edges())


def bezier_edges(
    curves: Sequence[Sequence[tuple[float, float]]], *, to: Affine, tolerance: float
) -> list[Edge]:
    """Return Bézier curves that follow each other, under a map [mm], as arcs within a tolerance [mm].

    Curves that go on smoothly are fitted as one; at a corner a new fit begins, so corners stay sharp.
    """
    edges: list[Edge] = []
    run: list[Floats] = []
    heading: float | None = None
    for control in curves:
        poles = to.points(np.array(control, dtype=np.float64))
        first, last = _headings(poles)
        if (
            run
            and heading is not None
            and first is not None
            and abs(math.remainder(first - heading, math.tau)) > SMOOTH
        ):
            edges += fitted(np.vstack(run), tolerance=tolerance)
            run = []
        run.append(_bezier_points(poles, tolerance, most=max(16, SAMPLES // len(curves))))
        heading = last if last is not None else heading
    return edges + (fitted(np.vstack(run), tolerance=tolerance) if run else [])


def _bezier_points(poles: Floats, tolerance: float, *, most: int) -> Floats:
    degree = len(poles) - 1
    t = np.linspace(0.0, 1.0, min(most, sample_count(poles, tolerance)) + 1)
    terms = [math.comb(degree, k) * (1 - t) ** (degree - k) * t**k for k in range(degree + 1)]
    spots: Floats = np.column_stack(terms) @ poles
    spots[0], spots[-1] = poles[0], poles[-1]
    return spots


def _headings(poles: Floats) -> tuple[float | None, float | None]:
    """Return the directions at both ends, None for a curve of no length."""
    steps = np.diff(poles, axis=0)
    steps = steps[np.hypot(*steps.T) > 1e-12]
    if len(steps) == 0:
        return None, None
    return math.atan2(steps[0, 1], steps[0, 0]), math.atan2(steps[-1, 1], steps[-1, 0])


def sample_count(poles: Floats, tolerance: float) -> int:
    """Return how many samples of a curve with these poles [mm] keep chords within a twentieth of a tolerance [mm].

    The second derivative of a Bézier curve of degree n is at most n (n-1) times the largest second
    difference of its poles, and a chord strays by at most that times h² / 8 (G. Farin, Curves and Surfaces
    for CAGD, chapter 5). For a spline span the same figure, of the whole pole row, serves as a bound in practice.
    """
    bend = np.diff(poles, 2, axis=0)
    size = float(np.hypot(*bend.T).max()) if len(bend) else 0.0
    degree = min(len(poles) - 1, 5)
    strays = degree * (degree - 1) * size / (8 * tolerance / 20)
    return int(min(CHUNK, max(8, math.ceil(math.sqrt(strays)))))


def fitted(points: Floats, *, tolerance: float, closed: bool = False) -> list[Edge]:
    """Return arcs and lines through samples, none farther than a tolerance [mm]; nothing for a speck."""
    from platewright.fit.arcs import arcs_from_points

    if len(points) > CHUNK + 1:
        parts = [points[k : k + CHUNK + 1] for k in range(0, len(points) - 1, CHUNK)]
        return [edge for part in parts for edge in fitted(part, tolerance=tolerance)]
    if closed:
        points = points[:-1]
    span = points.max(axis=0) - points.min(axis=0)
    if float(np.hypot(*span)) <= 1e-9:
        return []
    if len(points) == 2:
        return line_edge(Point(*map(float, points[0])), Point(*map(float, points[1])))
    contour = arcs_from_points(points, tolerance=tolerance * 0.9, closed=closed)
    return list(contour.edges())


def mapped(contour: Contour, to: Affine, *, tolerance: float) -> Contour | list[Edge]:
    """Return a contour under a map [mm]: a contour if circles stay circles, else its edges as arcs within a tolerance."""
    if to.scale() is not None:
        rows = np.column_stack([to.points(contour.points), contour.rows[:, 2] * (-1 if to.turns() else 1)])
        return Contour(rows, contour.closed)
    found: list[Edge] = []
    for edge in contour.edges():
        if isinstance(edge, Arc):
            centre = (edge.centre.x, edge.centre.y)
            found += arc_edges(
                centre, edge.radius, start=edge.start_angle, sweep=edge.sweep, to=to, tolerance=tolerance
            )
        else:
            found += line_edge(to.at(edge.start.x, edge.start.y), to.at(edge.end.x, edge.end.y))
    return found


def gathered(edges: Sequence[Edge], *, same: float = 1e-9) -> Contour | None:
    """Return the closed contour that edges already in order make, or None if they do not close within `same` [mm]."""
    if not edges:
        return None
    for before, after in zip(edges, [*edges[1:], edges[0]], strict=True):
        if before.end.distance(after.start) > same:
            return None
    if len(edges) == 1:
        only = edges[0]
        if isinstance(only, Arc) and abs(abs(only.sweep) - math.tau) < 1e-9:
            return Contour.circle(only.centre.x, only.centre.y, only.radius)
        return None
    return Contour.from_edges(edges)
