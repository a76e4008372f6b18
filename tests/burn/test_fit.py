"""A plan fitted to its controller: marks, the torch's ways round tall keep-outs, what is told.

The witness reads the program's text with a few lines of its own and judges ways with plain shapely.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.burn.fit import fitted
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Mark, Part
from platewright.program.dialects import dialect_names, load_dialect
from platewright.program.writer import outline, rehearsal, resume, write
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table

TABLE = load_table("small gantry")
QUICK = BurnOptions(effort=0.01)
Way = tuple[str, float, tuple[float, float], tuple[float, float]]


def ways(text: str, *, unit: float = 1.0) -> list[Way]:
    """Read (word in force, height, from, to) of every motion in X and Y, straight from the text [mm]."""
    mode, x, y, z = "", 0.0, 0.0, 0.0
    found = []
    for line in text.splitlines():
        bare = re.sub(r"\(.*?\)|;.*|^N\d+", "", line)
        words = dict(re.findall(r"([XYZ])(-?[\d.]+)", bare))
        if "G92" in bare:
            z = float(words["Z"]) * unit
            continue
        if "G38" in bare:
            z = 0.0
            continue
        if modes := re.findall(r"G0?([0123])(?![\d.])", bare):
            mode = modes[-1]
        to = float(words.get("X", x / unit)) * unit, float(words.get("Y", y / unit)) * unit
        z = float(words["Z"]) * unit if "Z" in words else z
        if to != (x, y):
            found.append((mode, z, (x, y), to))
        x, y = to
    return found


def marked_job(seed: int, *, height: float = 30.0) -> Layout:
    """Parts with marks in a row, and tall magnets wherever there is room between and before them."""
    draw = np.random.default_rng(seed)
    parts, places, magnets = [], [], []
    x = 60.0
    for n in range(4):
        width, depth = draw.uniform(50, 90, 2)
        marks = tuple(Mark("centre", at=tuple(draw.uniform(12, 40, 2))) for _ in range(2))
        line = Mark("etch", contour=Contour.from_points([(10, 8), (width - 10, 8)], closed=False))
        hole = Contour.circle(width / 2, depth / 2 + 8, 3.0)
        parts.append(
            Part(
                name=f"part {n}",
                profile=Profile(Contour.rectangle(width, depth), (hole,)),
                thickness=6.0,
                marks=(*marks, line),
            )
        )
        places.append(Placement(n, Pose(x, float(draw.uniform(60, 160)))))
        x += width + 20
        magnets.append(KeepOut("magnet", Contour.circle(x + 15, float(draw.uniform(60, 220)), 15), height))
        x += 50
    magnets.append(KeepOut("clamp", Contour.rectangle(30, 30, x=15, y=15), height))
    return Layout(
        plate=Plate.sheet("sheet", x + 40, 300, 6.0),
        parts=tuple(parts),
        placements=tuple(places),
        keepouts=tuple(magnets),
    )


@pytest.mark.parametrize("name", dialect_names())
@pytest.mark.parametrize("seed", range(4))
def test_no_travel_crosses_what_it_does_not_clear(name: str, seed: int) -> None:
    """A dialect without a marking tool dropped the marks and their detours: the torch crossed a 30 mm magnet in a rapid."""
    dialect, layout = load_dialect(name), marked_job(seed)
    tall = shapely.union_all(
        [
            shapely.Polygon(k.contour.rows[:, :2])
            if len(k.contour.rows) > 2
            else shapely.Point(np.mean(k.contour.rows[:, :2], axis=0)).buffer(14.9)
            for k in layout.keepouts
        ]
    )
    options = replace(QUICK, mark_below=7.0)
    for controller in (None, dialect.controller):  # planned for no dialect in particular, and for this one
        burn = plan(layout, starter_chart(), TABLE, options, controller=controller)
        assert not any(f.code == "B018" for f in burn.findings)
        texts = (
            write(burn, dialect, name="job"),
            rehearsal(burn, dialect, name="job"),
            outline(burn, dialect),
        )
        for text in (made.text for made in texts):
            for _, height, start, end in ways(text, unit=dialect.unit):
                assert not tall.crosses(shapely.LineString([start, end])), (height, start, end)


def test_the_witness_sees_the_fault() -> None:
    """The ways of a program with its detours struck out do cross a magnet."""
    layout = marked_job(0)
    burn = plan(layout, starter_chart(), TABLE, QUICK, controller=load_dialect("plain-mm").controller)
    blind = replace(burn, cuts=tuple(replace(c, via=()) for c in burn.cuts))
    assert any(c.via for c in burn.cuts)
    tall = shapely.union_all(
        [shapely.Point(*np.mean(k.contour.rows[:, :2], axis=0)).buffer(14) for k in layout.keepouts]
    )
    assert any(
        tall.crosses(shapely.LineString([a, b]))
        for _, _, a, b in ways(write(blind, "plain-mm", name="j").text)
    )


def test_holes_to_be_drilled_are_reported_as_what_the_program_does() -> None:
    layout, options = replace(marked_job(1), keepouts=()), replace(QUICK, mark_below=7.0)
    marking = plan(layout, starter_chart(), TABLE, options, controller=load_dialect("marker-mm").controller)
    plain = plan(layout, starter_chart(), TABLE, options, controller=load_dialect("plain-mm").controller)
    assert [f.code for f in marking.findings if f.code in ("B024", "B025")] == ["B024"] * 4
    assert [f.code for f in plain.findings if f.code in ("B024", "B025")] == ["B025"] * 4
    assert all("does not mark" in f.text for f in plain.findings if f.code == "B025")
    assert next(f for f in plain.findings if f.code == "B026").values["count"] == 12
    assert not [c for c in plain.cuts if c.kind == "mark"]
    assert "16 marks left out - no marking tool in this dialect" in write(plain, "plain-mm", name="j").text
    assert "marks left out" not in write(marking, "marker-mm", name="j").text
    again = fitted(marking, load_dialect("plain-mm").controller)
    assert {f.code for f in again.findings} == {f.code for f in plain.findings}


def test_marks_that_put_the_torch_off_the_table_are_left_out_and_reported() -> None:
    """The tool sits 60 mm right of the torch: to mark at x = 30 the torch stood at -30, off the table."""
    dialect = load_dialect("marker-mm")
    part = Part(
        name="strip",
        profile=Profile(Contour.rectangle(200, 40)),
        thickness=6.0,
        marks=tuple(Mark("centre", at=(x, 20.0)) for x in (25.0, 150.0)),
    )
    layout = Layout(
        plate=Plate.sheet("sheet", 400, 200, 6.0),
        parts=(part,),
        placements=(Placement(0, Pose(10, 20)),),
        seat=Pose(0, 0),
    )
    burn = plan(layout, starter_chart(), TABLE, QUICK, controller=dialect.controller)
    (told,) = [f for f in burn.findings if f.code == "B027"]
    assert told.place == pytest.approx((34.75, 40.0))
    assert "60 by 0 mm" in told.text.replace("-", "")
    assert [c.start[0] for c in burn.cuts if c.kind == "mark"] == pytest.approx([159.75])
    text = write(burn, dialect, name="j").text
    assert all(0 <= x <= 1300 for _, _, _, (x, _) in ways(text))
    assert "1 marks left out" in text


def test_a_mark_past_a_tall_keepout_is_left_out_and_reported() -> None:
    """The torch, 60 mm left of the mark, would stand in a magnet."""
    part = Part(
        name="strip",
        profile=Profile(Contour.rectangle(100, 40)),
        thickness=6.0,
        marks=(Mark("centre", at=(50.0, 20.0)),),
    )
    magnet = KeepOut("magnet", Contour.circle(240, 40, 15), 30.0)
    layout = Layout(
        plate=Plate.sheet("sheet", 500, 200, 6.0),
        parts=(part,),
        placements=(Placement(0, Pose(260, 20)),),
        keepouts=(magnet,),
    )
    burn = plan(layout, starter_chart(), TABLE, QUICK, controller=load_dialect("marker-mm").controller)
    assert "B028" in {f.code for f in burn.findings}
    assert all(c.kind != "mark" for c in burn.cuts)
    low = replace(layout, keepouts=(replace(magnet, height=5.0),))
    assert any(c.kind == "mark" for c in plan(low, starter_chart(), TABLE, QUICK).cuts)


def test_tall_keepouts_are_gone_round_also_where_loose_pieces_are_not() -> None:
    layout = marked_job(2)
    burn = plan(layout, starter_chart(), TABLE, replace(QUICK, route=False))
    assert any(c.via for c in burn.cuts)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("dialect", ["flat-mm", "flat-inch"])
def test_a_table_that_lifts_nothing_goes_round_low_magnets(seed: int, dialect: str) -> None:
    """Magnets of 6 mm, which travel at 20 mm would clear; the program has no Z, so nothing says that it does."""
    layout, writes = marked_job(seed, height=6.0), load_dialect(dialect)
    corner = replace(QUICK, home=(5.0, 5.0))
    lifting = plan(layout, starter_chart(), TABLE, corner, controller=load_dialect("plain-mm").controller)
    made = plan(layout, starter_chart(), TABLE, corner, controller=writes.controller)
    disc = [shapely.Point(*np.mean(k.contour.rows[:, :2], axis=0)).buffer(14) for k in layout.keepouts]
    assert not any(c.via for c in lifting.cuts)
    assert "B018" not in {f.code for f in made.findings}
    unit = 25.4 if "inch" in dialect else 1.0
    for text in (write(made, writes, name="j").text, write(lifting, writes, name="j").text):
        run = [(a, b) for _, _, a, b in ways(text, unit=unit) if a != (0.0, 0.0)]
        assert len(run) > 20
        assert not [leg for leg in run if any(d.intersects(shapely.LineString(leg)) for d in disc)]


def test_where_a_table_that_lifts_nothing_has_no_way_round_the_plan_stops() -> None:
    """A strip of wood, 6 mm high, across the whole reach between two parts."""
    parts = (Part(name="disc", profile=Profile(Contour.circle(0, 0, 40)), thickness=6.0),)
    places = (Placement(0, Pose(100, 100), 1), Placement(0, Pose(300, 100), 2))
    strip = KeepOut("strip", Contour.rectangle(20, 1400, x=190, y=-50), 6.0)
    layout = Layout(plate=Plate.sheet("s", 500, 400, 6.0), parts=parts, placements=places, keepouts=(strip,))
    for dialect, codes in (("flat-mm", {"B018"}), ("plain-mm", set())):
        made = plan(layout, starter_chart(), TABLE, QUICK, controller=load_dialect(dialect).controller)
        assert {f.code for f in made.findings if f.severity == "stop"} == codes


def test_chords_are_timed_as_chords() -> None:
    ring = Profile(Contour.circle(100, 100, 40))
    layout = Layout(
        plate=Plate.sheet("s", 200, 200, 1.5),
        parts=(Part(name="disc", profile=ring, thickness=1.5),),
        placements=(Placement(0, Pose()),),
    )
    as_arcs = plan(layout, starter_chart(), TABLE, QUICK)
    as_chords = fitted(as_arcs, load_dialect("chords-mm").controller)
    back = fitted(as_chords, load_dialect("plain-mm").controller)
    assert as_chords.arc_time != pytest.approx(as_arcs.arc_time, rel=1e-4)
    assert back.arc_time == pytest.approx(as_arcs.arc_time, rel=1e-3)  # but for the text's digits
    assert fitted(as_arcs, load_dialect("plain-mm").controller).arc_time == pytest.approx(
        back.arc_time, rel=1e-9
    )
    assert math.isfinite(as_chords.total_time)


def test_a_box_whose_corner_lies_in_a_magnet_is_run_round_as_a_hull() -> None:
    parts = (Part(name="disc", profile=Profile(Contour.circle(0, 0, 40)), thickness=6.0),)
    places = (Placement(0, Pose(100, 100), 1), Placement(0, Pose(300, 250), 2))
    magnet = KeepOut("magnet", Contour.circle(62, 286, 12), 30.0)  # the box's upper left corner
    layout = Layout(plate=Plate.sheet("s", 500, 400, 6.0), parts=parts, placements=places, keepouts=(magnet,))
    burn = plan(layout, starter_chart(), TABLE, QUICK)
    disc = shapely.Point(62, 286).buffer(11.9)
    assert all(
        not disc.intersects(shapely.LineString([a, b])) for _, _, a, b in ways(outline(burn, "plain-mm").text)
    )


@pytest.mark.parametrize("seed", range(3))
def test_a_program_that_starts_again_goes_round_tall_keepouts_too(seed: int) -> None:
    layout = marked_job(seed)
    burn = plan(layout, starter_chart(), TABLE, QUICK, controller=load_dialect("plain-mm").controller)
    tall = shapely.union_all(
        [shapely.Point(*np.mean(k.contour.rows[:, :2], axis=0)).buffer(14) for k in layout.keepouts]
    )
    for first in range(2, len(burn.cuts) + 1):
        for _, _, start, end in ways(resume(burn, "plain-mm", first_cut=first).text):
            assert not tall.crosses(shapely.LineString([start, end]))
