"""The shop: documents with revisions, files, results and paired devices, in one folder.

A document is a JSON value with a kind and an id. Every save adds a revision whose parent is the head it
was made from; the head moves, nothing is overwritten. Undo moves the head to its parent, redo to its
newest child. A save that names another head than the present one is a conflict: it is kept aside as a
revision of its own and told.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from platewright.documents import cleaned
from platewright.errors import InputError, RefusedError
from platewright.shop.folder.blobs import Blobs
from platewright.shop.folder.database import Database, utc_now
from platewright.shop.folder.storage import troubles
from platewright.shop.folder.swap import settle

__all__ = ["ConflictError", "FileInfo", "MissingError", "Revision", "RevisionInfo", "Shop"]

Document = dict[str, Any]


class MissingError(InputError):
    """What was asked for is not in this shop (HTTP 404)."""


class ConflictError(RefusedError):
    """Somebody else saved first; both versions are kept (HTTP 409).

    Attributes
    ----------
    current : the revision now at the head
    kept : the revision the refused save was kept as
    """

    def __init__(self, kind: str, *, current: int, kept: int) -> None:
        self.current, self.kept = current, kept
        super().__init__(
            f"This {kind} was changed in another window (it is at revision {current} now).",
            where=kind,
            do=f"Your version is kept as revision {kept}: look at both in the history and choose.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionInfo:
    """A revision without its document: number, what it was made from, when, why, and whether it is set aside."""

    kind: str
    id: str
    number: int
    parent: int | None
    aside: bool
    at: str
    note: str
    head: bool


@dataclass(frozen=True, slots=True)
class Revision:
    """One saved state of a document."""

    info: RevisionInfo
    doc: Document

    @property
    def number(self) -> int:
        """The revision's number within its document, from 1 [-]."""
        return self.info.number


@dataclass(frozen=True, slots=True)
class FileInfo:
    """A kept file: its hash, size [bytes], media type, and the name it came with."""

    sha256: str
    size: int
    media: str
    name: str
    at: str


_INFO = "r.kind, r.id, r.number, r.parent, r.aside, r.at, r.note, (r.number = d.head) AS head"
_JOIN = "revisions r JOIN documents d ON d.kind = r.kind AND d.id = r.id"


def _info(row: sqlite3.Row) -> RevisionInfo:
    return RevisionInfo(
        kind=row["kind"], id=row["id"], number=row["number"], parent=row["parent"], aside=bool(row["aside"]), at=row["at"], note=row["note"],
        head=bool(row["head"]),
    )  # fmt: skip


def _text(doc: Mapping[str, object]) -> str:
    """Return a document as JSON.

    Raises
    ------
    InputError
        If it holds what cannot be kept: half a letter, a number that is none, or itself.
    """
    try:
        text = json.dumps(doc, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        text.encode()
    except (ValueError, RecursionError) as bad:
        raise InputError(f"This document cannot be kept: {bad}.", do="Type the text anew.") from None
    return text


class Shop:
    """A shop's folder.

    Parameters
    ----------
    folder : made if absent; holds ``shop.sqlite`` and ``files/``
    now : the clock, ISO 8601 text
    """

    def __init__(self, folder: Path, *, now: Callable[[], str] = utc_now) -> None:
        with troubles():
            settle(folder)
            folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.now = now
        if not (folder / "shop.sqlite").exists() and any((folder / "files").glob("??/*")):
            raise RefusedError(
                "The shop's database is missing, and its files are there.", where=str(folder),
                do="Put back a backup, or choose another shop folder.",
            )  # fmt: skip
        self.database = Database(folder / "shop.sqlite", now=now)
        self.blobs = Blobs(folder / "files")

    def close(self) -> None:
        """Close the database; files need no closing."""
        self.database.close()

    def __enter__(self) -> Shop:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # -- documents ---------------------------------------------------------------------------

    def save(
        self, kind: str, ident: str, doc: Mapping[str, object], *, expected: int | None = None, note: str = ""
    ) -> Revision:
        """Save a document as a new revision and make it the head.

        Parameters
        ----------
        kind, ident : which document; a new one is made if absent
        doc : plain JSON values
        expected : the head the change was made from; None saves onto whatever is there
        note : what changed, for the history

        Raises
        ------
        ConflictError
            If the head is not the expected one; the document is then kept aside.
        """
        text = _text(doc)
        note = cleaned(note, 400)
        with self.database.atomic() as db:
            head = self._head(db, kind, ident)
            number = self._next(db, kind, ident)
            aside = expected is not None and expected != (head or 0)
            parent = expected if aside else head
            db.execute(
                "INSERT INTO revisions VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (kind, ident, number, parent or None, int(aside), self.now(), note, text),
            )
            if not aside:
                db.execute(
                    "INSERT INTO documents (kind, id, head) VALUES (?, ?, ?) "
                    "ON CONFLICT (kind, id) DO UPDATE SET head = excluded.head, removed = 0",
                    (kind, ident, number),
                )
        if aside:
            raise ConflictError(kind, current=head or 0, kept=number)
        return self.load(kind, ident, number=number)

    def create(self, kind: str, doc: Mapping[str, object], *, note: str = "") -> Revision:
        """Save a new document under a fresh id."""
        return self.save(kind, secrets.token_hex(5), doc, expected=0, note=note)

    @staticmethod
    def _head(db: sqlite3.Connection, kind: str, ident: str) -> int | None:
        row = db.execute("SELECT head FROM documents WHERE kind = ? AND id = ?", (kind, ident)).fetchone()
        return None if row is None else int(row["head"])

    @staticmethod
    def _next(db: sqlite3.Connection, kind: str, ident: str) -> int:
        row = db.execute(
            "SELECT max(number) FROM revisions WHERE kind = ? AND id = ?", (kind, ident)
        ).fetchone()
        return int(row[0] or 0) + 1

    def load(self, kind: str, ident: str, *, number: int | None = None) -> Revision:
        """Return a document's head, or one of its revisions; there is none beyond what the database counts to.

        Raises
        ------
        MissingError
            If there is no such document or revision.
        """
        if number is not None and not 0 <= number < 2**63:
            number = 0
        row = (
            self.database.connection()
            .execute(
                f"SELECT {_INFO}, r.doc FROM {_JOIN} WHERE r.kind = ? AND r.id = ? AND r.number = coalesce(?, d.head)",
                (kind, ident, number),
            )
            .fetchone()
        )
        if row is None:
            which = "" if number is None else f" with revision {number}"
            raise MissingError(
                f"This shop has no {kind} '{ident}'{which}.", do="Go back to the list and pick one."
            )
        return Revision(_info(row), json.loads(row["doc"]))

    def listing(self, kind: str, *, removed: bool = False) -> list[Revision]:
        """Return the heads of all documents of a kind, newest change first."""
        rows = self.database.connection().execute(
            f"SELECT {_INFO}, r.doc FROM {_JOIN} WHERE r.kind = ? AND r.number = d.head AND d.removed = ? "
            "ORDER BY r.at DESC, r.id",
            (kind, int(removed)),
        )
        return [Revision(_info(row), json.loads(row["doc"])) for row in rows]

    def history(self, kind: str, ident: str) -> list[RevisionInfo]:
        """Return every revision of a document, newest first."""
        rows = self.database.connection().execute(
            f"SELECT {_INFO} FROM {_JOIN} WHERE r.kind = ? AND r.id = ? ORDER BY r.number DESC", (kind, ident)
        )
        return [_info(row) for row in rows]

    def restore(self, kind: str, ident: str, *, number: int, expected: int | None = None) -> Revision:
        """Make an earlier (or set-aside) revision current by saving its document again."""
        old = self.load(kind, ident, number=number)
        return self.save(kind, ident, old.doc, expected=expected, note=f"back to revision {number}")

    def undo(self, kind: str, ident: str, *, expected: int | None = None) -> Revision:
        """Move the head to the revision it was made from.

        Raises
        ------
        RefusedError
            If there is nothing before it, or the head moved meanwhile.
        """
        parent = self.load(kind, ident).info.parent
        if parent is None:
            raise RefusedError("There is nothing to undo.", where=kind)
        return self._move(kind, ident, parent, expected=expected)

    def redo(self, kind: str, ident: str, *, expected: int | None = None) -> Revision:
        """Move the head to the newest revision made from it.

        Raises
        ------
        RefusedError
            If nothing was undone, or the head moved meanwhile.
        """
        head = self.load(kind, ident).number
        row = (
            self.database.connection()
            .execute(
                "SELECT max(number) FROM revisions WHERE kind = ? AND id = ? AND parent = ? AND aside = 0",
                (kind, ident, head),
            )
            .fetchone()
        )
        if row[0] is None:
            raise RefusedError("There is nothing to redo.", where=kind)
        return self._move(kind, ident, int(row[0]), expected=expected)

    def _move(self, kind: str, ident: str, number: int, *, expected: int | None) -> Revision:
        with self.database.atomic() as db:
            head = self._head(db, kind, ident)
            if expected is not None and head != expected:
                raise RefusedError(
                    f"This {kind} was changed in another window (it is at revision {head} now).",
                    do="Look at what changed, then try again.",
                )
            db.execute("UPDATE documents SET head = ? WHERE kind = ? AND id = ?", (number, kind, ident))
        return self.load(kind, ident)

    def remove(self, kind: str, ident: str, *, removed: bool = True) -> None:
        """Take a document off the list, or put it back; its revisions stay."""
        self.load(kind, ident)
        with self.database.atomic() as db:
            db.execute(
                "UPDATE documents SET removed = ? WHERE kind = ? AND id = ?", (int(removed), kind, ident)
            )

    # -- files and results -------------------------------------------------------------------

    def put_file(self, data: bytes, *, name: str, media: str) -> FileInfo:
        """Keep a file durably, then record it; kept under its first name if its bytes were kept before, told under this one."""
        sha256, called = self.blobs.put(data), cleaned(name[-200:]) or "file"
        with self.database.atomic() as db:
            db.execute(
                "INSERT INTO files VALUES (?, ?, ?, ?, ?) ON CONFLICT (sha256) DO UPDATE SET at = excluded.at",
                (sha256, len(data), media, called, self.now()),
            )
        if not self.blobs.path(sha256).is_file():  # a clear-out may have taken it before it was recorded anew
            self.blobs.put(data)
        return replace(self.file_info(sha256), name=called)

    def file_info(self, sha256: str) -> FileInfo:
        """Return what is known of a file.

        Raises
        ------
        MissingError
            If the shop has no such file.
        """
        row = (
            self.database.connection()
            .execute("SELECT sha256, size, media, name, at FROM files WHERE sha256 = ?", (sha256,))
            .fetchone()
        )
        if row is None:
            raise MissingError(f"The shop has no file {sha256[:12]}….", do="Add the file again.")
        return FileInfo(*row)

    def file(self, sha256: str) -> bytes:
        """Return a kept file's bytes, checked against its hash."""
        return self.blobs.get(sha256, name=self.file_info(sha256).name)

    def named_file(self, sha256: str) -> tuple[bytes, str]:
        """Return a kept file's bytes and its name (size in [bytes])."""
        return self.file(sha256), self.file_info(sha256).name

    def keep_result(self, key: str, *, step: str, doc: Mapping[str, object]) -> None:
        """Keep what a step computed under the hash of all it was computed from."""
        text = _text(doc)
        with self.database.atomic() as db:
            db.execute(
                "INSERT INTO results VALUES (?, ?, ?, ?) ON CONFLICT (key) DO UPDATE SET doc = excluded.doc, at = excluded.at",
                (key, step, self.now(), text),
            )

    def result(self, key: str) -> Document | None:
        """Return a kept result, or None."""
        row = self.database.connection().execute("SELECT doc FROM results WHERE key = ?", (key,)).fetchone()
        return None if row is None else dict(json.loads(row["doc"]))
