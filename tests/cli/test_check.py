"""The check from the command line: a rendered photo of a cut part, its report, its picture; slips told."""

from __future__ import annotations

from pathlib import Path

import pytest
from benchmarks.cut_part import cut_scene, nominal_part
from examples.camera.render import cached

from platewright.cli.common import save_document
from platewright.part.ops import from_profile
from tests.cli.helpers import Shell

CACHE = Path(__file__).parents[1] / ".cache"


def test_a_photo_of_a_cut_part(shell: Shell) -> None:
    part = from_profile(
        nominal_part(), name="plate", thickness=6.0, grade="mild steel", came_from="dimensions"
    )
    save_document(shell.folder / "plate.part.json", part.as_dict())
    (shell.folder / "cut.jpg").write_bytes(cached(cut_scene(1, kerf=0.3, oval=0.4), CACHE))
    words = (
        "check",
        "cut.jpg",
        "--part",
        "plate.part.json",
        "--kerf",
        "1.6 mm",
        "--bars",
        "180 mm",
        "200 mm",
    )
    document = shell.document(*words, "-o", "plate.pdf", "--picture", "plate.svg")
    assert document["kerf_error_mm"] == pytest.approx(0.3, abs=0.05)
    assert document["holes"][1]["oval_mm"] == pytest.approx(0.4, abs=0.1)
    assert document["sizes"][0]["classes"]["ISO 9013 class 2"] == "yes"
    assert (shell.folder / "plate.pdf").read_bytes().startswith(b"%PDF")
    assert "<svg" in (shell.folder / "plate.svg").read_text(encoding="utf-8")
    assert shell(*words, "-o", "plate.txt") == 2
    assert "End the report's name in .pdf" in shell.err
