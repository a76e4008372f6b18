"""The paper is one page, and paper and picture carry every letter and number there is to read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from platewright.tuning.sheet import SheetOptions, docs_picture, picture, readings_sheet
from tests.paper.helpers import faults, needs_renderer, words
from tests.tuning.helpers import made

JOBS = [("aluminium", 3.0, 45.0, 0.0), ("stainless", 10.0, 65.0, 0.0), ("mild steel", 6.0, 45.0, 400.0)]


@needs_renderer
@pytest.mark.parametrize("paper", ["letter", "A4"])
@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("job", JOBS, ids=str)
def test_one_page_and_nothing_over_its_edge_or_over_anything(
    paper: str, unit: str, job: tuple[str, float, float, float], tmp_path: Path
) -> None:
    cut = made(*job)
    options = SheetOptions(paper, unit, "coupon.ngc", "0" * 64, "go")
    pages = words(readings_sheet(cut.coupon, cut.sheet, options), tmp_path)
    assert len(pages) == 1
    assert faults(pages) == []
    text = " ".join(w.text for w in pages[0][2])
    for said in ("proof says GO", "A top", "hole 1 across", "29 CFR 1910.133", "Local codes"):
        assert said in text


def test_the_picture_carries_every_letter() -> None:
    cut = made(square=400.0)
    shown = set(re.findall(r">([A-Z0-9]+)</text>", picture(cut.coupon)))
    letters = {s.key.split("_")[0] for s in cut.sheet.sizes if s.kind != "hole"}
    assert letters <= shown
    assert {str(r.number) for r in cut.sheet.rungs} <= shown
    assert all(f">{letter}</text>" not in docs_picture() for letter in "XYRL")
