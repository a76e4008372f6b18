"""Plan and proof agree: kerf, chart row and time come from one law in the table package.

The kerf of the plan is half the distance between the path and the edge asked for; the proof's is read from what it
takes the text to burn. They meet only in ``table``.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platewright.burn.options import BurnOptions, CutChoice
from platewright.burn.plan import plan
from platewright.geometry import Contour, Profile
from platewright.layout.model import Layout
from platewright.program.dialects import dialect_names, load_dialect
from platewright.program.writer import write
from platewright.proof.prove import prove
from platewright.table.chart import Chart, starter_chart
from platewright.table.profile import builtin_tables, load_table
from tests.burn.helpers import random_layout
from tests.proof.helpers import layout_of

GANTRY = load_table("small gantry")


def holes() -> Layout:
    """A plate with a hole of 20 mm and one of 9, and room round them."""
    plate = Profile(
        Contour.rectangle(160, 100, x=60, y=50), (Contour.circle(100, 100, 10), Contour.circle(170, 100, 4.5))
    )
    return layout_of(plate)


@pytest.mark.parametrize("share", [0.3, 0.45, 0.6, 0.8, 1.0, 1.2])
@pytest.mark.parametrize("kerfs", [(0.0, 0.0), (1.6, 0.0), (0.0, 1.9), (1.55, 1.9)])
@pytest.mark.parametrize("dialect", ["plain-mm", "flat-inch"])
def test_a_hole_at_any_speed_comes_out_true(share: float, kerfs: tuple[float, float], dialect: str) -> None:
    """A 20 mm hole at 0.3 of the speed was 0.25 mm off and GO: two laws of kerf."""
    row = replace(starter_chart().row("mild steel", 6.0, 45).row, kerf_hole=kerfs[0], kerf_slow=kerfs[1])
    cuts = tuple(CutChoice(placement=0, contour=n, speed_factor=share) for n in (1, 2))
    burn = plan(holes(), Chart("own", (row,)), GANTRY, BurnOptions(amperage=45, cuts=cuts, effort=0.01))
    text = write(burn, dialect, name="job").text
    (part,) = prove(text, dialect=dialect, table=GANTRY, row=row, layout=burn.layout).parts()
    for deviation in part.deviations[1:]:
        assert abs(deviation.median) < 0.006  # half of 0.01 of kerf, and the text's digits


@pytest.mark.parametrize("table", builtin_tables())
@pytest.mark.parametrize("dialect", dialect_names())
def test_plan_and_text_take_the_same_time(table: str, dialect: str) -> None:
    """The plan was 15 % longer than its text without Z words, 3 % with touch-offs, 1 % with chords: it counted as for none of them."""
    facts, writes = load_table(table), load_dialect(dialect)
    for seed, thickness in ((0, 1.5), (1, 6.0)):
        layout = random_layout(seed, thickness=thickness)
        options = BurnOptions(effort=0.01, tab_below=40.0 if seed else 0.0, chain=bool(seed))
        burn = plan(layout, starter_chart(), facts, options, controller=writes.controller)
        text = write(burn, writes, name="job").text
        proof = prove(text, dialect=writes, table=facts, row=burn.row, layout=layout)
        assert proof.time == pytest.approx(burn.total_time, rel=0.002)
        assert proof.arc_time == pytest.approx(burn.arc_time, rel=0.002)


@pytest.mark.parametrize("dialect", dialect_names())
def test_the_plan_is_timed_as_its_digits_say_it(dialect: str) -> None:
    """Short edges beside corner loops: by an inch's four digits they bend, the table slows, and the plan was 1.7 % short."""
    facts, writes = load_table("long gantry"), load_dialect(dialect)
    turn = np.radians(np.arange(10) * 36 + 3.6)
    star = np.column_stack([np.cos(turn), np.sin(turn)]) * np.where(np.arange(10) % 2, 25.0, 55.0)[:, None]
    layout = layout_of(Profile(Contour.from_points(star + [150.0, 100.0])))
    options = BurnOptions(effort=0.01, corner_loops=True)
    burn = plan(layout, starter_chart(), facts, options, controller=writes.controller)
    proof = prove(
        write(burn, writes, name="job").text, dialect=writes, table=facts, row=burn.row, layout=layout
    )
    assert proof.time == pytest.approx(burn.total_time, rel=1e-4)
    assert proof.arc_time == pytest.approx(burn.arc_time, rel=1e-4)


@pytest.mark.parametrize("dialect", ["plain-mm", "probe-mm", "flat-inch"])
def test_no_start_in_the_open_waits_for_a_pierce_and_the_proof_wants_none(dialect: str) -> None:
    """An arc that stands at an edge gouges it: no delay at the plate's edge and in the kerf of a common line, unless asked for."""
    row = starter_chart().row("mild steel", 6.0, 45).row
    pair = layout_of(
        Profile(Contour.rectangle(80, 60, x=40, y=40)),
        Profile(Contour.rectangle(80, 60, x=120 + row.kerf, y=40)),
    )
    edge = layout_of(Profile(Contour.rectangle(120, 80, x=5, y=60)))
    writes = load_dialect(dialect)
    for layout, chosen in ((pair, {"common_line": True}), (edge, {"edge_start": True})):
        for delay in (0.0, 0.3):
            options = BurnOptions(amperage=45, effort=0.01, edge_delay=delay, **chosen)
            burn = plan(layout, Chart("own", (row,)), GANTRY, options, controller=writes.controller)
            assert {c.pierce_delay for c in burn.cuts if not c.pierced} == {delay}
            assert {c.pierce_delay for c in burn.cuts if c.pierced} <= {row.pierce_delay}
            proof = prove(
                write(burn, writes, name="job").text,
                dialect=writes,
                table=GANTRY,
                row=row,
                layout=burn.layout,
            )
            assert proof.time == pytest.approx(burn.total_time, rel=1e-3)
            assert not {"P028", "P030", "P046", "P057", "P078"} & {f.code for f in proof.findings}
