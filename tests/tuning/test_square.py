"""Scales and skew put into a square come out again; the cut is made by plain polygon offsetting, not by the formulas."""

from __future__ import annotations

import math

import pytest

from platewright.findings import Finding
from platewright.tuning.correct import result_of
from platewright.tuning.estimate import estimate
from platewright.tuning.model import Readings, SquareFit
from platewright.tuning.square import square_of
from tests.tuning.helpers import cut_on, made, square_cut


def fit_and_findings(
    got: dict[str, tuple[float, ...]], kerf: float | None = None
) -> tuple[SquareFit | None, list[Finding]]:
    readings = Readings(made(square=400.0).sheet, got)
    return square_of(readings, estimate([readings], kerf=kerf))


def fit(got: dict[str, tuple[float, ...]], kerf: float | None = None) -> tuple[SquareFit, list[str]]:
    found, findings = fit_and_findings(got, kerf)
    assert found is not None
    return found, [f.code for f in findings]


@pytest.mark.parametrize(
    ("x", "y", "skew"),
    [(1.0, 1.0, 0.0), (1.004, 0.997, 0.0), (1.0, 1.0, 0.006), (0.995, 1.006, -0.004), (1.02, 0.98, 0.03)],
)
@pytest.mark.parametrize("off", [0.0, 0.4])
def test_scales_and_skew_come_back(x: float, y: float, skew: float, off: float) -> None:
    planned = made(square=400.0).sheet.job.kerf
    found, _ = fit(square_cut(400.0, planned=planned, kerf=planned + off, x=x, y=y, skew=skew), planned + off)
    assert found.x.value == pytest.approx(x, abs=1e-7)
    assert found.y.value == pytest.approx(y, abs=1e-7)
    assert found.skew.value == pytest.approx(math.atan(skew), abs=1e-7)
    assert found.misfit < 1e-6


def test_a_true_table_is_called_true() -> None:
    planned = made(square=400.0).sheet.job.kerf
    assert fit(square_cut(400.0, planned=planned, kerf=planned), planned)[1] == ["U021"]


def test_what_to_set_is_the_inverse_of_the_scale() -> None:
    planned = made(square=400.0).sheet.job.kerf
    _, findings = fit_and_findings(
        square_cut(400.0, planned=planned, kerf=planned, x=1.005, skew=-0.01), planned
    )
    by_code = {f.code: f for f in findings}
    assert by_code["U019"].subject == "X"
    assert "long" in by_code["U019"].text
    assert "0.99502" in by_code["U019"].do
    assert "away from X by 10 mm in a metre" in by_code["U020"].text


def test_uncertainty_by_hand() -> None:
    # small angles: skew = (R - L) / (sqrt(2) A), so u = 0.5 mm * sqrt(2) / (sqrt(2) * 400 mm); the four
    # readings must keep X + Y = (R + L) / sqrt(2), a condition of variance 3, so adjusting leaves X 1 - 1/3 of its own
    planned = made(square=400.0).sheet.job.kerf
    found, _ = fit(square_cut(400.0, planned=planned, kerf=planned), planned)
    assert found.skew.spread == pytest.approx(0.5 / 400, rel=0.01)
    assert found.x.spread == pytest.approx(0.5 / 400 * math.sqrt(2 / 3), rel=0.01)


def test_a_misread_tape_is_named() -> None:
    planned = made(square=400.0).sheet.job.kerf
    got = square_cut(400.0, planned=planned, kerf=planned)
    assert "U018" in fit(got | {"R": (got["R"][0] + 4.0,), "L": (got["L"][0] + 4.0,)})[1]


def test_three_of_four_is_not_enough() -> None:
    assert fit_and_findings({"X": (400.0,), "Y": (400.0,), "R": (565.7,)}) == (None, [])


@pytest.mark.parametrize(
    ("x", "y", "skew"), [(1.0, 1.0, 0.0), (1.003, 0.998, 0.0), (1.0, 1.0, 0.004), (0.996, 1.004, -0.005)]
)
def test_the_program_itself_run_on_a_faulty_table(x: float, y: float, skew: float) -> None:
    """The text's own paths, bent by the table and swept by another library: kerf, scales and skew all come back."""
    cut = made(square=400.0)
    true = cut.sheet.job.kerf + 0.25
    result = result_of(Readings(cut.sheet, cut_on(cut, true, x=x, y=y, skew=skew)))
    assert result.kerf is not None
    assert result.square is not None
    # the big square tells the scale, so that the kerf keeps nothing of it
    assert result.kerf.kerf.value == pytest.approx(true, abs=0.01)
    assert result.square.x.value == pytest.approx(x, abs=1e-4)
    assert result.square.y.value == pytest.approx(y, abs=1e-4)
    assert result.square.skew.value == pytest.approx(math.atan(skew), abs=1e-4)
