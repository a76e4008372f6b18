"""Two folders change names so that a kill at any moment leaves the old shop or the new one, whole, under the shop's name.

A note beside the folder says what is under way before anything is renamed. Whoever opens the shop next finishes it.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from platewright.shop.folder.storage import sync_folder, write_whole

__all__ = ["clear_beside", "half_made", "settle", "swap"]

HALF = "restoring"


def _note(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.exchange")


def half_made(folder: Path, number: str) -> Path:
    """Return where a backup is written until it is whole; its name begins with a dot, and no start opens it as a shop."""
    return folder.with_name(f".{folder.name}.{HALF}-{number}")


def swap(folder: Path, fresh: Path, former: Path) -> None:
    """Give the name of a folder to a fresh one, and a former name to what had it; all three lie side by side."""
    write_whole(_note(folder), json.dumps({"fresh": fresh.name, "former": former.name}).encode())
    try:
        folder.rename(former)
        try:
            fresh.rename(folder)
        except OSError:
            former.rename(folder)
            raise
    except OSError:
        _note(folder).unlink(missing_ok=True)
        raise
    sync_folder(folder.parent)
    _note(folder).unlink(missing_ok=True)


def settle(folder: Path) -> None:
    """Finish an exchange of folders that was cut short, if there is one."""
    folder = folder.absolute()
    note = _note(folder)
    if not note.is_file():
        return
    kept = json.loads(note.read_bytes())
    fresh, former = (folder.with_name(Path(str(kept[k])).name) for k in ("fresh", "former"))
    if not folder.exists():
        if fresh.exists():
            fresh.rename(folder)
        elif former.exists():
            former.rename(folder)
        sync_folder(folder.parent)
    note.unlink(missing_ok=True)


def clear_beside(folder: Path) -> int:
    """Remove what restores that were killed left beside a shop's folder, and return how many [count]."""
    folder = folder.absolute()
    left = list(folder.parent.glob(f".{folder.name}.{HALF}-*"))
    for one in left:
        shutil.rmtree(one, ignore_errors=True)
    return len(left)
