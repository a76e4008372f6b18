"""Reach: outlines with closed-form areas, seats that reach most, steps that cover the whole plate."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from benchmarks.packing.shapes import strap

from platewright.errors import InputError
from platewright.geometry import Pose, signed_area
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Wanted
from platewright.layout.shape.reach import RingSector, index_steps, reach_outline, reached, seat_on
from platewright.stock.model import Plate
from platewright.table.model import Gantry

ARM = RingSector(x=0, y=0, inner=200, outer=900, start=math.radians(20), sweep=math.radians(120))


@pytest.mark.parametrize("sweep", [0.5, 2.0, math.pi, 5.0, math.tau])
@pytest.mark.parametrize("inner", [0.0, 200.0])
def test_a_ring_sector_has_its_area(sweep: float, inner: float) -> None:
    outlines = reach_outline(RingSector(x=10, y=20, inner=inner, outer=900, start=0.3, sweep=sweep))
    assert sum(abs(signed_area(c)) for c in outlines) == pytest.approx(sweep / 2 * (900**2 - inner**2))


def test_the_reach_follows_the_seat() -> None:
    seat = Pose(100, 50, 0.2)
    (outline,) = reached(Gantry(0, 0, 1000, 600), seat)
    assert seat.points(outline.points) == pytest.approx(reach_outline(Gantry(0, 0, 1000, 600))[0].points)


def test_a_plate_that_fits_lies_in_the_corner() -> None:
    seat = seat_on(Plate.sheet("s", 800, 500, 6), Gantry(10, 20, 1000, 600))
    assert (seat.x, seat.y, seat.angle) == (10, 20, 0.0)


def test_a_tall_plate_is_turned_if_that_reaches_more() -> None:
    seat = seat_on(Plate.sheet("s", 500, 950, 6), Gantry(0, 0, 1000, 600))
    assert seat.angle == pytest.approx(math.pi / 2)


def test_parts_stay_within_an_arm() -> None:
    out = lay(
        [Wanted(part=strap(120, 60), quantity=12)],
        Plate.sheet("s", 1200, 700, 6),
        reach=ARM,
        options=LayOptions(seconds=0),
    )
    layout = out.layouts[0]
    assert len(layout.placements) == 12
    assert layout.seat is not None
    assert check(layout, reach=ARM) == ()
    for _, _, profile in layout.placed():
        for x, y in layout.seat.points(profile.outer.points).tolist():
            assert 200 - 1e-6 <= math.hypot(x, y) <= 900 + 1e-6


def test_a_part_out_of_reach_is_named() -> None:
    out = lay(
        [Wanted(part=strap(120, 60), quantity=1)],
        Plate.sheet("s", 1000, 600, 6),
        reach=Gantry(0, 0, 1000, 600),
        options=LayOptions(seconds=0),
    )
    small = Gantry(0, 0, 50, 600)
    assert [f.code for f in check(out.layouts[0], reach=small)] == ["L016"]
    none = lay(
        [Wanted(part=strap(420, 160), quantity=1)],
        Plate.sheet("s", 1000, 600, 6),
        reach=Gantry(0, 0, 300, 300),
        options=LayOptions(seconds=0),
    )
    assert [x.finding.code for x in none.left_over] == ["L001"]


@pytest.mark.parametrize("size", [(2440.0, 600.0), (600.0, 2440.0), (1800.0, 500.0)])
def test_steps_cover_a_plate_longer_than_the_table(size: tuple[float, float]) -> None:
    plate = Plate.sheet("long", *size, 6)
    table = Gantry(0, 0, 1000, 650)
    steps = index_steps(plate, table, overlap=50)
    axis = 0 if size[0] > size[1] else 1
    windows = sorted((s.window[axis], s.window[axis + 2]) for s in steps)
    assert windows[0][0] == 0.0
    assert windows[-1][1] == pytest.approx(max(size))
    assert all(a[1] - b[0] >= 50 - 1e-6 for a, b in pairwise(windows))
    for step in steps:  # what a window holds is really on the table then, and so are the touched points
        x0, y0, x1, y1 = step.window
        for point in [(x0, y0), (x1, y0), (x1, y1), (x0, y1), *step.touch]:
            x, y = step.seat.points([point])[0]
            assert -1e-6 <= x <= 1000 + 1e-6
            assert -1e-6 <= y <= 650 + 1e-6


def test_a_long_plate_is_reported() -> None:
    out = lay(
        [Wanted(part=strap(120, 60), quantity=1)],
        Plate.sheet("s", 2400, 600, 6),
        reach=Gantry(0, 0, 1000, 650),
        options=LayOptions(seconds=0),
    )
    assert [f.code for f in out.findings] == ["L040"]


def test_bad_reach_is_a_sentence() -> None:
    with pytest.raises(InputError, match="cannot reach"):
        RingSector(x=0, y=0, inner=500, outer=200)
    with pytest.raises(InputError, match="wider than the table"):
        index_steps(Plate.sheet("s", 2000, 2000, 6), Gantry(0, 0, 1000, 600))
    with pytest.raises(InputError, match="overlap"):
        index_steps(Plate.sheet("s", 2000, 500, 6), Gantry(0, 0, 1000, 600), overlap=600)
