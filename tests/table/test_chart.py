"""The cut chart: physics floor, interpolation, picking, files."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.table.chart import Chart, between, starter_chart
from platewright.table.chart_file import read_chart, write_chart
from platewright.table.energy import conduction, melt_power, metal, speed_for, speed_limit
from platewright.table.model import ChartRow, PowerSource
from platewright.table.profile import load_table
from platewright.units import parse


def _row(**changes: object) -> ChartRow:
    return replace(starter_chart().row("mild steel", 6, 45).row, **changes)  # type: ignore[arg-type]


def test_energy_floor() -> None:
    # 1.5 mm kerf, 6 mm plate, 1000 mm/min: 1526 W from 1296 kJ/kg × 7850 kg/m³ (JANAF, confirmed; power derived)
    assert melt_power("mild steel", thickness=6, kerf=1.5, speed=1000 / 60) == pytest.approx(1526, rel=0.003)
    assert metal("mild steel").melt == pytest.approx(1296e3 * 7850e-9, rel=0.003)


def test_speeds_of_the_energy_balance_use_up_the_power() -> None:
    speed = speed_for("stainless", 3000, thickness=8, kerf=1.6)
    used = melt_power("stainless", thickness=8, kerf=1.6, speed=speed)
    assert used + 8 * conduction("stainless", kerf=1.6, speed=speed) == pytest.approx(3000, rel=1e-9)
    assert speed < speed_limit("stainless", 3000, thickness=8, kerf=1.6)


@pytest.mark.parametrize(("peclet", "within"), [(0.5, 0.12), (1, 0.08), (2, 0.05), (5, 0.05), (10, 0.05)])
def test_conduction_against_the_bessel_series(peclet: float, within: float) -> None:
    """A hot cylinder moving through a plate (Carslaw and Jaeger), less the swept metal, which the melt term holds."""
    from scipy.special import iv, kv, kvp

    # With flux -k dT/dr of exp(-z r cos f) sum e_n I_n(z)/K_n(z) K_n(z r) cos(n f) at r = 1; the factor exp gives
    # zero net share on the boundary, where the temperature is 1.
    z, angle = peclet / 2, np.linspace(0, math.tau, 2000, endpoint=False)
    slope = sum(
        (1 if n == 0 else 2) * iv(n, z) / kv(n, z) * kvp(n, z) * z * np.cos(n * angle) for n in range(60)
    )
    flux = -(np.exp(-z * np.cos(angle)) * slope - z * np.cos(angle)).mean() * math.tau
    heat = metal("mild steel")
    kerf, speed = 1.5, peclet * 2 * heat.diffusivity / 1.5
    ours = conduction("mild steel", kerf=kerf, speed=speed) / heat.conductivity / (heat.melting - 293)
    assert ours == pytest.approx(flux - 2 * peclet, rel=within)


def _amperages(chart: Chart, grade: str) -> tuple[float, ...]:
    return tuple(sorted({r.amperage for r in chart.rows if r.grade == grade}))


def test_starter_chart_covers_what_it_says() -> None:
    chart = starter_chart()
    assert {r.grade for r in chart.rows} == {"mild steel", "stainless", "aluminium"}
    assert _amperages(chart, "mild steel") == (20, 25, 30, 40, 45, 50, 60, 65, 80, 85, 100, 105, 125)
    spans = [r.thickness for r in chart.rows]
    assert (min(spans), max(spans)) == (0.5, 25)
    assert all(r.starting_point for r in chart.rows)


def test_starter_speeds_fall_with_thickness_and_rise_with_current() -> None:
    chart = starter_chart()
    for grade in ("mild steel", "stainless", "aluminium"):
        for amperage in _amperages(chart, grade):
            speeds = [
                r.cut_speed
                for r in sorted(chart.rows, key=lambda r: r.thickness)
                if (r.grade, r.amperage) == (grade, amperage)
            ]
            assert speeds == sorted(speeds, reverse=True)
        at3 = [chart.row(grade, 3, a).row.cut_speed for a in _amperages(chart, grade)]
        assert at3 == sorted(at3)


# Common practice of small air-plasma tables, in our own rounding (not from any maker's chart), wide bars.
@pytest.mark.parametrize(
    ("grade", "amperage", "thickness", "mm_min"),
    [
        ("mild steel", 45, 6, 1600),
        ("mild steel", 65, 10, 1250),
        ("stainless", 45, 6, 1400),
        ("aluminium", 45, 6, 2000),
    ],
)
def test_starter_speeds_are_near_common_practice(
    grade: str, amperage: float, thickness: float, mm_min: float
) -> None:
    assert starter_chart().row(grade, thickness, amperage).row.cut_speed * 60 == pytest.approx(
        mm_min, rel=0.2
    )


def test_a_speed_above_the_physical_limit_is_refused_with_the_reason() -> None:
    with pytest.raises(InputError, match=r"takes \d+ W, and the arc has \d+ W.*below \d+ mm/min"):
        Chart("mine", (_row(cut_speed=200.0),))


def test_between_rows_each_quantity_has_its_rule() -> None:
    thin, thick = (
        _row(thickness=4.0, cut_speed=40.0, kerf=1.4),
        _row(
            thickness=9.0, cut_speed=10.0, kerf=1.9, air_pressure=600.0, hole_speed_factor=0.5, post_flow=40.0
        ),
    )
    middle = between([thin, thick], 6.0)
    assert middle.kerf == pytest.approx(1.6)
    assert middle.cut_speed == pytest.approx(20.0)  # half-way in log: sqrt(4·9) = 6, sqrt(40·10) = 20
    assert (middle.air_pressure, middle.hole_speed_factor, middle.post_flow) == (600.0, 0.5, 40.0)


def test_a_row_on_the_chart_is_handed_back_as_it_stands() -> None:
    chart = starter_chart()
    for row in chart.rows:
        assert chart.row(row.grade, row.thickness, row.amperage).row == row


def test_gauge_and_inch_plate_fall_between_rows_with_a_note() -> None:
    chart = starter_chart()
    for said in ("1/4 in", "11 ga steel", "16 ga steel"):
        picked = chart.row("mild steel", parse(said), 45)
        assert [f.code for f in picked.findings] == ["T001", "T003"]


def test_nothing_is_extrapolated_silently() -> None:
    picked = starter_chart().row("mild steel", 25.0, 65)
    assert "T002" in [f.code for f in picked.findings]
    assert picked.row.cut_speed == starter_chart().row("mild steel", 20, 65).row.cut_speed


def test_the_automatic_amperage_is_within_source_and_table() -> None:
    chart = starter_chart()
    small = load_table("small gantry")
    assert (
        chart.row("mild steel", 6, table=replace(small, source=PowerSource(45, 0.5, 45))).row.amperage == 45
    )
    slow_table = chart.row("mild steel", 1.5, table=replace(small, max_cut_speed=100.0)).row
    assert slow_table.cut_speed <= 100.0


def test_any_amperage_between_the_charts_is_worked_out_and_said() -> None:
    chart = starter_chart()
    low, high = (chart.row("mild steel", 6, a).row for a in (50, 60))
    picked = chart.row("mild steel", 6, 55)
    assert [f.code for f in picked.findings] == ["T004", "T003"]
    assert picked.row.amperage == 55
    # half-way in amperage; the speed by the power of the amperage: 29.83, 39.67 mm/s -> worked by hand in logs
    power = math.log(55 / 50) / math.log(60 / 50)
    assert picked.row.cut_speed == pytest.approx(low.cut_speed ** (1 - power) * high.cut_speed**power)
    assert picked.row.kerf == pytest.approx((low.kerf + high.kerf) / 2)
    both = chart.row("mild steel", parse("7/32 in"), 55)  # between thicknesses too
    assert {"T003", "T004"} <= {f.code for f in both.findings}
    thin = chart.row("mild steel", 18.0, 55)  # 50 A has no row up to there
    assert "T002" in {f.code for f in thin.findings}


def test_an_amperage_beyond_the_chart_says_what_there_is() -> None:
    with pytest.raises(InputError, match=r"at 150 A.*Allowed: 20 A to 125 A|at 150 A.*Allowed: 20 to 125 A"):
        starter_chart().row("mild steel", 6, 150)
    with pytest.raises(InputError, match="not known"):
        starter_chart().row("wood", 6)


def test_galvanized_takes_the_steel_rows() -> None:
    assert starter_chart().row("galv", 3, 45).row.cut_speed == starter_chart().row("ms", 3, 45).row.cut_speed


def test_a_chart_survives_its_file() -> None:
    chart = starter_chart()
    back = read_chart(write_chart(chart))
    for a, b in zip(chart.rows, back.rows, strict=True):
        for key, value in a.as_dict().items():
            same = pytest.approx(value, abs=1e-4) if isinstance(value, float) else value
            assert getattr(b, key) == same


def test_a_new_row_takes_the_old_ones_place() -> None:
    chart = starter_chart()
    measured = replace(chart.row("mild steel", 6, 45).row, kerf=1.71, starting_point=False)
    changed = chart.with_rows([measured])
    assert len(changed.rows) == len(chart.rows)
    assert changed.row("mild steel", 6, 45).row == measured


GOOD = write_chart(Chart("mine", (starter_chart().row("mild steel", 6, 45).row,)))


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ('kerf = "', 'kerf = "9', r"c.toml, line \d+, key 'row.0.kerf'.*Allowed: 0.2 mm to 15 mm"),
        ('cut_speed = "', 'cut_speed = "1', r"line \d+, key 'row.0.cut_speed'.*takes \d+ W"),
        ('"45 A"', '"45 V"', r"key 'row.0.amperage': '45 V' is not a current"),
        ('"6 mm"', '"7 ga"', ""),
        ('grade = "mild steel"', 'grade = "wood"', r"line 5, key 'row.0.grade'.*'wood' is not known"),
        (
            'process = "air plasma"',
            'process = "laser"',
            r"line 4.*'laser' cannot be used. Allowed: air plasma",
        ),
        ("lead =", "led =", r"'lead' is missing; is 'led' meant"),
        ("[[row]]", "[row]", r"'row' is not a list of sections"),
        ("0.6", "6", r"hole_speed_factor': 6 cannot be used. Allowed: a number, 0.2 to 1"),
    ],
)
def test_a_bad_chart_is_reported_with_line_and_key(old: str, new: str, text: str) -> None:
    assert old in GOOD
    if not text:
        assert read_chart(GOOD.replace(old, new)).rows[0].thickness == pytest.approx(4.554, abs=1e-3)
        return
    with pytest.raises(InputError, match=text):
        read_chart(GOOD.replace(old, new), where="c.toml")


def test_the_second_of_two_rows_is_named_by_its_line() -> None:
    twice = GOOD + GOOD.split("\n", 1)[1].replace('"45 A"', '"50 A"').replace('kerf = "', 'kerf = "9')
    with pytest.raises(InputError, match=r"line [23]\d, key 'row.1.kerf'"):
        read_chart(twice, where="c.toml")


def test_oxy_fuel_rows_have_the_same_shape_and_no_floor() -> None:
    text = GOOD.replace("air plasma", "oxy-fuel").replace("air_", "gas_")
    text = "\n".join(line for line in text.splitlines() if not line.startswith(("amperage", "arc_voltage")))
    row = read_chart(text + "\n").row("mild steel", 6).row
    assert (row.process, row.amperage) == ("oxy-fuel", 0.0)
