"""Drops: inside what the cut left, plain, nothing useful lost, areas that add up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
import pytest
from shapely import Polygon, unary_union

from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile, flatten
from platewright.stock.drops import drops_of
from platewright.stock.model import Plate
from platewright.stock.plates import mass


@dataclass(frozen=True)
class Laid:
    plate: Plate
    profiles: tuple[Profile, ...]

    def placed(self):  # type: ignore[no-untyped-def]
        return ((None, None, p) for p in self.profiles)


def _polygon(profile: Profile) -> Polygon:
    return Polygon(
        flatten(profile.outer, tolerance=1e-3), [flatten(h, tolerance=1e-3) for h in profile.holes]
    )


def test_a_strip_off_one_end_leaves_the_rest() -> None:
    """100 mm and 1.5 mm of kerf off a 1000 x 500 sheet: the rest is 898.5 x 500, drawn in by at most 3 mm."""
    laid = Laid(Plate.sheet("s", 1000, 500, 6), (Profile(Contour.rectangle(100, 500)),))
    (drop,) = drops_of(laid, kerf=1.5, smallest_useful=100).kept
    box = drop.profile.bounds()
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx((101.5, 0, 1000, 500), abs=3.0)
    assert (box.y0, box.x1, box.y1) == pytest.approx((0, 1000, 500), abs=1e-6)  # the plate's own edges
    assert len(drop.profile.outer) == 4
    assert drop.kind == "drop"
    assert drop.history == ("left of s",)


def test_a_drop_remembers_where_it_came_from_and_is_nobodys() -> None:
    sheet = replace(Plate.sheet("s", 1000, 500, 6), history=("bought",), photo="ab" * 32, held_for="gate 12")
    laid = Laid(sheet, (Profile(Contour.rectangle(100, 500)),))
    (drop,) = drops_of(laid, kerf=1.5, smallest_useful=100, job="gate 12").kept
    assert drop.history == ("bought", "left of s, cut for gate 12")
    assert (drop.photo, drop.held_for) == ("", "")


def test_what_is_too_small_is_scrap_and_is_reported() -> None:
    laid = Laid(Plate.sheet("s", 1000, 500, 6), (Profile(Contour.rectangle(950, 500)),))
    drops = drops_of(laid, kerf=1.5, smallest_useful=100)
    assert drops.kept == ()
    assert drops.scrap == pytest.approx(48.5 * 500 * 6 * 7850e-9, rel=0.01)
    assert [f.code for f in drops.findings] == ["S001"]


def test_an_outline_drawn_inside_the_real_edge_is_reported_and_a_straight_one_is_not() -> None:
    sheet = Plate.sheet("s", 1000, 500, 6)
    assert drops_of(Laid(sheet, ()), kerf=1.5, smallest_useful=100).findings == ()
    round_cut = drops_of(
        Laid(sheet, (Profile(Contour.circle(300, 250, 240)),)), kerf=1.5, smallest_useful=100
    )
    told = [f for f in round_cut.findings if f.code == "S002"]
    assert {f.subject for f in told} == {d.name for d in round_cut.kept}
    assert all(0.1 < float(f.values["inward"]) <= 3.0 for f in told)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(8))
def test_drops_lie_inside_what_is_left(seed: int) -> None:
    rng = np.random.default_rng(seed)
    plate = Plate(
        name="p",
        profile=Profile(Contour.rectangle(900, 600), (Contour.circle(700, 400, 60),)),
        thickness=6.0,
        cost=Decimal(80),
    )
    parts = []
    for k in range(4):
        size = float(rng.uniform(30, 90))
        pose = Pose(120 + 170 * k, float(rng.uniform(100, 280)), float(rng.uniform(0, 6)))
        parts.append(
            pose.apply(Profile(Contour.rectangle(size, 2 * size, x=-size / 2, y=-size, radius=size / 5)))
        )
    drops = drops_of(Laid(plate, tuple(parts)), kerf=2.0, smallest_useful=60).kept
    cut = unary_union([_polygon(p).buffer(2.0 - 1e-3) for p in parts])
    left = _polygon(plate.profile).difference(cut)
    assert drops
    for drop in drops:
        assert _polygon(drop.profile).difference(left).area < 1.0
    assert sum(d.profile.area() for d in drops) > 0.85 * left.area
    assert sum(float(d.cost or 0) for d in drops) == pytest.approx(
        80 * sum(mass(d) for d in drops) / mass(plate), abs=0.02 * len(drops)
    )


def test_nothing_cut_gives_the_plate_back() -> None:
    (drop,) = drops_of(Laid(Plate.sheet("s", 500, 300, 6), ()), kerf=1.5, smallest_useful=50).kept
    assert drop.profile.area() == pytest.approx(500 * 300, rel=1e-9)
    assert len(drop.profile.outer) == 4


@pytest.mark.parametrize(
    ("kerf", "smallest"), [(-1.0, 50.0), (float("nan"), 50.0), (1.5, 0.0), (1.5, float("inf"))]
)
def test_bad_numbers_are_a_sentence(kerf: float, smallest: float) -> None:
    with pytest.raises(InputError, match="mm or more"):
        drops_of(Laid(Plate.sheet("s", 500, 300, 6), ()), kerf=kerf, smallest_useful=smallest)
