"""What was cut with another kerf than planned is found again: the proof's own as-cut is measured and read."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.program import writer
from platewright.proof.prove import prove
from platewright.table.chart import Chart, starter_chart
from platewright.table.profile import load_table
from platewright.tuning.correct import result_of
from platewright.tuning.coupons import coupon, picked_row, sheet_of
from platewright.tuning.estimate import student
from platewright.tuning.kerf import FLOOR, mean_of
from platewright.tuning.model import Readings
from tests.tuning.helpers import Cut, made, measured, readings


def codes(given: Readings) -> list[str]:
    return [f.code for f in result_of(given).findings]


@pytest.mark.parametrize(
    ("grade", "thickness", "amperage"),
    [
        ("mild steel", 6.0, 45.0),
        ("aluminium", 3.0, 45.0),
        ("stainless", 10.0, 65.0),
        ("mild steel", 1.0, 20.0),
    ],
)
@pytest.mark.parametrize("off", [-0.3, 0.0, 0.37])
def test_the_true_kerf_comes_back(grade: str, thickness: float, amperage: float, off: float) -> None:
    cut = made(grade, thickness, amperage)
    true = cut.sheet.job.kerf + off
    result = result_of(readings(cut, measured(cut, true)))
    assert result.kerf is not None
    assert result.holes is not None
    assert result.kerf.kerf.value == pytest.approx(true, abs=0.01)
    assert result.holes.kerf.value == pytest.approx(true, abs=0.01)
    assert result.kerf.outside is not None
    assert result.kerf.inside is not None
    assert result.kerf.outside.value == pytest.approx(result.kerf.inside.value, abs=0.02)
    assert "U001" not in [f.code for f in result.findings]


def test_a_caliper_or_table_that_runs_long_shifts_outside_and_inside_apart_and_not_the_kerf() -> None:
    cut = made()
    true = cut.sheet.job.kerf + 0.2
    long = {k: tuple(v * 1.004 for v in got) for k, got in measured(cut, true).items()}
    result = result_of(readings(cut, long))
    assert result.kerf is not None
    assert result.kerf.outside is not None
    assert result.kerf.inside is not None
    # outer 80, inner 40 [mm]: K_out shifts by -0.32, K_in by +0.16; their mean would by -0.08, the fit knows the scale from them
    assert result.kerf.outside.value - result.kerf.inside.value == pytest.approx(-0.004 * 120, abs=0.02)
    assert result.kerf.kerf.value == pytest.approx(true, abs=0.02)
    assert "U001" in [f.code for f in result.findings]


@pytest.mark.published
def test_student_against_the_printed_table() -> None:
    # Student's t, 95 % both sides: any handbook of statistics, and JCGM 100:2008 table G.2 (from memory)
    for degrees, printed in ((1, 12.71), (2, 4.30), (3, 3.18), (5, 2.57), (10, 2.23), (30, 2.04)):
        assert student(degrees) == pytest.approx(printed, abs=0.006)


def test_uncertainty_is_students_and_covers_19_times_in_20() -> None:
    assert mean_of([1.0]).spread is None
    assert mean_of([1.5, 1.5, 1.5]).spread == FLOOR
    assert mean_of([1.4, 1.6]).spread == pytest.approx(12.706 * math.sqrt(0.02) / math.sqrt(2), rel=1e-3)
    rng = np.random.default_rng(5)
    cut = made()
    true = measured(cut, cut.sheet.job.kerf)
    hits = 0
    for _ in range(400):
        noisy = {k: tuple(v[0] + rng.normal(0, 0.08, 2)) for k, v in true.items() if k[:4] != "hole"}
        fit = result_of(readings(cut, noisy)).kerf
        assert fit is not None
        assert fit.kerf.spread is not None
        hits += abs(fit.kerf.value - cut.sheet.job.kerf) <= fit.kerf.spread
    assert 0.92 <= hits / 400 <= 0.98


def test_one_reading_has_no_uncertainty_and_says_so() -> None:
    cut = made()
    result = result_of(readings(cut, {"E": (79.9,)}))
    assert result.kerf is not None
    assert result.kerf.kerf.value == pytest.approx(
        cut.sheet.job.kerf + 0.1, abs=0.001
    )  # the scale is not known quite
    assert result.kerf.kerf.spread is None
    assert "U003" in [f.code for f in result.findings]


@pytest.mark.parametrize(("share", "told"), [(1.1, False), (0.9, False), (1.6, True), (0.5, True)])
def test_a_kerf_far_from_the_planned_one_is_reported(share: float, told: bool) -> None:
    cut = made()
    result = result_of(readings(cut, measured(cut, share * cut.sheet.job.kerf)))
    assert ("U002" in [f.code for f in result.findings]) is told


def test_a_kerf_no_tip_cuts_is_refused_with_what_it_could_be() -> None:
    cut = made()
    with pytest.raises(
        InputError, match=r"kerf is 4\.\d\d mm, which a 45 A tip does not cut.*Allowed: 0\.\d\d to 3\.\d\d mm"
    ):
        result_of(readings(cut, {"E": (77.2,), "G": (42.8,)}))


@pytest.mark.published
def test_lean_by_hand() -> None:
    cut = made()  # 6 mm; 0.6 mm wider at the bottom: 0.3 mm a side, atan(0.3 / 6) = 2.86 degrees
    result = result_of(
        readings(cut, {"A_top": (79.7,), "A_bottom": (80.3,), "B_top": (80.3,), "B_bottom": (79.7,)})
    )
    across, up = result.bevels
    assert math.degrees(across.angle) == pytest.approx(2.8624, abs=1e-3)
    assert across.slope == pytest.approx(0.3)
    assert up.angle == pytest.approx(-across.angle)
    values = {f.code: f for f in result.findings}
    # ISO 9013:2017 u at 6 mm: range 2 up to 0.192, range 3 up to 0.46 (confirmed formulas)
    assert "range 3" in values["U006"].text
    assert "left and right" in values["U006"].text
    assert "near and far" in values["U007"].text
    assert "U008" in values
    assert values["U006"].severity == "note"


def test_a_lean_beyond_range_3_is_to_be_looked_at() -> None:
    cut = made()
    result = result_of(readings(cut, {"A_top": (79.5,), "A_bottom": (80.5,)}))
    assert next(f for f in result.findings if f.code == "U006").severity == "look"


def test_play_in_one_axis_and_a_misread_are_named() -> None:
    cut = made()
    told = codes(
        readings(
            cut,
            {"A_top": (80.3,), "A_bottom": (80.3,), "B_top": (80.0,), "B_bottom": (80.0,), "C": (40.0, 40.5)},
        )
    )
    assert "U004" in told
    assert "U005" in told


@pytest.mark.published
def test_holes_worse_when_small_and_out_of_round() -> None:
    cut = made()
    sizes = [s for s in cut.sheet.sizes if s.kind == "hole"]
    tilted = {s.key: (s.nominal - 0.03 * (24.0 - s.nominal),) for s in sizes}
    result = result_of(readings(cut, tilted))
    assert result.holes is not None
    assert result.holes.tilt.value == pytest.approx(0.03)
    assert "U009" in [f.code for f in result.findings]
    # class 2 of ISO 9013:2017 at 6 mm: 0.8 mm for 3 to 10, 0.9 mm for 10 to 125 (confirmed): 1 mm out is not good
    oval = {s.key: (s.nominal + (1.0 if s.key == "hole_1_up" else 0.0),) for s in sizes}
    result = result_of(readings(cut, oval))
    assert result.holes is not None
    assert result.holes.smallest == 13.0
    assert result.holes.out_of_round == pytest.approx(1.0)
    assert {"U011", "U012"} <= {f.code for f in result.findings}
    worst = {s.key: (s.nominal + (1.5 if s.key == "hole_5_up" else 0.0),) for s in sizes}
    assert "U010" in codes(readings(cut, worst))


def test_holes_set_off_by_a_kerf_of_their_own_are_read_by_it() -> None:
    chart, table = starter_chart(), load_table("small gantry")
    plain = picked_row(chart, "mild steel", 6.0, amperage=45.0, table=table).row
    row = replace(plain, kerf_hole=1.3, kerf_slow=1.9)
    ready = coupon(row, table)
    planned = plan(ready.layout, Chart("own", (row,)), table)
    program = writer.write(planned, table.dialect, name="coupon")
    proof = prove(program.text, dialect=table.dialect, table=table, row=row, layout=ready.layout)
    cut = Cut(ready, sheet_of(planned, ready), program, proof)
    assert {s.kerf for s in cut.sheet.sizes if s.kind == "hole"} == {1.3}
    result = result_of(readings(cut, measured(cut, 1.5)))
    assert result.holes is not None
    assert result.kerf is not None
    assert result.holes.kerf.value == pytest.approx(1.5, abs=0.01)
    assert result.kerf.kerf.value == pytest.approx(1.5, abs=0.01)


def test_a_hole_kerf_no_tip_cuts_is_refused() -> None:
    cut = made()
    with pytest.raises(InputError, match="a 45 A tip does not cut"):
        result_of(readings(cut, {s.key: (s.nominal - 1.4,) for s in cut.sheet.sizes if s.kind == "hole"}))


def test_the_kerf_does_not_know_units() -> None:
    from platewright.tuning.readings import blank, read

    cut = made()
    got = measured(cut, cut.sheet.job.kerf + 0.21)
    texts = {}
    for unit, factor in (("mm", 1.0), ("in", 25.4)):
        text = blank(cut.sheet, unit=unit)
        for key, (value,) in got.items():
            text = text.replace(
                f'\n{key} = ["", "", ""]',
                f'\n{key} = ["{value / factor:.6f} {unit}", {value / factor:.6f}, ""]',
            )
        texts[unit] = result_of(read(text)).kerf
    assert texts["mm"] is not None
    assert texts["in"] is not None
    assert texts["mm"].kerf.value == pytest.approx(texts["in"].kerf.value, abs=1e-4)


def test_order_of_readings_and_of_sizes_does_not_matter() -> None:
    cut = made()
    got = {k: (v[0], v[0] + 0.05) for k, v in measured(cut, cut.sheet.job.kerf + 0.1).items()}
    plain = result_of(readings(cut, got)).kerf
    turned = Readings(replace(cut.sheet, sizes=cut.sheet.sizes[::-1]), {k: v[::-1] for k, v in got.items()})
    other = result_of(turned).kerf
    assert plain is not None
    assert other is not None
    assert other.kerf.value == pytest.approx(plain.kerf.value, abs=1e-12)
