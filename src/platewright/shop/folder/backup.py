"""A shop in one file: taken while the shop is in use, checked when it is taken and when it is put back.

A backup can be put back beside the shop, which then stays as it is, or in its place. In its place means: the backup is
written whole and checked in a folder beside first, then the two folders change names. The shop as it was stays on the
disk as a folder of its own, so nothing of it can be lost, whatever the backup holds.

A file that is damaged, on the disk or in the backup, is named and left out; everything else is kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
import secrets
import shutil
import sqlite3
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from platewright.errors import InputError, PlatewrightError, RefusedError
from platewright.shop.folder.database import utc_now
from platewright.shop.folder.ledger import read
from platewright.shop.folder.numbers import pass_on, remember
from platewright.shop.folder.storage import StorageError, sync_folder, troubles
from platewright.shop.folder.store import Shop
from platewright.shop.folder.swap import half_made, swap

__all__ = ["BackedUp", "PutBack", "back_up", "exchange", "put_back", "put_beside", "replace"]

_DATABASE, _REPORT = "shop.sqlite", "backup.json"
_PIECE = 1 << 20
_MARGIN = 8 << 20
"""Room the database's log needs beside what is put back [bytes]."""
SWELL, SWELL_DATABASE = 20, 400
"""How many times its packed size a file, and the database, may have: more is no backup but a trap [-]."""


@dataclass(frozen=True, slots=True)
class BackedUp:
    """A backup taken: the file, and which kept files are damaged or missing in the shop, in words."""

    path: Path
    bad: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PutBack:
    """A backup put back: the folder that was made, and which of its files were damaged and left out, in words."""

    folder: Path
    bad: tuple[str, ...] = ()


def back_up(shop: Shop, target: Path) -> BackedUp:
    """Write the whole shop into one zip file, durably, beside nothing it could overwrite; each file is checked.

    Parameters
    ----------
    shop : the shop; others may go on working in it
    target : the zip file to write; it appears complete or not at all

    Raises
    ------
    RefusedError
        If the file is already there, or the shop's database is damaged.
    """
    if target.exists():
        raise RefusedError(f"'{target.name}' is already there.", do="Give the backup another name.")
    part = target.with_name(f".{secrets.token_hex(6)}.part")
    try:
        with (
            troubles(),
            tempfile.TemporaryDirectory(prefix="platewright-") as scratch,
            part.open("wb") as handle,
        ):
            # The database is copied first: every file it names was durable before its row was.
            copy = Path(scratch) / _DATABASE
            shop.database.backup(copy)
            names = _checked_database(copy, "The shop's database is damaged")
            with zipfile.ZipFile(handle, "w", zipfile.ZIP_STORED) as box:
                box.write(copy, _DATABASE, zipfile.ZIP_DEFLATED)
                bad = tuple(_pack(shop, box, names))
                report = {"made": shop.now(), "files": len(names) - len(bad), "bad": bad}
                box.writestr(_REPORT, json.dumps(report))
            handle.flush()
            os.fsync(handle.fileno())
        with troubles():
            part.replace(target)
            sync_folder(target.parent)
    finally:
        part.unlink(missing_ok=True)
    return BackedUp(target, bad)


def _pack(shop: Shop, box: zipfile.ZipFile, names: dict[str, str]) -> Iterator[str]:
    """Put every kept file into a backup, checked as it is read; yield those that are damaged or missing, in words."""
    on_disk = {f.parent.name + f.name for f in shop.blobs.folder.glob("??/*") if not f.name.startswith(".")}
    for sha in sorted(on_disk | names.keys()):
        if sha not in on_disk:
            yield f"{names[sha]} ({sha[:12]}…) is missing"
        elif not shop.blobs.sound(sha):
            yield f"{names.get(sha, 'a file')} ({sha[:12]}…) is damaged"
        else:
            box.write(shop.blobs.path(sha), f"files/{sha[:2]}/{sha[2:]}")


def _checked_database(path: Path, what: str) -> dict[str, str]:
    """Return the files a database names (hash to name) after SQLite's own checks.

    Raises
    ------
    RefusedError
        If it is damaged.
    """
    try:
        opened = sqlite3.connect(path)
        try:
            faults = [str(r[0]) for r in opened.execute("PRAGMA integrity_check") if r[0] != "ok"]
            faults += [f"foreign key of {r[0]}" for r in opened.execute("PRAGMA foreign_key_check")]
            names = dict(opened.execute("SELECT sha256, name FROM files"))
        finally:
            opened.close()
    except sqlite3.Error as bad:
        faults, names = [str(bad)], {}
    if faults:
        raise RefusedError(f"{what}: {faults[0]}.", do="Use another backup, the newest that is whole.")
    return names


# -- putting back ----------------------------------------------------------------------------


def put_back(source: Path, folder: Path) -> PutBack:
    """Write a backup as a shop into an empty folder, checking every file and the database.

    Raises
    ------
    RefusedError
        If the folder is not empty, or the disk has no room.
    InputError
        If the backup is damaged or is none.
    """
    if folder.exists() and any(folder.iterdir()):
        raise RefusedError(
            f"The folder '{folder.name}' is not empty.", do="Choose a new folder for the shop."
        )
    half = half_made(folder.absolute(), secrets.token_hex(4))
    try:
        with troubles():
            half.mkdir(parents=True)
        bad = _unpacked(source, half)
        with troubles():
            if folder.exists():
                folder.rmdir()
            half.rename(folder)
            sync_folder(folder.absolute().parent)
    finally:
        if half.exists():
            shutil.rmtree(half, ignore_errors=True)
    return PutBack(folder, bad)


def _unpacked(source: Path, half: Path) -> tuple[str, ...]:
    """Unpack a backup into a folder that is no shop yet; return what was damaged and left out, in words."""
    try:
        with zipfile.ZipFile(source) as box:
            held = {i.filename: i for i in box.infolist()}
            if _DATABASE not in held:
                raise InputError(f"'{source.name}' is not a backup of a shop (it holds no shop.sqlite).")
            _check_archive(box, source, half)
            with troubles():
                _copy(box, held[_DATABASE], half / _DATABASE)
            names = _checked_database(half / _DATABASE, "The backup's database is damaged")
            with Shop(half) as shop:  # brings an older database forward, or refuses a newer one
                bad = tuple(_files(box, held, shop, names))
                _all_phones_out(shop)
    except PlatewrightError:
        raise
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        zlib.error,
        NotImplementedError,
        EOFError,
        RuntimeError,
        ValueError,
        IndexError,
        struct.error,
    ) as bad_zip:
        raise InputError(
            f"'{source.name}' is not a backup of a shop, or is damaged ({bad_zip}).", do="Use another backup."
        ) from None
    except OSError as bad_zip:
        raise InputError(f"'{source.name}' cannot be read ({bad_zip.strerror or bad_zip}).") from bad_zip
    return bad


def _check_archive(box: zipfile.ZipFile, source: Path, half: Path) -> None:
    """Refuse a backup that says it is very much larger than it is, or than the disk has room for."""
    for one in box.infolist():
        most = SWELL_DATABASE if one.filename == _DATABASE else SWELL
        if one.file_size > most * one.compress_size + _PIECE or len(one.filename) > 200:
            raise InputError(
                f"'{source.name}' is no backup of ours: '{one.filename[:80]}' would grow from {one.compress_size} to {one.file_size} bytes.",
                do="Use another backup.",
            )
    need = sum(i.file_size for i in box.infolist()) + _MARGIN
    room = shutil.disk_usage(half).free
    if need > room:
        raise StorageError(
            f"The backup needs {math.ceil(need / 1e6)} MB with room to work, and the disk has {room // 1_000_000} MB free; nothing was changed.",
            do="Make room, then try again.",
        )


def _copy(box: zipfile.ZipFile, one: zipfile.ZipInfo, target: Path) -> str:
    """Unpack one file durably in pieces, and return its SHA-256."""
    digest = hashlib.sha256()
    with box.open(one) as packed, target.open("wb") as handle:
        for piece in _pieces(packed):
            digest.update(piece)
            handle.write(piece)
        handle.flush()
        os.fsync(handle.fileno())
    return digest.hexdigest()


def _pieces(packed: IO[bytes]) -> Iterator[bytes]:
    while piece := packed.read(_PIECE):
        yield piece


def _files(
    box: zipfile.ZipFile, held: dict[str, zipfile.ZipInfo], shop: Shop, names: dict[str, str]
) -> Iterator[str]:
    """Write each file under the hash of its own bytes (names in the zip are not trusted); yield what is bad, in words."""
    kept = set()
    for name, one in held.items():
        sha = name.removeprefix("files/").replace("/", "")
        if not name.startswith("files/") or len(sha) != 64 or not set(sha) <= set("0123456789abcdef"):
            continue
        target = shop.blobs.path(sha)
        with troubles():
            target.parent.mkdir(exist_ok=True)
        try:
            with troubles():
                right = _copy(box, one, target) == sha
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError):
            right = False
        if right:
            kept.add(sha)
        else:
            target.unlink(missing_ok=True)
            yield f"{names.get(sha, 'a file')} ({sha[:12]}…) does not match its hash"
    missing = names.keys() - kept - {n.removeprefix("files/").replace("/", "") for n in held}
    yield from (f"{names[sha]} ({sha[:12]}…) is missing" for sha in sorted(missing))


def _all_phones_out(shop: Shop) -> None:
    """Revoke every paired device of a shop: a backup may not let in again who was shut out since."""
    with shop.database.atomic() as db:
        db.execute("UPDATE devices SET revoked = 1")


def _same_phones(shop: Shop, fresh: Path) -> None:
    """Let in to a fresh folder just those devices a shop lets in now."""
    rows = [tuple(r) for r in shop.database.connection().execute("SELECT * FROM devices")]
    with Shop(fresh) as other, other.database.atomic() as db:
        db.execute("DELETE FROM devices")
        db.executemany("INSERT INTO devices VALUES (?, ?, ?, ?, ?, ?)", rows)


def put_beside(source: Path, shop: Shop) -> PutBack:
    """Write a backup as a shop of its own in a new folder beside a shop's, and return that folder.

    Raises
    ------
    InputError
        If the backup is damaged or is none; nothing is left behind.
    RefusedError
        If no folder can be made there.
    """
    made = put_back(source, _beside(shop.folder, "from-backup", shop.now))
    with contextlib.suppress(
        sqlite3.Error, InputError
    ):  # a kill may have come between an entry and its remembering
        remember(shop.folder, read(shop).given())
    pass_on(shop.folder, made.folder)
    return made


def exchange(source: Path, shop: Shop) -> PutBack:
    """Put a backup in a shop's place, and return the folder in which the shop lies now as it was.

    The shop goes on under the same folder: whoever holds it reads the backup's from now on.

    Raises
    ------
    InputError, RefusedError
        As `put_beside`, or if the folders cannot change names; the shop is then as it was.
    """
    fresh = put_beside(source, shop)
    with contextlib.suppress(sqlite3.Error):  # a shop too damaged to say lets nobody in
        _same_phones(shop, fresh.folder)
    try:
        return PutBack(_exchanged(shop.folder, fresh.folder, shop.now, before=shop.close), fresh.bad)
    finally:
        shop.close()  # whatever was opened meanwhile looked at the former folder


def replace(source: Path, folder: Path, *, now: Callable[[], str] = utc_now) -> PutBack:
    """Put a backup in the place of a folder that cannot be opened any more; it is kept whole under another name.

    Raises
    ------
    InputError, RefusedError
        As `put_back`, or if the folders cannot change names.
    """
    folder = folder.absolute()
    fresh = put_back(source, _beside(folder, "from-backup", now))
    pass_on(folder, fresh.folder)
    if not folder.exists():
        fresh.folder.rename(folder)
        return PutBack(folder, fresh.bad)
    return PutBack(_exchanged(folder, fresh.folder, now), fresh.bad)


def _exchanged(
    folder: Path, fresh: Path, now: Callable[[], str], *, before: Callable[[], None] = lambda: None
) -> Path:
    former = _beside(folder, "before", now)
    before()
    try:
        swap(folder.absolute(), fresh, former)
    except OSError as bad:
        shutil.rmtree(fresh, ignore_errors=True)
        raise RefusedError(
            f"The shop's folder cannot be exchanged ({bad.strerror}). Nothing is changed.",
            do="Close other programs that use it, or put the backup beside it.",
        ) from bad
    return former


def _beside(folder: Path, word: str, now: Callable[[], str]) -> Path:
    """Return a folder beside a shop's that is not there yet, named after it, a word and the moment."""
    stamp = now()[:19].replace("T", "-").replace(":", "")
    folder = folder.resolve()
    made = folder.with_name(f"{folder.name}-{word}-{stamp}")
    count = 1
    while made.exists():
        count += 1
        made = folder.with_name(f"{folder.name}-{word}-{stamp}-{count}")
    return made
