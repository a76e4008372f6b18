"""Every dialect's programs are read back by the interpreter and run along the plan's own path."""

from __future__ import annotations

import numpy as np
import pytest

from platewright.geometry import length
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
