"""Two coupons in a shop that is not there find its kerf, speed and table; a tenth of the bench."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
from benchmarks import tuning
from benchmarks.witness import simulated_shop


@pytest.fixture(scope="module")
def runs() -> list[tuning.Run]:
    return [tuning.one(seed) for seed in range(tuning.RUNS // 10)]


@pytest.mark.parametrize("name", tuning.BARS)
def test_two_coupons_find_what_is_hidden(runs: list[tuning.Run], name: str) -> None:
    off = np.abs([r.errors[name] for r in runs if name in r.errors])
    assert len(off) > 45
    # the bench holds 95 in 100 of 500 to the bar; of 50, one or two more may lie outside by chance
    assert (off <= tuning.BARS[name][0]).mean() >= 0.9


@pytest.mark.parametrize("name", ["kerf", "hole kerf", "x", "y", "skew", "speed"])
def test_what_is_stated_as_95_percent_is(runs: list[tuning.Run], name: str) -> None:
    held = [r.held[name] for r in runs if name in r.held]
    # 95 % of 50 give or take three standard deviations (3.1 % each); the bench holds 500 to 93 to 97 %
    assert 0.86 <= sum(held) / len(held) <= 1.0


def test_parts_come_out_right_after_coupons_and_not_without(runs: list[tuning.Run]) -> None:
    assert np.quantile([r.after for r in runs], 0.95) <= 0.15
    assert np.quantile([r.before for r in runs], 0.5) > 0.15


def test_a_caliper_of_twice_the_noise_is_seen_in_the_residuals() -> None:
    held = [tuning.one(seed, noise=0.1).held for seed in range(40)]
    assert 0.85 <= np.mean([h["skew"] for h in held]) <= 1.0


def test_the_shop_shares_no_code_with_the_estimator() -> None:
    tree = ast.parse(Path(simulated_shop.__file__).read_text(encoding="utf-8"))
    names = {n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    names |= {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    assert not any(name.startswith("platewright") for name in names)
