"""A tenth of the reliability bench: kills at random and at each step, full disks, twenty windows; and a shop that lies is seen."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from platewright.shop.folder.store import Shop

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def test_kills_at_random_moments_lose_nothing(tmp_path: Path) -> None:
    from benchmarks.reliability import random_kills

    bad, acknowledged = random_kills(tmp_path, 100, 18)
    assert dict(bad) == {}
    assert acknowledged > 100


def test_a_kill_at_each_step_leaves_all_or_nothing(tmp_path: Path) -> None:
    from benchmarks.reliability import placed_kills

    bad, kills = placed_kills(tmp_path)
    assert dict(bad) == {}
    assert kills > 30


def test_twenty_windows_on_each_write(tmp_path: Path) -> None:
    from benchmarks.reliability import windows

    assert dict(windows(tmp_path)) == {}


def test_a_full_disk_is_reported_and_nothing_is_half(tmp_path: Path) -> None:
    from benchmarks.reliability import full_disks

    bad, times, _ = full_disks(tmp_path, step=60_000)
    assert dict(bad) == {}
    assert times > 3


def test_what_is_lost_or_half_would_be_counted(tmp_path: Path) -> None:
    from benchmarks.reliability.work import damage, fresh

    folder = fresh(tmp_path)
    assert dict(damage(folder, ["number Q0001", "save 1 0"])) == {}
    assert dict(damage(folder, ["number Q0002", "save 7 abc", "traceback x"])) == {"lost": 2, "tracebacks": 1}
    with Shop(folder) as shop:
        shop.blobs.path(shop.load("issued", "Q0001").doc["file"]).write_bytes(b"other")
    assert damage(folder, [])["half"] == 2
