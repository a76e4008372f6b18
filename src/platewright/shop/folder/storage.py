"""What a disk can do to a shop: full, read-only, damaged; one sentence each. And writing so that it is whole or not there."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from platewright.errors import RefusedError

__all__ = ["StorageError", "sync_folder", "trouble", "troubles", "write_whole"]

_FULL = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
_SHUT = {errno.EROFS, errno.EACCES, errno.EPERM}


class StorageError(RefusedError):
    """The disk would not take or give what was asked; nothing was saved (HTTP 503)."""


def trouble(wrong: BaseException) -> StorageError | None:
    """Return what to tell a person of an error of disk or database, None if it is no such error (no unit [-])."""
    if isinstance(wrong, StorageError):
        return wrong
    message = str(wrong).lower()
    if isinstance(wrong, sqlite3.Error):
        if "full" in message or "disk i/o" in message:
            return _full()
        if "readonly" in message or "unable to open" in message:
            return _shut()
        if "locked" in message or "busy" in message:
            return StorageError(
                "Another window is saving; nothing was saved here.", do="Try again in a moment."
            )
        if "malformed" in message or "not a database" in message or "corrupt" in message:
            return StorageError(
                "The shop's database is damaged; nothing was saved.",
                do="Stop, copy the shop's folder elsewhere, and put the newest backup back (docs/shop.md).",
            )
    if isinstance(wrong, OSError):
        if wrong.errno in _FULL:
            return _full()
        if wrong.errno in _SHUT:
            return _shut()
        if wrong.errno == errno.EIO:
            return StorageError(
                "The disk cannot be read or written; nothing was saved.", do="Copy the shop to another disk."
            )
    return None


def _full() -> StorageError:
    return StorageError(
        "The disk is full; nothing was saved.",
        do="Make room on the disk of the shop's folder, then try again.",
    )


def _shut() -> StorageError:
    return StorageError(
        "The shop's folder cannot be written; nothing was saved.",
        do="Make it writable, or move it to a disk that is, then try again.",
    )


@contextlib.contextmanager
def troubles() -> Iterator[None]:
    """Turn errors of disk and database inside the block into their sentences.

    Raises
    ------
    StorageError
        If the disk is full or shut, or the database damaged.
    """
    try:
        yield
    except (OSError, sqlite3.Error) as wrong:
        error = trouble(wrong)
        if error is None:
            raise
        raise error from wrong


def sync_folder(folder: Path) -> None:
    """Make a rename in a folder durable (folders cannot be synced on Windows, which needs it less)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_whole(target: Path, data: bytes) -> None:
    """Write a file durably by way of a temporary one beside it: it is whole, or as it was."""
    part = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        with part.open("wb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(target.parent)
