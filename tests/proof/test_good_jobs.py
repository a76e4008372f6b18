"""Good jobs of the real planner, in every dialect, trip nothing that stops; the long set (500) is ``benchmarks/proof.py``."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.burn.fit import fitted
from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Mark, Part
from platewright.program.dialects import dialect_names, load_dialect
from platewright.program.writer import resume, write
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from platewright.table.chart import Chart, starter_chart
from platewright.table.profile import load_table

TABLE = load_table("small gantry")
ONE_KERF = Chart("one kerf", tuple(replace(r, kerf_hole=0.0) for r in starter_chart().rows))
"""The starter chart with the same kerf at every speed: a true path then cuts a true edge, at slow corners too."""


def job(thickness: float, turn: float) -> Layout:
    """A gusset with holes, a slotted tab and a ring with a disc in its hole, beside an old hole and a magnet."""
    hole = 2.2 * thickness
    gusset = Part(
        name="gusset", profile=Profile(Contour.from_points([(0, 0), (130, 0), (130, 40), (40, 130), (0, 130)]), (Contour.circle(30, 30, hole / 2),)),
        thickness=thickness, marks=(Mark("centre", at=(80.0, 30.0)),),
    )  # fmt: skip
    slot = Contour(np.array([[30, 25, 0], [70, 25, 1.0], [70, 45, 0], [30, 45, 1.0]]))
    tab = Part(
        name="tab", profile=Profile(Contour.rectangle(100, 70, radius=12), (slot,)), thickness=thickness
    )
    ring = Part(
        name="ring",
        profile=Profile(Contour.circle(0, 0, 70), (Contour.circle(0, 0, 50),)),
        thickness=thickness,
    )
    disc = Part(name="disc", profile=Profile(Contour.circle(0, 0, 28)), thickness=thickness)
    plate = Profile(Contour.rectangle(600, 400), (Contour.circle(300, 330, 40),))
    places = (
        Placement(0, Pose(120, 50, turn), 1), Placement(0, Pose(420, 40, turn / 6, mirrored=True), 2),
        Placement(1, Pose(460, 60, turn / 3), 1), Placement(2, Pose(480, 270), 1), Placement(3, Pose(480, 270), 1),
    )  # fmt: skip
    magnet = KeepOut("magnet", Contour.circle(40, 350, 20), 15.0)
    return Layout(
        plate=Plate(name="drop", profile=plate, thickness=thickness, kind="drop"),
        parts=(gusset, tab, ring, disc),
        placements=places,
        keepouts=(magnet,),
    )


def planned(seed: int) -> BurnPlan:
    layout = job((3.0, 6.0, 10.0)[seed % 3], 0.2 + 0.1 * seed)
    return plan(layout, ONE_KERF, TABLE, BurnOptions(effort=0.02))


PLANS = {seed: planned(seed) for seed in range(3)}


@pytest.mark.parametrize("name", dialect_names())
def test_good_jobs_trip_nothing_that_stops(name: str) -> None:
    for burn in PLANS.values():
        text = write(burn, name, name="job").text
        proof = prove(text, dialect=name, table=TABLE, row=burn.row, layout=burn.layout)
        stops = [f.text for f in proof.findings if f.severity == "stop"]
        assert stops == []
        assert len(proof.parts()) == 5
        arcs = load_dialect(name).arcs
        for part in proof.parts():
            assert part.p95 is not None
            assert part.p95 < (0.02 if arcs == "chords" else 0.01)
        assert proof.uncut == ()
        fit = fitted(burn, load_dialect(name).controller)
        assert proof.arc_time == pytest.approx(fit.arc_time, rel=0.01)
        assert proof.time == pytest.approx(fit.total_time, rel=0.01)


@pytest.mark.parametrize("seed", range(3))
def test_where_the_kerf_follows_the_speed_slow_corners_are_seen_and_stop_nothing(seed: int) -> None:
    layout = job((3.0, 6.0, 10.0)[seed], 0.2 + 0.1 * seed)
    burn = plan(layout, starter_chart(), TABLE, BurnOptions(effort=0.02))
    text = write(burn, "probe-mm", name="job").text
    proof = prove(text, dialect="probe-mm", table=TABLE, row=burn.row, layout=layout)
    assert [f.text for f in proof.findings if f.severity == "stop"] == []
    off = [p.p95 or 0.0 for p in proof.parts()]
    assert 0.001 < max(off) < 0.1


@pytest.mark.parametrize("options", [
    BurnOptions(effort=0.02, chain=True), BurnOptions(effort=0.02, corner_loops=True), BurnOptions(effort=0.02, lead="straight", overburn=4.0),
    BurnOptions(effort=0.02, tab_below=500.0), BurnOptions(effort=0.02, round_inside=3.0),
])  # fmt: skip
def test_the_planners_choices_are_no_faults(options: BurnOptions) -> None:
    burn = plan(job(6.0, 0.3), starter_chart(), TABLE, options)
    proof = prove(
        write(burn, "probe-mm", name="job").text,
        dialect="probe-mm",
        table=TABLE,
        row=burn.row,
        layout=burn.layout,
    )
    assert [f.text for f in proof.findings if f.severity == "stop"] == []
    assert len(proof.parts()) == 5


def test_a_resumed_program_is_proven_with_what_was_burned_before() -> None:
    burn, facts = (
        PLANS[1],
        {"dialect": "probe-mm", "table": TABLE, "row": PLANS[1].row, "layout": PLANS[1].layout},
    )
    whole = write(burn, "probe-mm", name="job").text
    made = burn.cuts if load_dialect("probe-mm").lines.mark_on else [c for c in burn.cuts if c.kind != "mark"]
    for first in (2, len(made) // 2, len(made)):
        rest = resume(burn, "probe-mm", first_cut=first, name="rest").text
        alone = prove(rest, **facts)  # type: ignore[arg-type]
        after = prove(rest, burned=(whole, first - 1), **facts)  # type: ignore[arg-type]
        assert alone.verdict == "stop"
        assert [f.text for f in after.findings if f.severity == "stop"] == []
        assert len(after.parts()) == 5
        assert max(p.p95 or 9.0 for p in after.parts()) < 0.01


def test_a_program_may_be_held_to_some_parts_only() -> None:
    burn = PLANS[1]
    text = write(burn, "probe-mm", name="job").text
    requested = prove(text, dialect="probe-mm", table=TABLE, row=burn.row, layout=burn.layout, only={0, 2})
    assert {p.placement for p in requested.parts()} == {0, 2}


def test_an_arm_tables_reach_is_a_ring_sector() -> None:
    arm = load_table("two-link arm")
    burn = PLANS[1]
    text = write(burn, "plain-mm", name="job").text
    far = replace(arm, reach=replace(arm.reach, x=5000.0))  # type: ignore[arg-type]
    found = prove(text, dialect="plain-mm", table=far, row=burn.row, layout=burn.layout).findings
    assert "P001" in {f.code for f in found}
