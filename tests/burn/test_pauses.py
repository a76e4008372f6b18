"""Pauses by choice: the text is read back, and duty and air are judged by plain sums over its clock."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from platewright.burn.model import BurnPlan
from platewright.burn.options import BurnOptions
from platewright.burn.pauses import duty_wait
from platewright.burn.plan import plan
from platewright.errors import InputError
from platewright.program.dialects import dialect_names, load_dialect
from platewright.program.interpreter import interpret
from platewright.program.run import Kind
from platewright.program.writer import write
from platewright.proof.burns import read_torch
from platewright.proof.prove import prove
from platewright.proof.timing import timed_run
from platewright.table.chart import starter_chart
from platewright.table.model import AirSupply, Consumables, PowerSource, TableProfile
from platewright.table.profile import load_table
from tests.burn.helpers import random_layout

TABLE = load_table("small gantry")
CHART = starter_chart()
QUICK = BurnOptions(amperage=45.0, effort=0.02)


def planned(table: TableProfile, dialect: str, *, seed: int = 3, **more: object) -> BurnPlan:
    options = replace(QUICK, **more)  # type: ignore[arg-type]
    return plan(random_layout(seed), CHART, table, options, controller=load_dialect(dialect).controller)


def clock(burn: BurnPlan, dialect: str) -> tuple[tuple[float, float], ...]:
    """Return when the arc burns, by the proof's reading of the text [s]."""
    run = interpret(write(burn, dialect, name="job").text, load_dialect(dialect))
    timing = timed_run(run, read_torch(run, burn.row), burn.table)
    assert timing.total == pytest.approx(burn.total_time, rel=0.002)
    return timing.clock


def worst(spans: tuple[tuple[float, float], ...], window: float = 600.0) -> float:
    """Scan windows every tenth of a second: the most arc time in one [s]."""
    end = spans[-1][1]
    return max(
        sum(max(0.0, min(b, t + window) - max(a, t)) for a, b in spans) for t in np.arange(-window, end, 0.5)
    )


@pytest.mark.parametrize("dialect", dialect_names())
def test_waits_keep_the_duty_of_a_weak_source(dialect: str) -> None:
    weak = replace(TABLE, source=PowerSource(45, 0.05, 65))  # 30 s in any 10 minutes
    bare, calm = planned(weak, dialect), planned(weak, dialect, pause_duty=True)
    longest = max(off - on for on, off in clock(bare, dialect))
    assert longest < 30 < worst(clock(bare, dialect))
    assert worst(clock(calm, dialect)) <= 30.05
    codes = {f.code for f in calm.findings}
    assert "B031" in codes
    assert "B013" not in codes
    assert "B013" in {f.code for f in bare.findings}


def test_the_wait_is_the_shortest_that_keeps_the_duty() -> None:
    burns = [(0.0, 100.0), (150.0, 250.0), (300.0, 350.0)]
    wait = duty_wait(burns, 400.0, 460.0, 200.0)
    held = (400.0 + wait, 460.0 + wait)

    def most(extra: float) -> float:
        spans = (*burns, (held[0] + extra, held[1] + extra))
        return max(
            sum(max(0.0, min(b, t + 600) - max(a, t)) for a, b in spans) for t in np.arange(-600, 1200, 0.25)
        )

    # before the burn 250 s lie in the window; 140 may stay: 50 of the last, 90 of the one before, from 160 s on
    assert wait == pytest.approx(160 + 600 - 460)
    assert sum(max(0.0, min(b, held[1]) - max(a, held[1] - 600)) for a, b in (*burns, held)) == pytest.approx(
        200
    )
    assert most(-1.0) > 200.5
    assert duty_wait([], 0.0, 700.0, 300.0) == 0.0  # a burn longer than that cannot be helped


def test_waits_let_the_tank_fill() -> None:
    small = replace(TABLE, air=AirSupply(100, 60, 620, 900))
    bare, calm = planned(small, "plain-mm", seed=5), planned(small, "plain-mm", seed=5, pause_air=True)
    assert "B014" in {f.code for f in bare.findings}
    assert "B014" not in {f.code for f in calm.findings}
    assert calm.total_time > bare.total_time + 5


@pytest.mark.parametrize("dialect", dialect_names())
def test_stops_come_with_the_torch_out_and_up(dialect: str) -> None:
    worn = replace(TABLE, consumables=Consumables(3, 1e6))
    burn = planned(worn, dialect, pause_tip=True, pause_every=25.0)
    text = write(burn, dialect, name="job").text
    run = interpret(text, load_dialect(dialect))
    stops = np.flatnonzero(run.moves.kind == Kind.STOP)
    assert len(stops) == sum(c.pause is not None for c in burn.cuts) > 2
    assert not run.moves.torch[stops].any()
    if load_dialect(dialect).has_z:
        assert run.moves.start[stops, 2] == pytest.approx(TABLE.safe_height, abs=0.01)
    since, most = 0, 0
    for cut in burn.cuts:
        since = 0 if cut.pause and cut.pause.why == "tip" else since
        since += cut.pierced
        most = max(most, since)
    assert most == 3
    clock(burn, dialect)


def test_post_flow_is_waited_for_after_every_cut() -> None:
    plain, aired = planned(TABLE, "plain-mm"), planned(TABLE, "plain-mm", post_flow=4.0)
    assert aired.total_time - plain.total_time == pytest.approx(4.0 * len(plain.cuts), abs=0.01)
    text = write(aired, "plain-mm", name="job").text
    assert len(re.findall(r"\nG0 Z20\nG4 P4\n", text)) == len(aired.cuts)
    clock(aired, "plain-mm")


def test_without_a_word_for_it_no_pause_is_claimed() -> None:
    mute = load_dialect(
        'name = "mute"\ntitle = "t"\nabout = "a"\nextends = "plain-mm"\n[sequence]\nstop = []\n'
    )
    worn = replace(TABLE, consumables=Consumables(5, 1e6))
    burn = plan(random_layout(3), CHART, worn, replace(QUICK, pause_tip=True), controller=mute.controller)
    assert [f.code for f in burn.findings if f.code in ("B032", "B033")] == ["B033"]
    assert "M0" not in write(burn, mute, name="job").text.replace("M0 ", "")


@pytest.mark.parametrize(
    ("name", "value"), [("post_flow", 200.0), ("touch_every", -1.0), ("pause_every", -5.0)]
)
def test_what_cannot_be_is_refused(name: str, value: float) -> None:
    with pytest.raises(InputError, match=name):
        BurnOptions(**{name: value})  # type: ignore[arg-type]


def test_pierces_dwell_longer_as_the_tip_wears_and_the_proof_agrees() -> None:
    life = replace(TABLE, consumables=Consumables(10, 3600.0))
    plain, worn = planned(life, "plain-mm"), planned(life, "plain-mm", worn_delay=0.5)
    delay = plain.row.pierce_delay
    pierced = [c.pierce_delay for c in worn.cuts if c.pierced]
    assert len(pierced) > 2
    assert pierced == pytest.approx(
        [delay * (1 + 0.5 * min(n, 10) / 10) for n in range(len(pierced))], abs=0.001
    )
    assert {c.pierce_delay for c in plain.cuts if c.pierced} == {delay}
    clock(worn, "plain-mm")  # plan and text take the same time
    text = write(worn, "plain-mm", name="job").text
    proof = prove(text, dialect="plain-mm", table=life, row=worn.row, layout=worn.layout)
    assert not {"P028", "P030", "P057"} & {f.code for f in proof.findings}
    unknown = replace(TABLE, consumables=None)
    assert {c.pierce_delay for c in planned(unknown, "plain-mm", worn_delay=0.5).cuts} <= {delay, 0.0}
