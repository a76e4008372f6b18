"""The gates between a photo and a cut: cards, camera, region and edges written down by hand, each gate open and shut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.findings import Finding
from platewright.pattern.capture.camera.detect import Sighting
from platewright.pattern.capture.camera.lens import View
from platewright.pattern.capture.camera.solve import Solved
from platewright.pattern.capture.checks import card_gates, edge_gates, region_gates, solution_gates
from platewright.pattern.capture.edge.search import Edge
from platewright.pattern.capture.region.colour import Region

FOCAL, HIGH = 3000.0, 900.0  # [px], [mm]: a pixel is 0.3 mm on the bench


def seen(number: int, *, readable: bool = True, blur: float = 1.0) -> Sighting:
    count = 20 if readable else 3
    return Sighting(
        card=number,
        marker=np.zeros((4, 2)),
        which=np.arange(count),
        pixels=np.zeros((count, 2)),
        blur=blur,
        square=30.0,
    )


def solved(*, tilt: float = 15.0, miss: float = 0.2, off: float = 0.0, lift: float = 0.0) -> Solved:
    """Return a camera over three cards, tilted [deg]; one card misses its own size by `off` [-] or is lifted [mm]."""
    a = np.radians(tilt)
    down = np.diag([1.0, -1.0, -1.0])
    turn = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]]) @ down
    view = View(np.array([np.log(FOCAL), 2016, 1512, 0, 0, 0, 0.0]), turn, -turn @ np.array([0.0, 0.0, HIGH]))
    places = np.zeros((3, 9))
    places[1, 3] = lift
    return Solved(
        views=(view,),
        places=places,
        cards=(1, 2, 1003),
        noise=0.1,
        reprojection=(miss,),
        covariance=np.eye(13),
        left_out=(0.0, 0.0, off),
        hull=np.array([[0, 0], [300, 0], [300, 200], [0, 200.0]]),
    )


def camera(blur: float = 1.0, **how: float) -> list[tuple[str, str]]:
    cards = [seen(k, blur=blur) for k in (1, 2, 3)]
    return coded(solution_gates(solved(**how), cards, size=(4032, 3024), photo=0))


def coded(findings: list[Finding]) -> list[tuple[str, str]]:
    return [(f.code, f.severity) for f in findings]


def test_a_card_seen_and_not_readable_is_named() -> None:
    cards = [seen(k) for k in (1, 2, 3)]
    assert card_gates(cards, "") == []
    (told,) = card_gates([*cards, seen(4, readable=False), seen(7, readable=False)], "")
    assert told.code == "C003"
    assert "4, 7" in told.text
    poor = [seen(k, readable=False) for k in (1, 2, 3)]
    assert [f.code for f in card_gates(poor, "")] == ["C003", "C002"]


def test_a_good_camera_says_nothing() -> None:
    assert camera() == []


@pytest.mark.parametrize(
    ("how", "told"),
    [
        ({"miss": 0.49}, []),
        ({"miss": 0.6}, [("C004", "look")]),
        ({"miss": 1.1}, [("C004", "stop")]),
        ({"off": -0.0014}, []),
        ({"off": -0.002}, [("C005", "look")]),
        ({"off": 0.007}, [("C005", "stop")]),
        ({"lift": 0.7}, []),
        ({"lift": 0.9}, [("C020", "look")]),
        ({"tilt": 4.5}, []),
        ({"tilt": 3.5}, [("C019", "note")]),
        ({"blur": 2.6}, []),  # 0.78 mm of 0.3 mm pixels
        ({"blur": 3.0}, [("C018", "look")]),
        ({"blur": 5.5}, [("C018", "stop")]),
    ],
)
def test_what_the_camera_misses_is_told_by_how_much(
    how: dict[str, float], told: list[tuple[str, str]]
) -> None:
    assert camera(**how) == told


def test_the_card_of_another_sheet_is_named_by_the_number_printed_on_it() -> None:
    (told,) = solution_gates(solved(off=0.002), [seen(1)], size=(4032, 3024), photo=0)
    assert told.text.startswith("Card 3, left out of the solution, comes out 0.2 %")


LOOP = np.array([[20, 20], [120, 20], [120, 100], [20, 100.0]])
PLAIN = Region(loops=(LOOP,), separation=9.0)


@pytest.mark.parametrize(
    ("region", "how", "told"),
    [
        (PLAIN, {}, []),
        (replace(PLAIN, separation=4.4), {}, [("C007", "stop")]),
        (replace(PLAIN, separation=4.4), {"painted": True}, [("C024", "note")]),
        (replace(PLAIN, rivals=(900.0, 850.0)), {}, [("C009", "look")]),
        (replace(PLAIN, dirt=((50.0, 60.0), (70.0, 60.0))), {}, [("C010", "look"), ("C010", "look")]),
        (replace(PLAIN, touches_card=True), {}, [("C011", "stop")]),
        (replace(PLAIN, leaves_view=True), {}, [("C012", "stop")]),
        (PLAIN, {"holes_typed": 0}, []),
        (PLAIN, {"holes_typed": 2}, [("C014", "look")]),
        (replace(PLAIN, loops=(LOOP, LOOP / 4)), {"holes_typed": 0}, [("C014", "look")]),
    ],
)
def test_what_the_region_cannot_vouch_for_is_told(
    region: Region, how: dict[str, object], told: list[tuple[str, str]]
) -> None:
    options = {"holes_typed": None, "painted": False, "photos": 1} | how
    assert coded(region_gates(region, **options)) == told  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("reach", "told"),
    [(11.0, []), (14.0, [("C006", "look")]), (60.0, [("C006", "stop")])],
)
def test_a_template_beyond_the_ring_is_told_by_how_far(reach: float, told: list[tuple[str, str]]) -> None:
    # a template 130 mm long whose right end is so far outside the ring, which ends at 300 mm; 0.3 of its length is 39 mm
    along = np.linspace(170.0, 300.0, 51) + reach
    across = np.full(51, 80.0)
    points = np.vstack([np.column_stack([along, across]), np.column_stack([along[::-1], across + 40])])
    edge = Edge(points=points, sd=np.full(len(points), 0.03), fair=1.0, blind=0.0)
    assert coded(edge_gates([edge], solved().hull)) == told
