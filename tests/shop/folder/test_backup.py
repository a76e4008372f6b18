"""Backups are whole, checked when put back, and taken while the shop is in use."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from platewright.errors import InputError, RefusedError
from platewright.shop.folder.backup import back_up, exchange, put_back, put_beside
from platewright.shop.folder.storage import StorageError
from platewright.shop.folder.store import Shop


def _shop(folder: Path) -> tuple[Shop, str]:
    shop = Shop(folder)
    kept = shop.put_file(b"photo" * 1000, name="p.jpg", media="image/jpeg")
    shop.save("job", "a", {"file": kept.sha256})
    return shop, kept.sha256


def test_a_backup_comes_back_whole(tmp_path: Path) -> None:
    shop, sha = _shop(tmp_path / "shop")
    with shop.database.atomic():
        shop.save("job", "b", {"n": 1})  # not committed yet: the copy must not hold it
        box = back_up(shop, tmp_path / "shop.zip").path
    shop.close()
    assert put_back(box, tmp_path / "again").bad == ()
    with Shop(tmp_path / "again") as again:
        assert again.load("job", "a").doc == {"file": sha}
        assert again.file(sha) == b"photo" * 1000


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    shop, _ = _shop(tmp_path / "shop")
    box = back_up(shop, tmp_path / "shop.zip").path
    with pytest.raises(RefusedError, match="already there"):
        back_up(shop, box)
    with pytest.raises(RefusedError, match="not empty"):
        put_back(box, tmp_path / "shop")
    shop.close()


def test_a_damaged_backup_is_reported(tmp_path: Path) -> None:
    shop, sha = _shop(tmp_path / "shop")
    box = back_up(shop, tmp_path / "shop.zip").path
    shop.close()
    spoiled = tmp_path / "spoiled.zip"
    with zipfile.ZipFile(box) as old, zipfile.ZipFile(spoiled, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, data.replace(b"photo", b"phota") if name.startswith("files/") else data)
    again = put_back(spoiled, tmp_path / "again")  # what is good is kept, what is bad is named
    assert [b.split(" (")[0] for b in again.bad] == ["p.jpg"]
    assert "does not match its hash" in again.bad[0]
    with Shop(tmp_path / "again") as shop:
        assert shop.load("job", "a").doc == {"file": sha}
        with pytest.raises(InputError, match=r"'p\.jpg' is missing"):
            shop.file(sha)
        shop.put_file(b"photo" * 1000, name="p.jpg", media="image/jpeg")
        assert shop.file(sha) == b"photo" * 1000
    (tmp_path / "x.zip").write_bytes(b"nothing")
    with pytest.raises(InputError, match="not a backup"):
        put_back(tmp_path / "x.zip", tmp_path / "third")


def test_a_backup_put_beside_leaves_the_shop_alone(tmp_path: Path) -> None:
    shop, sha = _shop(tmp_path / "shop")
    box = back_up(shop, tmp_path / "shop.zip").path
    shop.save("job", "later", {"n": 2})
    made = put_beside(box, shop).folder
    assert made.parent == tmp_path
    assert put_beside(box, shop).folder != made
    with Shop(made) as other:
        assert [r.info.id for r in other.listing("job")] == ["a"]
        assert other.file(sha) == b"photo" * 1000
    assert shop.load("job", "later").doc == {"n": 2}
    shop.close()


def test_a_backup_put_in_place_keeps_the_former_shop_whole(tmp_path: Path) -> None:
    shop, sha = _shop(tmp_path / "shop")
    box = back_up(shop, tmp_path / "shop.zip").path
    shop.save("job", "later", {"n": 2})
    extra = shop.put_file(b"taken after the backup", name="q.jpg", media="image/jpeg").sha256
    former = exchange(box, shop).folder
    assert [r.info.id for r in shop.listing("job")] == ["a"]  # the same object reads the backup's
    assert shop.file(sha) == b"photo" * 1000
    shop.save("job", "new", {"n": 3})
    with Shop(former) as old:
        assert {r.info.id for r in old.listing("job")} == {"a", "later"}
        assert old.file(extra) == b"taken after the backup"
        assert old.database.sound() == []
    shop.close()


def test_a_bad_backup_changes_nothing_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop, _ = _shop(tmp_path / "shop")
    bad = tmp_path / "bad.zip"
    bad.write_bytes(b"PK nonsense")
    with pytest.raises(InputError, match="not a backup"):
        exchange(bad, shop)
    box = back_up(shop, tmp_path / "shop.zip").path
    moves = []

    def stuck(self: Path, target: Path) -> Path:
        moves.append(target)
        if target.name.startswith("shop-before"):
            raise OSError(13, "in use")
        return real(self, target)

    real = Path.rename
    monkeypatch.setattr(Path, "rename", stuck)
    with pytest.raises(RefusedError, match="Nothing is changed"):
        exchange(box, shop)
    assert shop.load("job", "a").doc
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.zip", "shop", "shop.zip"]
    shop.close()


@pytest.mark.parametrize(("free", "fits"), [(9_000_000, True), (5_000_000, False)])
def test_a_small_disk_is_enough_for_a_small_backup(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free: int, fits: bool
) -> None:
    shop, _ = _shop(tmp_path / "shop")
    made = back_up(shop, tmp_path / "a.zip")
    shop.close()
    monkeypatch.setattr("shutil.disk_usage", lambda _: type("Usage", (), {"free": free})())
    if fits:
        assert put_back(made.path, tmp_path / "again").bad == ()
        return
    with pytest.raises(
        StorageError, match="needs 9 MB with room to work, and the disk has 5 MB free"
    ) as told:
        put_back(made.path, tmp_path / "again")
    assert "nothing was changed" in told.value.what
    assert not (tmp_path / "again").exists()
