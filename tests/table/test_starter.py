"""The starter chart, as a skilled operator would judge it, and the energy balance against published cuts.

Published cuts: "Typical conditions for plasma arc cutting" of carbon steel, stainless steel and aluminium in the AWS Welding
Handbook (vol. 2, chapter on arc cutting; the same tables stand in military manuals on welding). Recalled from memory, to be
checked against a copy; currents of 250 to 750 A, argon-hydrogen or nitrogen, so far above our torches. They bear on the energy
balance, not on the practice points, which are our own rounding of common practice. No published tables for air at 20 to 125 A
could be consulted here: against those the chart is not checked (docs/table/chart.md says point by point what is and what is not).
"""

from __future__ import annotations

import itertools
import math
import statistics
import sys

import pytest

from platewright.table.chart import starter_chart
from platewright.table.chart_file import read_chart, write_chart
from platewright.table.energy import conduction, efficiency, melt_power, practice, speed_for, thickest
from platewright.table.law import kerf_at
from platewright.table.starter import AMPERAGES, GRADES, ORIGIN, THICKNESSES, band, computed_row

CHART = starter_chart()
INCH = 25.4
HANDBOOK = [  # grade, thickness [in], speed [in/min], orifice [in], current [A], power [kW]; all recalled
    ("mild steel", 0.25, 200, 1 / 8, 275, 55), ("mild steel", 0.5, 100, 1 / 8, 275, 55),
    ("mild steel", 1, 50, 5 / 32, 425, 85), ("mild steel", 2, 25, 3 / 16, 550, 110),
    ("stainless", 0.25, 200, 1 / 8, 300, 60), ("stainless", 0.5, 100, 1 / 8, 300, 60), ("stainless", 1, 50, 5 / 32, 400, 80),
    ("stainless", 2, 20, 3 / 16, 500, 100), ("stainless", 3, 16, 3 / 16, 500, 100), ("stainless", 4, 8, 3 / 16, 500, 100),
    ("aluminium", 0.25, 300, 1 / 8, 300, 60), ("aluminium", 0.5, 200, 1 / 8, 250, 50), ("aluminium", 1, 90, 5 / 32, 400, 80),
    ("aluminium", 2, 20, 5 / 32, 400, 80), ("aluminium", 3, 15, 3 / 16, 450, 90), ("aluminium", 4, 12, 3 / 16, 450, 90),
    ("aluminium", 6, 8, 1 / 4, 750, 170),
]  # fmt: skip
Cut = tuple[str, float, float, float, float, float]


def _share(grade: str, thickness: float, speed: float, kerf: float, power: float) -> tuple[float, float]:
    """Return melting, and melting and conduction, over the arc's power [-]."""
    melt = melt_power(grade, thickness=thickness, kerf=kerf, speed=speed)
    return melt / power, (melt + thickness * conduction(grade, kerf=kerf, speed=speed)) / power


def _cut(cut: Cut) -> tuple[str, float, float, float, float]:
    """Return a handbook cut's grade, thickness, speed, kerf and power [mm, mm/s, W]; kerf 1.5 orifices (the handbook's rule is 1.5 to 2, recalled)."""
    grade, inches, rate, orifice, _, kilowatt = cut
    return grade, inches * INCH, rate * INCH / 60, 1.5 * orifice * INCH, kilowatt * 1e3


@pytest.mark.parametrize("cut", HANDBOOK, ids=lambda c: f"{c[0]} {c[1]} in")
def test_no_published_cut_beats_the_floor(cut: Cut) -> None:
    melt, whole = _share(*_cut(cut))
    assert melt < whole < 1.0
    # currents and powers were recalled each for itself: they agree on a plasma torch's open voltage
    assert 195 < 1e3 * cut[5] / cut[4] < 230


def _left_out() -> list[tuple[str, float]]:
    """Return each published cut's grade, and the speed that the others of its metal foretell over its own [-]: one share of the power a metal."""
    found = []
    for cut in HANDBOOK:
        grade, thickness, speed, kerf, power = _cut(cut)
        shares = [_share(*_cut(c))[1] for c in HANDBOOK if c[0] == grade and c != cut]
        share = math.exp(sum(map(math.log, shares)) / len(shares))
        found.append((grade, speed_for(grade, share * power, thickness=thickness, kerf=kerf) / speed))
    return found


def test_the_balance_foretells_each_published_cut_from_the_others() -> None:
    """One number a metal, fitted to the other cuts: speeds from 200 to 7600 mm/min, plates from 6 to 152 mm, to a factor of 1.6 at most."""
    off = [abs(math.log(ratio)) for _, ratio in _left_out()]
    assert math.exp(math.sqrt(sum(o * o for o in off) / len(off))) < 1.3
    assert max(off) < math.log(1.6)
    for grade, most in (("mild steel", 1.15), ("stainless", 1.3)):
        assert max(abs(math.log(r)) for g, r in _left_out() if g == grade) < math.log(most)


@pytest.mark.parametrize("lost", ["melt_power", "conduction"])
def test_without_melting_or_conduction_it_does_not(lost: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the test above asks is more than any balance gives: with one of its two terms gone the cuts are missed by 2.3 and 16 times."""
    import platewright.table.energy as energy

    for module in (energy, sys.modules[__name__]):
        monkeypatch.setattr(module, lost, lambda *_, **__: 0.0)
    assert max(abs(math.log(ratio)) for _, ratio in _left_out()) > math.log(2.0)


def test_how_far_the_chart_lies_from_the_published_cuts() -> None:
    """No row beats the floor, and no published cut lies in the chart's range: with the handbook's share the chart's rows would be slower.

    By a factor of 1.3 to 1.5 at the median, up to 2: the small air torches' higher share is what the practice points say (burning iron
    helps steel; not modelled). The published cuts do not confirm it; they stand here so that nobody reads the one as proof of the other.
    """
    assert min(c[4] for c in HANDBOOK) >= 2 * max(AMPERAGES)
    assert min(_cut(c)[3] for c in HANDBOOK) > 1.75 * max(r.kerf for r in CHART.rows)
    for row in CHART.rows:
        melt, whole = _share(
            row.grade, row.thickness, row.cut_speed, row.kerf, row.amperage * row.arc_voltage
        )
        assert melt < 0.85
        assert whole < 1.0
    for grade, apart in (("mild steel", 1.5), ("stainless", 1.35), ("aluminium", 1.4)):
        shares = [_share(*_cut(c))[1] for c in HANDBOOK if c[0] == grade]
        share = math.exp(sum(map(math.log, shares)) / len(shares))
        ratios = [
            r.cut_speed / speed_for(grade, share * r.amperage * r.arc_voltage, thickness=r.thickness, kerf=r.kerf)
            for r in CHART.rows if r.grade == grade
        ]  # fmt: skip
        assert statistics.median(ratios) == pytest.approx(apart, abs=0.1)
        assert max(ratios) < 2.1


@pytest.mark.parametrize("grade", GRADES)
def test_no_row_is_outside_15_percent_of_its_practice_points(grade: str) -> None:
    points = practice(grade)
    assert len(points) >= 10
    for amperage, thickness, speed in points:
        row = CHART.row(grade, thickness, amperage).row
        assert row.cut_speed == pytest.approx(speed, rel=0.15), (grade, amperage, thickness)


@pytest.mark.parametrize("grade", [*GRADES, "galvanized steel"])
def test_speed_and_kerf_go_the_right_way(grade: str) -> None:
    for amperage in AMPERAGES:
        rows = sorted(
            (
                r
                for r in CHART.rows
                if (r.grade, r.amperage) == (grade.replace("galvanized", "mild"), amperage)
            ),
            key=lambda r: r.thickness,
        )
        for a, b in itertools.pairwise(rows):
            assert b.cut_speed <= a.cut_speed
            assert b.kerf >= a.kerf
            assert b.pierce_height >= a.pierce_height or b.edge_start_only
    for thickness in THICKNESSES:
        rows = sorted(
            (
                r
                for r in CHART.rows
                if (r.grade, r.thickness) == (grade.replace("galvanized", "mild"), thickness)
            ),
            key=lambda r: r.amperage,
        )
        for a, b in itertools.pairwise(rows):
            assert b.cut_speed >= a.cut_speed
            assert b.kerf >= a.kerf


def test_rows_that_do_not_sever_are_gone_and_beyond_piercing_only_the_edge_is_left() -> None:
    """20 A above 3 mm, 30 A at 6 mm pierced, 65 A at 16 mm at 730 mm/min: they ruined parts."""
    assert max(r.thickness for r in CHART.rows if r.amperage == 20) == 3
    assert CHART.row("mild steel", 6, 30).row.edge_start_only
    assert CHART.row("mild steel", 16, 65).row.edge_start_only
    assert CHART.row("mild steel", 16, 65).row.cut_speed * 60 == pytest.approx(560, rel=0.1)
    assert not CHART.row("mild steel", 12, 65).row.edge_start_only
    assert not CHART.row("mild steel", 20, 125).row.edge_start_only
    for row in CHART.rows:
        pierces, parts = thickest(row.amperage)
        assert row.thickness <= parts
        assert row.edge_start_only == (row.thickness > pierces)
        assert row.cut_speed * 60 >= 200
    limits = [thickest(a) for a in AMPERAGES]
    assert limits == sorted(limits)
    assert all(pierce <= part for pierce, part in limits)


def test_rows_between_a_pierced_and_an_edge_row_are_edge_rows() -> None:
    picked = CHART.row("mild steel", 14.0, 65)
    assert picked.row.edge_start_only
    assert "T005" in {f.code for f in picked.findings}
    assert CHART.row("mild steel", 11.0, 65).row.edge_start_only is False
    assert CHART.row("mild steel", 14.0, 70).row.edge_start_only  # 65 A does not pierce it


def test_an_ordinary_setting_of_a_small_shop_has_a_row() -> None:
    """60 A on 3/16 in was refused. Common practice: some 2.8 to 3.3 m/min."""
    row = CHART.row("mild steel", 4.7625, 60).row
    assert 2700 < row.cut_speed * 60 < 3500
    assert 1.5 < row.kerf < 2.0


def test_the_other_columns_are_as_practice_has_them() -> None:
    for row in CHART.rows:
        if not row.edge_start_only:
            assert row.pierce_height >= 2 * row.cut_height
        if row.thickness > 10 and not row.edge_start_only:
            assert 5.0 <= row.pierce_height <= 6.0
        assert row.smallest_hole / row.thickness >= 1.5 or row.smallest_hole >= 2.4 * row.kerf
        assert row.kerf < row.kerf_hole < 1.1 * row.kerf
        hole = float(kerf_at(row, row.hole_speed_factor * row.cut_speed))
        assert hole == pytest.approx(row.kerf_hole, abs=1e-6)
        for name in ORIGIN:
            low, high = band(row, name)
            assert low <= getattr(row, name) <= high
    volts = [CHART.row(g, 6, 65).row.arc_voltage for g in GRADES]
    assert volts == sorted(volts)
    assert volts[2] > volts[0] + 4
    assert [CHART.row("mild steel", t, 85).row.smallest_hole / t for t in (6, 12, 16)] == pytest.approx(
        [1.5, 2, 2], abs=0.05
    )


def test_the_share_is_smooth_between_the_practice_points() -> None:
    for grade in GRADES:
        shares = [efficiency(grade, a, 6.0) for a in range(20, 126)]
        assert all(abs(math.log(b / a)) < 0.08 for a, b in itertools.pairwise(shares))
        assert 0.1 < min(shares) < max(shares) <= 1.0


def test_edge_start_only_survives_the_file() -> None:
    row = computed_row("mild steel", 65.0, 16.0)
    from platewright.table.chart import Chart

    assert read_chart(write_chart(Chart("mine", (row,)))).rows[0].edge_start_only


def test_every_column_stands_on_the_page_with_its_origin() -> None:
    from pathlib import Path

    page = (Path(__file__).parents[2] / "docs" / "table" / "chart.md").read_text(encoding="utf-8")
    for name, (origin, _, _) in ORIGIN.items():
        assert origin in page, name


def test_the_picture_shows_every_amperage_and_practice_point() -> None:
    from xml.etree import ElementTree

    from tools.pages.starter_chart import chart_picture

    drawn = ElementTree.fromstring(chart_picture())
    space = "{http://www.w3.org/2000/svg}"
    assert len(drawn.findall(f".//{space}circle")) == sum(len(practice(g)) for g in GRADES)
    lines = drawn.findall(f".//{space}polyline")
    assert (
        len([one for one in lines if "stroke-dasharray" not in one.attrib])
        >= len(GRADES) * len(AMPERAGES) - 6
    )


@pytest.mark.parametrize("grade", GRADES)
def test_over_the_whole_chart_speed_kerf_and_limits_go_the_right_way(grade: str) -> None:
    """Every third ampere, every row's thickness and one between: also where rows are worked out between rows."""
    between = sorted({*THICKNESSES, *((a + b) / 2 for a, b in itertools.pairwise(THICKNESSES))})
    last: dict[float, tuple[float, float, bool]] = {}
    for amperage in range(20, 126, 3):
        before = None
        for thickness in between:
            picked = CHART.row(grade, thickness, amperage)
            if any(f.severity == "stop" for f in picked.findings):
                continue
            row = picked.row
            if before is not None:
                assert row.cut_speed <= before.cut_speed * (1 + 1e-9), (amperage, thickness)
                assert row.kerf >= before.kerf - 1e-9, (amperage, thickness)
                assert row.edge_start_only or not before.edge_start_only, (amperage, thickness)
            if thickness in last:
                speed, kerf, edge = last[thickness]
                assert row.cut_speed >= speed * (1 - 1e-9), (amperage, thickness)
                assert row.kerf >= kerf - 1e-9, (amperage, thickness)
                assert edge or not row.edge_start_only, (amperage, thickness)
            pierces, parts = thickest(amperage)
            assert thickness <= parts + 1e-9
            assert row.edge_start_only or thickness <= pierces + 1e-9
            last[thickness], before = (row.cut_speed, row.kerf, row.edge_start_only), row
    assert len(last) >= len(THICKNESSES)
