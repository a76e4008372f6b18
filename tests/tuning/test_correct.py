"""The chart changes in the one row that was measured, remembers what that row was, and reads back the same."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from platewright.burn.options import BurnOptions
from platewright.errors import InputError, RefusedError
from platewright.geometry import Contour
from platewright.table.chart import Chart, starter_chart
from platewright.table.chart_file import read_chart, write_chart
from platewright.table.motion import timed
from platewright.table.profile import load_table
from platewright.tuning.correct import corrected, entry, result_of, summary
from platewright.tuning.coupons import STEADY, coupon, picked_row
from platewright.tuning.model import Result
from tests.tuning.helpers import made, measured, readings

WORDS = {"s1": ("soft",), "s2": ("soft",), "s3": ("none",), "s4": ("none",), "s5": ("none",), "s6": ("hard",)}


def result(off: float = 0.2) -> Result:
    cut = made()
    return result_of(readings(cut, measured(cut, cut.sheet.job.kerf + off), **WORDS))


def test_one_row_changes_and_becomes_measured() -> None:
    before, after = starter_chart(), corrected(starter_chart(), result(), note="measured 2026-05-03")
    old, new = (c.row("mild steel", 6.0, 45.0).row for c in (before, after))
    assert new.kerf == pytest.approx(old.kerf + 0.2, abs=0.01)
    assert new.kerf_hole == 0.0  # what the holes say is no other kerf
    assert new.cut_speed * 60 == pytest.approx(1376, abs=1)
    assert (old.starting_point, new.starting_point) == (True, False)
    assert new.note.startswith("measured 2026-05-03; was (computed) kerf 1.59 mm, cut speed 1500 mm/min")
    rest = [
        r
        for r in after.rows
        if r is not new and (r.thickness, r.amperage, r.grade) != (6.0, 45.0, "mild steel")
    ]
    assert set(rest) == {
        r for r in before.rows if (r.thickness, r.amperage, r.grade) != (6.0, 45.0, "mild steel")
    }
    assert (new.cut_height, new.pierce_delay, new.arc_voltage) == (
        old.cut_height,
        old.pierce_delay,
        old.arc_voltage,
    )


def test_holes_with_a_kerf_of_their_own_get_one() -> None:
    cut = made()
    got = {k: (v[0] + (0.25 if k.startswith("hole") else 0.0),) for k, v in measured(cut, 1.7).items()}
    row = corrected(starter_chart(), result_of(readings(cut, got, **WORDS))).row("mild steel", 6.0, 45.0).row
    assert row.kerf_hole == pytest.approx(1.95, abs=0.01)
    assert "kerf hole 1.69 mm; now (95 %) kerf 1.70 mm ± 0.03 mm" in row.note
    # and lose it again when they say the same
    again = corrected(Chart("own", (row,)), result()).rows[0]
    assert again.kerf_hole == 0.0


def test_what_is_too_uncertain_is_reported_and_not_entered() -> None:
    cut = made()
    wild = {"A_top": (79.0,), "B_top": (80.0,), "C": (41.0,), "D": (40.0,)}
    got = result_of(readings(cut, wild, **WORDS))
    assert {"U024", "U023"} <= {f.code for f in got.findings}
    row = corrected(starter_chart(), got).row("mild steel", 6.0, 45.0).row
    assert row.kerf == cut.sheet.job.kerf
    assert row.starting_point
    one = corrected(starter_chart(), result_of(readings(cut, {"E": (79.9,)}, **WORDS)))
    assert one.row("mild steel", 6.0, 45.0).row.kerf == cut.sheet.job.kerf
    nothing = result_of(readings(cut, {"E": (79.9,)}))
    assert corrected(starter_chart(), nothing) is starter_chart()


def test_neighbours_are_not_made_measured_by_it() -> None:
    after = corrected(starter_chart(), result())
    assert after.row("mild steel", 5.5, 45.0).row.starting_point
    assert after.row("mild steel", 5.5, 45.0).row.note == ""


def test_a_thickness_between_rows_gets_a_row_of_its_own() -> None:
    cut = made("mild steel", 6.35, 45.0)
    got = result_of(readings(cut, measured(cut, 1.8), **WORDS))
    after = corrected(starter_chart(), got)
    assert len(after.rows) == len(starter_chart().rows) + 1
    assert after.row("mild steel", 6.35, 45.0).findings == ()


def test_half_measured_stays_a_starting_point() -> None:
    cut = made()
    got = result_of(readings(cut, measured(cut, 1.8)))
    after = corrected(starter_chart(), got).row("mild steel", 6.0, 45.0).row
    assert after.starting_point
    assert "U023" in [f.code for f in got.findings]
    # a row already measured keeps its standing when only its kerf is measured anew
    again = (
        corrected(corrected(starter_chart(), result(), note="first"), got, note="second")
        .row("mild steel", 6.0, 45.0)
        .row
    )
    assert not again.starting_point
    assert again.note.startswith("second; was (measured) kerf 1.79 mm")
    assert "; first; was (computed)" in again.note


def test_the_written_chart_reads_back() -> None:
    after = corrected(Chart("mine", (made().coupon.row,)), result(), note='said "so" \\ on 3 May')
    again = read_chart(write_chart(after))
    assert again.rows[0].note == after.rows[0].note
    for name in ("kerf", "cut_speed", "kerf_hole", "smallest_hole", "edge_slope"):
        assert getattr(again.rows[0], name) == pytest.approx(getattr(after.rows[0], name), abs=1e-4)


def test_a_speed_the_arc_cannot_give_is_refused() -> None:
    words = {f"s{n}": ("none",) for n in range(1, 9)}
    cut = made()
    got = result_of(readings(cut, {"E": (80.0,)}, **words))
    assert got.ladder is not None
    absurd = replace(got, ladder=replace(got.ladder, speed=500.0))
    with pytest.raises(InputError, match="cannot be: melting"):
        corrected(starter_chart(), absurd)


def test_a_chart_that_does_not_reach_is_not_stretched() -> None:
    thin = Chart("thin", tuple(r for r in starter_chart().rows if r.thickness < 5))
    with pytest.raises(RefusedError, match=r"6 mm lies outside it.*chart the coupon was planned with"):
        corrected(thin, result())


def test_history_is_plain_and_sentences_carry_units() -> None:
    got = result()
    line = json.loads(json.dumps(entry(got, date="2026-05-03")))
    assert line["date"] == "2026-05-03"
    assert line["kerf"]["mm"] == pytest.approx(1.79, abs=0.01)
    assert line["kerf"]["count"] == 8
    assert line["cut_speed_mm_min"] == pytest.approx(1376, abs=1)
    text = " ".join(summary(got))
    assert "Kerf 1.79 ± 0.03 mm from 8 sizes (planned with 1.59 mm)." in text
    assert "Kerf 0.07 ± 0.001 in" in " ".join(summary(got, unit="in"))
    assert "Cut speed 54 in/min" in " ".join(summary(got, unit="in"))
    assert "Cut speed 1376 mm/min ± 7 %; clean from 1263 mm/min to 1500 mm/min." in text


def test_nothing_is_made_where_the_chart_does_not_reach() -> None:
    chart, table = starter_chart(), load_table("small gantry")
    with pytest.raises(RefusedError, match=r"covers 1 to 16 mm; 18 mm lies outside"):
        picked_row(chart, "mild steel", 18.0, amperage=45.0, table=table)
    with pytest.raises(RefusedError, match="no rows of its own for galvanized steel"):
        picked_row(chart, "galvanized steel", 2.0, amperage=45.0, table=table)
    with pytest.raises(RefusedError, match="far above"):
        coupon(replace(made().coupon.row, cut_speed=300.0), table)


@pytest.mark.parametrize(
    ("grade", "thickness", "amperage", "square"),
    [("mild steel", 6.0, 45.0, 0.0), ("aluminium", 3.0, 45.0, 0.0), ("stainless", 10.0, 65.0, 0.0), ("mild steel", 1.0, 20.0, 0.0), ("mild steel", 6.0, 45.0, 400.0)],
)  # fmt: skip
def test_the_proof_says_go(grade: str, thickness: float, amperage: float, square: float) -> None:
    cut = made(grade, thickness, amperage, square)
    assert cut.proof.verdict == "go"
    assert sum(p.kind == "part" for p in cut.proof.pieces) == len(cut.coupon.layout.parts)
    keys = [s.key for s in cut.sheet.sizes]
    assert len(keys) == len(set(keys))
    assert sum(s.kind == "hole" for s in cut.sheet.sizes) >= 6
    assert "X" in keys if square else "X" not in keys


@pytest.mark.parametrize("name", ["small gantry", "two-link arm", "long gantry"])
@pytest.mark.parametrize(("thickness", "amperage"), [(1.0, 20.0), (2.0, 45.0), (6.0, 45.0)])
def test_every_strip_is_long_enough_to_run_at_its_speed(name: str, thickness: float, amperage: float) -> None:
    # by the motion model, which knows corners, leads and jerk: a stretch of STEADY at 98 % of the feed or more
    table = load_table(name)
    row = picked_row(starter_chart(), "mild steel", thickness, amperage=amperage, table=table).row
    ready = coupon(row, table)
    by_name = {part.name: n for n, part in enumerate(ready.layout.parts)}
    for rung in ready.rungs:
        placed = list(ready.layout.placed())[by_name[f"strip {rung.number}"]][2]
        side = Contour(placed.outer.rows[:2], closed=False)
        slow = timed(side, rung.speed, table).plan.slow(0.98)
        assert rung.length - sum(s.end - s.start for s in slow) >= STEADY


def test_every_strip_runs_at_its_own_speed_in_the_text() -> None:
    cut = made()
    feeds = {float(f) for f in re.findall(r"F([\d.]+)", cut.program.text)}
    for rung in cut.sheet.rungs:
        assert min(abs(f - rung.speed * 60) for f in feeds) < 1.0
    speeds = [c.speed_factor for c in BurnOptions.from_dict(cut.coupon.layout.burn).cuts if c.speed_factor]
    assert speeds == pytest.approx([r.speed / cut.sheet.job.speed for r in cut.sheet.rungs])
    lengths = [r.length for r in cut.sheet.rungs]
    assert lengths == sorted(set(lengths))
