"""The shop's folder: one server, no empty shop by accident, swaps that survive a kill, full and shut disks in a sentence."""

from __future__ import annotations

import errno
import json
import os
import sqlite3
import subprocess
import sys
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest

from platewright.errors import InputError, RefusedError
from platewright.shop.folder import daily, ledger
from platewright.shop.folder.backup import back_up, put_back, put_beside, replace
from platewright.shop.folder.devices import Devices
from platewright.shop.folder.ledger import Paper
from platewright.shop.folder.lock import FolderLock
from platewright.shop.folder.storage import StorageError, trouble
from platewright.shop.folder.store import MissingError, Shop
from platewright.shop.folder.swap import swap
from platewright.web.server import _opened
from tests.shop.folder.test_ledger import DAY, LINES


def _filled(folder: Path) -> tuple[Shop, str]:
    shop = Shop(folder)
    sha = shop.put_file(b"photo" * 1000, name="p.jpg", media="image/jpeg").sha256
    shop.save("job", "a", {"file": sha})
    return shop, sha


# -- one server a folder ----------------------------------------------------------------------


def test_the_second_server_is_reported_who_holds_the_shop(tmp_path: Path) -> None:
    held = FolderLock(tmp_path, about="http://localhost:8730/", now="2026-03-02T10:11:12Z")
    with pytest.raises(
        RefusedError,
        match=rf"open already \(at http://localhost:8730/, by process {os.getpid()} on .*, since 2026-03-02 10:11",
    ):
        FolderLock(tmp_path)
    held.free()
    FolderLock(tmp_path).free()


def test_the_lock_of_a_dead_process_is_taken_over(tmp_path: Path) -> None:
    code = f"from platewright.shop.folder.lock import FolderLock; from pathlib import Path; import os; FolderLock(Path({str(tmp_path)!r})); os._exit(9)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 9
    assert json.loads((tmp_path / "server.lock").read_text())["pid"] != os.getpid()
    FolderLock(tmp_path).free()


# -- no shop by accident ----------------------------------------------------------------------


def test_an_empty_or_missing_database_never_begins_a_new_shop(tmp_path: Path) -> None:
    shop, _ = _filled(tmp_path / "shop")
    shop.close()
    (tmp_path / "shop" / "shop.sqlite").write_bytes(b"")
    with pytest.raises(RefusedError, match="it is empty"):
        Shop(tmp_path / "shop")
    (tmp_path / "shop" / "shop.sqlite").unlink()
    for log in (tmp_path / "shop").glob("shop.sqlite-*"):
        log.unlink()
    with pytest.raises(RefusedError, match="database is missing, and its files are there"):
        Shop(tmp_path / "shop")


def test_a_damaged_database_is_reported_at_the_start_with_the_newest_backup(tmp_path: Path) -> None:
    shop, sha = _filled(tmp_path / "shop")
    assert daily.back_up_daily(shop) is not None
    last = daily.newest(tmp_path / "shop")
    assert last is not None
    shop.close()
    file = tmp_path / "shop" / "shop.sqlite"
    data = bytearray(file.read_bytes())
    data[4096:12_288] = b"\x5a" * 8192
    file.write_bytes(data)
    with pytest.raises(RefusedError, match=r"damaged|cannot be used") as told:
        _opened(tmp_path / "shop", "")
    assert f'--put-back "{last}"' in told.value.do
    made = replace(last, tmp_path / "shop")
    assert made.folder.name.startswith("shop-before-")
    with Shop(tmp_path / "shop") as again:
        assert again.file(sha) == b"photo" * 1000


# -- swaps and restores that are killed -------------------------------------------------------


@pytest.mark.parametrize("moment", [1, 2, 3, 4])
def test_a_killed_swap_leaves_one_whole_shop_under_the_name(
    tmp_path: Path, moment: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("shop", "fresh"):
        with Shop(tmp_path / name) as shop:
            shop.save("job", "who", {"name": name})
    moves = []

    def killed(self: Path, target: Path) -> Path:
        moves.append(target)
        if len(moves) == moment:
            raise KeyboardInterrupt
        return real(self, target)

    real = Path.rename
    monkeypatch.setattr(Path, "rename", killed)
    try:
        swap(tmp_path / "shop", tmp_path / "fresh", tmp_path / "former")
    except KeyboardInterrupt:
        assert moment <= 2
    monkeypatch.setattr(Path, "rename", real)
    with Shop(tmp_path / "shop") as shop:
        assert shop.load("job", "who").doc["name"] == ("shop" if moment == 1 else "fresh")
    assert list(tmp_path.glob(".shop.exchange")) == []


def test_a_half_written_restore_is_no_shop_and_is_cleared(tmp_path: Path) -> None:
    shop, _ = _filled(tmp_path / "shop")
    half = tmp_path / ".shop.restoring-1234"
    half.mkdir()
    (half / "shop.sqlite").write_bytes(b"half")
    part = tmp_path / "shop" / "files" / "ab" / ".1234.part"
    part.parent.mkdir(exist_ok=True)
    part.write_bytes(b"half")
    assert daily.clear_leftovers(shop) == 2
    assert not half.exists()
    assert not part.exists()
    shop.close()


# -- rot, traps -------------------------------------------------------------------------------


def test_a_rotten_file_is_named_in_the_backup_and_put_right_by_adding_it_again(tmp_path: Path) -> None:
    shop, sha = _filled(tmp_path / "shop")
    other = shop.put_file(b"gone", name="q.jpg", media="image/jpeg").sha256
    shop.blobs.path(sha).write_bytes(b"phota" * 1000)
    shop.blobs.path(other).unlink()
    made = back_up(shop, tmp_path / "x.zip")
    assert sorted(b.split(" (")[0] + b[b.index(")") + 1 :] for b in made.bad) == [
        "p.jpg is damaged",
        "q.jpg is missing",
    ]
    with pytest.raises(RefusedError, match=r"'p\.jpg' has changed on disk"):
        shop.file(sha)
    shop.put_file(b"photo" * 1000, name="p.jpg", media="image/jpeg")
    assert shop.file(sha) == b"photo" * 1000
    assert [b.split(" (")[0] for b in back_up(shop, tmp_path / "y.zip").bad] == ["q.jpg"]
    shop.close()


def test_a_small_zip_that_holds_very_much_is_refused(tmp_path: Path) -> None:
    shop, _ = _filled(tmp_path / "shop")
    box = back_up(shop, tmp_path / "x.zip").path
    with zipfile.ZipFile(box, "a", zipfile.ZIP_DEFLATED) as trap:
        trap.writestr("files/ab/" + "c" * 62, b"\0" * 300_000_000)
    assert box.stat().st_size < 1_000_000
    with pytest.raises(InputError, match="no backup of ours"):
        put_beside(box, shop)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["shop", "x.zip"]
    shop.close()


def test_a_backup_with_a_damaged_database_changes_nothing(tmp_path: Path) -> None:
    shop, _ = _filled(tmp_path / "shop")
    box = back_up(shop, tmp_path / "x.zip").path
    with zipfile.ZipFile(box) as old, zipfile.ZipFile(tmp_path / "y.zip", "w") as new:
        for name in old.namelist():
            data = old.read(name)
            new.writestr(
                name, data[:4096] + b"\x5a" * 8192 + data[12_288:] if name == "shop.sqlite" else data
            )
    with pytest.raises(RefusedError, match="database is damaged"):
        put_back(tmp_path / "y.zip", tmp_path / "again")
    assert not (tmp_path / "again").exists()
    shop.close()


# -- disks ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        (OSError(errno.ENOSPC, "no"), "The disk is full; nothing was saved"),
        (OSError(errno.EFBIG, "no"), "The disk is full; nothing was saved"),
        (OSError(errno.EROFS, "no"), "cannot be written; nothing was saved"),
        (sqlite3.OperationalError("database or disk is full"), "The disk is full; nothing was saved"),
        (
            sqlite3.OperationalError("attempt to write a readonly database"),
            "cannot be written; nothing was saved",
        ),
        (sqlite3.DatabaseError("database disk image is malformed"), "The shop's database is damaged"),
    ],
)
def test_what_a_disk_does_is_one_sentence(wrong: Exception, text: str) -> None:
    told = trouble(wrong)
    assert told is not None
    assert text in told.what
    assert told.do


FULL = """
import resource, signal, sys
from pathlib import Path
from platewright.shop.folder import ledger
from platewright.shop.folder.ledger import Paper
from platewright.shop.folder.store import Shop
from platewright.shop.folder.storage import StorageError
from tests.shop.folder.test_ledger import DAY, LINES
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
with Shop(Path(sys.argv[1])) as shop:
    ledger.read(shop)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))
    done = ""
    try:
        if sys.argv[3] == "issue":
            done = ledger.issue(shop, "quote", customer="a", job="b", day=DAY, lines=LINES, paper=Paper(lambda made: made.number.encode() * 40_000)).number
        else:
            shop.save("job", "a", {"text": "x" * 100_000})
            done = "saved"
        print(done)
    except StorageError as told:
        print(told.sentence())
"""


@pytest.mark.skipif(sys.platform == "win32", reason="files cannot be limited there")
@pytest.mark.parametrize("what", ["issue", "save"])
@pytest.mark.parametrize("room", [0, 4_096, 20_000, 60_000, 100_000, 150_000, 250_000, 1_000_000])
def test_a_full_disk_leaves_no_quote_without_its_paper_and_no_half_save(
    tmp_path: Path, what: str, room: int
) -> None:
    shop, _ = _filled(tmp_path / "shop")
    shop.close()
    output = subprocess.run(
        [sys.executable, "-c", FULL, str(tmp_path / "shop"), str(room), what],
        capture_output=True,
        text=True,
        check=False,
    )
    assert output.returncode == 0, output.stderr
    with Shop(tmp_path / "shop") as shop:
        assert shop.database.sound() == []
        entries = ledger.read(shop).entries
        saved = shop.load("job", "a").number
        if output.stdout.strip() in ("Q0001", "saved"):
            assert (len(entries), saved) == ((1, 1) if what == "issue" else (0, 2))
            if what == "issue":
                assert shop.file(shop.load("issued", "Q0001").doc["file"]) == b"Q0001" * 40_000
        else:
            assert output.stdout.startswith("The disk is full; nothing was saved."), output.stdout
            assert (entries, saved) == ((), 1)
            with pytest.raises(MissingError):
                shop.load("issued", "Q0001")
        shop.put_file(b"after", name="p", media="image/png")  # and it goes on once there is room


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="root writes everywhere")
def test_a_shut_folder_is_one_sentence(tmp_path: Path) -> None:
    shop, _ = _filled(tmp_path / "shop")
    for path in (tmp_path / "shop" / "files", tmp_path / "shop"):
        path.chmod(0o555)
    with pytest.raises(StorageError, match="cannot be written"):
        shop.put_file(b"new", name="x", media="image/png")
    for path in (tmp_path / "shop", tmp_path / "shop" / "files"):
        path.chmod(0o755)
    shop.close()


# -- backups nobody has to think of -----------------------------------------------------------


def test_a_backup_a_day_with_saves_and_none_without(tmp_path: Path) -> None:
    day = "2026-03-02"
    with Shop(tmp_path / "shop", now=lambda: f"{day}T10:00:00.000Z") as shop:
        assert daily.back_up_daily(shop) is None  # nothing there yet
        shop.save("job", "a", {"n": 1})
        assert daily.back_up_daily(shop) is not None
        assert daily.back_up_daily(shop) is None
        day = "2026-03-03"
        assert daily.back_up_daily(shop) is None  # nothing was saved since
        shop.save("job", "a", {"n": 2})
        made = daily.back_up_daily(shop)
        assert made is not None
        assert made.path == tmp_path / "shop-backups" / "auto-2026-03-03.zip"
        put_back(made.path, tmp_path / "again")
    with Shop(tmp_path / "again") as again:
        assert again.load("job", "a").doc == {"n": 2}


def test_the_rule_of_what_stays(tmp_path: Path) -> None:
    today = date(2026, 6, 30)
    every = [today - timedelta(days=n) for n in range(200)]
    stay = daily.kept(every, today)
    assert {today - timedelta(days=n) for n in range(7)} <= stay
    assert {d.strftime("%Y-%m") for d in stay} == {f"2026-{m:02d}" for m in range(1, 7)} | {"2025-12"}
    assert len(stay) <= 7 + 4 + 7
    assert daily.kept([date(2020, 1, 1), date(2020, 1, 2)], today) == {date(2020, 1, 1), date(2020, 1, 2)}


# -- phones -----------------------------------------------------------------------------------


def test_a_restore_brings_no_revoked_phone_back(tmp_path: Path) -> None:
    from platewright.shop.folder.backup import exchange

    shop = Shop(tmp_path / "shop")
    devices = Devices(shop)
    lost, mine = (devices.pair(devices.new_code(), name=n) for n in ("lost", "mine"))
    box = back_up(shop, tmp_path / "x.zip").path
    devices.revoke(next(d.id for d in devices.listing() if d.name == "lost"))
    later = devices.pair(devices.new_code(), name="later")
    exchange(box, shop)
    assert [devices.known(t) for t in (lost, mine, later)] == [False, True, True]
    made = put_beside(box, shop)
    with Shop(made.folder) as other:
        assert [Devices(other).known(t) for t in (lost, mine, later)] == [False, False, False]
    shop.close()


def test_ten_wrong_codes_shut_out_the_guesser_not_the_code(tmp_path: Path) -> None:
    clock = [0.0]
    with Shop(tmp_path) as shop:
        devices = Devices(shop, clock=lambda: clock[0])
        code = devices.new_code()
        for _ in range(10):
            with pytest.raises(RefusedError, match="wrong, used"):
                devices.pair("guess", name="x", peer="10.0.0.9")
        with pytest.raises(RefusedError, match="too many wrong codes"):
            devices.pair(code, name="x", peer="10.0.0.9")
        assert devices.known(devices.pair(code, name="mine", peer="10.0.0.7"))
        clock[0] = 601.0
        with pytest.raises(RefusedError, match="wrong, used"):
            devices.pair("guess", name="x", peer="10.0.0.9")


def test_the_last_use_of_a_device_is_written_down(tmp_path: Path) -> None:
    clock, now = [0.0], ["2026-03-02T10:00:00.000Z"]
    with Shop(tmp_path, now=lambda: now[0]) as shop:
        devices = Devices(shop, clock=lambda: clock[0])
        token = devices.pair(devices.new_code(), name="x")
        clock[0], now[0] = 100.0, "2026-03-05T10:00:00.000Z"
        assert devices.known(token)
        assert devices.listing()[0].seen == "2026-03-05T10:00:00.000Z"


def test_issuing_without_a_printer_still_counts(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        assert (
            ledger.issue(
                shop, "quote", customer="a\x00b\x1b[2J", job="b", day=DAY, lines=LINES, paper=Paper()
            ).customer
            == "ab[2J"
        )
