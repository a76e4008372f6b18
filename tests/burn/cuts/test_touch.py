"""Touch-offs fall on metal; the witness finds them in the text and judges by shapely alone."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions, CutChoice
from platewright.burn.plan import plan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.program.dialects import load_dialect
from platewright.program.writer import resume, write
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.model import Consumables
from platewright.table.profile import load_table
from tests.burn.helpers import metal, random_layout, sampled

TABLE = load_table("small gantry")
CHART = starter_chart()
PROBE = load_dialect("probe-mm")
QUICK = BurnOptions(amperage=45.0, effort=0.02)
KERF = CHART.row("mild steel", 6.0, 45.0).row.kerf


def tiles(gap: float = KERF) -> Layout:
    part = Part(
        name="tile", profile=Profile(Contour.rectangle(60, 40), (Contour.circle(30, 20, 8),)), thickness=6.0
    )
    places = tuple(Placement(0, Pose(40 + i * (60 + gap), 50), i + 1) for i in range(3))
    return Layout(plate=Plate.sheet("s", 400, 200, 6.0), parts=(part,), placements=places)


def probes(text: str) -> list[tuple[int, tuple[float, float]]]:
    """Return (cuts begun before it, place) of every touch-off in a text [mm]."""
    x = y = 0.0
    lit, found = 0, []
    for line in text.splitlines():
        words = dict(re.findall(r"([XY])(-?[\d.]+)", re.sub(r"\(.*?\)", "", line)))
        x, y = float(words.get("X", x)), float(words.get("Y", y))
        if line.startswith("G38"):
            found.append((lit, (x, y)))
        lit += line.strip() == "M3"
    return found


def off_metal(burn: BurnPlan, text: str) -> list[int]:
    """Return the touch-offs over nothing: off the plate, in a kerf burned before, or on a piece cut loose before."""
    plate, bad = metal(burn.layout.plate.profile), []
    cuts = [c for c in burn.cuts if c.kind != "mark"]
    kerfs = [shapely.LineString(sampled(c.path.rows)).buffer(c.kerf / 2) for c in cuts]
    for number, (begun, spot) in enumerate(probes(text)):
        left = plate.difference(shapely.union_all(kerfs[:begun])) if begun else plate
        pieces = list(getattr(left, "geoms", [left]))
        home = max(pieces, key=lambda p: p.area)
        if not home.buffer(-0.9).contains(shapely.Point(spot)):
            bad.append(number)
    return bad


def planned(layout: Layout, **more: object) -> BurnPlan:
    return plan(layout, CHART, TABLE, replace(QUICK, **more), controller=PROBE.controller)  # type: ignore[arg-type]


def test_a_common_line_touches_off_beside_the_open_kerf() -> None:
    burn = planned(tiles(), common_line=True)
    text = write(burn, PROBE, name="job").text
    shared = [c for c in burn.cuts if not c.pierced]
    assert len(shared) == 2
    assert all(c.beside for c in shared)
    assert off_metal(burn, text) == []
    blind = replace(burn, cuts=tuple(replace(c, touch="here") for c in burn.cuts))
    assert len(off_metal(blind, write(blind, PROBE, name="job").text)) == 2  # the witness sees the fault


def test_a_start_from_the_plates_edge_touches_off_on_the_plate() -> None:
    layout = replace(tiles(20.0), placements=(Placement(0, Pose(40, 12), 1),), seat=Pose(50, 50))
    burn = planned(layout, edge_start=True)
    edge = next(c for c in burn.cuts if not c.pierced)
    assert edge.start[1] < 0
    text = write(burn, PROBE, name="job").text
    assert off_metal(burn, text) == []
    lines = text.splitlines()
    at = [i for i, line in enumerate(lines) if line.startswith("G38")][-1]
    assert lines[at + 2] == f"G0 Z{TABLE.safe_height:g}"  # up again before it goes on to the start
    assert lines[at + 3].startswith("G0 X")


def test_where_the_table_touches_off_by_itself_it_is_reported() -> None:
    plain = plan(
        tiles(),
        CHART,
        TABLE,
        replace(QUICK, common_line=True),
        controller=load_dialect("plain-mm").controller,
    )
    assert [f.values["count"] for f in plain.findings if f.code == "B029"] == [2]
    assert not [f for f in planned(tiles(), common_line=True).findings if f.code in ("B029", "B030")]
    apart = replace(PROBE.controller, apart=False)
    old = plan(tiles(), CHART, TABLE, replace(QUICK, common_line=True), controller=apart)
    assert "B030" in {f.code for f in old.findings}


@pytest.mark.parametrize("seed", range(6))
def test_every_touch_off_of_random_jobs_is_on_metal(seed: int) -> None:
    layout = random_layout(seed)
    burn = planned(layout, tab_below=60.0 if seed % 2 else 0.0, edge_start=True, common_line=True)
    assert off_metal(burn, write(burn, PROBE, name="job").text) == []


def test_touch_offs_near_the_last_one_are_left_out_by_choice() -> None:
    layout = tiles(20.0)
    every, few = planned(layout), planned(layout, touch_every=90.0)
    text = write(few, PROBE, name="job").text
    spots = [spot for _, spot in probes(text)]
    assert len(spots) < len(probes(write(every, PROBE, name="job").text)) == len(every.cuts)
    assert all(np.hypot(a[0] - b[0], a[1] - b[1]) >= 90 for a, b in itertools.pairwise(spots))
    proof = prove(text, dialect=PROBE, table=TABLE, row=few.row, layout=layout)
    assert proof.time == pytest.approx(few.total_time, rel=0.002)
    assert few.total_time < every.total_time - 2.0
    heights = re.findall(r"G0 Z([\d.]+)\nM3", text)
    assert len(heights) == len(few.cuts)
    assert set(heights) == {f"{few.row.pierce_height:g}"}


def test_a_plan_for_no_dialect_is_fitted_when_it_is_written() -> None:
    burn = plan(tiles(), CHART, TABLE, replace(QUICK, common_line=True))
    assert off_metal(planned(tiles(), common_line=True), write(burn, PROBE, name="job").text) == []


def test_a_cut_chosen_to_start_elsewhere_still_touches_metal() -> None:
    choice = CutChoice(placement=0, contour=0, lead="edge")
    layout = replace(tiles(20.0), placements=(Placement(0, Pose(40, 12), 1),), seat=Pose(50, 50))
    burn = planned(layout, cuts=(choice,))
    assert off_metal(burn, write(burn, PROBE, name="job").text) == []


def test_plate_beyond_piercing_is_started_from_its_edge_or_not_cut() -> None:
    """65 A parts 16 mm but does not pierce it: outsides from the edge, holes told and left; nothing is pierced."""
    part = Part(
        name="pad", profile=Profile(Contour.rectangle(120, 90), (Contour.circle(60, 45, 20),)), thickness=16.0
    )
    places = (Placement(0, Pose(40, 25), 1), Placement(0, Pose(400, 400), 2))
    layout = Layout(
        plate=Plate.sheet("s", 1000, 1000, 16.0), parts=(part,), placements=places, seat=Pose(50, 50)
    )
    burn = plan(layout, CHART, TABLE, replace(QUICK, amperage=65.0), controller=PROBE.controller)
    assert {"T005", "B034"} <= {f.code for f in burn.findings}
    subjects = sorted(f.subject for f in burn.findings if f.code == "B034")
    assert subjects == ["pad #1, hole 1", "pad #2, hole 1", "pad #2, outside"]
    assert [(c.placement, c.contour, c.pierced) for c in burn.cuts] == [(0, 0, False)]
    assert burn.cuts[0].start[1] < 0
    assert off_metal(burn, write(burn, PROBE, name="job").text) == []


def test_the_tip_and_the_current_are_reported_where_they_part() -> None:
    def findings_at(amperage: float, tip: float) -> list[str]:
        options = replace(QUICK, amperage=amperage, tip=tip)
        return [f.text for f in plan(tiles(20.0), CHART, TABLE, options).findings if f.code == "B035"]

    assert findings_at(45.0, 45.0) == []
    assert findings_at(60.0, 65.0) == []
    assert "burns out" in findings_at(60.0, 45.0)[0]
    assert "soft" in findings_at(45.0, 85.0)[0]


def test_every_program_and_every_new_tip_touches_off_first() -> None:
    """A program's end forgets the zero, and another tip has another length: no burn before a touch-off of its own."""
    layout = tiles(20.0)
    worn = replace(TABLE, consumables=Consumables(2, 1e6))
    options = replace(QUICK, touch_every=500.0, pause_tip=True)
    burn = plan(layout, CHART, worn, options, controller=PROBE.controller)
    text = write(burn, PROBE, name="job").text
    parts = text.split("M0")
    assert len(parts) == 3
    assert all(part.index("G38.2") < part.index("M3") for part in parts)
    calm = plan(layout, CHART, TABLE, replace(QUICK, touch_every=500.0), controller=PROBE.controller)
    assert write(calm, PROBE, name="job").text.count("G38.2") == 1
    for first in range(1, len(calm.cuts) + 1):
        rest = resume(calm, PROBE, first_cut=first).text
        assert rest.index("G38.2") < rest.index("M3")


@pytest.mark.parametrize(("thickness", "width"), [(1.5, 2.0), (5.0, 4.0), (12.0, 6.0)])
def test_tabs_by_themselves_can_be_broken_off(thickness: float, width: float) -> None:
    from platewright.burn.cuts.tabs import tab_width
    from platewright.burn.options import TabChoice

    assert tab_width(TabChoice(2), thickness) == width
    assert tab_width(TabChoice(2, 9.0), thickness) == 9.0
