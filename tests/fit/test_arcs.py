"""Curves from drawings as arcs: the tolerance holds, and known shapes give known counts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.fit.arcs import arcs_from_points
from platewright.fit.kernels import distances
from platewright.geometry import Arc, Contour, Line, Point, flatten
from platewright.geometry.regions.chain import chain
from platewright.geometry.regions.nesting import nest


def _ellipse(a: float, b: float, count: int) -> np.ndarray:
    t = np.linspace(0, math.tau, count, endpoint=False)
    return np.column_stack([a * np.cos(t), b * np.sin(t)])


def _worst(points: np.ndarray, contour: Contour) -> float:
    return float(distances(np.ascontiguousarray(points), np.array(contour.rows), contour.closed)[0].max())


@pytest.mark.parametrize("tolerance", [0.5, 0.05, 0.005])
def test_an_ellipse_stays_within_tolerance(tolerance: float) -> None:
    points = _ellipse(100, 40, 2000)
    found = arcs_from_points(points, tolerance=tolerance, closed=True)
    assert _worst(points, found) <= tolerance
    coarser = arcs_from_points(points, tolerance=4 * tolerance, closed=True)
    assert len(coarser) < len(found)


def test_a_sampled_contour_gives_its_own_edges_back() -> None:
    truth = Contour.rectangle(120, 80, radius=10)
    points = flatten(truth, tolerance=0.001)
    found = arcs_from_points(points, tolerance=0.01, closed=True)
    assert len(found) <= len(truth) + 1
    assert _worst(points, found) <= 0.01


def test_an_open_arc_is_one_arc_and_a_straight_one_line() -> None:
    t = np.linspace(0, 2, 300)
    arc = arcs_from_points(np.column_stack([30 * np.cos(t), 30 * np.sin(t)]), tolerance=0.01)
    assert (len(arc), arc.closed) == (1, False)
    assert arc.edge(0).radius == pytest.approx(30, abs=0.02)
    line = arcs_from_points([(0, 0), (1, 1), (2, 2), (2, 2), (5, 5)], tolerance=0.01)
    assert line.rows.tolist() == [[0, 0, 0], [5, 5, 0]]


@pytest.mark.parametrize("seed", range(4))
def test_lines_arcs_and_a_half_ellipse_in_any_order_make_one_plate(seed: int) -> None:
    rng = np.random.default_rng(seed)
    t = np.linspace(0, math.pi, 1500)
    curve = arcs_from_points(np.column_stack([60 * np.cos(t), 50 + 25 * np.sin(t)]), tolerance=0.002)
    sides = [Line(Point(60, 10.01), Point(60, 50.02)), Line(Point(-60, 50), Point(-60, 10))]
    foot = [Line(Point(-50, 0), Point(50, 0)), Line(Point(50, 0), Point(-50, 0))]  # drawn twice
    corners = [
        Arc(Point(50, 10), 10, -math.pi / 2, math.pi / 2),
        Arc(Point(-50, 10), 10, math.pi, math.pi / 2),
    ]
    hole = Arc(Point(0, 30), 8, 0.3, math.tau)
    soup = [*curve.edges(), *sides, *foot, *corners, hole]
    made = chain([soup[k] for k in rng.permutation(len(soup))], gap=0.05)
    assert (len(made.closed), made.open) == (2, ())
    assert {f.code for f in made.findings} == {"G002", "G003"}  # a gap closed, an edge drawn twice
    (plate,) = nest(made.closed)
    area = 120 * 50 - (2 - math.pi / 2) * 100 + math.pi * 60 * 25 / 2 - math.pi * 64
    assert plate.area() == pytest.approx(area, abs=1.0)
    assert len(plate.outer) == len(curve) + 5
    assert len(plate.holes) == 1


@pytest.mark.parametrize(
    ("points", "tolerance"), [([(0, 0)], 0.1), ([(0, 0), (0, 0)], 0.1), ([(0, 0), (1, 1)], 0.0)]
)
def test_bad_input_is_reported(points: list[tuple[float, float]], tolerance: float) -> None:
    with pytest.raises(InputError):
        arcs_from_points(points, tolerance=tolerance)
