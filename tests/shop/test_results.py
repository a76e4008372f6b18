"""What each station's result holds is what its type says: held by pydantic, which knows nothing of the stations."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from pydantic import ConfigDict, TypeAdapter, with_config

from platewright.shop.document import read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import run
from platewright.shop.results import STATION_DATA

SOURCE = {"kind": "family", "family": "gusset", "values": {}}
JOB = {"name": "gate", "parts": [{"id": "gus", "name": "gusset", "quantity": 2, "source": SOURCE}], "layout": {"seconds": 0.0}}  # fmt: skip


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    with Shop(tmp_path_factory.mktemp("shop")) as shop:
        return {s.step.station: dict(s.result or {}) for s in run(shop, read_job(JOB))}


@pytest.mark.parametrize("station", list(STATION_DATA))
def test_a_result_holds_what_its_type_says_and_nothing_else(
    results: dict[str, dict[str, Any]], station: str
) -> None:
    kind = STATION_DATA[station]
    strict = TypeAdapter(with_config(ConfigDict(extra="forbid"))(kind))
    assert results[station]["state"] == "done"
    strict.validate_json(json.dumps(results[station]["data"]), strict=True)


def test_the_pages_types_are_of_every_station_with_data() -> None:
    text = (Path(__file__).resolve().parents[2] / "client/src/api-types.ts").read_text(encoding="utf-8")
    block = text[text.index("export interface StationData") :]
    for station, kind in STATION_DATA.items():
        assert f"  {station}: {kind.__name__};" in block
