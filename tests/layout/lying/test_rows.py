"""Like parts in rows: pairs turned by half, where that is no longer than what the search finds."""

from __future__ import annotations

import itertools
import math

import pytest
import shapely

from platewright.geometry import Contour, Profile, flatten
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, Layout, Wanted
from platewright.part.model import Part
from platewright.stock.model import Plate

CLEAR = 8.0
WIDE, HIGH, NOSE = 120.0, 90.0, 12.0


def gusset() -> Part:
    corners = [(0, 0), (WIDE, 0), (WIDE, NOSE), (NOSE, HIGH), (0, HIGH)]
    return Part(name="gusset", profile=Profile(Contour.from_points(corners)), thickness=6.0)


def laid(wanted: list[Wanted], plate: Plate, **more: object) -> Layout:
    out = lay(wanted, plate, clearance=Clearance(CLEAR, CLEAR, 10.0), options=LayOptions(**more))  # type: ignore[arg-type]
    assert not out.findings
    return out.layouts[0]


def polygons(layout: Layout) -> list[shapely.Polygon]:
    return [shapely.Polygon(flatten(p.outer, tolerance=0.01)) for _, _, p in layout.placed()]


def length(layout: Layout) -> float:
    return max(float(p.bounds[2]) for p in polygons(layout))


def pair_height() -> float:
    """Return how high two gussets lie long edge to long edge, a clearance apart, flush left and right.

    The second is the first turned by half about (WIDE / 2, c), c so that the long edge's middle falls on the long edge's line,
    and then moved up by what a clearance across that line measures upright; a corner (x, y) goes to (WIDE - x, 2 c - y).
    """
    steep = (HIGH - NOSE) / (WIDE - NOSE)
    return NOSE + (WIDE + NOSE) / 2 * steep + (NOSE + HIGH) / 2 + CLEAR * math.hypot(1.0, steep)


def test_twelve_equal_gussets_come_out_as_pairs_in_rows() -> None:
    tall = 3 * pair_height() + 2 * CLEAR + 2 * CLEAR + 0.1  # three pairs, one above the other, hold just so
    layout = laid(
        [Wanted(part=gusset(), quantity=12)], Plate.sheet("s", 900, tall, 6.0), seconds=0, steps=100
    )
    turns = [round(p.pose.angle / (math.pi / 2), 6) % 4 for p in layout.placements]
    assert sorted(set(turns)) in ([0.0, 2.0], [1.0, 3.0])
    assert all(turns.count(t) == 6 for t in set(turns))
    found = polygons(layout)
    assert length(layout) == pytest.approx(CLEAR + 2 * WIDE + CLEAR, abs=0.01)
    lefts = sorted({round(p.bounds[0], 1) for p in found})
    assert lefts == pytest.approx([CLEAR, CLEAR + WIDE + CLEAR], abs=0.1)
    lows = [sorted(round(p.bounds[1], 1) for p in found if abs(p.bounds[0] - x) < 0.2) for x in lefts]
    assert lows[0] == pytest.approx(lows[1], abs=0.2)  # rows run through both columns
    assert all(a.distance(b) >= CLEAR - 1e-5 for a, b in itertools.combinations(found, 2))


def test_the_first_layout_is_in_rows_too_and_no_longer_than_one_on_the_raster() -> None:
    sheet = Plate.sheet("s", 1000, 500, 6.0)
    layout = laid([Wanted(part=gusset(), quantity=12)], sheet, seconds=0)
    assert length(layout) == pytest.approx(
        CLEAR + WIDE + CLEAR + HIGH, abs=0.01
    )  # a block lying, a block standing


def test_discs_stand_square_or_staggered_as_the_plate_has_it() -> None:
    disc, root = Part(name="disc", profile=Profile(Contour.circle(0, 0, 40)), thickness=6.0), math.sqrt(0.75)
    square = laid(
        [Wanted(part=disc, quantity=12)], Plate.sheet("s", 800, 3 * 88 + CLEAR + 0.6, 6.0), seconds=0
    )
    assert length(square) == pytest.approx(CLEAR + 80 + 3 * 88, abs=0.7)
    high = 2 * CLEAR + 80 + 2 * 88 * root + 1.0  # three rows, the middle one set off by half
    staggered = laid([Wanted(part=disc, quantity=12)], Plate.sheet("s", 800, high, 6.0), seconds=0)
    assert length(staggered) == pytest.approx(CLEAR + 80 + 3.5 * 88, abs=0.7)


def test_rows_give_way_to_what_is_shorter_unless_leeway_is_given() -> None:
    sheet = Plate.sheet("s", 1000, 500, 6.0)
    strap = Part(name="strap", profile=Profile(Contour.rectangle(300, 20)), thickness=6.0)
    wanted = [Wanted(part=gusset(), quantity=8), Wanted(part=strap, quantity=2)]
    tight, loose = (laid(wanted, sheet, seconds=0, steps=600, leeway=share) for share in (0.0, 0.3))
    assert length(loose) <= 1.3 * length(tight) + 0.1
    turns = {round(p.pose.angle / (math.pi / 2), 6) % 2 for p in loose.placements if p.part == 0}
    assert len(turns) == 1  # lying or standing, never askew


def test_rows_on_a_drop_keep_clear_of_its_bay() -> None:
    outline = [(0, 0), (700, 0), (700, 420), (420, 420), (420, 200), (280, 200), (280, 420), (0, 420)]
    drop = Plate(name="drop", profile=Profile(Contour.from_points(outline)), thickness=6.0, kind="drop")
    layout = laid([Wanted(part=gusset(), quantity=10)], drop, seconds=0)
    assert len(layout.placements) == 10
    room = shapely.Polygon(outline).buffer(-CLEAR, join_style="mitre")
    assert all(room.buffer(1e-5).contains(p) for p in polygons(layout))


def test_frames_that_fit_a_plate_to_a_hair_come_before_many_small_parts() -> None:
    """A raster gives away a cell at each side; the largest parts are laid by exact corners if it leaves one of them out."""
    hole = Contour.rectangle(240, 240, x=30, y=30)
    frame = Part(name="frame", profile=Profile(Contour.rectangle(300, 300), (hole,)), thickness=6.0)
    tile = Part(name="tile", profile=Profile(Contour.rectangle(50, 50)), thickness=6.0)
    plate = Plate.sheet("s", 2 * 300 + 3 * CLEAR + 0.1, 300 + 2 * CLEAR + 0.1, 6.0)
    out = lay(
        [Wanted(part=frame, quantity=2), Wanted(part=tile, quantity=32)],
        plate,
        clearance=Clearance(CLEAR, CLEAR, 10.0),
        options=LayOptions(seconds=0),
    )
    assert sum(p.part == 0 for p in out.layouts[0].placements) == 2
    assert sum(p.part == 1 for p in out.layouts[0].placements) >= 18  # nine a window, at least
