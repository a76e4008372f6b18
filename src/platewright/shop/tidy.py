"""Clearing out results nobody will look at again; what a person made or added is never touched.

The rule. A kept result stays if it belongs to a job as it stands (put away or not), to a revision saved within the
last `DAYS` days, or was itself computed within them. Of what is left beyond that, the oldest go first. The newest
may still fill `MOST` bytes, so that an old revision often shows at once. A file goes only if a result that went was
the one that named it, no revision of anything and no other result names it, and nobody added it again meanwhile.

A result that went costs time, not work: the same inputs compute it again.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from platewright.errors import PlatewrightError
from platewright.shop.context import line_on
from platewright.shop.document import read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import facts_of

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable

__all__ = ["DAYS", "MOST", "Tidied", "tidy"]

DAYS = 60
"""How long results of what is no longer current are kept for certain [days]."""
MOST = 1 << 30
"""Room that older results may still take, files counted [bytes]."""
_SHA = re.compile(r"\b[0-9a-f]{64}\b")


@dataclass(frozen=True, slots=True)
class Tidied:
    """What went: how many results and files [count], and the room they took [bytes]."""

    results: int
    files: int
    room: int


@dataclass(frozen=True, slots=True)
class _Old:
    key: str
    size: int
    files: frozenset[str]


def tidy(shop: Shop, *, days: float = DAYS, most: int = MOST) -> Tidied:
    """Clear out results by the rule above.

    Parameters
    ----------
    shop : the shop; others may go on working in it
    days : how long results are kept for certain [days]
    most : room older ones may still take [bytes]
    """
    now = shop.now()
    then = datetime.fromisoformat(now.replace("Z", "+00:00")) - timedelta(days=days)
    before = then.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    stay = _current(shop, before)
    db = shop.database.connection()
    rows = db.execute("SELECT key, doc FROM results WHERE at < ? ORDER BY at DESC", (before,))
    old = [
        _Old(r["key"], len(r["doc"]), frozenset(_SHA.findall(r["doc"]))) for r in rows if r["key"] not in stay
    ]
    going = _beyond(shop, old, most)
    if not going:
        return Tidied(0, 0, 0)
    with shop.database.atomic() as db:
        db.executemany("DELETE FROM results WHERE key = ? AND at < ?", [(one.key, before) for one in going])
        orphans = _unnamed(db, set[str]().union(*(one.files for one in going)), before)
        room = sum(one.size for one in going) + sum(orphans.values())
        db.executemany("DELETE FROM files WHERE sha256 = ?", [(sha,) for sha in orphans])
    for sha in orphans:
        shop.blobs.path(sha).unlink(missing_ok=True)
    return Tidied(len(going), len(orphans), room)


def _current(shop: Shop, before: str) -> set[str]:
    """Return the keys of every step of every job as it stands, and as it was saved lately."""
    facts, keys = facts_of(shop), set()
    heads = [*shop.listing("job"), *shop.listing("job", removed=True)]
    lately = [
        shop.load("job", head.info.id, number=past.number)
        for head in heads
        for past in shop.history("job", head.info.id)
        if past.at >= before and not past.head
    ]
    for kept in (*heads, *lately):
        try:
            job = read_job(kept.doc)
            keys |= {step.key for step in line_on(shop, job, facts)} | {job.layout.go_on}
        except PlatewrightError:
            continue  # written by another version: it has no results here
    return keys


def _beyond(shop: Shop, old: Iterable[_Old], most: int) -> list[_Old]:
    """Return what no longer fits into the room for old results, newest first."""
    sizes = {
        row["sha256"]: int(row["size"])
        for row in shop.database.connection().execute("SELECT sha256, size FROM files")
    }
    going, taken, counted = [], 0, set[str]()
    for one in old:
        taken += one.size + sum(sizes.get(sha, 0) for sha in one.files - counted)
        counted |= one.files
        if taken > most:
            going.append(one)
    return going


def _unnamed(db: sqlite3.Connection, candidates: set[str], before: str) -> dict[str, int]:
    """Return those of some files, with their size [bytes], that nothing names any more and nobody added lately."""
    found = {}
    for sha in candidates:
        row = db.execute("SELECT size FROM files WHERE sha256 = ? AND at < ?", (sha, before)).fetchone()
        if row is not None:
            found[sha] = int(row["size"])
    for table in ("revisions", "results"):
        if not found:
            break
        for row in db.execute(f"SELECT doc FROM {table}"):
            for sha in _SHA.findall(row["doc"]):
                found.pop(sha, None)
    return found
