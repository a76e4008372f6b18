"""Photographs by a path tracer that shares nothing with the reader: boards whose cut edge is bright, of another colour or in shade.

Four scenes of seed 555 (2000 by 1500 pixels): real thickness with a core of its own colour, soft and hard light, light
thrown back, depth of field, a lens of another form, colour mosaic, sharpening, JPEG. Read with a fixed idea of how bright
the wall is, two of them came out 0.8 and 0.9 % small and their holes up to 1.3 mm large.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.shape import to_profile

HERE = Path(__file__).parent / "data" / "traced"
SCENES: list[dict[str, Any]] = json.loads((HERE / "truth.json").read_text())


@pytest.mark.parametrize("scene", SCENES, ids=[s["core"] + " core, " + s["light"] for s in SCENES])
def test_the_cut_wall_may_be_of_any_brightness(scene: dict[str, Any]) -> None:
    options = PhotoOptions(
        thickness=scene["board_mm"], cards_on=scene["cards_on"], bars=tuple(scene["bars_mm"])
    )
    found = read_photo([(HERE / scene["photo"]).read_bytes()], options=options)
    assert found.outer is not None
    assert found.verdict != "stop", [f.text for f in found.findings]
    area = sum(loop.area() for loop in found.loops())
    assert np.sqrt(area / scene["area_mm2"]) == pytest.approx(1, abs=0.0015)
    holes = sorted(2 * np.sqrt(abs(h.area()) / np.pi) for h in found.holes)
    assert holes == pytest.approx(sorted(scene["holes_mm"]), abs=0.15)
    told = [d for d in to_profile(found).dimensions if d.what == "diameter" and d.contour]
    for one in told:
        assert min(abs(one.value - true) for true in scene["holes_mm"]) <= one.uncertainty
