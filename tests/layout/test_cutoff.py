"""The cut-off line: beyond all parts by the clearance, the whole width, told in numbers, held by the check."""

from __future__ import annotations

from dataclasses import replace

import pytest
from benchmarks.packing.shapes import flange, strap
from shapely import LineString, Polygon

from platewright.geometry import flatten
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, Layout, Wanted
from platewright.layout.picture import picture
from platewright.stock.model import Plate


@pytest.mark.parametrize(("width", "height"), [(1000.0, 400.0), (400.0, 1000.0)])
def test_the_line_runs_the_clearance_beyond_the_last_part(width: float, height: float) -> None:
    out = lay(
        [Wanted(part=flange(60, 20), quantity=3), Wanted(part=strap(150, 40), quantity=4)], Plate.sheet("s", width, height, 6.0),
        clearance=Clearance(8, 9), options=LayOptions(steps=200, cut_off=True),
    )  # fmt: skip
    layout = out.layouts[0]
    assert layout.cut_off is not None
    line = LineString(layout.cut_off)
    assert line.length == pytest.approx(400)
    gaps = [Polygon(flatten(p.outer, tolerance=1e-4)).distance(line) for _, _, p in layout.placed()]
    assert min(gaps) == pytest.approx(8, abs=1e-3)
    note = next(f for f in out.findings if f.code == "L041")
    at = layout.cut_off[0][0] if width > height else layout.cut_off[0][1]
    assert f"{at:.0f}" in note.text.replace(",", "") or f"{at:.1f}" in note.text
    assert not check(layout)
    assert Layout.from_dict(layout.as_dict()).cut_off == layout.cut_off
    assert "cut off here" in picture(layout)
    (ax, ay), (bx, by) = layout.cut_off
    shift = (-1.0, 0.0) if width > height else (0.0, -1.0)
    nearer = replace(layout, cut_off=((ax + shift[0], ay + shift[1]), (bx + shift[0], by + shift[1])))
    assert {f.code for f in check(nearer)} == {"L017"}


def test_a_sliver_is_not_worth_a_line() -> None:
    out = lay(
        [Wanted(part=strap(150, 40), quantity=2)],
        Plate.sheet("s", 220, 60, 6.0),
        options=LayOptions(seconds=0, cut_off=True),
    )
    assert out.layouts[0].cut_off is None
    assert "L042" in [f.code for f in out.findings]
