"""What leads must keep clear of, against a polygon library that measures to every whole outline."""

from __future__ import annotations

import numpy as np
import shapely

from platewright.burn.cuts.obstacles import KEEPOUT, PLATE, Clear, Obstacles
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.stock.plates import drop
from tests.burn.helpers import ring

MANY = Contour.from_points([(40 * np.cos(a), 40 * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 31)[:-1]])
"""Thirty edges, more than two chains hold."""
CLEAR = Clear(
    lead_own=2.0, lead_other=5.0, lead_plate=3.0, pierce_own=6.0, pierce_other=9.0, pierce_plate=7.0
)


def _layout() -> Layout:
    parts = (
        Part(name="many", profile=Profile(MANY, (Contour.circle(0, 0, 15),)), thickness=6.0),
        Part(name="arc", profile=Profile(Contour.circle(0, 0, 30)), thickness=6.0),
    )
    plate = drop("holed", Contour.rectangle(240, 160), 6.0, holes=[Contour.circle(120, 130, 12)])
    return Layout(
        plate=plate, parts=parts, placements=(Placement(0, Pose(60, 60)), Placement(1, Pose(170, 60))),
        keepouts=(KeepOut("magnet", Contour.rectangle(20, 20, x=200, y=120)),),
    )  # fmt: skip


def _outlines(layout: Layout) -> list[tuple[int, shapely.LinearRing]]:
    found = [(i, c) for i, (_, _, p) in enumerate(layout.placed()) for c in p.contours()]
    found += [(PLATE, c) for c in layout.plate.profile.contours()]
    found += [(KEEPOUT, k.contour) for k in layout.keepouts]
    return [(owner, shapely.LinearRing(ring(c)[:-1])) for owner, c in found]


def test_a_lead_is_legal_where_path_and_pierce_keep_their_distances_from_every_outline() -> None:
    """Leads of 4 mm anywhere on the plate, among them over the 12th and 13th edge, the closing edge, old hole and keep-out."""
    layout, rng = _layout(), np.random.default_rng(4)
    start = rng.uniform((0, 0), (240, 160), (4000, 2))
    turn = rng.uniform(0, 2 * np.pi, 4000)
    way = (
        start[:, None, :]
        + np.linspace(0, 4, 5)[:, None] * np.stack([np.cos(turn), np.sin(turn)], -1)[:, None, :]
    )
    lines, pierces = shapely.linestrings(way), shapely.points(start)
    outlines = _outlines(layout)
    for own in (0, 1):
        slack = np.full(len(way), np.inf)
        for owner, outline in outlines:
            lead, pierce = {own: (2.0, 6.0), PLATE: (3.0, 7.0), KEEPOUT: (3.0, 7.0)}.get(owner, (5.0, 9.0))
            slack = np.minimum(slack, shapely.distance(lines, outline) - lead)
            slack = np.minimum(slack, shapely.distance(pierces, outline) - pierce)
        plain = np.abs(slack) > 0.03
        legal = Obstacles.of(layout).legal(way, own, CLEAR)
        assert 200 < legal.sum() < 3000
        np.testing.assert_array_equal(legal[plain], (slack > 0)[plain])


def test_what_a_path_comes_near_is_told_its_own_part_aside() -> None:
    obstacles = Obstacles.of(_layout())
    across = np.array([[60.0, 60.0], [215.0, 60.0]])
    assert obstacles.crossing(across, 0, 1.0).tolist() == [1]
    assert obstacles.crossing(across, 1, 1.0).tolist() == [0]
    assert obstacles.crossing(across + [0, 62], 0, 1.0).tolist() == [KEEPOUT, PLATE]
    assert obstacles.crossing(across, 1, 26.0).tolist() == [PLATE, 0]
    assert obstacles.crossing(across, 1, 24.0).tolist() == [0]
