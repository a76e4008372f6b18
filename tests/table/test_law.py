"""The one law of kerf: through what the row holds, smooth between, the same number for planner and proof."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.table.law import kerf_at, kerf_of_hole, steady_speed
from platewright.table.motion import speed_plan
from tests.program.helpers import ROW, TABLE


def test_a_row_with_one_kerf_keeps_it_at_every_speed() -> None:
    assert kerf_at(ROW, [1.0, 20.0, 40.0, 80.0]).tolist() == [1.6] * 4


def test_the_law_runs_through_every_kerf_the_row_holds() -> None:
    row = replace(ROW, kerf_hole=1.75, kerf_slow=2.0)
    assert kerf_at(row, [40.0, 24.0, 20.0]).tolist() == pytest.approx([1.6, 1.75, 2.0])
    assert kerf_at(row, [60.0]).tolist() == pytest.approx([1.6])


def test_slower_than_half_the_speed_the_power_goes_on() -> None:
    """2.0 at a half is a power of log2(2.0/1.6): at 0.3 of the speed 1.6 * 0.3^-0.32193, worked by hand, is 2.3574."""
    row = replace(ROW, kerf_slow=2.0)
    assert float(kerf_at(row, 0.3 * ROW.cut_speed)) == pytest.approx(2.3574, abs=2e-4)
    assert float(kerf_at(row, 0.25 * ROW.cut_speed)) == pytest.approx(2.5, abs=1e-6)  # a half, twice
    assert float(kerf_at(row, 0.01)) == float(kerf_at(row, 0.25 * ROW.cut_speed))


def test_between_two_kerfs_it_only_rises_as_the_torch_slows() -> None:
    row = replace(ROW, kerf_hole=1.75, kerf_slow=1.85)
    kerfs = kerf_at(row, np.linspace(4.0, 44.0, 200))
    assert (np.diff(kerfs) <= 1e-9).all()
    assert np.abs(np.diff(kerfs)).max() < 0.03


def test_a_hole_too_tight_for_its_feed_is_reckoned_at_the_speed_the_table_keeps() -> None:
    row, lazy = replace(ROW, kerf_slow=2.0), replace(TABLE, acceleration=60.0)
    kerf = kerf_of_hole(row, lazy, feed=24.0, diameter=10.0)
    radius = (10.0 - kerf) / 2
    assert steady_speed(lazy, 24.0, radius=radius) == pytest.approx((60.0 * radius) ** 0.5)
    assert kerf == pytest.approx(float(kerf_at(row, (60.0 * radius) ** 0.5)), abs=0.003)
    assert kerf > kerf_of_hole(row, TABLE, feed=24.0, diameter=10.0) + 0.1


def test_chords_are_run_by_their_corners_a_little_faster_than_the_arc() -> None:
    """On a chord c between corners taken at v the torch speeds up and slows again: top² = v² + a c, its mean (v + top) / 2."""
    radius, chord = 8.0, 0.02
    count = int(np.ceil(np.pi / (2 * np.arccos(1 - chord / radius))))  # chords in half a turn
    bend = np.pi / count
    side = 2 * radius * np.sin(bend / 2)
    corner = np.sqrt(TABLE.acceleration * (side / 2) / np.tan(bend / 2))
    top = np.sqrt(corner**2 + TABLE.acceleration * side)
    got = steady_speed(TABLE, 500.0, radius=radius, chord=chord)
    fastest = min(500.0, TABLE.max_cut_speed)
    if top <= fastest:
        assert got == pytest.approx((corner + top) / 2, rel=1e-6)
    assert steady_speed(TABLE, 5.0, radius=radius, chord=chord) == pytest.approx(5.0)
    row = replace(ROW, kerf_hole=1.75)
    assert kerf_of_hole(row, TABLE, feed=24.0, diameter=16.0, chord=chord) == pytest.approx(1.75, abs=1e-3)


def test_the_usual_speed_of_an_edge_is_what_half_of_it_is_run_at_or_above() -> None:
    """Against a thousand speeds along each edge of random chains."""
    draw = np.random.default_rng(5)
    for _ in range(20):
        spots = np.cumsum(draw.uniform(-30, 30, (8, 2)), axis=0)
        rows = np.column_stack([spots, draw.uniform(-0.6, 0.6, 8)])
        run = speed_plan(rows, draw.uniform(20, 120, 7), acceleration=500.0, corner_tolerance=0.05)
        begin = np.cumsum(run.length) - run.length
        for k, usual in enumerate(run.usual):
            along = begin[k] + run.length[k] * (np.arange(1000) + 0.5) / 1000
            assert usual == pytest.approx(float(np.median(run.at(along))), rel=0.01)


def test_a_hole_speed_above_the_cut_speed_bends_nothing() -> None:
    row = replace(ROW, hole_speed_factor=1.5, kerf_hole=1.2)
    assert kerf_at(row, [10.0, 24.0, 40.0, 60.0]).tolist() == [1.6] * 4
