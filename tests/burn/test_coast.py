"""The arc goes out on the run at the end of a hole: where the word stands in the text, and what an arc that lags makes of it."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Layout, Placement
from platewright.part.model import Part
from platewright.program.dialects import load_dialect
from platewright.program.writer import write
from platewright.proof.prove import prove
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table

TABLE, CHART = load_table("small gantry"), starter_chart()
CENTRE, DIAMETER = (80.0, 90.0), 14.0
HOLES = Profile(
    Contour.rectangle(120, 80), (Contour.circle(30, 40, 7, clockwise=True), Contour.circle(80, 40, 25, clockwise=True))
)  # fmt: skip


def planned(dialect: str = "plain-mm", *, delay: float = 0.0, **options: float) -> BurnPlan:
    layout = Layout(
        plate=Plate.sheet("s", 300, 200, 6),
        parts=(Part(name="plate", profile=HOLES, thickness=6.0),),
        placements=(Placement(0, Pose(50, 50)),),
    )
    table = replace(TABLE, off_delay=delay)
    chosen = BurnOptions(amperage=45.0, effort=0.02, **options)  # type: ignore[arg-type]
    return plan(layout, CHART, table, chosen, controller=load_dialect(dialect).controller)


def hole_spots(text: str) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    """Return where the small hole's contour begins, where its arc is put out, and where the torch lifts, by reading the text."""
    here, ring, out = (0.0, 0.0), [], None
    for line in text.splitlines():
        if (x := re.search(r"X([-\d.]+)", line)) and (y := re.search(r"Y([-\d.]+)", line)):
            here = (float(x.group(1)), float(y.group(1)))
            if math.dist(here, CENTRE) < DIAMETER / 2 and math.dist(here, CENTRE) > 3:
                ring.append(here)
        elif line == "M5" and ring and out is None:
            out = here
        elif line.startswith("G0 Z20") and out is not None:
            return ring[0], out, here
    raise AssertionError("no hole in the text")


def angle(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return how far round the hole, in the sense of the cut, b lies from a [rad]."""
    turn = [math.atan2(p[1] - CENTRE[1], p[0] - CENTRE[0]) for p in (a, b)]
    return (turn[1] - turn[0]) % (2 * math.pi)


def test_the_torch_is_put_out_where_the_hole_closes_and_moves_on() -> None:
    made = planned()
    begin, out, end = hole_spots(write(made, "plain-mm", name="job").text)
    radius = math.dist(out, CENTRE)
    assert math.dist(begin, out) < 0.002
    ran_on = angle(out, end) * radius
    assert ran_on == pytest.approx(min(6.0, 0.25 * made.cuts[0].speeds[0]), abs=0.01)
    assert f"moves on {ran_on:.1f} mm" in " ".join(made.cuts[0].why)


def test_an_arc_known_to_lag_is_put_out_earlier_and_the_proof_lets_it_burn_on() -> None:
    made = planned(delay=0.2)
    text = write(made, "plain-mm", name="job").text
    begin, out, _ = hole_spots(text)
    assert angle(out, begin) * math.dist(out, CENTRE) == pytest.approx(0.2 * made.cuts[0].speeds[0], abs=0.01)
    seen = prove(text, dialect="plain-mm", table=made.table, row=made.row, layout=made.layout)
    assert seen.verdict == "go"
    assert seen.arc_time == pytest.approx(made.arc_time, abs=1e-3)
    assert seen.time == pytest.approx(made.total_time, abs=1e-3)
    # on a table whose arc dies at once the same program leaves metal standing on the edge
    quick = prove(text, dialect="plain-mm", table=TABLE, row=made.row, layout=made.layout)
    assert quick.verdict == "look"
    assert "P044" in {f.code for f in quick.findings}


@pytest.mark.parametrize("dialect", ["plain-inch", "probe-mm", "flat-mm", "chords-mm", "small-mm"])
def test_every_dialect_writes_it_and_the_proof_counts_the_same_times(dialect: str) -> None:
    made = planned(dialect, hole_overburn=1.0)
    seen = prove(
        write(made, dialect, name="job").text, dialect=dialect, table=TABLE, row=made.row, layout=made.layout
    )
    assert seen.verdict == "go"
    assert seen.time == pytest.approx(made.total_time, abs=0.03)


def test_a_choice_serves_every_hole_and_nought_stops_with_the_arc() -> None:
    every = planned(hole_coast=3.0)
    assert [bool(c.coast_edges) for c in every.cuts] == [c.kind == "hole" for c in every.cuts]
    assert not any(c.coast_edges for c in planned(hole_coast=0.0).cuts)
    assert not any(c.coast_edges for c in planned(hole_overburn=-1.0).cuts)


def test_a_dialect_that_lifts_in_the_same_line_is_planned_without_and_refuses_a_plan_with() -> None:
    text = 'name = "one-line"\ntitle = "t"\nabout = "a"\nextends = "plain-mm"\n[sequence]\noff = ["M5 G0 Z{safe_height}"]\n'
    with pytest.raises(InputError, match="Plan the burn again"):
        write(planned(), text, name="job")
    assert not any(c.coast_edges for c in planned(text).cuts)
