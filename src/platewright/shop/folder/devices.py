"""Phones and other screens allowed in over the shop's network: one-use codes, and tokens kept only as hashes."""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import math
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from platewright.documents import cleaned
from platewright.errors import RefusedError
from platewright.shop.folder.storage import StorageError
from platewright.shop.folder.store import MissingError, Shop

__all__ = ["Device", "Devices"]

CODE_LIFE = 600.0
"""How long a pairing code can be used [s]."""
MAX_TRIES = 10
"""Wrong codes a device may try before it has to wait; open codes stay [-]."""
MOST_PEERS = 1000
"""Devices whose tries are counted at once [-]."""
SEEN = 60.0
"""How often the last use of a device is written down [s]."""


@dataclass(frozen=True, slots=True)
class Device:
    """A paired device: id, what the shop calls it, when paired, when last seen."""

    id: str
    name: str
    at: str
    seen: str


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


class Devices:
    """Pairing and its list. Codes live in memory only; a restart voids them."""

    def __init__(self, shop: Shop, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._shop, self._clock = shop, clock
        self._codes: dict[str, float] = {}
        self._tries: dict[str, tuple[int, float]] = {}
        self._written: dict[str, float] = {}
        self._lock = threading.Lock()

    def new_code(self) -> str:
        """Return a fresh one-use code, good for `CODE_LIFE` seconds [s]."""
        code = secrets.token_urlsafe(24)
        with self._lock:
            self._codes = {k: end for k, end in self._codes.items() if end > self._clock()}
            self._codes[_digest(code)] = self._clock() + CODE_LIFE
            self._tries.clear()
        return code

    def pair(self, code: str, *, name: str, peer: str = "") -> str:
        """Trade a code for a device token (256 bits), which is returned once and kept only as a hash.

        Raises
        ------
        RefusedError
            If the code is wrong, used or too old.
        """
        with self._lock:
            tries, since = self._tries.get(peer, (0, self._clock()))
            if tries >= MAX_TRIES and self._clock() - since < CODE_LIFE:
                raise RefusedError(
                    "This device has tried too many wrong codes.",
                    do="Wait ten minutes, or make a new code on the shop's computer.",
                )
            wanted = _digest(code)
            found = next((k for k in self._codes if hmac.compare_digest(k, wanted)), None)
            end = self._codes.pop(found, 0.0) if found else 0.0
            if end <= self._clock():
                if len(self._tries) < MOST_PEERS or peer in self._tries:
                    self._tries[peer] = (tries + 1, since if tries else self._clock())
                raise RefusedError(
                    "This pairing code is wrong, used, or older than ten minutes.",
                    do="Make a new one on the shop's computer: Shop, then 'Open on a phone'.",
                )
        token, now = secrets.token_urlsafe(32), self._shop.now()
        with self._shop.database.atomic() as db:
            db.execute(
                "INSERT INTO devices VALUES (?, ?, ?, ?, ?, 0)",
                (secrets.token_hex(4), cleaned(name, 60) or "phone", _digest(token), now, now),
            )
        return token

    def known(self, token: str) -> bool:
        """Tell whether a token belongs to a paired device that was not revoked."""
        digest = _digest(token)
        row = (
            self._shop.database.connection()
            .execute("SELECT 1 FROM devices WHERE token_sha256 = ? AND revoked = 0", (digest,))
            .fetchone()
        )
        if row is not None:
            self._used(digest)
        return row is not None

    def _used(self, digest: str) -> None:
        """Write down that a device was here, once in a while."""
        now = self._clock()
        with self._lock:
            if now - self._written.get(digest, -math.inf) < SEEN:
                return
            self._written[digest] = now
        with contextlib.suppress(StorageError), self._shop.database.atomic() as db:
            db.execute("UPDATE devices SET seen = ? WHERE token_sha256 = ?", (self._shop.now(), digest))

    def listing(self) -> list[Device]:
        """Return the devices that may come in, newest first."""
        rows = self._shop.database.connection().execute(
            "SELECT id, name, at, seen FROM devices WHERE revoked = 0 ORDER BY at DESC"
        )
        return [Device(*row) for row in rows]

    def revoke(self, ident: str) -> None:
        """Shut a device out at once.

        Raises
        ------
        MissingError
            If there is no such device.
        """
        with self._shop.database.atomic() as db:
            done = db.execute("UPDATE devices SET revoked = 1 WHERE id = ? AND revoked = 0", (ident,))
            if done.rowcount == 0:
                raise MissingError("There is no such device.", do="Reload the list.")
