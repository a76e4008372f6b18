"""A shop in one file: taken while the shop is in use, checked when it is put back.

A backup can be put back beside the shop, which then stays as it is, or in its place. In its place means: the backup is
written whole and checked in a folder beside first, then the two folders change names. The shop as it was stays on the
disk as a folder of its own, so nothing of it can be lost, whatever the backup holds.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import tempfile
import zipfile
from pathlib import Path

from platewright.errors import InputError, RefusedError
from platewright.shop.store import Shop

__all__ = ["back_up", "exchange", "put_back", "put_beside"]

_DATABASE = "shop.sqlite"


def back_up(shop: Shop, target: Path) -> Path:
    """Write the whole shop into one zip file, durably, beside nothing it could overwrite.

    Parameters
    ----------
    shop : the shop; others may go on working in it
    target : the zip file to write; it appears complete or not at all

    Raises
    ------
    RefusedError
        If the file is already there.
    """
    if target.exists():
        raise RefusedError(f"'{target.name}' is already there.", do="Give the backup another name.")
    part = target.with_name(f".{secrets.token_hex(6)}.part")
    try:
        with tempfile.TemporaryDirectory() as scratch, part.open("wb") as handle:
            # The database is copied first: every file it names was durable before its row was.
            copy = Path(scratch) / _DATABASE
            shop.database.backup(copy)
            with zipfile.ZipFile(handle, "w", zipfile.ZIP_STORED) as box:
                box.write(copy, _DATABASE, zipfile.ZIP_DEFLATED)
                for file in sorted(shop.blobs.folder.glob("??/*")):
                    if not file.name.startswith("."):
                        box.write(file, f"files/{file.parent.name}/{file.name}")
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return target


def put_back(source: Path, folder: Path) -> Shop:
    """Open a backup as a shop in an empty folder, checking every file and the database.

    Raises
    ------
    RefusedError
        If the folder is not empty.
    InputError
        If the backup is damaged or is none.
    """
    if folder.exists() and any(folder.iterdir()):
        raise RefusedError(
            f"The folder '{folder.name}' is not empty.", do="Choose a new folder for the shop."
        )
    try:
        with zipfile.ZipFile(source) as box:
            if _DATABASE not in box.namelist() or box.testzip() is not None:
                raise InputError(f"The backup '{source.name}' is damaged.", do="Use another backup.")
            folder.mkdir(parents=True, exist_ok=True)
            _unpack(box, folder)
    except (zipfile.BadZipFile, OSError) as bad_zip:
        raise InputError(f"'{source.name}' is not a backup of a shop ({bad_zip}).") from bad_zip
    shop = Shop(folder)
    if said := shop.database.sound():
        shop.close()
        raise InputError(f"The backup's database is damaged: {said[0]}.", do="Use another backup.")
    return shop


def put_beside(source: Path, shop: Shop) -> Path:
    """Write a backup as a shop of its own in a new folder beside a shop's, and return that folder.

    Raises
    ------
    InputError
        If the backup is damaged or is none; nothing is left behind.
    RefusedError
        If no folder can be made there.
    """
    folder = _beside(shop, "from-backup")
    try:
        folder.mkdir()
    except OSError as bad:
        raise RefusedError(
            f"No folder can be made beside the shop's ({bad.strerror}).",
            do="Make room there, then try again.",
        ) from bad
    try:
        put_back(source, folder).close()
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return folder


def exchange(source: Path, shop: Shop) -> Path:
    """Put a backup in a shop's place, and return the folder in which the shop lies now as it was.

    The shop goes on under the same folder: whoever holds it reads the backup's from now on.

    Raises
    ------
    InputError, RefusedError
        As `put_beside`, or if the folders cannot change names; the shop is then as it was.
    """
    fresh, former = put_beside(source, shop), _beside(shop, "before")
    shop.close()
    try:
        shop.folder.rename(former)
        try:
            fresh.rename(shop.folder)
        except OSError:
            former.rename(shop.folder)
            raise
    except OSError as bad:
        with contextlib.suppress(OSError):
            shutil.rmtree(fresh)
        raise RefusedError(
            f"The shop's folder cannot be exchanged ({bad.strerror}). Nothing is changed.",
            do="Close other programs that use it, or put the backup beside it.",
        ) from bad
    finally:
        shop.close()  # whatever was opened meanwhile looked at the former folder
    return former


def _beside(shop: Shop, word: str) -> Path:
    """Return a folder beside a shop's that is not there yet, named after it, a word and the moment."""
    stamp = shop.now()[:19].replace("T", "-").replace(":", "")
    folder = shop.folder.resolve()
    made = folder.with_name(f"{folder.name}-{word}-{stamp}")
    count = 1
    while made.exists():
        count += 1
        made = folder.with_name(f"{folder.name}-{word}-{stamp}-{count}")
    return made


def _unpack(box: zipfile.ZipFile, folder: Path) -> None:
    """Write the database, and each file under the hash of its own bytes (names in the zip are not trusted)."""
    (folder / _DATABASE).write_bytes(box.read(_DATABASE))
    with Shop(folder) as shop:
        for name in box.namelist():
            if name.startswith("files/"):
                kept = shop.blobs.put(box.read(name))
                if name != f"files/{kept[:2]}/{kept[2:]}":
                    raise InputError(
                        f"File {name} of the backup does not match its hash.", do="Use another backup."
                    )
