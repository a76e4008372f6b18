"""Slats, tipping and heat against closed forms and a general geometry library; and what laying makes of them."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely

from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile, flatten
from platewright.layout.lay import LaidOut, LayOptions, lay
from platewright.layout.lying.heat import gathered, near_reach
from platewright.layout.lying.slats import SURE, Slats, held, slat_findings, tipping
from platewright.layout.model import Clearance, Layout, Placement, Wanted
from platewright.part.model import Part
from platewright.stock.model import Plate


def block(wide: float, high: float, name: str = "block") -> Part:
    return Part(name=name, profile=Profile(Contour.rectangle(wide, high)), thickness=6.0)


def laid(wanted: list[Wanted], plate: Plate, **more: object) -> LaidOut:
    options = LayOptions(seconds=0, steps=40, rotations="quarter", **more)  # type: ignore[arg-type]
    return lay(wanted, plate, clearance=Clearance(6, 6, 10), options=options)


def by_hand(parts: list[tuple[Part, float, float]], plate: Plate) -> Layout:
    placed = tuple(Placement(n, Pose(x, y)) for n, (_, x, y) in enumerate(parts))
    return Layout(plate=plate, parts=tuple(p for p, _, _ in parts), placements=placed)


def codes(out: LaidOut) -> list[str]:
    return [f.code for f in out.findings]


# -- slats -------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_what_holds_a_piece_is_the_hull_of_what_lies_on_slats(seed: int) -> None:
    """Random stars beside a hull by a general geometry library."""
    rng = np.random.default_rng(seed)
    for _ in range(25):
        angle = np.sort(rng.uniform(0, math.tau, int(rng.integers(4, 12))))
        if np.diff(np.append(angle, angle[0] + math.tau)).max() > 3.0:
            continue
        radius = rng.uniform(20, 150, len(angle))
        outer = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
        shape = shapely.Polygon(outer)
        centre = np.array(shape.centroid.coords[0])
        axis, lines = (
            int(rng.integers(2)),
            float(rng.uniform(0, 60)) + float(rng.uniform(30, 90)) * np.arange(-5.0, 5.0),
        )
        cuts = [
            shape.intersection(
                shapely.LineString([(s, -500), (s, 500)] if axis == 0 else [(-500, s), (500, s)])
            )
            for s in lines
        ]
        under = [c for c in cuts if not c.is_empty]
        count, room = held(outer, centre, lines, axis)
        assert count == len(under)
        hull = shapely.union_all(under).convex_hull if under else shapely.Point()
        inside = count > 1 and hull.contains(shapely.Point(centre))
        assert (room > 0) == inside
        if inside:  # never told to be safer than it is by more than a sharp corner of the hull makes
            assert room >= hull.exterior.distance(shapely.Point(centre)) - 1e-9


@pytest.mark.parametrize("wide", [110.0, 150.0, 180.0])
def test_a_bar_is_held_at_as_many_places_as_it_is_longer_than_the_pitch(wide: float) -> None:
    """From one to two pitches long, with a slat u below its middle: u and 100 - u both at most half its length, so (wide - 100) of 100 places."""
    outer = flatten(Contour.rectangle(wide, 40), tolerance=0.1)
    tips = tipping(outer, np.array([wide / 2, 20.0]), 100.0, 0)
    assert tips.mean() == pytest.approx(1 - (wide - 100) / 100, abs=1.1 / 48)
    assert not tipping(
        flatten(Contour.rectangle(200 + 2 * SURE, 40), tolerance=0.1), np.array([100 + SURE, 20.0]), 100.0, 0
    ).any()


def test_what_falls_tips_and_stays_is_told_apart() -> None:
    plate = Plate.sheet("s", 1000, 500, 6.0)
    layout = by_hand([(block(60, 60), 20, 20), (block(60, 60), 170, 20), (block(250, 60), 320, 20)], plate)
    found = slat_findings(layout, Slats(100.0, "y", 0.0))
    assert [(f.code, f.text.split(":")[0]) for f in found] == [
        ("L050", "No slat lies under #1"),
        ("L051", "#2 tip up once they are cut free"),
    ]
    assert slat_findings(layout, Slats(25.0, "y", 0.0)) == ()
    assert [f.code for f in slat_findings(layout, Slats(100.0, "y"))] == ["L052"]


def test_a_strap_moves_along_the_plate_to_where_slats_hold_it() -> None:
    plate, strap = Plate.sheet("s", 400, 300, 6.0), Wanted(part=block(150, 60))
    plain = laid([strap], plate)
    known = laid([strap], plate, slats=100.0, slats_run="x", first_slat=10.0)
    assert codes(plain) == codes(known) == []
    boxes = [next(o.layouts[0].placed())[2].bounds() for o in (plain, known)]
    assert boxes[0].x1 == pytest.approx(66, abs=0.01)
    assert boxes[1].x1 == pytest.approx(66, abs=0.11)
    slats = [y for y in (10, 110, 210) if boxes[1].y0 <= y <= boxes[1].y1]
    assert min(slats) + SURE <= (boxes[1].y0 + boxes[1].y1) / 2 <= max(slats) - SURE


def test_leeway_turns_a_strap_across_the_slats_and_without_it_it_is_told() -> None:
    plate, strap = Plate.sheet("s", 400, 300, 6.0), Wanted(part=block(230, 60))
    tight = laid([strap], plate, slats=100.0)
    assert codes(tight) == ["L052"]
    wide = laid([strap, Wanted(part=block(170, 170, "base"))], plate, slats=100.0, leeway=0.5)
    strap_box = next(p.bounds() for _, part, p in wide.layouts[0].placed() if part.name == "block")
    assert strap_box.width == pytest.approx(230)
    assert all("#1" not in f.text for f in wide.findings if f.code == "L052") or codes(wide) == []


# -- heat --------------------------------------------------------------------------------------


def test_gathered_heat_is_the_length_of_cut_in_a_disc() -> None:
    """Beside the closed form of one corner, (1 + sqrt 2) / 2 at most, and for a crowd beside a general geometry library."""
    plate = Plate.sheet("s", 1000, 500, 6.0)
    assert near_reach("mild steel") == pytest.approx(math.sqrt(4 * 8.0 * 20), rel=1e-9)
    assert gathered(by_hand([(block(400, 100), 20, 20)], plate))[0] == pytest.approx(
        (1 + math.sqrt(2)) / 2, rel=0.05
    )
    crowd = by_hand([(block(20, 20), 20 + 28 * (n % 4), 20 + 28 * (n // 4)) for n in range(12)], plate)
    cuts = shapely.union_all([shapely.Polygon(p.outer.points[:, :2]).exterior for _, _, p in crowd.placed()])
    reach = near_reach("mild steel")
    most = []
    for _, _, p in crowd.placed():
        line = shapely.Polygon(p.outer.points[:, :2]).exterior
        spots = [line.interpolate(s) for s in np.linspace(0, line.length, 80)]
        most.append(max(cuts.intersection(s.buffer(reach, quad_segs=64)).length for s in spots) / (2 * reach))
    assert gathered(crowd) == pytest.approx(most, rel=0.05)


def test_heat_keeps_pieces_apart_where_that_costs_no_plate() -> None:
    plate, wanted = Plate.sheet("s", 600, 500, 6.0), [Wanted(part=block(80, 80), quantity=3)]
    plain, cool = laid(wanted, plate), laid(wanted, plate, heat=True)
    boxes = [[p.bounds() for _, _, p in o.layouts[0].placed()] for o in (plain, cool)]
    assert max(b.x1 for b in boxes[1]) <= max(b.x1 for b in boxes[0]) + 0.11
    tall = [sorted((b.y0, b.y1) for b in row) for row in boxes]
    gaps = [min(c[0] - b[1] for b, c in pairwise(row)) for row in tall]
    assert gaps[0] == pytest.approx(6, abs=0.01)
    assert gaps[1] >= near_reach("mild steel")


def test_small_pieces_side_by_side_are_told() -> None:
    out = laid([Wanted(part=block(20, 20), quantity=40)], Plate.sheet("s", 400, 200, 6.0), heat=True)
    assert codes(out) == ["L053"]


def test_nothing_is_told_or_moved_unless_asked() -> None:
    wanted, plate = [Wanted(part=block(60, 40), quantity=7)], Plate.sheet("s", 500, 300, 6.0)
    assert codes(laid(wanted, plate)) == []
    with pytest.raises(InputError, match="slats"):
        laid(wanted, plate, slats=1.0)
