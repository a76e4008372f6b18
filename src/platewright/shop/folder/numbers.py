"""The numbers of quotes and invoices given out, remembered beside the database: a backup put back does not forget them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from platewright.shop.folder.storage import write_whole

__all__ = ["pass_on", "remember", "used"]

NAME = "numbers.json"


def used(folder: Path) -> dict[str, int]:
    """Return the highest number given out of each letter [-]; empty if none is remembered."""
    try:
        kept = json.loads((folder / NAME).read_bytes())
        return {k: v for k, v in kept.items() if k in ("Q", "I") and isinstance(v, int) and 0 <= v < 10**9}
    except (OSError, ValueError, AttributeError):
        return {}


def remember(folder: Path, given: Mapping[str, int]) -> None:
    """Keep the highest numbers given out [-]; they only rise."""
    before = used(folder)
    after = {k: max(before.get(k, 0), given.get(k, 0)) for k in ("Q", "I")}
    if any(after[k] > before.get(k, 0) for k in after):
        write_whole(folder / NAME, json.dumps(after).encode())


def pass_on(folder: Path, other: Path) -> None:
    """Make a shop's folder remember the numbers another has given out [-]."""
    remember(other, used(folder))
