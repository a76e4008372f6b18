"""Centres struck by a short arc: where and how long by the text, that the proof takes them for marks, and what is not struck."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from benchmarks.proving.trials import witness_job
from benchmarks.witness import dialect as witness_dialect
from benchmarks.witness import judge

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.picture import picture
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Mark, Part
from platewright.program.dialects import load_dialect
from platewright.program.writer import resume, write
from platewright.proof.model import Proof
from platewright.proof.prove import prove
from platewright.shop.steps.burn import track
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table

TABLE, CHART = load_table("small gantry"), starter_chart()
PART = Profile(
    Contour.rectangle(120, 80), (Contour.circle(30, 40, 2.5, clockwise=True), Contour.circle(80, 40, 25, clockwise=True))
)  # fmt: skip
MARKS = (
    Mark("centre", at=(10, 10)),
    Mark("etch", contour=Contour.from_points([(20, 10), (60, 10)], closed=False)),
)


def planned(dialect: str = "plain-mm", *, thickness: float = 6.0, **options: Any) -> BurnPlan:
    part = Part(name="plate", profile=PART, thickness=thickness, marks=MARKS)
    layout = Layout(
        plate=Plate.sheet("s", 300, 200, thickness), parts=(part,), placements=(Placement(0, Pose(50, 50)),)
    )
    chosen = BurnOptions(amperage=45.0, effort=0.02, dimple=True, mark_below=6.0, **options)
    return plan(layout, CHART, TABLE, chosen, controller=load_dialect(dialect).controller)


def proven(made: BurnPlan, dialect: str, text: str = "") -> Proof:
    text = text or write(made, dialect, name="job").text
    return prove(text, dialect=dialect, table=made.table, row=made.row, layout=made.layout)


@pytest.mark.parametrize(
    "dialect", ["plain-mm", "probe-mm", "flat-mm", "small-mm", "chords-mm", "plain-inch"]
)
def test_every_dialect_strikes_both_centres_and_proof_and_witness_take_them_for_marks(dialect: str) -> None:
    made = planned(dialect)
    text = write(made, dialect, name="job").text
    seen = proven(made, dialect, text)
    assert seen.verdict == "go"
    assert "P099" in {f.code for f in seen.findings}
    assert next(f.text for f in seen.findings if f.code == "P077").endswith("its centre is marked.")
    assert seen.burns == 2
    assert seen.time == pytest.approx(made.total_time, abs=0.03)
    job = replace(witness_job(made), dimpled=True)
    assert judge.judge(text, witness_dialect.load(dialect), job).ruling == "good"
    # nobody asked the witness for dimples: to it they are holes in a part
    assert judge.judge(text, witness_dialect.load(dialect), replace(job, dimpled=False)).ruling == "ruined"


def test_the_text_strikes_at_pierce_height_and_does_not_go_down() -> None:
    made = planned()
    text = write(made, "plain-mm", name="job").text
    struck = re.findall(r"G0 X([\d.]+) Y([\d.]+)\nG0 Z4\nM3\nG4 P([\d.]+)\nM5\nG0 Z20\n", text)
    assert sorted(struck) == [("60", "60", "0.15"), ("80", "90", "0.15")]
    assert 0.25 * made.row.pierce_delay == 0.15
    assert [c.struck for c in made.cuts] == [True, True, False, False]
    assert "hard to drill" in made.cuts[0].why[-1]
    told = next(f for f in made.findings if f.code == "B040")
    assert "hardened" in told.text
    assert "common practice" in told.text


def test_the_current_is_set_before_and_after_by_choice() -> None:
    text = write(planned(dimple_amperage=25.0), "plain-mm", name="job").text
    stops = re.findall(r"\(MSG, set (\d+) A and go on\)\nM0\n", text)
    assert stops == ["25", "45"]
    assert "M0\n" not in write(planned(), "plain-mm", name="job").text


@pytest.mark.parametrize(("thickness", "seconds"), [(2.0, None), (4.0, 0.3)])
def test_what_may_be_pierced_is_not_struck(thickness: float, seconds: float | None) -> None:
    made = planned(thickness=thickness, dimple_time=seconds)
    assert not any(c.struck for c in made.cuts)
    assert {"B025", "B026", "B041"} <= {f.code for f in made.findings}


def test_a_marking_tool_is_used_where_there_is_one() -> None:
    part = Part(name="plate", profile=PART, thickness=6.0, marks=MARKS)
    layout = Layout(
        plate=Plate.sheet("s", 600, 400, 6.0), parts=(part,), placements=(Placement(0, Pose(250, 150)),)
    )
    chosen = BurnOptions(amperage=45.0, effort=0.02, dimple=True, mark_below=6.0)
    made = plan(layout, CHART, TABLE, chosen, controller=load_dialect("marker-mm").controller)
    assert [c.struck for c in made.cuts if c.kind == "mark"] == [False] * 3


def spoiled(how: str) -> tuple[str, BurnPlan]:
    made = planned()
    text = write(made, "plain-mm", name="job").text
    if how == "too long":
        return text.replace("G4 P0.15", "G4 P0.5", 1), made
    if how == "astray":
        return text.replace("G0 X60 Y60", "G0 X63 Y60", 1), made
    return text, replace(made, layout=replace(made.layout, burn={"mark_below": 6.0}))


@pytest.mark.parametrize(
    ("how", "code"), [("too long", "P100"), ("astray", "P007"), ("nobody asked", "P041")]
)
def test_what_is_no_dimple_is_a_hole(how: str, code: str) -> None:
    text, made = spoiled(how)
    seen = proven(made, "plain-mm", text)
    assert seen.verdict == "stop"
    assert code in {f.code for f in seen.findings if f.severity == "stop"}


def test_a_job_taken_up_after_a_dimple_is_numbered_and_drawn() -> None:
    made = planned()
    assert ">m1<" in picture(made)
    assert track(made)["total_s"] == pytest.approx(made.total_time, abs=0.02)
    text = resume(made, "plain-mm", first_cut=3, name="rest").text
    assert "G4 P0.15" not in text
