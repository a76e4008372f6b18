"""Laying: legal by an exact check, nothing lost, told in sentences."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from benchmarks.packing.shapes import bracket, flange, generated, gusset, strap
from shapely import Polygon

from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.check import check
from platewright.layout.engines.spyrrow_engine import StripLibrary
from platewright.layout.lay import LayOptions, Progress, lay
from platewright.layout.model import Clearance, KeepOut, Layout, Placement, Wanted
from platewright.part.model import Part
from platewright.stock.drops import drops_of
from platewright.stock.model import Plate

QUICK = LayOptions(seconds=0)


@pytest.mark.parametrize("seed", range(60))
def test_a_generated_job_breaks_no_clearance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wanted = [
        Wanted(part=generated(rng, i), quantity=int(rng.integers(1, 6)), pairs=bool(rng.random() < 0.2))
        for i in range(int(rng.integers(1, 7)))
    ]
    plate = Plate.sheet("sheet", float(rng.uniform(200, 900)), float(rng.uniform(200, 900)), 6.0)
    magnet = KeepOut("magnet", Contour.circle(float(rng.uniform(0, 300)), float(rng.uniform(0, 300)), 25.0))
    clearance = Clearance(float(rng.uniform(1, 10)), float(rng.uniform(0, 12)), float(rng.uniform(0, 15)))
    out = lay(wanted, plate, keepouts=[magnet], clearance=clearance, options=QUICK)
    assert [f.text for layout in out.layouts for f in check(layout)] == []
    placed = sum(len(layout.placements) for layout in out.layouts)
    missing = sum(x.drawn + x.other for x in out.left_over)
    assert placed + missing == sum(w.quantity * (2 if w.pairs else 1) for w in wanted)


def test_a_small_part_lies_in_the_bore_of_a_large_one() -> None:
    wanted = [Wanted(part=flange(140, 95), quantity=3), Wanted(part=flange(60, 20, "washer"), quantity=3)]
    out = lay(wanted, Plate.sheet("drop", 650, 650, 6), options=QUICK)
    assert out.left_over == ()
    alone = lay(wanted[:1], Plate.sheet("drop", 650, 650, 6), options=QUICK)
    assert max(p.bounds().x1 for _, _, p in out.layouts[0].placed()) == pytest.approx(
        max(p.bounds().x1 for _, _, p in alone.layouts[0].placed()), abs=1e-6
    )


def test_what_cannot_fit_is_named_with_the_reason() -> None:
    thick = strap(50, 20, name="thick")
    wanted = [
        Wanted(part=strap(900, 40, name="long")),
        Wanted(part=bracket(100, 100, 30)),
        Wanted(part=replace(thick, thickness=10.0)),
    ]
    out = lay(wanted, Plate.sheet("drop", 300, 300, 6), options=QUICK)
    assert {x.part: x.finding.code for x in out.left_over} == {0: "L001", 2: "L002"}
    assert len(out.layouts[0].placements) == 1


def test_pairs_stay_together_unless_told_otherwise() -> None:
    wanted = [
        Wanted(part=bracket(120, 80, 30), quantity=1, pairs=True),
        Wanted(part=strap(100, 80, name="block"), quantity=1),
    ]
    plates = [Plate.sheet("a", 215, 100, 6), Plate.sheet("b", 250, 110, 6)]
    out = lay(wanted, plates, options=QUICK)
    for layout in out.layouts:
        hands = [p.pose.mirrored for p in layout.placements if p.part == 0]
        assert hands.count(True) == hands.count(False)


def test_a_layout_document_reads_back() -> None:
    out = lay(
        [Wanted(part=bracket(120, 80, 30), quantity=2, pairs=True)],
        Plate.sheet("a", 400, 300, 6),
        options=QUICK,
    )
    layout = out.layouts[0]
    assert Layout.from_dict(layout.as_dict()) == layout


@pytest.mark.parametrize(
    ("clearance", "text"),
    [
        (Clearance(0, 5, 5), "no metal for the kerf"),
        (Clearance(float("nan"), 5, 5), "nan mm"),
        (Clearance(5, -1, 5), "-1 mm"),
        (Clearance(5, 5, float("inf")), "inf mm"),
    ],
)
def test_bad_clearances_are_a_sentence(clearance: Clearance, text: str) -> None:
    with pytest.raises(InputError, match=text):
        lay([Wanted(part=strap(50, 20))], Plate.sheet("a", 400, 300, 6), clearance=clearance, options=QUICK)


@pytest.mark.parametrize("quantity", [0, -3, 10**9])
def test_absurd_counts_are_a_sentence(quantity: int) -> None:
    with pytest.raises(InputError, match="copies"):
        lay([Wanted(part=strap(50, 20), quantity=quantity)], Plate.sheet("a", 400, 300, 6), options=QUICK)


def test_nothing_asked_for_is_a_sentence() -> None:
    with pytest.raises(InputError, match="No parts"):
        lay([], Plate.sheet("a", 400, 300, 6))
    with pytest.raises(InputError, match="No plate"):
        lay([Wanted(part=strap(50, 20))], [])


def test_a_locked_part_stays_where_it_is() -> None:
    held = Placement(0, Pose(200.0, 120.0, 0.3), 1, True)
    wanted = [Wanted(part=strap(100, 40), quantity=6), Wanted(part=flange(50, 20), quantity=4)]
    options = LayOptions(steps=200, locked=(held,))
    out = lay(wanted, Plate.sheet("s", 700, 400, 6), options=options)
    assert out.findings == ()
    stays = [p for p in out.layouts[0].placements if p.locked]
    assert len(stays) == 1
    assert (stays[0].pose.x, stays[0].pose.y, stays[0].pose.angle) == pytest.approx((200.0, 120.0, 0.3))


def test_a_locked_part_off_the_plate_is_reported() -> None:
    held = Placement(0, Pose(-50.0, 0.0), 1, True)
    out = lay(
        [Wanted(part=strap(100, 40), quantity=2)],
        Plate.sheet("s", 700, 400, 6),
        options=LayOptions(seconds=0, locked=(held,)),
    )
    assert [f.code for f in out.findings] == ["L010"]


def test_the_plate_that_costs_least_is_used() -> None:
    wanted = [Wanted(part=strap(100, 40), quantity=6)]
    dear = replace(Plate.sheet("dear", 700, 400, 6), cost=Decimal(90))
    cheap = replace(Plate.sheet("cheap", 900, 400, 6), cost=Decimal(30))
    small = replace(Plate.sheet("small", 120, 60, 6), cost=Decimal(1))
    out = lay(wanted, [dear, cheap, small], options=QUICK)
    assert [layout.plate.name for layout in out.layouts] == ["cheap"]


def test_several_plates_take_what_one_cannot() -> None:
    wanted = [Wanted(part=strap(180, 80), quantity=6)]
    plates = [Plate.sheet(f"p{k}", 210, 200, 6) for k in range(4)]
    out = lay(wanted, plates, options=QUICK)
    assert out.left_over == ()
    assert [len(layout.placements) for layout in out.layouts] == [2, 2, 2]


def test_a_plate_of_another_grade_or_thickness_is_passed_over() -> None:
    wanted = [Wanted(part=strap(180, 80), quantity=1)]
    thin = Plate.sheet("thin", 210, 200, 3)
    right = Plate.sheet("right", 400, 300, 6)
    out = lay(wanted, [thin, right], options=QUICK)
    assert [layout.plate.name for layout in out.layouts] == ["right"]
    assert out.findings == ()


def test_a_part_of_another_grade_is_named_and_not_laid() -> None:
    out = lay(
        [Wanted(part=strap(180, 80)), Wanted(part=replace(strap(90, 80, name="shiny"), grade="304"))],
        Plate.sheet("s", 400, 300, 6),
        options=QUICK,
    )
    assert {x.part: x.finding.code for x in out.left_over} == {1: "L003"}
    assert "shiny is 304" in out.left_over[0].finding.text


def test_a_pair_of_which_one_hand_fits_is_left_off() -> None:
    wanted = [Wanted(part=bracket(120, 80, 30), quantity=1, pairs=True)]
    out = lay(wanted, Plate.sheet("a", 135, 100, 6), options=QUICK)
    assert out.layouts[0].placements == ()
    assert [(x.finding.code, x.drawn, x.other) for x in out.left_over] == [("L005", 1, 1)]
    split = lay(wanted, Plate.sheet("a", 135, 100, 6), options=replace(QUICK, split_pairs=True))
    assert [(x.finding.code, x.drawn + x.other) for x in split.left_over] == [("L004", 1)]


def test_an_engine_that_is_not_installed_is_reported_and_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(StripLibrary, "available", lambda self: False)
    out = lay(
        [Wanted(part=strap(90, 80))],
        Plate.sheet("s", 300, 200, 6),
        options=replace(QUICK, engine=StripLibrary.name),
    )
    assert [f.code for f in out.findings] == ["L030"]
    assert len(out.layouts[0].placements) == 1


def test_what_matters_more_is_placed_first() -> None:
    wanted = [
        Wanted(part=strap(180, 90, name="later"), quantity=1, priority=2),
        Wanted(part=strap(150, 90, name="first"), quantity=1, priority=1),
    ]
    out = lay(wanted, Plate.sheet("s", 200, 110, 6), options=QUICK)
    assert [layout.parts[p.part].name for layout in out.layouts for p in layout.placements] == ["first"]
    assert [x.finding.code for x in out.left_over] == ["L004"]


@pytest.mark.parametrize("options", [QUICK, LayOptions(steps=60)])
def test_fillers_take_the_room_that_is_left_and_no_more(options: LayOptions) -> None:
    wanted = [
        Wanted(part=strap(180, 90), quantity=4),
        Wanted(part=flange(20, 6, "washer"), quantity=200, filler=True),
    ]
    out = lay(wanted, Plate.sheet("s", 460, 220, 6), options=options)
    assert out.left_over == ()
    counts = [sum(p.part == k for p in out.layouts[0].placements) for k in (0, 1)]
    assert counts[0] == 4
    assert 0 < counts[1] < 200


def test_the_search_makes_room_for_what_the_first_layout_left_out() -> None:
    """Wedges two by two, no two of one part, so that they come in no rows: the greedy start leaves some out."""
    outline = Profile(Contour.from_points([(0, 0), (150, 0), (0, 100)]))
    wedge = Part(name="wedge", profile=outline, thickness=6.0)
    wanted = [Wanted(part=wedge) for _ in range(12)]
    plate = Plate.sheet("s", 360, 345, 6)
    first = lay(wanted, plate, options=QUICK)
    pressed = lay(wanted, plate, options=LayOptions(steps=4000))
    assert len(pressed.layouts[0].placements) > len(first.layouts[0].placements)
    assert check(pressed.layouts[0]) == ()


def test_cancelling_keeps_the_best_so_far() -> None:
    requested = iter([False] * 40)
    out = lay(
        [Wanted(part=strap(100, 40), quantity=6)],
        Plate.sheet("s", 700, 400, 6),
        options=LayOptions(seconds=30),
        cancelled=lambda: next(requested, True),
    )
    assert len(out.layouts[0].placements) == 6
    assert [f.code for f in out.findings] == ["L007"]


def test_progress_comes_with_a_legal_layout_at_once() -> None:
    seen: list[Progress] = []
    lay(
        [Wanted(part=bracket(120, 80, 30), quantity=8)],
        Plate.sheet("s", 700, 400, 6),
        options=LayOptions(steps=400),
        progress=seen.append,
    )
    assert seen[0].placed == 8
    assert seen[-1].used <= seen[0].used
    assert all(check(p.layout) == () for p in seen)


def test_turns_are_kept_to_the_grain() -> None:
    plate = replace(Plate.sheet("s", 700, 400, 6), grain=math.radians(30))
    out = lay(
        [Wanted(part=bracket(100, 80, 30), quantity=4)],
        plate,
        options=LayOptions(steps=300, rotations="grain"),
    )
    assert len(out.layouts[0].placements) == 4
    for p in out.layouts[0].placements:
        assert math.remainder(p.pose.angle - math.radians(30), math.pi) == pytest.approx(0.0, abs=1e-9)


def test_a_drop_is_used_from_the_end_that_leaves_the_larger_rectangle() -> None:
    """Small parts on an L go to one leg, so that a rectangle as large as the other leg stays free."""
    outline = Contour.from_points([(0, 0), (1000, 0), (1000, 300), (300, 300), (300, 800), (0, 800)])
    plate = Plate(name="L", profile=Profile(outline), thickness=6.0, kind="drop")
    out = lay([Wanted(part=strap(80, 80), quantity=6)], plate, options=QUICK)
    assert out.left_over == ()
    drops = drops_of(out.layouts[0], kerf=1.5, smallest_useful=100).kept
    assert drops[0].profile.area() > 0.8 * plate.profile.area()


def test_a_part_that_crosses_itself_is_a_sentence() -> None:
    bow = Part(
        name="bow tie",
        profile=Profile(Contour.from_points([(0, 0), (100, 100), (100, 0), (0, 100)])),
        thickness=6.0,
    )
    with pytest.raises(InputError, match="'bow tie' is not sound"):
        lay([Wanted(part=bow)], Plate.sheet("s", 400, 300, 6), options=QUICK)


def test_many_different_shapes_are_searched_within_the_time() -> None:
    rng = np.random.default_rng(8)
    wanted = [Wanted(part=generated(rng, i), quantity=1) for i in range(45)]
    out = lay(wanted, Plate.sheet("s", 1220, 2440, 6), options=LayOptions(seconds=1.5))
    assert out.findings == ()
    assert sum(len(layout.placements) for layout in out.layouts) == 45


def test_a_plate_eaten_by_its_clearance_is_reported() -> None:
    out = lay([Wanted(part=strap(20, 10))], Plate.sheet("sliver", 300, 10, 6), options=QUICK)
    assert [x.finding.code for x in out.left_over] == ["L001"]
    assert out.layouts[0].placements == ()


def test_a_part_too_large_is_reported_in_numbers_that_say_so() -> None:
    """In the plate's own directions, and never two equal sizes: here only the turn stands in the way."""
    plate = replace(Plate.sheet("tall", 120, 420, 6), grain=0.0)
    options = LayOptions(seconds=0, rotations="grain")
    out = lay([Wanted(part=strap(400, 100))], plate, options=options)
    assert [x.finding.text for x in out.left_over] == [
        "strap does not fit on the empty plate tall: along the grain it takes 400 x 100 mm, and the room after "
        "clearances, keep-outs and reach is 108 x 408 mm."
    ]
    out = lay([Wanted(part=strap(400, 108.4))], plate, options=QUICK)
    assert "it takes 108.4 x 400.0 mm, and the room after" in out.left_over[0].finding.text
    assert "is 108.0 x 408.0 mm" in out.left_over[0].finding.text


def test_a_part_that_no_place_is_left_for_is_reported_with_the_largest_rectangle() -> None:
    outline = Contour.from_points([(0, 0), (400, 0), (400, 150), (150, 150), (150, 400), (0, 400)])
    out = lay(
        [Wanted(part=strap(200, 180))],
        Plate(name="L", profile=Profile(outline), thickness=6.0),
        options=QUICK,
    )
    said = out.left_over[0].finding.text
    assert "the room is 388 x 388 mm over all, but its shape" in said
    assert re.search(r"the largest free rectangle is about (13[78] x 38[78]|38[78] x 13[78]) mm", said)


def test_free_turns_are_no_worse_than_quarter_turns() -> None:
    wanted = [Wanted(part=bracket(180, 140, 45), quantity=6), Wanted(part=strap(150, 40), quantity=6)]
    plate = Plate.sheet("s", 500, 1200, 6)

    def used(rotations: str) -> float:
        """Return what six searches use in the mean [mm]: one alone is chance."""
        ends = []
        for seed in range(1, 7):
            out = lay(wanted, plate, options=LayOptions(steps=2400, rotations=rotations, seed=seed))  # type: ignore[arg-type]
            assert out.left_over == ()
            ends.append(max(p.bounds().y1 for _, _, p in out.layouts[0].placed()))
        return float(np.mean(ends))

    assert used("free") <= used("quarter") + 1.0


@pytest.mark.parametrize(("width", "height", "count"), [(112.0, 112.0, 1), (324.0, 218.0, 6)])
def test_parts_that_exactly_fill_a_plate_are_laid_on_it(width: float, height: float, count: int) -> None:
    """100 mm squares with 6 mm between and at the edge: not a hair is given away, and not one more fits."""
    out = lay(
        [Wanted(part=strap(100, 100), quantity=count)], Plate.sheet("s", width, height, 6), options=QUICK
    )
    assert out.left_over == ()
    assert check(out.layouts[0]) == ()
    out = lay([Wanted(part=strap(100, 100), quantity=1)], Plate.sheet("s", 111.99, height, 6), options=QUICK)
    assert [x.finding.code for x in out.left_over] == ["L001"]


def test_a_part_of_its_own_clearance_and_turns_keeps_them_among_others() -> None:
    parts = [
        Wanted(part=strap(90, 30, name="far"), quantity=3, clearance=15.0), Wanted(part=strap(80, 40, name="near"), quantity=4),
        Wanted(part=strap(120, 25, name="along"), quantity=3, turns="grain"),
    ]  # fmt: skip
    out = lay(
        parts, Plate.sheet("s", 400, 300, 6.0), clearance=Clearance(5, 5), options=LayOptions(steps=300)
    )
    layout = out.layouts[0]
    assert not out.left_over
    shapes = [(p.part, Polygon(profile.outer.points)) for p, _, profile in layout.placed()]
    for i, (a, one) in enumerate(shapes):
        for b, two in shapes[:i]:
            assert one.distance(two) >= (15.0 if 0 in (a, b) else 5.0) - 1e-5
    assert all(abs(math.sin(p.pose.angle)) < 1e-9 for p in layout.placements if p.part == 2)
    assert Layout.from_dict(layout.as_dict()).clearance == layout.clearance
    closer = replace(layout, clearance=replace(layout.clearance, own=(16.0, 0.0, 0.0)))
    assert {f.code for f in check(closer)} == {"L013"}


def test_going_on_never_ends_worse_and_starts_from_what_there_was() -> None:
    parts = [Wanted(part=strap(90, 30), quantity=6), Wanted(part=gusset(80, 60), quantity=6)]
    plate = Plate.sheet("s", 300, 600, 6.0)
    first = lay(parts, plate, options=LayOptions(steps=600)).layouts[0]
    told: list[float] = []
    again = lay(
        parts,
        plate,
        options=LayOptions(steps=1, seed=9, before=(first,)),
        progress=lambda p: told.append(p.used),
    ).layouts[0]

    def end(layout: Layout) -> float:
        return max(p.bounds().y1 for _, _, p in layout.placed())

    assert end(again) <= end(first) + 1e-6
    assert told[0] <= end(first) - 6 + 1e-6
    assert not check(again)
    other = lay(
        [Wanted(part=strap(90, 31), quantity=6)], plate, options=LayOptions(steps=1, before=(first,))
    ).layouts[0]
    assert len(other.placements) == 6


def test_copies_are_turned_face_down_only_where_allowed_and_where_it_helps() -> None:
    hook = Part(
        name="hook",
        profile=Profile(Contour.from_points([(0, 0), (100, 0), (100, 60), (70, 60), (70, 25), (0, 25)])),
        thickness=6.0,
    )
    plate = Plate.sheet("s", 400, 140, 6.0)
    plain = lay(
        [Wanted(part=hook, quantity=6)],
        plate,
        clearance=Clearance(5, 5),
        options=LayOptions(seconds=0, rotations="grain"),
    )
    assert not any(p.pose.mirrored for layout in plain.layouts for p in layout.placements)
    turned = lay(
        [Wanted(part=hook, quantity=6, face_down=True)], plate, clearance=Clearance(5, 5),
        options=LayOptions(seconds=0, rotations="grain"),
    )  # fmt: skip
    assert len(turned.layouts[0].placements) >= len(plain.layouts[0].placements)
    assert not check(turned.layouts[0])
    spots = tuple(p for p in turned.layouts[0].placements if p.pose.mirrored)[:1] or (
        Placement(0, Pose(120, 20, 0.0, True)),
    )
    held = lay(
        [Wanted(part=hook, quantity=2, face_down=True)], plate, clearance=Clearance(5, 5),
        options=LayOptions(seconds=0, locked=(replace(spots[0], locked=True),)),
    )  # fmt: skip
    assert held.layouts[0].placements[-1].pose.mirrored
    assert sum(p.locked for p in held.layouts[0].placements) == 1
