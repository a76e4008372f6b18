"""One server a folder: the operating system holds the lock, so that it goes with the process, however that ends."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import sys
from pathlib import Path

from platewright.errors import RefusedError

__all__ = ["FolderLock"]

NAME = "server.lock"


class FolderLock:
    """The lock of a shop's folder; taken at once.

    Parameters
    ----------
    folder : the shop's folder
    about : what is told to whoever comes second, such as the address of the page

    Raises
    ------
    RefusedError
        If another process that is alive holds it; the sentence says which.
    """

    def __init__(self, folder: Path, *, about: str = "", now: str = "") -> None:
        self.folder, self._about, self._now = folder, about, now
        self._handle: int | None = None
        self.take()

    def take(self) -> None:
        """Take the lock of the folder as it is now (after another folder took its name, too)."""
        self.free()
        path = self.folder / NAME
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            if sys.platform == "win32":
                import msvcrt

                os.lseek(handle, 0, os.SEEK_SET)
                msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(handle)
            raise RefusedError(
                f"This shop is open already{_holder(path)}.", where=str(self.folder),
                do="Use that window, or stop that program first.",
            ) from None  # fmt: skip
        owner = {"pid": os.getpid(), "host": socket.gethostname(), "since": self._now, "about": self._about}
        os.ftruncate(handle, 0)
        os.lseek(handle, _BODY, os.SEEK_SET)
        os.write(handle, json.dumps(owner).encode())
        self._handle = handle

    def free(self) -> None:
        """Give the lock back."""
        if self._handle is not None:
            with contextlib.suppress(OSError):
                os.ftruncate(self._handle, 0)
            os.close(self._handle)
            self._handle = None


_BODY = 1 if sys.platform == "win32" else 0
"""Where the words stand: Windows locks the first byte for readers too."""


def _holder(path: Path) -> str:
    """Return who holds a lock, as far as its file tells."""
    try:
        with path.open("rb") as file:
            file.seek(_BODY)
            owner: dict[str, str] = json.loads(file.read(2000) or b"{}")
    except (OSError, ValueError):
        return ""
    words = [f"at {owner['about']}"] if owner.get("about") else []
    words += (
        [f"by process {owner['pid']} on {owner.get('host', 'this computer')}"] if owner.get("pid") else []
    )
    words += [f"since {owner['since'][:16].replace('T', ' ')} UTC"] if owner.get("since") else []
    return f" ({', '.join(words)})" if words else ""
