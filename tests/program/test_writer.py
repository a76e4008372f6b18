"""Every dialect's programs are read back by the interpreter and run along the plan's own path."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.witness import dialect as witness_dialect
from benchmarks.witness.reader import read as witness_read

from platewright.geometry import Floats, flatten, length
from platewright.program.dialects import dialect_names, load_dialect
from platewright.program.interpreter import interpret
from platewright.program.writer import outline, rehearsal, resume, write
from tests.program.helpers import washer_plan


@pytest.mark.parametrize("name", dialect_names())
def test_a_written_program_reads_back_clean_and_of_the_same_length(name: str) -> None:
    plan = washer_plan()
    program = write(plan, name, name="washers")
    run = interpret(program.text, name)
    assert run.findings == ()
    flat = run.moves.torch & (np.abs(run.moves.end[:, 2] - run.moves.start[:, 2]) < 1e-9)
    burned = float(run.moves.lengths()[flat].sum())
    assert burned == pytest.approx(sum(length(c.path) for c in plan.cuts), rel=3e-3)
    assert len(program.cut_lines) == 4
    for number in program.cut_lines:
        assert "M3" in program.text.split("\n")[number - 1]


@pytest.mark.parametrize("name", dialect_names())
def test_rehearsal_outline_and_resume_read_back_clean(name: str) -> None:
    plan, has_z = washer_plan(), load_dialect(name).has_z
    for program in (rehearsal(plan, name, name="r"), outline(plan, name), outline(plan, name, shape="hull")):
        run = interpret(program.text, name)
        assert run.findings == ()
        assert not run.moves.torch.any()
        if has_z:
            assert run.moves.end[:, 2].min() >= plan.table.safe_height - 1e-3
    rest = interpret(resume(plan, name, first_cut=3).text, name)
    assert sum(e.what == "torch-on" for e in rest.events) == 2


def _evenly(points: Floats, count: int = 200) -> Floats:
    """Return places at even lengths along a polyline, from its start to its end."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0, along[-1], count)
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)])


@pytest.mark.parametrize("name", dialect_names())
def test_the_torch_runs_the_plans_path_in_its_own_sense(name: str) -> None:
    """Read by the witness, which shares nothing with the project: place for place, so a swapped arc or way back is far off."""
    plan = washer_plan()
    text = write(plan, name, name="washers").text
    ways: list[list[Floats]] = []
    lit = False
    for event in witness_read(text, witness_dialect.load(name)).events:
        if event.lit and not lit:
            ways.append([])
        lit = event.lit
        if lit and event.moves:
            ways[-1].append(event.points)
    assert len(ways) == len(plan.cuts)
    for way, cut in zip(ways, plan.cuts, strict=True):
        ran = _evenly(np.vstack(way))
        meant = _evenly(flatten(cut.path, tolerance=0.001))
        assert np.hypot(*(ran - meant).T).max() < 0.1
        assert np.hypot(*(ran[::-1] - meant).T).max() > 5  # the same path run backwards would be seen
