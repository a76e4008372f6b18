"""What clicks say beyond where they are: ends of straights, and hands rather than tracings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from platewright.fit.edges.clicks import cut_clicks, cut_from, priced
from platewright.fit.edges.segment import Price
from platewright.fit.prepare import looks_clicked
from platewright.fit.profile import fit_outline
from platewright.geometry import Contour
from tests.fit.helpers import along, clicks, dense, judge


def _scalloped(count: int, big: float, inner: float) -> Contour:
    """Draw a flange with sharp scallops and no straight [mm]."""
    bite = 0.4 * math.tau / count / 2
    rows: list[tuple[float, float, float]] = []
    for k in range(count):
        a, b, c = math.tau * k / count - bite, math.tau * k / count + bite, math.tau * (k + 1) / count - bite
        rows.append(
            (big * math.cos(a), big * math.sin(a), -math.tan(math.asin(big * math.sin(bite) / inner) / 2))
        )
        rows.append((big * math.cos(b), big * math.sin(b), math.tan((c - b) / 4)))
    return Contour(np.array(rows))


def test_clicks_round_a_shape_without_straights_are_known_as_clicks() -> None:
    flange = _scalloped(7, 75.0, 30.0)
    points = clicks(flange, np.random.default_rng(74), sd=0.3)
    assert looks_clicked(points)
    assert judge(flange, fit_outline(points).contour).failure == ""


@pytest.mark.parametrize(("spacing", "sd"), [(0.25, 0.2), (1.0, 0.05), (1.0, 0.2)])
def test_a_tracing_of_it_is_not_taken_for_clicks(spacing: float, sd: float) -> None:
    points = dense(_scalloped(7, 75.0, 30.0), np.random.default_rng(3), spacing=spacing, sd=sd)
    assert not looks_clicked(points)


@pytest.mark.parametrize("spacing", [3.0, 10.0])
def test_straights_clicked_all_along_stay_straight(spacing: float) -> None:
    rng = np.random.default_rng(5)
    plate = Contour.rectangle(120, 60)
    points, _ = along(plate, spacing)
    fit = fit_outline(points + rng.normal(0, 0.3, points.shape))
    assert [bool(b) for b in fit.contour.bulges] == [False] * 4


def test_a_rounding_clicked_round_is_no_bevel() -> None:
    rng = np.random.default_rng(143)
    plate = Contour.rectangle(250, 170, radius=8)
    assert judge(plate, fit_outline(clicks(plate, rng, sd=0.3)).contour).failure == ""


def test_a_long_outline_is_cut_as_well_from_few_clicks_as_from_all() -> None:
    points = clicks(_scalloped(13, 60.0, 20.0), np.random.default_rng(8), sd=0.3)
    assert len(points) > 300
    price = priced(points, Price.of(0.3, stretch=1.0, samples=len(points)))
    best = min(cut_from(points, price, start).cost for start in range(len(points)))
    for turn in (0, 71, 144):
        found = cut_clicks(np.roll(points, -turn, axis=0), price)
        assert found.cost == pytest.approx(best, abs=1e-6)
        assert found.bound <= best
