"""Dragging: what is called legal passes the exact check, and the nearest place is near."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.packing.shapes import bracket, flange, gusset, strap

from platewright.errors import InputError
from platewright.geometry import Contour, Pose
from platewright.layout.check import check
from platewright.layout.drag import pick_up
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import KeepOut, Layout, Wanted
from platewright.stock.model import Plate


@pytest.fixture(scope="module")
def layout() -> Layout:
    wanted = [
        Wanted(part=flange(140, 90), quantity=12),
        Wanted(part=gusset(120, 150), quantity=12),
        Wanted(part=bracket(200, 160, 50), quantity=12),
    ]
    wanted += [
        Wanted(part=flange(40, 20, "washer"), quantity=12),
        Wanted(part=strap(200, 40, 10), quantity=12),
    ]
    magnet = KeepOut("magnet", Contour.circle(700, 1900, 60))
    out = lay(wanted, Plate.sheet("sheet", 1220, 2440, 6), keepouts=[magnet], options=LayOptions(seconds=0))
    assert out.findings == ()
    return out.layouts[0]


def _moved(layout: Layout, index: int, pose: Pose) -> Layout:
    return replace(
        layout,
        placements=tuple(replace(p, pose=pose) if i == index else p for i, p in enumerate(layout.placements)),
    )


@pytest.mark.parametrize(("index", "angle"), [(0, None), (14, 0.3), (30, 1.0), (40, None), (55, 2.0)])
def test_every_answer_passes_the_exact_check(layout: Layout, index: int, angle: float | None) -> None:
    held = pick_up(layout, index, angle=angle)
    rng = np.random.default_rng(index)
    for x, y in zip(rng.uniform(-100, 1320, 5), rng.uniform(-100, 2540, 5), strict=True):
        spot = held.at(float(x), float(y))
        assert spot.nearest is not None
        assert check(_moved(layout, index, spot.nearest)) == ()
        legal = check(_moved(layout, index, Pose(float(x), float(y), held.angle, held.mirrored))) == ()
        assert legal or not spot.legal


def test_no_nearer_place_is_legal(layout: Layout) -> None:
    held = pick_up(layout, 30)
    rng = np.random.default_rng(2)
    for x, y in zip(rng.uniform(100, 1100, 5), rng.uniform(100, 1200, 5), strict=True):
        near = held.at(float(x), float(y)).nearest
        assert near is not None
        away = np.hypot(near.x - x, near.y - y)
        for angle in np.linspace(0, 2 * np.pi, 24):
            for far in (0.5, 0.9):
                place = Pose(x + far * away * np.cos(angle), y + far * away * np.sin(angle), held.angle)
                if away > 1.0:
                    assert not held.at(place.x, place.y).legal


def test_sixty_parts_are_dragged_sixty_times_a_second(layout: Layout) -> None:
    held = pick_up(layout, 30)
    held.at(0.0, 0.0)
    began = time.process_time()
    for k in range(60):
        held.at(10.0 * k, 20.0 * k)
    assert time.process_time() - began < 0.5  # a second holds sixty; measured under 1 ms


def test_a_placement_that_is_not_there_is_a_sentence(layout: Layout) -> None:
    with pytest.raises(InputError, match="no placement 99"):
        pick_up(layout, 99)
    with pytest.raises(InputError, match="finite"):
        pick_up(layout, 0).at(float("nan"), 0.0)
