"""The shop's documents, revisions, conflicts, files, migrations."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path

import pytest

from platewright.errors import InputError, RefusedError
from platewright.shop.folder.database import Database
from platewright.shop.folder.migrations import MIGRATIONS
from platewright.shop.folder.store import ConflictError, MissingError, Shop


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    made = Shop(tmp_path / "shop")
    yield made
    made.close()


def test_every_save_is_a_revision_and_all_can_be_read(shop: Shop) -> None:
    first = shop.create("job", {"n": 1})
    shop.save("job", first.info.id, {"n": 2}, expected=1, note="two")
    head = shop.load("job", first.info.id)
    assert (head.number, head.doc, head.info.note, head.info.parent) == (2, {"n": 2}, "two", 1)
    assert shop.load("job", first.info.id, number=1).doc == {"n": 1}
    assert [(r.number, r.head) for r in shop.history("job", first.info.id)] == [(2, True), (1, False)]


def test_two_windows_do_not_overwrite_each_other_and_both_are_kept(shop: Shop) -> None:
    job = shop.create("job", {"n": 1}).info.id
    shop.save("job", job, {"n": "mine"}, expected=1)
    with pytest.raises(ConflictError, match="changed in another window") as told:
        shop.save("job", job, {"n": "theirs"}, expected=1)
    assert (told.value.current, told.value.kept) == (2, 3)
    assert shop.load("job", job).doc == {"n": "mine"}
    assert shop.load("job", job, number=3).doc == {"n": "theirs"}
    assert shop.load("job", job, number=3).info.aside
    back = shop.restore("job", job, number=3, expected=2)
    assert back.doc == {"n": "theirs"}
    assert shop.undo("job", job).doc == {"n": "mine"}


def test_conflicts_hold_between_threads(shop: Shop) -> None:
    job, told = shop.create("job", {"n": 0}).info.id, []

    def save(n: int) -> None:
        try:
            shop.save("job", job, {"n": n}, expected=1)
        except ConflictError as conflict:
            told.append(conflict.kept)

    threads = [threading.Thread(target=save, args=(n,)) for n in range(8)]
    [t.start() for t in threads]
    [t.join() for t in threads]
    assert len(told) == 7
    assert {shop.load("job", job, number=k).doc["n"] for k in range(2, 10)} == set(range(8))


def test_undo_redo_and_a_new_branch(shop: Shop) -> None:
    job = shop.create("job", {"n": 1}).info.id
    for n in (2, 3):
        shop.save("job", job, {"n": n})
    assert [shop.undo("job", job).doc["n"], shop.undo("job", job).doc["n"]] == [2, 1]
    with pytest.raises(RefusedError, match="nothing to undo"):
        shop.undo("job", job)
    assert [shop.redo("job", job).doc["n"], shop.redo("job", job).doc["n"]] == [2, 3]
    with pytest.raises(RefusedError, match="nothing to redo"):
        shop.redo("job", job)
    shop.undo("job", job)
    shop.save("job", job, {"n": 4})
    assert shop.load("job", job).info.parent == 2
    assert shop.load("job", job, number=3).doc == {"n": 3}
    with pytest.raises(RefusedError, match="another window"):
        shop.undo("job", job, expected=2)


def test_removed_documents_come_back(shop: Shop) -> None:
    job = shop.create("job", {"n": 1}).info.id
    shop.remove("job", job)
    assert shop.listing("job") == []
    assert [r.doc for r in shop.listing("job", removed=True)] == [{"n": 1}]
    shop.remove("job", job, removed=False)
    assert len(shop.listing("job")) == 1
    with pytest.raises(MissingError, match="has no job 'nothing'"):
        shop.remove("job", "nothing")


def _fail_after_saving(shop: Shop, ident: str) -> None:
    with shop.database.atomic():
        shop.save("job", ident, {"n": 1})
        raise ZeroDivisionError


def test_a_block_that_fails_leaves_nothing_seen_from_outside(shop: Shop) -> None:
    outside = sqlite3.connect(shop.folder / "shop.sqlite")
    with shop.database.atomic():
        shop.save("job", "x", {"n": 1})
        assert outside.execute("SELECT count(*) FROM revisions").fetchone()[0] == 0
    with pytest.raises(ZeroDivisionError):
        _fail_after_saving(shop, "y")
    with shop.database.atomic():
        shop.save("job", "a", {"n": 1})
        with pytest.raises(ZeroDivisionError):
            _fail_after_saving(shop, "b")
    assert [r[0] for r in outside.execute("SELECT id FROM documents ORDER BY id")] == ["a", "x"]
    outside.close()


def test_numbers_that_are_not_numbers_are_refused(shop: Shop) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        shop.save("job", "a", {"n": float("nan")})


def test_files_are_kept_once_and_checked(shop: Shop) -> None:
    kept = shop.put_file(b"plate", name="a.txt", media="text/plain")
    again = shop.put_file(b"plate", name="b.txt", media="text/plain")
    assert (kept.sha256, kept.size, again.size) == (again.sha256, 5, 5)
    # the labels of two jobs may be the same page: each is told under its own job's name
    assert (kept.name, again.name, shop.file_info(kept.sha256).name) == ("a.txt", "b.txt", "a.txt")
    assert shop.file(kept.sha256) == b"plate"
    shop.blobs.path(kept.sha256).write_bytes(b"plaqe")
    with pytest.raises(RefusedError, match="changed on disk"):
        shop.file(kept.sha256)
    with pytest.raises(MissingError):
        shop.file("0" * 64)
    with pytest.raises(InputError, match="not a file's hash"):
        shop.blobs.path("../../etc/passwd")


def test_results_are_found_by_key(shop: Shop) -> None:
    assert shop.result("k") is None
    shop.keep_result("k", step="layout", doc={"a": [1, 2]})
    assert shop.result("k") == {"a": [1, 2]}


def test_a_broken_migration_changes_nothing_and_leaves_a_copy(tmp_path: Path) -> None:
    path = tmp_path / "shop.sqlite"
    Database(path).close()
    bad = (*MIGRATIONS, ("broken", "CREATE TABLE extra (n INTEGER) STRICT; INSERT INTO nowhere VALUES (1);"))
    with pytest.raises(RefusedError, match="nowhere"):
        Database(path, migrations=bad)
    held = Database(path)
    assert held.version() == len(MIGRATIONS)
    assert held.sound() == []
    names = {r[0] for r in held.connection().execute("SELECT name FROM sqlite_master")}
    assert "extra" not in names
    held.close()
    assert path.with_name(f"shop.sqlite.v{len(MIGRATIONS)}.bak").is_file()


def test_an_old_shop_is_brought_forward_and_a_newer_one_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "shop.sqlite"
    Database(path).close()
    more = (*MIGRATIONS, ("more", "CREATE TABLE extra (n INTEGER) STRICT;"))
    newer = Database(path, migrations=more)
    told = newer.connection().execute("SELECT number, name FROM migrations ORDER BY number").fetchall()
    assert [tuple(r) for r in told] == [(n, name) for n, (name, _) in enumerate(more, 1)]
    newer.close()
    before = path.read_bytes()
    with pytest.raises(RefusedError, match="newer Platewright"):
        Database(path)
    assert path.read_bytes() == before


def test_what_is_no_database_is_reported(tmp_path: Path) -> None:
    (tmp_path / "shop.sqlite").write_bytes(b"not a database at all, but long enough" * 40)
    with pytest.raises(RefusedError, match="cannot be used"):
        Shop(tmp_path)


def test_the_safe_settings_are_on(shop: Shop) -> None:
    db = shop.database.connection()
    said = [
        db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous", "foreign_keys")
    ]
    assert said == ["wal", 2, 1]
