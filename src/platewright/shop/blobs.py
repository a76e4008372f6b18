"""Content-addressed files: a file's name is the SHA-256 of what it holds, so nothing is ever overwritten."""

from __future__ import annotations

import hashlib
import os
import re
import secrets
from pathlib import Path

from platewright.errors import InputError, RefusedError

__all__ = ["Blobs"]

_HASH = re.compile(r"^[0-9a-f]{64}$")


def _sync_folder(folder: Path) -> None:
    """Make a rename in a folder durable (folders cannot be synced on Windows, which needs it less)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class Blobs:
    """The files of a shop, below one folder, two levels deep."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def path(self, sha256: str) -> Path:
        """Return where the file of a hash stands (there or not).

        Raises
        ------
        InputError
            If the text is not a SHA-256 in lower-case hex.
        """
        if not _HASH.match(sha256):
            raise InputError(f"'{sha256[:80]}' is not a file's hash.", allowed="64 characters 0-9 a-f")
        return self.folder / sha256[:2] / sha256[2:]

    def put(self, data: bytes) -> str:
        """Keep bytes durably and return their hash; the same bytes are kept once."""
        sha256 = hashlib.sha256(data).hexdigest()
        target = self.path(sha256)
        if target.is_file() and target.stat().st_size == len(data):
            return sha256
        if not target.parent.is_dir():
            target.parent.mkdir(parents=True, exist_ok=True)
            _sync_folder(self.folder)
        part = target.with_name(f".{secrets.token_hex(8)}.part")
        try:
            with part.open("wb") as handle:
                handle.write(data)
                handle.flush()
                os.fsync(handle.fileno())
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
        _sync_folder(target.parent)
        return sha256

    def get(self, sha256: str) -> bytes:
        """Return the bytes of a hash, checked against it.

        Raises
        ------
        InputError
            If there is no such file.
        RefusedError
            If the file on disk no longer matches its hash.
        """
        try:
            data = self.path(sha256).read_bytes()
        except FileNotFoundError:
            raise InputError(f"The shop has no file {sha256[:12]}….", do="Add the file again.") from None
        if hashlib.sha256(data).hexdigest() != sha256:
            raise RefusedError(
                f"File {sha256[:12]}… has changed on disk.", do="Put it back from a backup, or add it again."
            )
        return data
