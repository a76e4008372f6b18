"""Backups nobody has to think of: one a day on which something was saved, kept by a rule, in a folder beside the shop's.

The rule. Of the automatic backups the newest of each of the last 7 days stays, the newest of each of the last 4 weeks
and of each of the last 6 months. Together they take at most a quarter of the room that is free with them gone; beyond
that the oldest go first, but never the newest two. What a person took by hand is never touched.
"""

from __future__ import annotations

import contextlib
import re
import shutil
from datetime import date
from pathlib import Path

from platewright.errors import PlatewrightError
from platewright.shop.folder.backup import BackedUp, back_up
from platewright.shop.folder.store import Shop

__all__ = [
    "back_up_daily", "checked_start", "clear_leftovers", "folder_of", "kept", "newest", "quietly_daily",
]  # fmt: skip

DAYS, WEEKS, MONTHS, ALWAYS = 7, 4, 6, 2
_NAME = re.compile(r"^auto-(\d{4}-\d{2}-\d{2})\.zip$")


def folder_of(shop: Path) -> Path:
    """Return where the automatic backups of a shop's folder lie: beside it, so that they outlive it."""
    whole = shop.resolve()
    return whole.with_name(f"{whole.name}-backups")


def newest(shop: Path) -> Path | None:
    """Return the newest automatic backup of a shop's folder, None if there is none."""
    found = sorted(p for p in folder_of(shop).glob("auto-*.zip") if _NAME.match(p.name))
    return found[-1] if found else None


def back_up_daily(shop: Shop) -> BackedUp | None:
    """Take today's backup if there is none yet and something was saved since the last one; clear out old ones.

    Raises
    ------
    PlatewrightError
        If the disk is full or the database damaged.
    """
    home, today = folder_of(shop.folder), shop.now()[:10]
    target = home / f"auto-{today}.zip"
    last = newest(shop.folder)
    db = shop.database.connection()
    found = [
        db.execute(f"SELECT max(at) FROM {table}").fetchone()[0] or ""
        for table in ("revisions", "files", "ledger")
    ]
    saved = str(max(found))[:10]  # the day of the last save, or "" if there was none
    if not saved or target.exists() or (last is not None and saved <= last.name[5:15]):
        return None
    home.mkdir(exist_ok=True)
    for part in home.glob(".*.part"):
        part.unlink(missing_ok=True)
    size = sum(p.stat().st_size for p in shop.folder.rglob("*") if p.is_file())
    if shutil.disk_usage(home).free < 2 * size:
        _thin(home, date.fromisoformat(today), room=0)
    made = back_up(shop, target)
    _thin(home, date.fromisoformat(today), room=(shutil.disk_usage(home).free + _taken(home)) // 4)
    return made


def _taken(home: Path) -> int:
    return sum(p.stat().st_size for p in home.glob("auto-*.zip"))


def kept(days: list[date], today: date) -> set[date]:
    """Return which of the days with a backup stay by the rule (no unit [-])."""
    stay: set[date] = set()
    for span, group in ((DAYS, "%Y-%m-%d"), (7 * WEEKS, "%G-%V"), (31 * MONTHS, "%Y-%m")):
        near = sorted(d for d in days if (today - d).days < span)
        stay |= set({d.strftime(group): d for d in near}.values())  # the newest of each group stays
    return stay | set(sorted(days)[-ALWAYS:])


def _thin(home: Path, today: date, *, room: int) -> None:
    found = {date.fromisoformat(m[1]): p for p in home.glob("auto-*.zip") if (m := _NAME.match(p.name))}
    stay = kept(list(found), today)
    for day in found.keys() - stay:
        found[day].unlink(missing_ok=True)
    for day in sorted(stay & found.keys())[:-ALWAYS]:
        if _taken(home) <= room:
            return
        with contextlib.suppress(OSError):
            found[day].unlink()


def checked_start(shop: Shop) -> list[str]:
    """Return what is wrong with a shop's database as it starts, in words; empty if nothing."""
    try:
        faults = [str(r[0]) for r in shop.database.connection().execute("PRAGMA quick_check") if r[0] != "ok"]
    except Exception as bad:  # noqa: BLE001 - whatever a damaged database throws is what is asked here
        faults = [str(bad)]
    return faults


def clear_leftovers(shop: Shop) -> int:
    """Remove what was left behind by programs that were killed, and return how many things it was [count]."""
    from platewright.shop.folder.swap import clear_beside

    count = shop.blobs.clear() + clear_beside(shop.folder)
    for part in (*shop.folder.glob(".*.part"), *shop.folder.glob(".*.part-journal")):
        part.unlink(missing_ok=True)
        count += 1
    return count


def quietly_daily(shop: Shop) -> str:
    """Take today's backup if it is due; return what went wrong in words, "" if nothing."""
    try:
        made = back_up_daily(shop)
    except PlatewrightError as bad:
        return f"No automatic backup could be taken: {bad.sentence()}"
    if made is not None and made.bad:
        return f"The automatic backup lacks: {'; '.join(made.bad[:5])}. Add these files again."
    return ""
