"""Cuts of the rest of a plate: that it falls into short pieces, that no part or keep-out is touched, and what proof and witness say."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from benchmarks.proving.trials import witness_job
from benchmarks.witness import dialect as witness_dialect
from benchmarks.witness import judge

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.picture import picture
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.price.job import job_of, useful_drops
from platewright.program.dialects import load_dialect
from platewright.program.writer import write
from platewright.proof.model import Proof
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from tests.burn.helpers import metal, ring, sampled

TABLE, CHART = load_table("small gantry"), starter_chart()
LONGEST = 250.0
PART = Profile(Contour.rectangle(120, 80), (Contour.circle(60, 40, 20, clockwise=True),))


@cache
def planned(dialect: str = "plain-mm", *, skeleton: float = LONGEST, dx: float = 0.0) -> BurnPlan:
    places = tuple(
        Placement(0, Pose(30 + dx + 145 * i, 25 + 105 * j), 1 + i + 4 * j) for i in range(4) for j in range(2)
    )
    magnet = KeepOut("magnet", Contour.circle(345, 235, 14), 25.0)
    layout = Layout(
        plate=Plate.sheet("s", 640, 260, 6),
        parts=(Part(name="plate", profile=PART, thickness=6.0),),
        placements=places,
        keepouts=(magnet,) if dx == 0 else (),
    )
    chosen = BurnOptions(amperage=45.0, effort=0.02, skeleton=skeleton)
    return plan(layout, CHART, TABLE, chosen, controller=load_dialect(dialect).controller)


def proven(made: BurnPlan, dialect: str, text: str) -> Proof:
    return prove(text, dialect=dialect, table=made.table, row=made.row, layout=made.layout)


def left_over(made: BurnPlan) -> list[shapely.Polygon]:
    """Return the pieces of the plate when all is burned and the parts are out, by plain shapely."""
    kerfs = [
        shapely.LineString(sampled(c.path.rows[: len(c.path.rows) - c.coast_edges])).buffer(c.kerf / 2)
        for c in made.cuts
    ]
    parts = [shapely.Polygon(ring(profile.outer)) for _, _, profile in made.layout.placed()]
    rest = metal(made.layout.plate.profile).difference(shapely.union_all([*kerfs, *parts]))
    return [p for p in shapely.get_parts(rest) if p.area > 1]


@pytest.mark.parametrize("dx", [0.0, 20.0])
def test_the_rest_falls_into_pieces_no_longer_than_asked_and_no_part_is_touched(dx: float) -> None:
    made = planned(dx=dx)
    pieces = left_over(made)
    # the magnet may bridge two pieces; without it every piece is short
    if dx:
        assert max(p.bounds[2] - p.bounds[0] for p in pieces) <= LONGEST
        assert len(pieces) >= 3
    rest = [c for c in made.cuts if c.kind == "rest"]
    parts = shapely.union_all([metal(profile) for _, _, profile in made.layout.placed()])
    magnets = [shapely.Polygon(ring(k.contour)) for k in made.layout.keepouts]
    for cut in rest:
        kerf = shapely.LineString(sampled(cut.path.rows)).buffer(cut.kerf / 2)
        assert kerf.distance(parts) >= 0.24 * cut.kerf
        assert all(kerf.distance(m) > 1.5 for m in magnets)
    kinds = [c.kind for c in made.cuts]
    assert kinds == sorted(kinds, key=lambda k: k == "rest")
    assert "B042" in {f.code for f in made.findings}


@pytest.mark.parametrize("dialect", ["plain-mm", "probe-mm", "flat-mm", "small-mm"])
def test_every_dialect_stops_first_and_proof_and_witness_find_it_good(dialect: str) -> None:
    made = planned(dialect)
    text = write(made, dialect, name="job").text
    seen = proven(made, dialect, text)
    assert seen.verdict == "go", seen.findings
    assert "P103" in {f.code for f in seen.findings}
    assert seen.time == pytest.approx(made.total_time, abs=0.3)
    assert text.count("M0\n") + text.count("M0\r\n") + len(re.findall(r"N\d+ ?M0\b", text)) >= 1
    assert judge.judge(text, witness_dialect.load(dialect), witness_job(made)).ruling == "good"


def test_the_stop_says_what_to_do() -> None:
    text = write(planned(), "plain-mm", name="job").text
    assert "(MSG, lift the parts out and leave the rest as it lies - then go on)\nM0\n" in text
    assert text.count("M0\n") == 1


def test_a_touch_off_is_made_on_the_rest_beside_the_kerf_it_starts_in() -> None:
    made = planned("probe-mm")
    rest = [c for c in made.cuts if c.kind == "rest"]
    assert all(c.beside for c in rest)
    parts = shapely.union_all([metal(profile) for _, _, profile in made.layout.placed()])
    assert all(parts.distance(shapely.Point(c.beside[0])) > 2 for c in rest)


def spoiled(how: str) -> tuple[str, BurnPlan]:
    made = planned(dx=20.0)
    text = write(made, "plain-mm", name="job").text
    if how == "no stop":
        return text.replace("M0\n", ""), made
    if how == "nobody asked":
        return text, replace(made, layout=replace(made.layout, burn={"amperage": 45.0}))
    # a cut that ends in a kerf between two parts, run 3 mm further than planned
    number, cut = next((n, c) for n, c in enumerate(made.cuts) if c.kind == "rest" and 20 < c.end[1] < 240)
    rows = cut.path.rows.copy()
    rows[-1, :2] += 3.0 * (rows[-1, :2] - rows[0, :2]) / np.hypot(*(rows[-1, :2] - rows[0, :2]))
    longer = replace(cut, path=Contour(rows, closed=False))
    further = replace(made, cuts=(*made.cuts[:number], longer, *made.cuts[number + 1 :]))
    return write(further, "plain-mm", name="job").text, made


@pytest.mark.parametrize(
    ("how", "code", "verdict"),
    [("no stop", "P101", "look"), ("longer", "P102", "stop"), ("nobody asked", "P065", "look")],
)
def test_what_is_wrong_with_it_is_reported(how: str, code: str, verdict: str) -> None:
    text, made = spoiled(how)
    seen = proven(made, "plain-mm", text)
    assert seen.verdict == verdict
    assert code in {f.code for f in seen.findings}


def test_its_time_and_its_money_count_and_no_drop_is_promised() -> None:
    whole, apart = planned(skeleton=0.0), planned()
    assert useful_drops(whole, smallest=20.0) > 0
    assert useful_drops(apart, smallest=20.0) == 0
    assert apart.arc_time > whole.arc_time
    with_, without = job_of(apart), job_of(whole)
    assert sum(c.arc_time for c in with_.copies) == pytest.approx(apart.arc_time)
    rest = sum(c.kind == "rest" for c in apart.cuts)
    assert sum(c.pierces for c in with_.copies) == sum(c.pierces for c in without.copies) + rest
    assert "rest-cut" in picture(apart)


def test_a_dialect_that_cannot_stop_leaves_the_rest_whole() -> None:
    mute = 'name = "mute"\ntitle = "t"\nabout = "a"\nextends = "plain-mm"\n[sequence]\nstop = []\n'
    made = planned(mute)
    assert not any(c.kind == "rest" for c in made.cuts)
    assert "B043" in {f.code for f in made.findings}


@pytest.mark.parametrize(
    ("wishes", "told"), [({"skeleton": 150.0}, {"P103"}), ({"edge_start": True}, {"P071"})]
)
def test_a_part_larger_than_any_piece_of_the_rest_is_still_the_part(
    wishes: dict[str, float], told: set[str]
) -> None:
    """300 by 200 mm on 600 by 300: the rest is cut up into less than 150 by 300 mm, or all of it is joined to the part's kerf by a start from the edge.

    The proof took the largest piece whose kerf reaches the plate's outside for the rest, and stopped a sound job (P062).
    """
    size = (600.0, 300.0) if "skeleton" in wishes else (380.0, 260.0)
    part = Part(name="large", profile=Profile(Contour.rectangle(300, 200)), thickness=6.0)
    layout = Layout(plate=Plate.sheet("s", *size, 6), parts=(part,), placements=(Placement(0, Pose(40, 30)),), seat=Pose(50, 50))  # fmt: skip
    chosen = BurnOptions(amperage=45.0, effort=0.02, **wishes)  # type: ignore[arg-type]
    made = plan(layout, CHART, TABLE, chosen, controller=load_dialect("plain-mm").controller)
    seen = proven(made, "plain-mm", write(made, "plain-mm", name="large").text)
    found = {f.code: f.severity for f in seen.findings}
    assert told <= set(found)
    assert not {"P062", "P038", "P065"} & set(found)
    assert "stop" not in found.values()
