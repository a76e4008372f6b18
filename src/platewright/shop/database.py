"""The one door to the shop's database: connections, migrations, atomic blocks.

Rules kept here: write-ahead log with ``synchronous=FULL`` (an acknowledged save survives a power cut),
foreign keys on, every write inside ``atomic()``, a migration and its record in one transaction, a copy
made before an old database is changed, and a database newer than the program left alone.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from platewright.errors import RefusedError
from platewright.shop.migrations import MIGRATIONS

__all__ = ["Database", "utc_now"]

_WAIT = 10.0
"""How long a writer waits for another one [s]."""


def utc_now() -> str:
    """Return the present moment as ISO 8601 text in UTC, whole milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


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
            self._migrate(migrations)
        except sqlite3.DatabaseError as bad:
            self.close()
            raise RefusedError(
                f"The shop's database cannot be used ({bad}).",
                where=path.name,
                do="Put back a backup, or choose another shop folder.",
            ) from bad
        except RefusedError:
            self.close()
            raise

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
        connection.execute(begin)
        self._local.depth = depth + 1
        try:
            yield connection
            connection.execute(keep)
        except BaseException:
            if connection.in_transaction:
                for statement in drop.split("; "):
                    connection.execute(statement)
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

    def _apply(self, number: int, name: str, script: str) -> None:
        """Apply one migration and its record in one transaction; on failure nothing of it stays."""
        quoted = name.replace("'", "''")
        whole = (
            f"BEGIN IMMEDIATE;\n{script}\n"
            f"INSERT INTO migrations VALUES ({number}, '{quoted}', '{self.now()}');\n"
            f"PRAGMA user_version = {number};\nCOMMIT;"
        )
        connection = self.connection()
        try:
            connection.executescript(whole)
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
        said = [str(row[0]) for row in connection.execute("PRAGMA integrity_check")]
        broken = [
            f"foreign key of {row[0]} row {row[1]}" for row in connection.execute("PRAGMA foreign_key_check")
        ]
        return [line for line in said if line != "ok"] + broken
