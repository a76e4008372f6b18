"""Whole jobs, from inputs to price, as they were when somebody last looked: ``run.py golden --accept`` keeps a change."""

from __future__ import annotations

from pathlib import Path

import pytest

from tools import golden

JOBS = sorted(p.parent for p in golden.JOBS.glob("*/job.json"))


@pytest.mark.parametrize("folder", JOBS, ids=lambda p: p.name)
def test_a_golden_job_comes_out_as_kept(folder: Path) -> None:
    changed = golden.difference(folder)
    assert not changed, f"look at it, then run.py golden --accept:\n{changed[:4000]}"


def test_a_change_would_be_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "program.txt").write_text("G0 X1\nM3\n")
    monkeypatch.setattr(golden, "made", lambda _: {"program.txt": "G0 X2\nM3\n"})
    shown = golden.difference(tmp_path)
    assert "-G0 X1" in shown
    assert "+G0 X2" in shown
