"""Exact distances: against closed forms and against a polygon library."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from platewright.geometry import Contour, flatten
from platewright.proof.edges import Edges, nearest

SLOT = Contour(np.array([[0, 0, 0], [40, 0, 1.0], [40, 20, 0], [0, 20, 0.4], [-5, 10, -0.3]]))


def test_distance_and_side_of_a_line_and_a_circle() -> None:
    square = Edges.of(Contour.rectangle(10, 10))
    near = nearest(np.array([[5.0, 2], [5, -3], [13, 14], [-1, 5]]), square)
    assert near.distance.tolist() == [2, 3, 5, 1]
    assert (near.side > 0).tolist() == [True, False, False, False]
    circle = Edges.of(Contour.circle(0, 0, 10))
    near = nearest(np.array([[3.0, 4], [0, 12], [0, 0]]), circle)
    assert near.distance.tolist() == pytest.approx([5, 2, 10])
    assert (near.side > 0).tolist() == [True, False, True]
    assert nearest(np.array([[3.0, 4]]), Edges.of(Contour.circle(0, 0, 10, clockwise=True))).side[0] < 0


def test_against_a_polygon_library() -> None:
    rng = np.random.default_rng(5)
    points = rng.uniform(-30, 70, (500, 2))
    polygon = shapely.polygons(flatten(SLOT.counterclockwise(), tolerance=1e-5))
    near = nearest(points, Edges.of(SLOT.counterclockwise()))
    expected = shapely.distance(shapely.points(points), polygon.exterior)
    assert np.abs(near.distance - expected).max() < 2e-5
    clear = expected > 1e-3
    inside = shapely.contains_xy(polygon, points[:, 0], points[:, 1])
    assert ((near.side > 0) == inside)[clear].all()
    assert np.abs(np.hypot(*(points - near.foot).T) - near.distance).max() < 1e-9


def test_a_thicker_edge_counts_as_nearer() -> None:
    rng = np.random.default_rng(8)
    bulges = rng.uniform(-1.2, 1.2, 70) * (rng.random(70) < 0.6)
    rows = np.column_stack([rng.uniform(0, 100, (70, 2)), bulges])
    points, slack = rng.uniform(-10, 110, (300, 2)), rng.uniform(0, 2, 70)
    near = nearest(points, Edges.of(Contour(rows)), slack=slack)
    ends = np.roll(rows, -1, axis=0)
    ends[:, 2] = 0
    lines = [
        shapely.LineString(flatten(Contour(np.array(ab), closed=False), tolerance=1e-5))
        for ab in zip(rows, ends, strict=True)
    ]
    away = shapely.distance(shapely.points(points)[:, None], np.array(lines))
    assert np.abs(near.distance - away[np.arange(300), near.edge]).max() < 2e-5
    assert np.abs((near.distance - slack[near.edge]) - (away - slack).min(axis=1)).max() < 2e-5
    assert (near.distance > away.min(axis=1) + 1e-3).any()  # the slack decided somewhere


def test_middles_lie_halfway_along() -> None:
    quarter = Contour(np.array([[10.0, 0, np.tan(np.pi / 8)], [0, 10, 0], [0, 0, 0]]), closed=False)
    middles = Edges.of(quarter).middles()
    assert middles[0].tolist() == pytest.approx([10 / np.sqrt(2)] * 2)
    assert middles[1].tolist() == [0, 5]
