"""A coupon laid with a job: on metal the job leaves, cut by one program, read as if it had been cut alone."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from platewright.burn.options import BurnOptions
from platewright.errors import RefusedError
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from platewright.tuning.correct import result_of
from platewright.tuning.coupons import Coupon, beside, picked_row
from platewright.tuning.kit import Kit, kit_of
from platewright.tuning.model import Readings
from tests.burn.helpers import metal, ring
from tests.tuning.helpers import made

TABLE, CHART = load_table("small gantry"), starter_chart()
ROW = picked_row(CHART, "mild steel", 6.0, amperage=45.0, table=TABLE).row
PART = Profile(Contour.rectangle(120, 80), (Contour.circle(60, 40, 20, clockwise=True),))


def job(height: float = 560.0) -> Layout:
    places = tuple(Placement(0, Pose(30 + 150 * i, 30), 1 + i) for i in range(4))
    magnet = KeepOut("magnet", Contour.circle(700, 480, 20), 25.0)
    plate = Plate.sheet("s", 800, height, 6.0)
    return Layout(
        plate=plate, parts=(Part(name="frame", profile=PART, thickness=6.0),), placements=places, keepouts=(magnet,) if height > 500 else (), burn={"tab_below": 300.0, "amperage": 45.0}
    )  # fmt: skip


@cache
def laid() -> tuple[Coupon, Kit]:
    ready = beside(job(), ROW, TABLE)
    return ready, kit_of(ready, CHART, TABLE)


def test_the_jobs_pieces_stay_and_the_coupon_lies_on_free_metal() -> None:
    ready, _ = laid()
    whole, first = ready.whole, ready.first
    assert whole.placements[:first] == job().placements
    shapes = [metal(profile) for _, _, profile in whole.placed()]
    plate = metal(whole.plate.profile)
    magnet = shapely.Polygon(ring(whole.keepouts[0].contour))
    for n, shape in enumerate(shapes[first:], first):
        assert plate.covers(shape)
        assert min(shape.distance(other) for other in shapes[:n]) > 10
        assert shape.distance(magnet) > 5


def test_one_program_cuts_both_and_the_proof_says_go() -> None:
    ready, kit = laid()
    assert kit.verdict == "go", kit.findings
    assert not kit.stopped
    assert "laid" not in kit.program.text
    feeds = {round(r.speed * 60) for r in ready.rungs}
    text = kit.program.text
    assert all(any(f"F{f + d}" in text for d in (-1, 0, 1)) for f in feeds)


def test_the_jobs_tabs_do_not_hold_the_coupon() -> None:
    ready, _ = laid()
    options = BurnOptions.from_dict(ready.whole.burn)
    assert options.tab_below == 300.0
    mine = [c for c in options.cuts if c.placement >= ready.first]
    assert {c.placement for c in mine} == set(range(ready.first, len(ready.whole.placements)))
    assert all(c.tabs is not None and c.tabs.count == 0 for c in mine)


def test_its_sheet_is_that_of_the_coupon_alone() -> None:
    _, kit = laid()
    alone = made().sheet
    assert [s.key for s in kit.sheet.sizes] == [s.key for s in alone.sizes]
    assert [s.nominal for s in kit.sheet.sizes] == [s.nominal for s in alone.sizes]
    assert np.allclose([s.kerf for s in kit.sheet.sizes], [s.kerf for s in alone.sizes], atol=1e-6)
    # a caliper that finds every outside 0.2 mm small and every opening as much large: a kerf 0.2 mm wider than planned
    read = {
        s.key: (s.nominal + (-0.2 if s.kind == "outside" else 0.2),) * 2 for s in kit.sheet.sizes if s.kind in ("outside", "inside")
    }  # fmt: skip
    found = result_of(Readings(kit.sheet, read)).kerf
    assert found is not None
    assert found.kerf.value == pytest.approx(ROW.kerf + 0.2, abs=0.01)


def test_without_room_it_is_refused_with_what_to_do() -> None:
    with pytest.raises(RefusedError, match="no room for a coupon") as refused:
        beside(job(height=180.0), ROW, TABLE)
    assert "drop" in (refused.value.do or "")


def test_choices_for_single_cuts_of_the_job_stay() -> None:
    chosen = {"placement": 1, "contour": 1, "skip": True}
    before = replace(job(), burn={"cuts": [chosen]})
    options = BurnOptions.from_dict(beside(before, ROW, TABLE).whole.burn)
    assert options.choice(1, 1).skip
