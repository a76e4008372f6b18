"""Kill -9 at random during saves loses nothing acknowledged."""

from __future__ import annotations

from pathlib import Path

from tests.shop.folder.crash import kill_at_random


def test_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    damage = kill_at_random(tmp_path, kills=12, seed=20)
    assert damage.saves > 12
    assert (damage.lost, damage.torn, damage.bad_files, damage.unsound) == (0, 0, 0, 0)


def test_a_lie_about_saving_would_be_caught(tmp_path: Path) -> None:
    damage = kill_at_random(tmp_path, kills=6, seed=20, spoiled=True)
    assert damage.lost > 0
