"""Known plate parts come back exactly from noisy outlines and clicks. The full set of 300 is in ``benchmarks/fit.py``."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.fit.profile import fit_outline
from platewright.geometry import Contour
from tests.fit.helpers import Verdict, clicks, dense, judge, part


def _verdict(seed: int, spacing: float, sd: float, kind: str) -> Verdict:
    rng = np.random.default_rng([20, seed])
    truth = part(rng, spacing=spacing, sd=sd)
    if kind == "clicked":
        points = clicks(truth, rng, sd=sd, gap=1.0)
    else:
        points = dense(truth, rng, spacing=spacing, sd=sd)
    fit = fit_outline(points)
    assert fit.bound <= fit.cost + 1e-9
    return judge(truth, fit.contour)


@pytest.mark.parametrize(
    ("kind", "spacing", "sd", "count", "wrong"),
    [
        ("dense", 0.25, 0.05, 5, 0),
        ("dense", 0.25, 0.1, 5, 0),
        ("dense", 0.25, 0.2, 6, 1),
        ("dense", 1.0, 0.05, 7, 0),
        ("dense", 1.0, 0.1, 7, 0),
        ("dense", 1.0, 0.2, 8, 1),
        ("clicked", 1.0, 0.3, 8, 1),
    ],
)
def test_plate_parts_come_back(kind: str, spacing: float, sd: float, count: int, wrong: int) -> None:
    verdicts = [_verdict(seed, spacing, sd, kind) for seed in range(count)]
    failures = [v.failure for v in verdicts if v.failure]
    assert len(failures) <= wrong, failures
    assert max(v.deviation for v in verdicts) <= 5 * sd
    radii = [e for v in verdicts for e in v.radius_errors]
    if kind == "dense":
        assert np.median(radii) < 0.05
    else:
        assert np.median(radii) < 0.3


def test_the_judge_sees_a_wrong_fit() -> None:
    truth = Contour.rectangle(100, 60, radius=10)
    assert judge(truth, Contour.rectangle(100, 60)).failure == "4 edges fewer"
    rows = np.array(truth.rows)
    rows[1, 2] = 0.0
    assert judge(truth, Contour(rows)).failure == "line for arc or arc for line"
    assert judge(truth, truth.started_at(3)).failure == ""
    assert judge(truth, Contour.rectangle(100, 60, radius=11)).radius_errors == pytest.approx([1.0] * 4)
