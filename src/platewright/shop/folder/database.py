"""The one door to the shop's database: connections, migrations, atomic blocks.

Rules kept here: write-ahead log with ``synchronous=FULL`` (an acknowledged save survives a power cut),
foreign keys on, every write inside ``atomic()``, a migration and its record in one transaction, a copy
made before an old database is changed, and a database newer than the program left alone.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from platewright.errors import RefusedError
from platewright.shop.folder.migrations import MIGRATIONS
from platewright.shop.folder.storage import StorageError, sync_folder, trouble, troubles

__all__ = ["Database", "utc_now"]

_WAIT = 10.0
"""How long a writer waits for another one [s]."""


def utc_now() -> str:
    """Return the present moment as ISO 8601 text in UTC, whole milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _unusable(path: Path, why: object) -> RefusedError:
    return RefusedError(
        f"The shop's database cannot be used ({why}).",
        where=path.name,
        do="Put back a backup, or choose another shop folder.",
    )


class Database:
    """A shop's SQLite file with one connection a thread.

    Parameters
    ----------
    path : the database file; made if absent
    migrations : (name, script) pairs; the shipped ones unless a test says otherwise
    now : the clock, ISO 8601 text

    Raises
    ------
    RefusedError
        If the file was written by a newer version of this program, or is no database.
    """

    def __init__(
        self,
        path: Path,
        *,
        migrations: Sequence[tuple[str, str]] = MIGRATIONS,
        now: Callable[[], str] = utc_now,
    ) -> None:
        self.path, self.now = path, now
        self._local = threading.local()
        self._open: list[sqlite3.Connection] = []
        self._lock = threading.Lock()
        try:
            with troubles():
                self._make(migrations)
                self._migrate(migrations)
        except StorageError as bad:
            self.close()
            if not isinstance(bad.__cause__, sqlite3.DatabaseError) or "damaged" not in bad.what:
                raise
            raise _unusable(path, bad.__cause__) from bad
        except sqlite3.DatabaseError as bad:
            self.close()
            raise _unusable(path, bad) from bad
        except RefusedError:
            self.close()
            raise

    def _make(self, migrations: Sequence[tuple[str, str]]) -> None:
        """Make a database that is not there yet: whole under another name first, so that a kill leaves none.

        Raises
        ------
        RefusedError
            If there is one that holds nothing: a shop never begins as an empty file.
        """
        if self.path.exists():
            if self.path.stat().st_size == 0:
                raise _unusable(self.path, "it is empty")
            return
        if self.path.with_name(f"{self.path.name}-wal").exists():
            raise _unusable(self.path, "it is missing, and its log is there")
        fresh = self.path.with_name(f".{secrets.token_hex(6)}.{self.path.name}.part")
        made = sqlite3.connect(fresh, isolation_level=None)
        try:
            made.execute("PRAGMA synchronous = FULL")
            for number, (name, script) in enumerate(migrations, start=1):
                made.executescript(self._whole(number, name, script))
        except BaseException:
            made.close()
            fresh.unlink(missing_ok=True)
            raise
        made.close()
        try:
            os.link(fresh, self.path)
        except FileExistsError:
            pass  # another process made one meanwhile: that one counts
        except (OSError, AttributeError):  # no hard links on this disk
            fresh.rename(self.path)
        fresh.unlink(missing_ok=True)
        sync_folder(self.path.parent)

    # -- connections -------------------------------------------------------------------------

    def connection(self) -> sqlite3.Connection:
        """Return this thread's connection, opening it on first use."""
        held: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if held is None:
            held = self._connect()
            self._local.connection = held
        return held

    def _connect(self) -> sqlite3.Connection:
        made = sqlite3.connect(
            self.path, timeout=_WAIT, isolation_level=None, check_same_thread=False, cached_statements=256
        )
        made.row_factory = sqlite3.Row
        made.execute("PRAGMA journal_mode = WAL")
        made.execute("PRAGMA synchronous = FULL")
        made.execute("PRAGMA foreign_keys = ON")
        with self._lock:
            self._open.append(made)
        return made

    def close(self) -> None:
        """Close every connection this object opened, in any thread."""
        with self._lock:
            held, self._open = self._open, []
        for connection in held:
            connection.close()
        self._local = threading.local()

    @contextmanager
    def atomic(self) -> Iterator[sqlite3.Connection]:
        """Run a block as one transaction: all of it is kept, or none. Blocks nest by savepoint."""
        connection = self.connection()
        depth: int = getattr(self._local, "depth", 0)
        begin, keep, drop = (
            ("BEGIN IMMEDIATE", "COMMIT", "ROLLBACK")
            if depth == 0
            else (f"SAVEPOINT s{depth}", f"RELEASE s{depth}", f"ROLLBACK TO s{depth}; RELEASE s{depth}")
        )
        with troubles():
            connection.execute(begin)
        self._local.depth = depth + 1
        try:
            yield connection
            connection.execute(keep)
        except BaseException as wrong:
            if connection.in_transaction:
                with contextlib.suppress(sqlite3.Error):  # a full disk has rolled it back already
                    for statement in drop.split("; "):
                        connection.execute(statement)
            if isinstance(wrong, sqlite3.Error) and (error := trouble(wrong)) is not None:
                raise error from wrong
            raise
        finally:
            self._local.depth = depth

    # -- migrations --------------------------------------------------------------------------

    def version(self) -> int:
        """Return how many migrations this file has had [count]."""
        return int(self.connection().execute("PRAGMA user_version").fetchone()[0])

    def _migrate(self, migrations: Sequence[tuple[str, str]]) -> None:
        held = self.version()
        if held > len(migrations):
            raise RefusedError(
                f"This shop was last used with a newer Platewright (its database has version {held}).",
                where=self.path.name,
                allowed=f"up to version {len(migrations)}",
                do="Install the newer version again, or open a backup made by this one.",
            )
        if 0 < held < len(migrations):
            self.backup(self.path.with_name(f"{self.path.name}.v{held}.bak"))
        for number, (name, script) in enumerate(migrations[held:], start=held + 1):
            self._apply(number, name, script)

    def _whole(self, number: int, name: str, script: str) -> str:
        quoted = name.replace("'", "''")
        return (
            f"BEGIN IMMEDIATE;\n{script}\n"
            f"INSERT INTO migrations VALUES ({number}, '{quoted}', '{self.now()}');\n"
            f"PRAGMA user_version = {number};\nCOMMIT;"
        )

    def _apply(self, number: int, name: str, script: str) -> None:
        """Apply one migration and its record in one transaction; on failure nothing of it stays."""
        connection = self.connection()
        try:
            connection.executescript(self._whole(number, name, script))
        except sqlite3.Error:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise

    def backup(self, target: Path) -> None:
        """Copy the database, also while others write, into a new file."""
        # Its own connection: a transaction open in this thread would hold the copy up for ever.
        copy, source = sqlite3.connect(target), sqlite3.connect(self.path, timeout=_WAIT)
        try:
            source.backup(copy)
        finally:
            source.close()
            copy.close()

    def sound(self) -> list[str]:
        """Return what SQLite's own integrity and foreign-key checks complain of; empty if nothing."""
        connection = self.connection()
        faults = [str(row[0]) for row in connection.execute("PRAGMA integrity_check")]
        broken = [
            f"foreign key of {row[0]} row {row[1]}" for row in connection.execute("PRAGMA foreign_key_check")
        ]
        return [line for line in faults if line != "ok"] + broken
