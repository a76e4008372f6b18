"""The one law of kerf: through what the row holds, smooth between, the same number for planner and proof."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.table.law import kerf_at, kerf_of_hole, steady_speed
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
