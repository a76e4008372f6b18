"""Content-addressed files: a file's name is the SHA-256 of what it holds, so nothing is ever overwritten."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from platewright.errors import InputError, RefusedError
from platewright.shop.folder.storage import sync_folder, troubles, write_whole

__all__ = ["Blobs", "hash_of"]

_HASH = re.compile(r"^[0-9a-f]{64}$")


def hash_of(path: Path) -> str:
    """Return the SHA-256 of a file in lower-case hex, read in pieces (no unit [-])."""
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


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
        """Keep bytes durably and return their hash; the same bytes are kept once, and put right if they rotted."""
        sha256 = hashlib.sha256(data).hexdigest()
        target = self.path(sha256)
        with troubles():
            if target.is_file() and target.stat().st_size == len(data) and hash_of(target) == sha256:
                return sha256
            if not target.parent.is_dir():
                target.parent.mkdir(parents=True, exist_ok=True)
                sync_folder(self.folder)
            write_whole(target, data)
        return sha256

    def sound(self, sha256: str) -> bool:
        """Tell whether the file of a hash is there and holds what it should."""
        try:
            return hash_of(self.path(sha256)) == sha256
        except OSError:
            return False

    def get(self, sha256: str, *, name: str = "") -> bytes:
        """Return the bytes of a hash, checked against it; `name` is what a person calls the file.

        Raises
        ------
        InputError
            If there is no such file.
        RefusedError
            If the file on disk no longer matches its hash.
        """
        called = f"'{name}'" if name else f"{sha256[:12]}…"
        try:
            data = self.path(sha256).read_bytes()
        except FileNotFoundError:
            raise InputError(
                f"The file {called} is missing from the shop's folder.",
                do="Add it again, or put a backup back.",
            ) from None
        if hashlib.sha256(data).hexdigest() != sha256:
            raise RefusedError(
                f"The file {called} has changed on disk.", do="Add it again, or put a backup back."
            )
        return data

    def clear(self) -> int:
        """Remove what writers that were killed left behind, and return how many [count]."""
        left = list(self.folder.glob("??/.*.part"))
        for part in left:
            part.unlink(missing_ok=True)
        return len(left)
