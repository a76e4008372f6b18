"""The work of a shop as a child process does it, what it acknowledges, and what must hold after it was killed."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from pathlib import Path

from platewright.errors import PlatewrightError
from platewright.price.ledger import Line
from platewright.shop.folder import ledger
from platewright.shop.folder.backup import back_up, exchange
from platewright.shop.folder.daily import clear_leftovers
from platewright.shop.folder.ledger import Paper
from platewright.shop.folder.storage import StorageError
from platewright.shop.folder.store import MissingError, Shop

DAY = date(2026, 3, 2)
LINES = [Line("strap", 4, Decimal("18.25"))]
Say = Callable[[str], None]


# -- the work, and what it acknowledges -------------------------------------------------------


def _save(folder: Path, say: Say) -> None:
    with Shop(folder) as shop:
        while True:
            made = shop.save("job", "a", {"n": os.urandom(4).hex()})
            say(f"save {made.number} {made.doc['n']}")


def _upload(folder: Path, say: Say) -> None:
    with Shop(folder) as shop:
        while True:
            say(f"file {shop.put_file(os.urandom(200_000), name='p.jpg', media='image/jpeg').sha256}")


def issue_one(shop: Shop) -> str:
    paper = Paper(lambda made: made.number.encode() * 20_000, job="a")
    return ledger.issue(
        shop, "quote", day=DAY, lines=LINES, paper=paper, customer="West farm", job="gate"
    ).number


def _issue(folder: Path, say: Say) -> None:
    with Shop(folder) as shop:
        while True:
            number = issue_one(shop)
            say(f"number {number}")
            ledger.move(shop, number, "accepted", day=DAY)
            say(f"accepted {number}")


def _backup(folder: Path, say: Say) -> None:
    with Shop(folder) as shop:
        for n in range(1_000_000):
            made = back_up(shop, folder.with_name(f"box-{os.getpid()}-{n}.zip"))
            say(f"box {made.path.name}")


def _restore(folder: Path, say: Say) -> None:
    with Shop(folder) as shop:
        while True:
            exchange(folder.with_name("first.zip"), shop)
            say("restored")


def _start(folder: Path, say: Say) -> None:
    while True:
        with Shop(folder) as shop:
            clear_leftovers(shop)
        say("started")


WORK: dict[str, Callable[[Path, Say], None]] = {
    "save": _save, "upload": _upload, "ledger": _issue, "backup": _backup, "restore": _restore, "start": _start,
}  # fmt: skip


def forked(work: Callable[[Say], None]) -> tuple[int, int]:
    """Run work in a process of its own; return its id and the end to read what it says from."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child:
        os.close(theirs)
        return child, ours
    code = 0
    try:
        os.close(ours)
        work(lambda text: os.write(theirs, f"{text}\n".encode()) and None)
    except StorageError as told:
        os.write(theirs, f"told {told.what}\n".encode())
    except PlatewrightError as told:
        os.write(theirs, f"refused {told.what[:200]}\n".encode())
    except BaseException as wrong:  # noqa: BLE001 - told to the parent, which counts it as damage
        os.write(theirs, f"traceback {type(wrong).__name__}: {str(wrong)[:200]}\n".encode())
        code = 1
    os._exit(code)


def ended(child: int, ours: int) -> list[str]:
    with os.fdopen(ours) as said:
        lines = said.read().splitlines()
    os.waitpid(child, 0)
    return lines


# -- what must hold after ---------------------------------------------------------------------


def fresh(home: Path) -> Path:
    folder = home / "shop"
    with Shop(folder) as shop:
        shop.save("job", "a", {"n": "0"})
        shop.put_file(b"photo" * 20_000, name="p.jpg", media="image/jpeg")
        issue_one(shop)
        back_up(shop, home / "first.zip")
    return folder


def damage(folder: Path, said: Iterable[str]) -> Counter[str]:
    """Count what is lost, half or doubled in a shop, against what was acknowledged [count]."""
    bad: Counter[str] = Counter()
    if not (folder / "shop.sqlite").exists() and not folder.with_name(f".{folder.name}.exchange").exists():
        return Counter(lost=1)
    with Shop(folder) as shop:
        bad["half"] += len(shop.database.sound())
        db = shop.database.connection()
        entries = [json.loads(r["doc"]) for r in db.execute("SELECT doc FROM ledger ORDER BY number")]
        numbers = [e["number"] for e in entries if e["document"]]
        bad["doubled"] += len(numbers) - len(set(numbers))
        for number in numbers:  # no number without its paper
            with contextlib.suppress(PlatewrightError):
                sha = shop.load("issued", number).doc["file"]
                if shop.blobs.path(sha).read_bytes() == number.encode() * 20_000:
                    continue
            bad["half"] += 1
        for row in db.execute("SELECT sha256 FROM files"):
            file = shop.blobs.path(row["sha256"])
            if not file.exists() or hashlib.sha256(file.read_bytes()).hexdigest() != row["sha256"]:
                bad["half"] += 1
        for line in said:
            word, _, rest = line.partition(" ")
            bad["lost"] += not _there(shop, folder, word, rest, entries)
            bad["tracebacks"] += word == "traceback"
    return +bad


def _there(shop: Shop, folder: Path, word: str, rest: str, entries: list[dict[str, object]]) -> bool:
    if word == "save":
        number, what = rest.split()
        try:
            return bool(shop.load("job", "a", number=int(number)).doc["n"] == what)
        except MissingError:
            return False
    if word == "file":
        return bool(shop.file_info(rest)) and shop.blobs.sound(rest)
    if word in ("number", "accepted"):
        state = "quoted" if word == "number" else "accepted"
        return any(e["number"] == rest and e["state"] == state for e in entries)
    if word == "box":
        with contextlib.suppress(OSError, sqlite3.Error):
            import zipfile

            with zipfile.ZipFile(folder.with_name(rest)) as box:
                return box.testzip() is None and "shop.sqlite" in box.namelist()
        return False
    return True


def tidied(home: Path) -> None:
    for one in home.iterdir():
        if one.name.startswith(("shop-before", "shop-from", "box-", ".shop.restoring")):
            shutil.rmtree(one, ignore_errors=True) if one.is_dir() else one.unlink()
