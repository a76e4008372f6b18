"""What a capture tells the fit: how noisy its points are, and what the template's bow may do to a straight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.findings import finding
from platewright.geometry import Contour, flatten
from platewright.geometry.crossing.locate import distances
from platewright.geometry.regions.edit import filleted
from platewright.pattern.capture.camera.lens import View
from platewright.pattern.capture.checks import doubt_gates, edge_gates
from platewright.pattern.capture.edge.search import Edge
from platewright.pattern.capture.photo import _is_hole
from platewright.pattern.loops import even
from platewright.pattern.model import Captured, Outline, Uncertainty
from platewright.pattern.shape import (
    BOWED,
    LEAST_NOISE,
    SPOILT,
    _fray,
    _left_behind,
    _noise,
    _slow,
    _sure,
    to_profile,
)

HALF, HIGH, STEP = 100.0, 600.0, 0.4


def _square() -> np.ndarray:
    side = np.arange(-HALF, HALF, STEP)
    corners = [
        (side, 0 * side - HALF),
        (0 * side + HALF, side),
        (-side, 0 * side + HALF),
        (0 * side - HALF, -side),
    ]
    return np.vstack([np.column_stack(c) for c in corners])


def _captured(points: np.ndarray, *, source: str = "photo", typed: bool = False) -> Captured:
    view = View(np.zeros(7), np.eye(3), np.array([0.0, 0.0, -HIGH]))
    return Captured(outer=Outline(points, np.full(len(points), 0.02), typed), view=view, source=source)


def test_the_bow_counts_by_how_far_a_side_lies_from_under_the_camera() -> None:
    # every side of a square about the camera's foot is HALF from it, HIGH below
    assert _slow(_captured(_square())) == pytest.approx(BOWED * HALF / HIGH, rel=1e-3)


@pytest.mark.parametrize(("source", "typed"), [("scan", False), ("photo", True)])
def test_no_bow_without_a_camera_looking_down_from_a_point(source: str, typed: bool) -> None:
    assert _slow(_captured(_square(), source=source, typed=typed)) == 0.0


@pytest.mark.parametrize("sd", [0.05, 0.1])
def test_fray_that_hangs_together_is_seen_whole(sd: float) -> None:
    points = _square()
    rng = np.random.default_rng(3)
    bell = np.exp(-0.5 * (np.arange(-15, 16) / 5.0) ** 2)
    raw = rng.standard_normal(len(points) + 30)
    off = sd * np.convolve(raw, bell / np.sqrt((bell**2).sum()), mode="valid")
    outward = np.where(np.abs(points) >= HALF - 1e-9, np.sign(points), 0.0)
    frayed = points + off[:, None] * outward
    assert 0.6 * sd < _fray(frayed) < 1.2 * sd
    outline = Outline(frayed, np.full(len(points), 0.02))
    assert _noise(outline) >= 0.9 * sd
    assert len(to_profile(_captured(frayed)).profile.outer) == 4


def test_of_shapes_that_are_right_one_in_twenty_is_told_at_most() -> None:
    """The farthest of many places lies beyond the bound of one; errors drawn here, with the stated sd, correlated as board is."""
    sharp = Contour(np.array([(x, y, 0.0) for x, y in np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * HALF]))
    points, rng = _square(), np.random.default_rng(11)
    sd, bound, wide = 0.02, 0.08, int(4.0 / STEP)
    bell = np.exp(-0.5 * (np.arange(-2 * wide, 2 * wide + 1) / (wide / 2)) ** 2)
    outward = np.where(np.abs(points) >= HALF - 1e-9, np.sign(points), 0.0)
    told = 0
    for _ in range(100):
        raw = rng.standard_normal(len(points) + len(bell) - 1)
        off = np.hypot(sd, bound / 1.96) * np.convolve(raw, bell / np.sqrt((bell**2).sum()), mode="valid")
        outline = Outline(points + off[:, None] * outward, np.full(len(points), sd))
        told += _left_behind(sharp, outline, bound) is not None
    assert told <= 8  # 5 in 100, and three more for the draw


def test_a_rounding_drawn_sharp_is_told_where_more_is_missed_than_is_told() -> None:
    sharp = Contour(np.array([(x, y, 0.0) for x, y in np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * HALF]))
    points = even(flatten(filleted(sharp, 2, 3.0), tolerance=0.005), STEP)
    rounded = Outline(points, np.full(len(points), 0.02))
    told = _left_behind(sharp, rounded, 0.08)
    assert told is not None
    assert told.place == pytest.approx((HALF, HALF), abs=2.0)
    assert _left_behind(sharp, rounded, 0.8) is None
    # one stray place is not a stretch, and what was not seen says nothing
    stray, points = np.full(len(_square()), 0.02), _square()
    points[30, 1] -= 0.3
    assert _left_behind(sharp, Outline(points, stray), 0.08) is None
    unseen = replace(rounded, sd=np.where(rounded.points.min(axis=1) > HALF - 8, 0.6, 0.02))
    assert _left_behind(sharp, unseen, 0.08) is None


def test_a_smooth_outline_is_believed_as_far_as_any() -> None:
    outline = Outline(_square(), np.full(len(_square()), 0.02))
    assert _noise(outline) == LEAST_NOISE


def _ring(middle: tuple[float, float], radius: float) -> np.ndarray:
    turn = np.linspace(0, -2 * np.pi, max(24, round(2 * np.pi * radius / STEP)), endpoint=False)
    return np.column_stack([middle[0] + radius * np.cos(turn), middle[1] + radius * np.sin(turn)])


def test_what_nobody_saw_an_edge_of_is_no_hole() -> None:
    def edge(points: np.ndarray, fair: float) -> Edge:
        return Edge(
            points=points,
            sd=np.full(len(points), 0.03),
            fair=fair,
            blind=STEP * len(points) * (1 - fair),
        )

    hole, crumb, speck = _ring((-40.0, 0.0), 8.0), _ring((40.0, 0.0), 2.0), _ring((0.0, 40.0), 1.0)
    assert _is_hole(edge(hole, 1.0), low_contrast=False)
    assert not _is_hole(edge(crumb, 0.2), low_contrast=False)
    assert _is_hole(edge(crumb, 0.2), low_contrast=True)  # among grain much of a hole may be unseen
    assert not _is_hole(edge(speck, 1.0), low_contrast=False)


@pytest.mark.parametrize(("blind", "sentences"), [(1.2, []), (3.2, ["C013"])])
def test_a_crumb_on_the_edge_is_reported(blind: float, sentences: list[str]) -> None:
    points = _square()
    edge = Edge(points=points, sd=np.full(len(points), 0.03), fair=1 - blind / (8 * HALF), blind=blind)
    assert [f.code for f in edge_gates([edge], 2 * points)] == sentences


def test_doubtful_stretches_are_reported_with_the_worst_place() -> None:
    points = _square()
    sd = np.full(len(points), 0.1)
    sd[20:30], sd[300] = 0.5, 0.7
    loop = Outline(points, sd)
    assert [index.tolist() for index in loop.doubtful()] == [list(range(20, 30)), [300]]
    (told,) = doubt_gates([loop])
    assert told.code == "C026"
    assert told.place == pytest.approx(tuple(points[300]))
    assert "On 2 stretch" in told.text
    assert "up to 1.4 mm" in told.text
    assert doubt_gates([Outline(points, np.full(len(points), 0.1))]) == []
    assert len(Outline(points, np.full(len(points), 0.5)).doubtful()[0]) == len(points)


def test_where_much_is_unsure_the_surest_half_is_fitted() -> None:
    points = _square()
    sd = np.full(len(points), 0.05)
    for at in range(20, len(points) - 40, 60):  # 24 of 60 are doubtful, and stand off like the teeth of a saw
        there = slice(at, at + 24)
        outward = np.where(np.abs(points[there]) >= HALF - 1e-9, np.sign(points[there]), 0.0)
        points[there] += np.linspace(0, 2.0, 24)[:, None] * outward
        sd[there] = 0.35
    fitted = to_profile(Captured(outer=Outline(points, sd), source="photo")).profile
    assert len(fitted.outer) == 4
    assert fitted.bounds().width == pytest.approx(2 * HALF, abs=0.1)


def test_points_alike_unsure_are_all_fitted_and_worse_ones_left_out() -> None:
    points = _square()
    sd = np.full(len(points), 0.3)
    assert _sure(Outline(points, sd)).all()
    sd[100:200] = 0.6
    assert np.flatnonzero(~_sure(Outline(points, sd))).tolist() == list(range(100 - SPOILT, 200 + SPOILT))


def test_hidden_roundings_are_fitted_once_the_shape_is_seen_to_miss_them() -> None:
    truth = filleted(filleted(Contour.rectangle(120, 70), 2, 8.0), 0, 8.0)
    points = even(flatten(truth, tolerance=0.002), STEP)
    rng = np.random.default_rng(2)
    points += rng.normal(0, 0.02, points.shape)
    hidden = (np.abs(points - (120.0, 70.0)).sum(axis=1) < 20) | (np.abs(points).sum(axis=1) < 20)
    outline = Outline(points, np.where(hidden, 0.4, 0.05))
    captured = Captured(outer=outline, source="photo", findings=(finding("C025"),))
    made = to_profile(captured).profile.outer
    assert len(made) == 6
    assert distances(truth, flatten(made, tolerance=0.05)).max() < 0.3


def _with_a_nib(points: np.ndarray, sd: np.ndarray, at: int) -> None:
    """Put something on the edge: a bump 0.7 mm high whose top alone is unsure."""
    bump = 0.7 * np.exp(-0.5 * (np.arange(-8, 9) / 3.0) ** 2)
    points[at - 8 : at + 9, 1] -= bump
    sd[at - 2 : at + 3] = 0.8


def test_a_rounding_hidden_in_a_gap_is_fitted_and_a_protrusion_on_a_straight_is_not() -> None:
    truth = filleted(Contour.rectangle(120, 70), 2, 4.2)
    points = even(flatten(truth, tolerance=0.002), STEP)
    points += np.random.default_rng(5).normal(0, 0.02, points.shape)
    sd = np.full(len(points), 0.05)
    middle = int(np.argmin(np.hypot(*(points - (118.8, 68.8)).T)))
    sd[middle - 2 : middle + 3] = 0.8  # with their neighbours, most of the rounding
    _with_a_nib(points, sd, int(np.argmin(np.hypot(*(points - (60.0, 0.0)).T))))
    made = to_profile(Captured(outer=Outline(points, sd), source="photo")).profile.outer
    assert len(made) == 5
    assert distances(truth, flatten(made, tolerance=0.05)).max() < 0.15


def test_a_rounding_whose_edge_may_be_another_is_still_a_rounding() -> None:
    # a doubted cut edge moves a whole side at once; it is no leave to draw the corner sharp
    truth = filleted(Contour.rectangle(120, 70), 2, 9.0)
    points = even(flatten(truth, tolerance=0.002), STEP)
    points += np.random.default_rng(6).normal(0, 0.02, points.shape)
    doubted = np.hypot(*(points - (120.0, 70.0)).T) < 25
    made = to_profile(
        Captured(outer=Outline(points, np.where(doubted, 0.45, 0.05)), source="photo")
    ).profile.outer
    assert len(made) == 5
    assert distances(truth, flatten(made, tolerance=0.05)).max() < 0.1


def test_a_hole_is_told_by_the_half_of_it_that_is_sure() -> None:
    turn = -np.linspace(0, 2 * np.pi, 314, endpoint=False)
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * 20 + (60.0, 35.0)
    rng = np.random.default_rng(8)
    off, told = [], []
    for _ in range(20):
        # one half errs together by what is told of it, all places by 0.03 mm with their neighbours
        own = np.convolve(rng.normal(0, 1, 314 + 9), np.ones(10) / np.sqrt(10), mode="valid") * 0.03
        far = np.where(ring[:, 1] > 35, 0.4 * rng.normal(), 0.0)
        points = ring + (own + far)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
        hole = Outline(points, np.where(ring[:, 1] > 35, 0.4, 0.03), doubt=0.28)
        outer = Outline(even(flatten(Contour.rectangle(120, 70), tolerance=0.01), STEP), np.full(950, 0.03))
        stated = Uncertainty(0.0, 0.06, 0.06, shared=0.0)
        dimensions = to_profile(
            Captured(outer=outer, holes=(hole,), source="photo", uncertainty=stated)
        ).dimensions
        (found,) = (d for d in dimensions if d.what == "diameter")
        off.append(abs(found.value - 40.0))
        told.append(found.uncertainty)
    assert np.mean(np.array(off) <= np.array(told)) >= 0.85
    assert np.median(told) < 0.25  # the doubt alone, told of the whole hole, was 1.1 mm


@pytest.mark.parametrize("deep", [2.0, 6.0])
def test_a_step_whose_corners_were_not_seen_is_still_a_step(deep: float) -> None:
    # its sides are parallel: the outline turns over the gap and back
    rows = [(0, 0), (80, 0), (80, 60 - deep), (30, 60 - deep), (30, 60), (0, 60)]
    outline = even(np.array(rows, dtype=float), STEP)
    points = outline + np.random.default_rng(6).normal(0, 0.01, outline.shape)
    sd = np.full(len(points), 0.02)
    near = np.hypot(*(points - (30.0, 60 - deep)).T) < 2.0, np.hypot(*(points - (30.0, 60.0)).T) < 2.0
    for corner in near:
        sd[corner] = 0.15
        sd[np.flatnonzero(corner)[[1, -2]]] = 0.98  # what nobody saw
    shape = to_profile(Captured(outer=Outline(points, sd), source="photo")).profile
    border = shapely.LinearRing(flatten(shape.outer, tolerance=0.01))
    assert shapely.distance(shapely.points(rows), border).max() < 0.3
