"""The starter chart, as a skilled operator would judge it, and the energy balance against published cuts.

Published cuts: "Typical conditions for plasma arc cutting" of carbon steel, stainless steel and aluminium in the AWS Welding
Handbook (vol. 2, chapter on arc cutting; the same tables stand in military manuals on welding). Recalled from memory, to be
checked against a copy; currents of 250 to 750 A, argon-hydrogen or nitrogen, so far above our torches. They bear on the energy
balance, not on the practice points, which are our own rounding of common practice. No published tables for air at 20 to 125 A
could be consulted here: against those the chart is not checked.
"""

from __future__ import annotations

import itertools
import math

import pytest

from platewright.table.chart import starter_chart
from platewright.table.chart_file import read_chart, write_chart
from platewright.table.energy import conduction, efficiency, melt_power, practice, thickest
from platewright.table.law import kerf_at
from platewright.table.starter import AMPERAGES, GRADES, ORIGIN, THICKNESSES, band, computed_row

CHART = starter_chart()
INCH = 25.4
HANDBOOK = [  # grade, thickness [in], speed [in/min], orifice [in], power [kW]; recalled
    ("mild steel", 0.25, 200, 1 / 8, 55), ("mild steel", 0.5, 100, 1 / 8, 55), ("mild steel", 1, 50, 5 / 32, 85), ("mild steel", 2, 25, 3 / 16, 110),
    ("stainless", 0.25, 200, 1 / 8, 60), ("stainless", 0.5, 100, 1 / 8, 60), ("stainless", 1, 50, 5 / 32, 80), ("stainless", 2, 20, 3 / 16, 100),
    ("stainless", 3, 16, 3 / 16, 100), ("stainless", 4, 8, 3 / 16, 100),
    ("aluminium", 0.25, 300, 1 / 8, 60), ("aluminium", 0.5, 200, 1 / 8, 50), ("aluminium", 1, 90, 5 / 32, 80), ("aluminium", 2, 20, 5 / 32, 80),
    ("aluminium", 3, 15, 3 / 16, 90), ("aluminium", 4, 12, 3 / 16, 90),
]  # fmt: skip


def _share(grade: str, thickness: float, speed: float, kerf: float, power: float) -> tuple[float, float]:
    """Return melting, and melting and conduction, over the arc's power [-]."""
    melt = melt_power(grade, thickness=thickness, kerf=kerf, speed=speed)
    return melt / power, (melt + thickness * conduction(grade, kerf=kerf, speed=speed)) / power


@pytest.mark.parametrize("cut", HANDBOOK, ids=lambda c: f"{c[0]} {c[1]} in")
def test_no_published_cut_beats_the_floor_and_all_lie_in_one_band(
    cut: tuple[str, float, float, float, float],
) -> None:
    """Kerf taken as 1.5 orifices (the handbook's rule is 1.5 to 2, recalled): melting takes 9 to 65 % of the arc's power."""
    grade, inches, rate, orifice, kilowatt = cut
    thickness, speed, kerf = inches * INCH, rate * INCH / 60, 1.5 * orifice * INCH
    melt, whole = _share(grade, thickness, speed, kerf, kilowatt * 1e3)
    assert 0.09 < melt < 0.65
    assert melt < whole < 1.0


def test_no_row_beats_the_floor_either_and_where_the_shares_part_is_known() -> None:
    """With conduction the published cuts use 15 to 60 % of the arc, the rows of steel up to 97 %.

    That the air torch's share is higher is what the practice points say; burning iron helps (not modelled). It is not confirmed by the
    published cuts, which stand here so that nobody reads the one as proof of the other.
    """
    published = [_share(g, t * INCH, v * INCH / 60, 1.5 * o * INCH, p * 1e3)[1] for g, t, v, o, p in HANDBOOK]
    assert 0.1 < min(published) < max(published) < 0.65
    for row in CHART.rows:
        arc = row.amperage * row.arc_voltage
        melt, whole = _share(row.grade, row.thickness, row.cut_speed, row.kerf, arc)
        assert melt < 0.85
        assert whole < 1.0
    steel = [efficiency("mild steel", a, 6.0) for a in (45, 65, 85, 105, 125)]
    others = [efficiency(g, a, 6.0) for g in ("stainless", "aluminium") for a in (45, 65, 85, 105, 125)]
    assert max(others) < 0.8 < max(steel) < 1.0


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

    import platewright

    page = (Path(platewright.__file__).parents[2] / "docs" / "chart.md").read_text(encoding="utf-8")
    for name, (origin, _, _) in ORIGIN.items():
        assert origin in page, name


def test_the_picture_shows_every_amperage_and_practice_point() -> None:
    from xml.etree import ElementTree

    from platewright.table.picture import chart_picture

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
