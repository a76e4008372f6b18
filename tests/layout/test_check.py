"""The exact check against closed forms and a second library; and it shares nothing with the search."""

from __future__ import annotations

import ast
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from benchmarks.packing.shapes import flange, generated, strap
from shapely import Polygon

import platewright.layout.check as checker
from platewright.geometry import Contour, Pose, Profile, flatten
from platewright.layout.check import check, contains, gap
from platewright.layout.model import Clearance, KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate


def _disc(x: float, y: float, r: float) -> Profile:
    return Profile(Contour.circle(x, y, r))


def _ring(x: float, y: float, r: float, bore: float) -> Profile:
    return Profile(Contour.circle(x, y, r), (Contour.circle(x, y, bore),))


CLOSED_FORMS = [
    (_disc(0, 0, 10), _disc(30, 40, 15), 25.0),  # centres 50 apart
    (_disc(0, 0, 10), Profile(Contour.rectangle(10, 10, x=13, y=-5)), 3.0),
    (_disc(0, 0, 10), Profile(Contour.rectangle(10, 10, x=10, y=10)), math.hypot(10, 10) - 10),
    (Profile(Contour.rectangle(10, 10)), Profile(Contour.rectangle(10, 10, x=13, y=14)), 5.0),
    (_ring(0, 0, 50, 30), _disc(0, 0, 20), 10.0),  # concentric: a disc in a bore
    (_ring(0, 0, 50, 30), _disc(4, 3, 20), 5.0),  # off centre by 5
    (_ring(0, 0, 50, 30), _ring(0, 0, 29, 10), 1.0),
    (_disc(0, 0, 10), _disc(0, 0, 5), 0.0),  # one in the other's metal
    (_disc(0, 0, 10), _disc(15, 0, 10), 0.0),
]


@pytest.mark.parametrize(("one", "two", "apart"), CLOSED_FORMS)
def test_gap_has_the_closed_form(one: Profile, two: Profile, apart: float) -> None:
    assert gap(one, two) == pytest.approx(apart, abs=1e-9)
    assert gap(two, one) == pytest.approx(apart, abs=1e-9)
    turn = Pose(120.0, -40.0, 0.7, True)
    assert gap(turn.apply(one), turn.apply(two)) == pytest.approx(apart, abs=1e-9)


def _polygon(profile: Profile) -> Polygon:
    return Polygon(
        flatten(profile.outer, tolerance=1e-4), [flatten(h, tolerance=1e-4) for h in profile.holes]
    )


@pytest.mark.parametrize("seed", range(40))
def test_gap_agrees_with_a_polygon_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one, two = generated(rng, 0).profile, generated(rng, 1).profile
    two = Pose(*rng.uniform(-250, 250, 2), rng.uniform(0, 6), bool(rng.random() < 0.5)).apply(two)
    assert gap(one, two) == pytest.approx(_polygon(one).distance(_polygon(two)), abs=3e-4)


@pytest.mark.parametrize("seed", range(10))
def test_contains_agrees_with_a_polygon_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    profile = generated(rng, 0).profile
    polygon = _polygon(profile)
    box = profile.bounds()
    for x, y in zip(rng.uniform(box.x0, box.x1, 200), rng.uniform(box.y0, box.y1, 200), strict=True):
        if polygon.boundary.distance(shapely.Point(x, y)) > 1e-3:
            assert contains(profile, x, y) == polygon.contains(shapely.Point(x, y))


def test_a_point_on_a_chord_is_reported_right() -> None:
    ring = _ring(0, 0, 50, 30)
    for k in range(16):
        c, s = math.cos(k * math.pi / 8), math.sin(k * math.pi / 8)
        turned = Pose(angle=k * math.pi / 8).apply(ring)
        assert contains(turned, 40 * c, 40 * s)
        assert not contains(turned, 20 * c, 20 * s)
        assert not contains(turned, 60 * c, 60 * s)
    for x in (-40.0, 40.0):
        assert contains(ring, x, 0.0)
        assert not contains(ring, x / 2, 0.0)
        assert not contains(ring, 1.5 * x, 0.0)


def _layout(
    *places: tuple[Part, Pose], plate: Plate | None = None, keepouts: tuple[KeepOut, ...] = ()
) -> Layout:
    parts = tuple(p for p, _ in places)
    placements = tuple(Placement(i, pose) for i, (_, pose) in enumerate(places))
    return Layout(
        plate=plate or Plate.sheet("a", 300, 200, 6),
        parts=parts,
        placements=placements,
        keepouts=keepouts,
        clearance=Clearance(6, 8, 10),
    )


ROUND_HOLED = Plate(
    name="holed", profile=Profile(Contour.rectangle(300, 200), (Contour.circle(150, 100, 20),)), thickness=6.0
)


@pytest.mark.parametrize(
    ("layout", "codes"),
    [
        (_layout((strap(50, 20), Pose(8, 8)), (strap(50, 20), Pose(8, 34))), []),
        (_layout((strap(50, 20), Pose(8, 8)), (strap(50, 20), Pose(8, 33.9))), ["L013"]),
        (_layout((strap(50, 20), Pose(8, 8)), (strap(50, 20), Pose(20, 20))), ["L012"]),
        (_layout((strap(50, 20), Pose(8, 8)), (strap(5, 5), Pose(20, 12))), ["L012"]),
        (_layout((strap(50, 20), Pose(7.9, 8))), ["L011"]),
        (_layout((strap(50, 20), Pose(-1, 8))), ["L010"]),
        (_layout((strap(50, 20), Pose(900, 8))), ["L010"]),
        (_layout((strap(100, 60), Pose(100, 70)), plate=ROUND_HOLED), ["L010"]),  # swallows the old hole
        (_layout((strap(50, 20), Pose(150 - 25, 100 + 20 + 7.9)), plate=ROUND_HOLED), ["L011"]),
        (_layout((strap(50, 20), Pose(8, 8)), keepouts=(KeepOut("magnet", Contour.circle(68, 18, 5)),)), ["L015"]),
        (_layout((strap(50, 20), Pose(8, 8)), keepouts=(KeepOut("magnet", Contour.circle(30, 18, 3)),)), ["L014"]),
        (_layout((strap(50, 20), Pose(8, 8)), keepouts=(KeepOut("magnet", Contour.circle(73, 18, 5)),)), []),
        (_layout((flange(60, 40), Pose(80, 80)), (flange(34, 10), Pose(80, 80))), []),
        (_layout((flange(60, 40), Pose(80, 80)), (flange(34, 10), Pose(80.1, 80))), ["L013"]),
    ],
)  # fmt: skip
def test_each_broken_rule_is_named(layout: Layout, codes: list[str]) -> None:
    assert [f.code for f in check(layout)] == codes


def test_the_check_shares_nothing_with_the_search() -> None:
    """Only the model, exact geometry, findings and the reach's outline may be imported."""
    tree = ast.parse(Path(checker.__file__).read_text(encoding="utf-8"))
    names = {n.module for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module}
    assert {n for n in names if n.startswith("platewright")} == {
        "platewright.findings",
        "platewright.geometry",
        "platewright.layout.model",
        "platewright.layout.shape.reach",
    }
