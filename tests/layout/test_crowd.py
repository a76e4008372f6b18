"""Crowded plates: what is placed is worth the most that can be, told by trying every choice."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.packing.drawn import clearance, crowding
from benchmarks.packing.outside import measured
from benchmarks.packing.shapes import flange, generated, gusset, strap

from platewright.errors import InputError
from platewright.geometry import Contour, Profile
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, Wanted
from platewright.layout.problem import Spot
from platewright.layout.request import Progress
from platewright.layout.search import crowd
from platewright.layout.search.trades import Hand
from platewright.part.model import Part
from platewright.stock.model import Plate


def _fullest(widths: list[int], room: int) -> int:
    """Return the largest sum of some of the widths (each 4 mm longer by its gap) that a row of `room` [mm] holds."""
    sets = (s for n in range(len(widths) + 1) for s in itertools.combinations(widths, n))
    return max(sum(s) for s in sets if sum(s) + 4 * (len(s) - 1) <= room)


@pytest.mark.parametrize("seed", range(6))
def test_a_row_is_filled_as_full_as_can_be(seed: int) -> None:
    """Bars as high as the room lie in one row: the best choice of them is a subset sum, found by trying all."""
    rng = np.random.default_rng(seed)
    widths = rng.integers(95, 190, 9).tolist()
    room = int(sum(widths) * 0.6)
    wanted = [Wanted(part=strap(w, 90, name=f"bar{k}")) for k, w in enumerate(widths)]
    plate = Plate.sheet("row", room + 8, 98, 6)
    out = lay(
        wanted, plate, clearance=Clearance(4, 4, 4), options=LayOptions(steps=6000, rotations="quarter")
    )
    assert check(out.layouts[0]) == ()
    laid = sum(widths[p.part] for p in out.layouts[0].placements)
    assert laid >= 0.99 * _fullest(widths, room - 1)


def test_money_counts_if_asked() -> None:
    """Room for one of two: by metal the large one, by money the dear one."""
    wanted = [
        Wanted(part=strap(180, 80, name="large"), worth=3.0),
        Wanted(part=strap(150, 70, name="dear"), worth=30.0),
    ]
    plate = Plate.sheet("s", 200, 100, 6)

    def laid(goal: str) -> list[str]:
        out = lay(wanted, plate, options=LayOptions(steps=200, goal=goal))  # type: ignore[arg-type]
        return [out.layouts[0].parts[p.part].name for p in out.layouts[0].placements]

    assert laid("metal") == ["large"]
    assert laid("money") == ["dear"]
    with pytest.raises(InputError, match="what one 'strap' is worth"):
        lay([Wanted(part=strap(100, 80))], plate, options=LayOptions(goal="money"))


def test_kits_are_kept_complete() -> None:
    """Three kits of two bars and a disc on a plate for about two: by kits no third bar stands without its disc."""
    wanted = [
        Wanted(part=strap(120, 40, name="bar"), quantity=6),
        Wanted(part=flange(45, 10, "disc"), quantity=3),
    ]
    plate = Plate.sheet("s", 360, 165, 6)
    out = lay(wanted, plate, options=LayOptions(steps=1500, goal="kits"))
    assert check(out.layouts[0]) == ()
    counts = [sum(p.part == k for p in out.layouts[0].placements) for k in (0, 1)]
    assert min(counts[0] // 2, counts[1]) >= 2


def test_a_part_that_matters_more_is_never_given_up() -> None:
    wanted = [
        Wanted(part=strap(60, 60, name="first"), quantity=3, priority=1),
        Wanted(part=strap(180, 60, name="large"), quantity=3, priority=2),
    ]
    out = lay(wanted, Plate.sheet("s", 260, 145, 6), options=LayOptions(steps=1500))
    assert sum(p.part == 0 for p in out.layouts[0].placements) == 3


def test_a_bore_holds_as_many_as_a_plate_of_its_own_would() -> None:
    """The same search on a round plate as large as the bore is the witness: a hole is a plate too."""
    part = gusset(40, 60)
    options = LayOptions(steps=4000, rotations="quarter")
    ring = lay(
        [Wanted(part=flange(250, 210, "ring")), Wanted(part=part, quantity=120)],
        Plate.sheet("s", 512, 512, 6),
        options=options,
    )
    alone = lay(
        [Wanted(part=part, quantity=120)],
        Plate(name="bore", profile=Profile(Contour.circle(0, 0, 210)), thickness=6.0),
        options=options,
    )
    assert check(ring.layouts[0]) == ()
    middles = [p.bounds() for w, _, p in ring.layouts[0].placed() if w.part == 1]
    inside = sum(np.hypot((b.x0 + b.x1) / 2 - 256, (b.y0 + b.y1) / 2 - 256) < 210 for b in middles)
    assert inside >= len(alone.layouts[0].placements)


def test_small_parts_move_into_a_window_that_the_first_layout_left_half_empty() -> None:
    """A frame, a plate as large as the frame, and what was cut from its window: all of it goes in."""
    frame = Part(
        name="frame",
        profile=Profile(Contour.rectangle(300, 260), (Contour.rectangle(240, 200, x=30, y=30),)),
        thickness=6.0,
    )
    pieces = [
        strap(110, 90, name="a"),
        strap(111, 90, name="b"),
        strap(70, 91, name="c"),
        strap(150, 91, name="d"),
    ]
    wanted = [Wanted(part=frame), *(Wanted(part=p) for p in pieces)]
    out = lay(wanted, Plate.sheet("s", 312.1, 272.1, 6), options=LayOptions(steps=3000, rotations="quarter"))
    assert out.left_over == ()
    assert check(out.layouts[0]) == ()


def test_a_drop_cut_up_without_waste_is_filled_again() -> None:
    """An L cut up into parts with others of as much metal beside them: what it held is known, as it was cut from it."""
    case = crowding(3)
    options = LayOptions(steps=20000, rotations="quarter")
    out = lay(case.wanted, case.plate, clearance=clearance(), options=options)
    assert sum(p.area() for _, _, p in out.layouts[0].placed()) >= 0.98 * case.known
    assert measured(out.layouts[0].as_dict()).broken == 0


def test_what_is_cleared_and_filled_again_keeps_every_distance(monkeypatch: pytest.MonkeyPatch) -> None:
    """Arcs, holes and stars put into corners only: an outside checker measures every distance."""
    monkeypatch.setattr(crowd.Crowd, "_parted_from", crowd.Crowd._refilled)
    rng = np.random.default_rng(8)
    wanted = [Wanted(part=generated(rng, i, (20, 70)), quantity=9) for i in range(6)]
    options = LayOptions(steps=3000, rotations="quarter")
    out = lay(wanted, Plate.sheet("s", 400, 300, 6), clearance=Clearance(5, 7, 7), options=options)
    first = lay(
        wanted, Plate.sheet("s", 400, 300, 6), clearance=Clearance(5, 7, 7), options=replace(options, steps=0)
    )
    assert out.left_over
    assert measured(out.layouts[0].as_dict()).broken == 0
    metal = [sum(p.area() for _, _, p in one.layouts[0].placed()) for one in (out, first)]
    assert metal[0] >= metal[1]


def test_a_search_that_stands_still_starts_anew_and_gives_up_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    begun, told = list[int](), list[float]()
    hand = crowd.Crowd._hand

    def watched(self: crowd.Crowd, spots: Sequence[Spot]) -> Hand:
        begun.append(len(spots))
        return hand(self, spots)

    def better(progress: Progress) -> None:
        told.append(sum(p.area() for one in progress.layouts for _, _, p in one.placed()))

    monkeypatch.setattr(crowd.Crowd, "_hand", watched)
    monkeypatch.setattr(crowd, "STILL", 3)
    case, options = crowding(3), LayOptions(steps=1500, rotations="quarter")
    out = lay(case.wanted, case.plate, clearance=clearance(), options=options, progress=better)
    assert min(begun) < 0.8 * max(begun)
    assert told == sorted(told)
    assert measured(out.layouts[0].as_dict()).broken == 0
