"""Common lines: pairs a kerf apart by a second library, checked, laid, and cut once by the burn plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.packing.shapes import flange, gusset, strap
from shapely import Polygon

from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.geometry import Contour, Profile, flatten
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, Layout, Wanted
from platewright.layout.shape.loops import cover
from platewright.layout.twins import twin_pose, twinned
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table

KERF = 1.5


def _polygon(profile: Profile) -> Polygon:
    return Polygon(flatten(profile.outer, tolerance=1e-4))


def test_a_gussets_twin_lies_across_its_slope_and_a_straps_along_its_side() -> None:
    for part, area in (
        (gusset(200, 120), None),
        (strap(100, 40), (100 * (80 + KERF))),
        (flange(60, 20), "none"),
    ):
        outer = cover(part.profile)[0]
        pose = twin_pose(part.profile.outer, outer, KERF)
        if area == "none":
            assert pose is None
            continue
        assert pose is not None
        one = Polygon(outer)
        two = Polygon(np.array([pose.x, pose.y]) - outer)
        assert one.distance(two) == pytest.approx(KERF, abs=1e-9)
        both = Polygon(twinned((outer,), pose)[0])
        assert both.is_valid
        assert both.area > one.area * 2
        assert both.buffer(1e-6).covers(one)
        assert both.buffer(1e-6).covers(two)
        if area is not None:
            assert both.area == pytest.approx(area)


@pytest.mark.parametrize("steps", [0, 300])
def test_pairs_are_laid_exactly_a_kerf_apart_and_all_else_at_the_clearance(steps: int) -> None:
    hooked = Part(
        name="cam",
        profile=Profile(Contour(np.array([(0, 0, 0), (90, 0, 0.4), (90, 60, 0), (0, 60, 0)]))),
        thickness=6.0,
    )
    wanted = [
        Wanted(part=gusset(150, 100), quantity=5),
        Wanted(part=strap(120, 30), quantity=4, pairs=True),
        Wanted(part=hooked, quantity=3),
        Wanted(part=flange(30, 8), quantity=2),
    ]
    out = lay(
        wanted, Plate.sheet("s", 600, 900, 6.0), clearance=Clearance(7, 7), options=LayOptions(steps=steps, common=KERF)
    )  # fmt: skip
    layout = out.layouts[0]
    assert not out.left_over
    assert len(layout.common) == 2 + 2 + 2 + 1
    shapes = [_polygon(p) for _, _, p in layout.placed()]
    shared = {frozenset(c[:2]) for c in layout.common}
    for i, one in enumerate(shapes):
        for j in range(i):
            gap = one.distance(shapes[j])
            if frozenset((i, j)) in shared:
                assert gap == pytest.approx(KERF, abs=1e-6)
            else:
                assert gap > 7 - 1e-3
    assert not check(layout)
    assert Layout.from_dict(layout.as_dict()).common == layout.common
    assert {f.code for f in check(replace(layout, common=()))} == {"L013"}


def test_a_shared_cut_is_burnt_once_and_frees_both() -> None:
    row = starter_chart().row("mild steel", 6.0, 45.0).row
    out = lay(
        [Wanted(part=strap(120, 60), quantity=2)], Plate.sheet("s", 400, 300, 6.0), clearance=Clearance(14, 14),
        options=LayOptions(seconds=0, common=row.kerf),
    )  # fmt: skip
    made = plan(
        out.layouts[0], starter_chart(), load_table("small gantry"), BurnOptions(amperage=45.0, effort=0.02)
    )
    alone = plan(  # a layout laid for shared cuts is burned so: what is burned one by one knows of none
        replace(out.layouts[0], burn={}, common=()), starter_chart(), load_table("small gantry"),
        BurnOptions(amperage=45.0, effort=0.02, common_line=False),
    )  # fmt: skip
    assert alone.cut_length - made.cut_length > 100
    assert any("Shares 120 mm" in c.why for c in made.cuts) or made.pierces < alone.pierces


def test_twins_that_find_no_room_are_parted_and_an_odd_one_stays_alone() -> None:
    out = lay(
        [Wanted(part=strap(100, 40), quantity=3)], Plate.sheet("s", 112, 170, 6.0), clearance=Clearance(10, 6),
        options=LayOptions(seconds=0, common=KERF),
    )  # fmt: skip
    assert len(out.layouts[0].placements) == 3
    assert len(out.layouts[0].common) == 1
    holed = Plate(
        name="h", profile=Profile(Contour.rectangle(114, 172), (Contour.circle(57, 86, 20),)), thickness=6.0
    )
    narrow = lay(
        [Wanted(part=strap(100, 40), quantity=2)], holed, clearance=Clearance(6, 6), options=LayOptions(seconds=0, common=KERF)
    )  # fmt: skip
    assert len(narrow.layouts[0].placements) == 2
    assert not narrow.layouts[0].common


def test_going_on_keeps_pairs_and_never_ends_worse() -> None:
    wanted, plate = (
        [Wanted(part=strap(90, 30), quantity=6), Wanted(part=gusset(80, 60), quantity=5)],
        Plate.sheet("s", 300, 600, 6.0),
    )
    first = lay(wanted, plate, options=LayOptions(steps=900, common=KERF)).layouts[0]
    again = lay(wanted, plate, options=LayOptions(steps=1, seed=5, common=KERF, before=(first,))).layouts[0]

    def end(layout: Layout) -> float:
        return max(p.bounds().y1 for _, _, p in layout.placed())

    assert end(again) <= end(first) + 1e-6
    assert len(again.common) == len(first.common) == 5
    assert not check(again)
