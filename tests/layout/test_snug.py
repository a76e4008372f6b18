"""The exact finish: touching distances by closed form and by a second library on dense chords; nothing jumps, nothing grows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from benchmarks.packing.outside import measured
from benchmarks.packing.shapes import generated
from scipy.optimize import brentq

from platewright.geometry import Contour, Pose, Profile
from platewright.layout.check import check
from platewright.layout.lay import LayOptions, lay
from platewright.layout.model import Clearance, KeepOut, Layout, Placement, Wanted
from platewright.layout.snug import snug
from platewright.part.model import Part
from platewright.stock.model import Plate
from platewright.table.model import Gantry

DISC = Part(name="disc", profile=Profile(Contour.circle(0, 0, 40)), thickness=6.0)
RING = Part(
    name="ring", profile=Profile(Contour.circle(0, 0, 150), (Contour.circle(0, 0, 120),)), thickness=6.0
)


def _end(layout: Layout) -> float:
    return max(p.bounds().x1 for _, _, p in layout.placed())


def test_three_discs_close_up_to_the_shortest_zigzag() -> None:
    plate = Plate.sheet("s", 600, 130, 6.0)
    spots = [(47.5, 47.2), (130.1, 83.0), (214.0, 47.3)]
    layout = Layout(
        plate=plate,
        parts=(DISC,),
        placements=tuple(Placement(0, Pose(x, y), i + 1) for i, (x, y) in enumerate(spots)),
        keepouts=(),
        clearance=Clearance(6, 6),
    )
    made = snug(layout, 0.0, turns=frozenset())
    step = math.sqrt(86.0**2 - (130 - 12 - 80) ** 2)
    assert _end(made) == pytest.approx(6 + 40 + 2 * step + 40, abs=1e-5)
    assert not check(made)


def test_a_disc_in_a_bore_touches_the_bore_from_inside() -> None:
    layout = Layout(
        plate=Plate.sheet("s", 400, 400, 6.0), parts=(RING, DISC),
        placements=(Placement(0, Pose(156.2, 156.3)), Placement(1, Pose(100.0, 150.0))), keepouts=(), clearance=Clearance(6, 6),
    )  # fmt: skip
    made = snug(layout, 0.0, turns=frozenset())
    (ring, disc) = (p.pose for p in made.placements)
    assert (ring.x, ring.y) == pytest.approx((156, 156), abs=1e-5)
    assert math.hypot(disc.x - ring.x, disc.y - ring.y) <= 120 - 40 - 6 + 1e-6
    assert not check(made)


def test_a_long_bar_leans_as_far_as_the_plate_is_high() -> None:
    bar = Part(name="bar", profile=Profile(Contour.rectangle(200, 20)), thickness=6.0)
    lean = math.radians(40)
    layout = Layout(
        plate=Plate.sheet("s", 400, 170, 6.0),
        parts=(bar,),
        placements=(Placement(0, Pose(21.0, 8.0, lean)),),
        keepouts=(),
        clearance=Clearance(6, 6),
    )
    assert not check(layout)
    for _ in range(12):
        layout = snug(layout, 0.0, turns={0})
    best = brentq(lambda a: 200 * math.sin(a) + 20 * math.cos(a) - 158, 0.1, 1.2)
    assert _end(layout) == pytest.approx(6 + 200 * math.cos(best) + 20 * math.sin(best), abs=1e-3)
    assert not check(layout)


def test_without_turns_no_angle_changes_and_locked_pieces_stay() -> None:
    spots = (Placement(0, Pose(60, 60, 0.3), 1, locked=True), Placement(0, Pose(160, 70, 0.1), 2))
    layout = Layout(
        plate=Plate.sheet("s", 600, 300, 6.0),
        parts=(DISC,),
        placements=spots,
        keepouts=(),
        clearance=Clearance(6, 6),
    )
    made = snug(layout, 0.0, turns=frozenset())
    assert made.placements[0] == spots[0]
    assert made.placements[1].pose.angle == 0.1
    assert made.placements[1].pose.x < 160


def _spare(seed: int) -> list[float]:
    """Return how much farther than asked pieces lie from what is beside them [mm], in a layout that breaks no distance."""
    rng = np.random.default_rng(700 + seed)
    wanted = [Wanted(part=generated(rng, i), quantity=int(rng.integers(1, 5))) for i in range(5)]
    magnet = KeepOut("magnet", Contour.circle(150.0, 200.0, 25.0))
    clear = Clearance(float(rng.uniform(2, 9)), float(rng.uniform(0, 12)) * (seed % 4 > 0), 8.0)
    rotations = "free" if seed % 2 else "quarter"
    out = lay(
        wanted, Plate.sheet("s", 900, 700, 6.0), keepouts=[magnet], clearance=clear,
        reach=Gantry(0.0, 0.0, 880.0, 690.0) if seed == 5 else None, options=LayOptions(steps=150, rotations=rotations),
    )  # fmt: skip
    found = measured(out.layouts[0].as_dict())
    assert found.broken == 0
    return list(found.spare)


def test_touching_distances_are_the_clearance_to_a_two_hundredth_of_a_millimetre() -> None:
    spare = np.array([gap for seed in range(8) for gap in _spare(seed)])
    assert np.mean(spare[spare < 0.5] <= 0.005) > 0.98
    assert np.mean(spare < 0.005) > 0.8  # and nearly everything does touch


def test_a_disc_that_exactly_fills_a_plate_is_laid_on_it() -> None:
    part = Part(name="d", profile=Profile(Contour.circle(0, 0, 50)), thickness=6.0)
    for count, width, height in ((1, 112, 112), (2, 218, 112), (4, 218, 218)):
        out = lay(
            [Wanted(part=part, quantity=count)],
            Plate.sheet("s", width, height, 6.0),
            options=LayOptions(seconds=0),
        )
        assert len(out.layouts[0].placements) == count
    out = lay([Wanted(part=part)], Plate.sheet("s", 111.99, 112, 6.0), options=LayOptions(seconds=0))
    assert [f.code for f in out.findings] == ["L001"]
