"""Numbered steps that bring a shop's database to today's shape. Never edit one that has shipped; add another."""

from __future__ import annotations

__all__ = ["MIGRATIONS"]

_FIRST = """
CREATE TABLE migrations (
    number INTEGER PRIMARY KEY,
    name   TEXT NOT NULL,
    at     TEXT NOT NULL
) STRICT;
CREATE TABLE documents (
    kind    TEXT NOT NULL,
    id      TEXT NOT NULL,
    head    INTEGER NOT NULL,
    removed INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    PRIMARY KEY (kind, id),
    FOREIGN KEY (kind, id, head) REFERENCES revisions (kind, id, number) DEFERRABLE INITIALLY DEFERRED
) STRICT;
CREATE TABLE revisions (
    kind   TEXT NOT NULL,
    id     TEXT NOT NULL,
    number INTEGER NOT NULL CHECK (number > 0),
    parent INTEGER,
    aside  INTEGER NOT NULL DEFAULT 0 CHECK (aside IN (0, 1)),
    at     TEXT NOT NULL,
    note   TEXT NOT NULL DEFAULT '',
    doc    TEXT NOT NULL CHECK (json_valid(doc)),
    PRIMARY KEY (kind, id, number)
) STRICT;
CREATE TABLE files (
    sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    size   INTEGER NOT NULL CHECK (size >= 0),
    media  TEXT NOT NULL,
    name   TEXT NOT NULL,
    at     TEXT NOT NULL
) STRICT;
CREATE TABLE results (
    key  TEXT PRIMARY KEY,
    step TEXT NOT NULL,
    at   TEXT NOT NULL,
    doc  TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;
CREATE TABLE devices (
    id           TEXT PRIMARY KEY,
    name         TEXT NOT NULL,
    token_sha256 TEXT NOT NULL UNIQUE,
    at           TEXT NOT NULL,
    seen         TEXT NOT NULL,
    revoked      INTEGER NOT NULL DEFAULT 0 CHECK (revoked IN (0, 1))
) STRICT;
"""

_LEDGER = """
CREATE TABLE ledger (
    number INTEGER PRIMARY KEY,
    at     TEXT NOT NULL,
    doc    TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;
INSERT INTO ledger (at, doc)
    SELECT r.at, e.value
    FROM documents d
    JOIN revisions r ON r.kind = d.kind AND r.id = d.id AND r.number = d.head,
    json_each(r.doc, '$.entries') e
    WHERE d.kind = 'ledger' AND d.id = 'ledger'
    ORDER BY e.key;
DELETE FROM documents WHERE kind = 'ledger' AND id = 'ledger';
DELETE FROM revisions WHERE kind = 'ledger' AND id = 'ledger';
"""
"""The ledger was one document that was saved whole at every entry; now each entry is kept once."""

MIGRATIONS: tuple[tuple[str, str], ...] = (("first tables", _FIRST), ("the ledger as entries", _LEDGER))
"""(name, script) in the order they are applied; the database's ``user_version`` counts those done."""
