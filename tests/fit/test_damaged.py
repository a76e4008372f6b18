"""Outlines as people bring them: repeats, strays, open ends, either way round, any start, turned and moved."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.fit.profile import Fit, FitOptions, fit_outline
from platewright.geometry import Contour, Pose
from tests.fit.helpers import along, clicks, dense, deviation, judge

BRACKET = Contour.from_points([(0, 0), (120, 0), (120, 30), (40, 30), (40, 90), (0, 90)])
PLATE = Contour.rectangle(90, 60, radius=8)


@pytest.fixture(scope="module")
def plate() -> np.ndarray:
    return dense(PLATE, np.random.default_rng(11), spacing=0.5, sd=0.1)


@pytest.fixture(scope="module")
def straight(plate: np.ndarray) -> Fit:
    return fit_outline(plate)


def _same(one: Contour, other: Contour) -> float:
    return deviation(one, other) if len(one) == len(other) else math.inf


@pytest.mark.parametrize("start", [1, 17, 120, 400])
def test_the_start_makes_no_difference(plate: np.ndarray, straight: Fit, start: int) -> None:
    again = fit_outline(np.roll(plate, -start, axis=0))
    assert _same(straight.contour, again.contour) < 1e-6
    assert {r.id for r in again.relations} == {r.id for r in straight.relations}


def test_the_way_round_makes_no_difference(plate: np.ndarray, straight: Fit) -> None:
    again = fit_outline(plate[::-1])
    assert _same(straight.contour, again.contour) < 1e-6
    assert again.contour.counterclockwise() == again.contour


@pytest.mark.parametrize("angle", [0.3, 1.234, math.pi / 2, 3.0])
def test_turning_and_moving_go_along(plate: np.ndarray, straight: Fit, angle: float) -> None:
    pose = Pose(321.0, -77.0, angle)
    again = fit_outline(pose.points(plate))
    assert _same(pose.apply(straight.contour), again.contour) < 1e-6


def test_a_mirror_image_fits_the_mirror_image(plate: np.ndarray, straight: Fit) -> None:
    pose = Pose(mirrored=True)
    assert _same(pose.apply(straight.contour), fit_outline(pose.points(plate)).contour) < 1e-3


def test_twice_the_size_in_twice_the_noise_is_the_same_shape(plate: np.ndarray, straight: Fit) -> None:
    plain = FitOptions(relations=False)
    one, two = fit_outline(plate, options=plain), fit_outline(2 * plate, options=plain)
    assert len(one.contour) == len(two.contour) == len(straight.contour)
    assert deviation(Contour(one.contour.rows * [2, 2, 1]), two.contour) < 0.02


def test_repeats_and_clicked_starts_change_nothing(plate: np.ndarray, straight: Fit) -> None:
    twice = np.repeat(plate, 2, axis=0)
    closed = np.vstack([plate, plate[:1]])
    for points in (twice, closed):
        assert _same(straight.contour, fit_outline(points).contour) < 1e-6


@pytest.mark.parametrize("off", [1.5, 4.0, 20.0])
def test_a_stray_is_left_out_and_reported(plate: np.ndarray, off: float) -> None:
    damaged = plate.copy()
    damaged[100] += [off * 0.6, off * 0.8]
    fit = fit_outline(damaged)
    assert judge(PLATE, fit.contour).failure == ""
    assert deviation(PLATE, fit.contour) < 0.1
    codes = [f.code for f in fit.findings]
    assert codes == ["G502"]
    assert fit.findings[0].place == pytest.approx(tuple(damaged[100]))


@pytest.mark.parametrize("gap", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("shape", [BRACKET, PLATE], ids=["sharp", "round"])
def test_open_ends_up_to_two_millimetres_close(shape: Contour, gap: float) -> None:
    rng = np.random.default_rng(5)
    points, _ = along(shape, 0.25)
    points = np.roll(points + rng.normal(0, 0.1, points.shape), -137, axis=0)[round(gap / 0.25) :]
    fit = fit_outline(points)
    assert judge(shape, fit.contour).failure == ""
    assert fit.findings == ()


def test_a_shape_farther_from_its_points_than_allowed_is_reported_there() -> None:
    rng = np.random.default_rng(3)
    points = dense(PLATE, rng, spacing=0.5, sd=0.1)
    assert "G503" not in [f.code for f in fit_outline(points, options=FitOptions(tolerance=0.6)).findings]
    strict = fit_outline(points, options=FitOptions(tolerance=0.3))
    (told,) = (f for f in strict.findings if f.code == "G503")
    assert told.values["moved_mm"] == pytest.approx(strict.moved_max)
    assert 0.3 < strict.moved_max < 0.6


@pytest.mark.parametrize(("teeth", "told"), [(40, False), (60, True)])
def test_more_edges_than_any_plate_part_has_are_reported(teeth: int, told: bool) -> None:
    saw = [(2.5 * k, 0.0 if k % 2 else 4.0) for k in range(2 * teeth + 1)]
    shape = Contour.from_points([*saw, (5.0 * teeth, -20.0), (0.0, -20.0)])
    fit = fit_outline(dense(shape, np.random.default_rng(3), spacing=0.5, sd=0.03))
    assert len(fit.contour) == len(shape) == 2 * teeth + 3
    assert ("G505" in [f.code for f in fit.findings]) is told


def test_a_wide_gap_is_reported() -> None:
    points, _ = along(BRACKET, 0.25)
    fit = fit_outline(points[40:] + np.random.default_rng(1).normal(0, 0.05, points[40:].shape))
    assert [f.code for f in fit.findings] == ["G501"]
    assert fit.findings[0].severity == "look"


def test_clicks_open_by_two_millimetres_close() -> None:
    points = clicks(BRACKET, np.random.default_rng(8), sd=0.3, gap=2.0)
    fit = fit_outline(points)
    assert len(fit.contour) == len(BRACKET)
    assert deviation(BRACKET, fit.contour) < 2.2


def test_a_given_tolerance_takes_wobble_for_noise() -> None:
    points, _ = along(Contour.rectangle(100, 50), 0.5)
    s = np.arange(len(points)) * 0.5
    wobbly = points + 0.4 * np.column_stack([np.sin(s / 3), np.cos(s / 3.3)])
    assert len(fit_outline(wobbly, options=FitOptions(tolerance=1.5)).contour) == 4
    assert len(fit_outline(wobbly, options=FitOptions(noise=0.02)).contour) > 20


def test_correlated_noise_is_not_drawn() -> None:
    points = dense(PLATE, np.random.default_rng(4), spacing=0.25, sd=0.1, length=5.0)
    fit = fit_outline(points)
    assert abs(len(fit.contour) - 8) <= 2
    assert deviation(PLATE, fit.contour) < 0.5


@pytest.mark.parametrize("seed", range(3))
def test_a_line_taken_for_an_outline_is_fitted_in_numbers(seed: int) -> None:
    # both ways lie on one another whatever the points say, so that they are parallel is no news (warnings are errors)
    x = np.linspace(0, 15, 60)
    fit = fit_outline(np.column_stack([x, np.random.default_rng(seed).normal(0, 0.1, 60)]))
    assert np.isfinite(fit.contour.rows).all()
