"""A shop in one file: taken while the shop is in use, checked when it is put back."""

from __future__ import annotations

import os
import secrets
import tempfile
import zipfile
from pathlib import Path

from platewright.errors import InputError, RefusedError
from platewright.shop.store import Shop

__all__ = ["back_up", "put_back"]

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
