"""Curves from drawings as arcs: the tolerance holds, and known shapes give known counts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.geometry import Contour, arcs_from_points, flatten
from platewright.geometry.fitting.kernels import distances


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


@pytest.mark.parametrize(
    ("points", "tolerance"), [([(0, 0)], 0.1), ([(0, 0), (0, 0)], 0.1), ([(0, 0), (1, 1)], 0.0)]
)
def test_bad_input_is_told(points: list[tuple[float, float]], tolerance: float) -> None:
    with pytest.raises(InputError):
        arcs_from_points(points, tolerance=tolerance)
