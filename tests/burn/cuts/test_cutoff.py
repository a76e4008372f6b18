"""The plate cut off along its line, last of all: by a small reader of the text, by the proof, and by what the proof must refuse."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from benchmarks.proving.trials import witness_job
from benchmarks.witness import dialect as witness_dialect
from benchmarks.witness import judge
from shapely import LineString, Point, Polygon, get_parts, union_all

from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile, flatten
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import KeepOut, Layout, Wanted
from platewright.layout.shape.reach import reach_of, seat_on
from platewright.part.model import Part
from platewright.price.job import job_of
from platewright.program.dialects import load_dialect
from platewright.program.writer import write
from platewright.proof.prove import prove
from platewright.stock.plates import drop, sheet
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from tests.burn.helpers import metal, sampled

PLATE = sheet("sheet", "900 x 500 mm", 6.0, grade="mild steel")
SQUARE = Part(
    name="square", profile=Profile(Contour.rectangle(120.0, 90.0)), thickness=6.0, grade="mild steel"
)
TABLE = load_table("small gantry")


def laid() -> Layout:
    reach = reach_of(TABLE)
    (made,) = lay(
        [Wanted(part=SQUARE, quantity=3)], PLATE, reach=reach, options=LayOptions(steps=0, cut_off=True)
    ).layouts
    assert made.cut_off is not None
    return replace(made, seat=made.seat or seat_on(PLATE, reach))


def written(layout: Layout, **options: object) -> tuple[object, str, str]:
    dialect = load_dialect(TABLE.dialect)
    made = plan(
        layout, starter_chart(), TABLE, BurnOptions(effort=0.0, **options), controller=dialect.controller
    )  # type: ignore[arg-type]
    return made, write(made, dialect, name="cut.ngc").text, dialect.name


def burns_of(text: str) -> list[list[tuple[float, float]]]:
    """Read the places the torch goes to while it is lit, burn by burn: only plain moves, nothing of ours [mm]."""
    at, burns, lit = [0.0, 0.0], list[list[tuple[float, float]]](), False
    for raw in text.splitlines():
        line = re.sub(r"\(.*?\)|;.*", "", raw).upper()
        moves = re.search(r"[XY]-?\d", line)
        if moves:
            for axis, value in re.findall(r"([XY])(-?\d+\.?\d*)", line):
                at["XY".index(axis)] = float(value)
            if lit:
                burns[-1].append((at[0], at[1]))
        if re.search(r"\bM0?3\b", line):
            lit = True
            burns.append([(at[0], at[1])])
        if re.search(r"\bM0?5\b", line):
            lit = False
    return burns


def codes(layout: Layout, text: str, dialect: str, made: object, **more: object) -> dict[str, str]:
    wishes = made.options.as_dict()  # type: ignore[attr-defined]
    proof = prove(
        text, dialect=dialect, table=TABLE, row=made.row, layout=layout, **({"wishes": wishes} | more)
    )  # type: ignore[attr-defined,arg-type]
    return {f.code: f.severity for f in proof.findings}


def test_the_line_is_burned_last_from_edge_to_edge() -> None:
    layout = laid()
    made, text, dialect = written(layout, cut_off=True)
    (x0, _), (x1, _) = layout.cut_off or ((0, 0), (0, 0))
    assert x0 == pytest.approx(x1)
    last = burns_of(text)[-1]
    assert all(x == pytest.approx(x0, abs=0.002) for x, _ in last)
    across = sorted(y for _, y in last)
    assert across[0] <= 0 < 500 <= across[-1]
    assert across[-1] - across[0] < 500 + 4 * made.row.kerf  # type: ignore[attr-defined]
    # the kerf touches no piece
    kerf = LineString(last).buffer(made.row.kerf / 2)  # type: ignore[attr-defined]
    assert all(kerf.distance(Polygon(flatten(p.outer, tolerance=0.01))) > 1 for _, _, p in layout.placed())
    found = codes(layout, text, dialect, made)
    assert found["P097"] == "note"
    assert not {"P065", "P094", "P098"} & set(found)
    assert "stop" not in found.values()
    assert made.cuts[-1].kind == "cut-off"  # type: ignore[attr-defined]


def test_what_is_not_that_cut_is_told_by_the_proof() -> None:
    layout = laid()
    made, text, dialect = written(layout, cut_off=True)
    _, without, _ = written(layout)
    assert "P098" in codes(layout, without, dialect, made)  # asked for and left out
    plain = {k: v for k, v in made.options.as_dict().items() if k != "cut_off"}  # type: ignore[attr-defined]
    found = codes(replace(layout, burn={}), text, dialect, made, wishes=plain)
    assert "P065" in found  # burned though nobody asked
    (x, _), _ = layout.cut_off or ((0.0, 0.0), (0.0, 0.0))
    off = re.sub(rf"X{x:.3f}".rstrip("0").rstrip("."), f"X{x + 4:g}", text)
    assert off != text
    found = codes(layout, off, dialect, made)
    assert {"P065", "P098"} <= set(found)  # 4 mm beside it
    assert "P097" not in found


def test_each_stretch_of_metal_is_a_cut_and_what_is_in_the_way_is_told() -> None:
    layout = laid()
    (x, _), _ = layout.cut_off or ((0.0, 0.0), (0.0, 0.0))
    holed = drop(
        "holed", PLATE.profile.outer, 6.0, holes=[Contour.circle(x, 250.0, 60.0)], grade="mild steel"
    )
    made, text, dialect = written(replace(layout, plate=holed), cut_off=True)
    last = [b for b in burns_of(text) if all(abs(px - x) < 0.01 for px, _ in b)]
    assert len(last) == 2
    hole = Point(x, 250.0).buffer(60.0)
    assert sum(LineString(b).intersection(hole).length for b in last) < 6 * made.row.kerf  # type: ignore[attr-defined]
    found = codes(replace(layout, plate=holed), text, dialect, made)
    assert not {"P065", "P094", "P098"} & set(found)
    blocked = replace(layout, keepouts=(KeepOut("clamp", Contour.circle(x, 100.0, 20.0), 50.0),))
    made, text, dialect = written(blocked, cut_off=True)
    assert "B038" in {f.code for f in made.findings}  # type: ignore[attr-defined]
    assert "P098" in codes(blocked, text, dialect, made)
    near = replace(layout, seat=Pose(0.0, -150.0))  # the plate's near edge is behind the torch's reach
    made, _, _ = written(near, cut_off=True)
    assert "B039" in {f.code for f in made.findings}  # type: ignore[attr-defined]
    assert not [c for c in made.cuts if c.kind == "cut-off"]  # type: ignore[attr-defined]
    none, _, _ = written(replace(layout, cut_off=None), cut_off=True)
    assert "B037" in {f.code for f in none.findings}  # type: ignore[attr-defined]
    point, _, _ = written(replace(layout, cut_off=((x, 100.0), (x, 100.0))), cut_off=True)
    assert "B037" in {f.code for f in point.findings}  # type: ignore[attr-defined]


def test_price_labels_and_a_lost_arc_know_it() -> None:
    from platewright.burn.anew import started_anew

    layout = laid()
    made, _, _ = written(layout, cut_off=True)
    job = job_of(made)  # type: ignore[arg-type]
    assert sum(c.arc_time for c in job.copies) == pytest.approx(made.arc_time)  # type: ignore[attr-defined]
    assert layout.label(made.cuts[-1].placement) == "the plate"  # type: ignore[attr-defined]
    with pytest.raises(InputError, match="cuts the plate off"):
        started_anew(made, len(made.cuts) - 1, lost=(1.0, 1.0))  # type: ignore[arg-type,attr-defined]


@pytest.mark.parametrize("dialect", ["plain-mm", "probe-mm"])
def test_the_rest_is_cut_up_before_the_line_and_the_drop_beyond_it_stays_whole(dialect: str) -> None:
    layout, speaks = laid(), load_dialect(dialect)
    chosen = BurnOptions(effort=0.0, cut_off=True, skeleton=200.0, amperage=45.0)
    made = plan(layout, starter_chart(), TABLE, chosen, controller=speaks.controller)
    assert [c.kind for c in made.cuts] == ["outer"] * 3 + ["rest"] * 4 + ["cut-off"]
    kerfs = union_all([LineString(sampled(c.path.rows)).buffer(c.kerf / 2) for c in made.cuts])
    parts = union_all([metal(profile) for _, _, profile in layout.placed()])
    left = [p for p in get_parts(metal(PLATE.profile).difference(union_all([kerfs, parts]))) if p.area > 1]
    (x, _), _ = layout.cut_off or ((0, 0), (0, 0))
    beyond = [p for p in left if p.centroid.x > x]
    assert len(beyond) == 1
    ways = [LineString(sampled(c.path.rows)).buffer(c.kerf / 2) for c in made.cuts if c.kind == "rest"]
    assert beyond[0].distance(union_all(ways)) >= 0.24 * made.row.kerf  # not nicked
    assert max(p.bounds[3] - p.bounds[1] for p in left if p.centroid.x < x) <= 200
    text = write(made, speaks, name="cut.ngc").text
    seen = prove(text, dialect=dialect, table=TABLE, row=made.row, layout=made.layout)
    assert seen.verdict == "go", seen.findings
    assert "P103" in {f.code for f in seen.findings}
    assert judge.judge(text, witness_dialect.load(dialect), witness_job(made)).ruling == "good"
