"""Keep-outs where they lie: drawn on the plate at once, and refused off it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from platewright.shop.document import read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import StepState, run


def plate(folder: Path, *spots: tuple[str, str]) -> StepState:
    keepouts: list[dict[str, Any]] = [
        {"name": "magnet", "place": {"kind": "circle", "x": x, "y": y, "diameter": "60 mm"}} for x, y in spots
    ]
    with Shop(folder) as shop:
        return run(shop, read_job({"plate": {"size": "900 x 600 mm"}, "keepouts": keepouts}), until="plate")[
            0
        ]


def test_a_magnet_is_on_the_plates_picture_as_soon_as_it_is_stated(tmp_path: Path) -> None:
    none, one = plate(tmp_path), plate(tmp_path, ("60 mm", "60 mm"))
    assert none.result is not None
    assert one.result is not None
    assert none.step.key != one.step.key
    kinds = [[i["kind"] for i in state.result["scene"]["items"]] for state in (none, one)]
    assert [k.count("keepout") for k in kinds] == [0, 1]


@pytest.mark.parametrize("spot", [("412 mm", "-428 mm"), ("931 mm", "300 mm"), ("5000 mm", "5000 mm")])
def test_a_keepout_off_the_plate_is_refused_beside_its_field(tmp_path: Path, spot: tuple[str, str]) -> None:
    state = plate(tmp_path, ("60 mm", "60 mm"), spot)
    assert state.state == "failed"
    assert state.result is not None
    error = state.result["error"]
    assert error["where"] == "keepouts.1.place.x"
    assert "off the plate" in error["what"]
    assert "0 to 900" in error["allowed"]
    kinds = [i["kind"] for i in state.result["scene"]["items"]]
    assert kinds.count("keepout") == 2  # both stay on the picture while one is refused


def test_a_clamp_over_the_edge_stays(tmp_path: Path) -> None:
    assert plate(tmp_path, ("-20 mm", "300 mm")).state == "done"
