"""A number of sets is laid, planned and costed for real: as many pieces, and what is shared only once."""

from __future__ import annotations

from collections import Counter

import pytest

from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.price.sets import costed_sets, merged
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table

LEG = Part(
    name="leg",
    profile=Profile(Contour.from_points([(0, 0), (60, 0), (60, 20), (20, 20), (20, 40), (0, 40)])),
    thickness=6.0,
)
TAB = Part(name="tab", profile=Profile(Contour.rectangle(30, 20)), thickness=6.0)


def test_two_sets_hold_twice_the_pieces_of_each_hand() -> None:
    spots = [
        Placement(0, Pose(20, 20), 1),
        Placement(0, Pose(20, 80), 2),
        Placement(0, Pose(180, 20, 0.0, True), 1),
    ]
    layout = Layout(
        plate=Plate.sheet("s", 400, 300, 6.0),
        parts=(LEG, TAB),
        placements=(*spots, Placement(1, Pose(220, 100), 1)),
    )
    chart = starter_chart()
    one = plan(layout, chart, load_table("small gantry"))
    told: list[float] = []
    costed = costed_sets([one], chart, on_progress=lambda done, _: told.append(done))
    single, double = costed(1), costed(2)
    assert Counter(c.name for c in single.job.copies) == {"leg": 3, "tab": 1}
    assert Counter(c.name for c in double.job.copies) == {"leg": 6, "tab": 2}
    assert double.job.different_parts == 2
    assert single.total < double.total < 2 * single.total
    assert 0 < max(told) <= 1
    assert told == sorted(told)


def test_plates_of_different_metal_are_not_one_job() -> None:
    with pytest.raises(InputError, match="different metal"):
        merged([])
