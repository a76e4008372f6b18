"""A share of the fuzzing bench: readers and API answer anything with a sentence."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

from platewright.pattern import points

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="memory is measured with a module of other systems"
)

READERS = [
    "part", "plate", "layout", "job", "points", "drawing", "table", "chart", "readings", "rates", "bills", "quantity", "family", "operation", "backup", "photo", "font", "line",
]  # fmt: skip


@pytest.mark.parametrize("name", READERS)
def test_a_reader_gives_a_result_or_a_sentence(name: str) -> None:
    from benchmarks.fuzz.inputs import read_one

    values = {seed: read_one(name, seed) for seed in range(1, {"backup": 4, "line": 6}.get(name, 41))}
    assert {seed: wrong for seed, wrong in values.items() if wrong} == {}


def test_what_is_spoiled_is_read_while_it_is_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    from benchmarks.fuzz import inputs as fuzz_inputs

    monkeypatch.setattr(fuzz_inputs, "spoiled", lambda document, chance: document)
    monkeypatch.setattr(fuzz_inputs, "torn", lambda data, chance: data)
    for name in READERS:
        if name not in ("quantity", "family", "operation", "backup", "line"):
            assert fuzz_inputs._readers()[name][0](random.Random(1)) is not None


def test_no_request_gives_a_500(tmp_path: Path) -> None:
    from benchmarks.fuzz.inputs import requests

    assert [(seed, said) for seed, said in requests(tmp_path, range(1, 301)) if said] == []


def test_a_reader_that_breaks_would_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    from benchmarks.fuzz.inputs import read_one

    monkeypatch.setattr(points, "captured_from", lambda *_, **__: 1 / 0)
    assert any("ZeroDivisionError" in read_one("points", seed) for seed in range(1, 41))
