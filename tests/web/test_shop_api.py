"""Files, rack, tables, settings, backups and sticks over the API."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from platewright.web import files, sticks
from tests.web.helpers import SCRIPT, TestClient, client

PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 64


@pytest.fixture
def api(tmp_path: Path) -> Iterator[TestClient]:
    with client(tmp_path / "shop") as made:
        made.headers.update(SCRIPT)
        yield made


def test_uploads_are_bounded_and_looked_at(api: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = api.post("/api/files", files={"file": ("photo.png", PNG)}).json()
    assert (kept["media"], kept["size"]) == ("image/png", len(PNG))
    shown = api.get(f"/api/files/{kept['sha256']}")
    assert shown.content == PNG
    assert shown.headers["content-disposition"].startswith("inline")
    for name, data in (("a.exe", b"MZ\x90"), ("a.svg", b"<svg>\0</svg>"), ("empty.png", b"")):
        answer = api.post("/api/files", files={"file": (name, data)})
        assert answer.status_code == 422, name
        assert answer.json()["where"] == "file"
    drawing = api.post("/api/files", files={"file": ("a.svg", b"<svg onload='x'/>")}).json()
    served = api.get(f"/api/files/{drawing['sha256']}")
    assert served.headers["content-disposition"].startswith("attachment")
    assert served.headers["content-type"].startswith("text/plain")
    monkeypatch.setattr(files, "MAX_PHOTO", 1000)
    big = api.post("/api/files", files={"file": ("big.png", PNG + b"0" * 2000)})
    assert (big.status_code, big.json()["code"]) == (413, "H006")


def test_a_body_beyond_all_bounds_is_refused(api: TestClient) -> None:
    answer = api.post("/api/files", files={"file": ("big.png", PNG + b"0" * (41 << 20))})
    assert (answer.status_code, answer.json()["code"]) == (413, "H006")
    body = b"[" * (5 << 20)
    answer = api.post("/api/jobs", content=body, headers={"content-type": "application/json"})
    assert (answer.status_code, answer.json()["code"]) == (413, "H006")
    chunked = api.post("/api/jobs", content=iter([body]), headers={"content-type": "application/json"})
    assert (chunked.status_code, chunked.json()["code"]) == (413, "H006")


@pytest.mark.published
def test_the_rack(api: TestClient) -> None:
    plate = {"name": "drop 7", "kind": "drop", "size": "500 x 400 mm", "thickness": "1/4 in", "rack": "B3"}
    made = api.post("/api/stock", json={"plate": plate}).json()
    # 0.5 m by 0.4 m by 6.35 mm of steel, 7850 kg/m3 (EN 1991-1-1): 9.97 kg, 22 lb
    assert made["said"] == "500 × 400 mm, 1/4 in mild steel, 10.0 kg"
    api.put("/api/settings", json={**api.get("/api/settings").json(), "unit": "in"})
    assert [s["said"] for s in api.get("/api/stock").json()] == ["19.7 × 15.75 in, 1/4 in mild steel, 22 lb"]
    assert [s["plate"]["rack"] for s in api.get("/api/stock").json()] == ["B3"]
    wrong = api.post("/api/stock", json={"plate": plate | {"thickness": "thick"}})
    assert wrong.status_code == 422
    api.delete(f"/api/stock/{made['id']}")
    assert api.get("/api/stock").json() == []


def test_a_plate_on_the_rack_has_a_photo_a_place_and_a_life(api: TestClient) -> None:
    plate = {
        "name": "drop 7",
        "kind": "drop",
        "size": "500 x 400 mm",
        "grain": "90 deg",
        "history": ["bought in March"],
    }
    made = api.post("/api/stock", json={"plate": plate}).json()
    at = f"/api/stock/{made['id']}"
    photo = api.post("/api/files", files={"file": ("drop.png", PNG)}).json()["sha256"]
    changed = api.put(at, json=made | {"photo": photo, "plate": made["plate"] | {"rack": "C1"}}).json()
    assert (changed["photo"], changed["plate"]["rack"]) == (photo, "C1")
    assert api.get(f"/api/files/{changed['photo']}").content == PNG
    assert api.put(at, json=made).json()["code"] == "H001"  # made from the state before
    text = api.post("/api/files", files={"file": ("a.svg", b"<svg/>")}).json()["sha256"]
    wrong = api.put(at, json=changed | {"photo": text})
    assert (wrong.status_code, wrong.json()["where"]) == (422, "photo")
    assert api.post(f"{at}/hold", json={"owner": "gate 12"}).json()["plate"]["held_for"] == "gate 12"
    assert api.post(f"{at}/hold", json={"owner": "plough"}).status_code == 422
    assert api.post(f"{at}/hold", json={}).json()["plate"]["held_for"] == ""
    life = [e["what"] for e in api.get(f"{at}/life").json()]
    assert life == [
        "bought in March", "put on the rack", "moved to C1, photographed", "held for gate 12", "released"
    ]  # fmt: skip
    assert api.get(f"{at}/label.pdf").content.startswith(b"%PDF")
    api.delete(at)
    assert [s["id"] for s in api.get("/api/stock", params={"gone": True}).json()] == [made["id"]]
    assert api.post(f"{at}/back").json()["id"] == made["id"]
    assert len(api.get("/api/stock").json()) == 1


def test_a_shop_adds_its_own_table(api: TestClient) -> None:
    tables = api.get("/api/tables").json()
    text = tables[0]["toml"].replace(tables[0]["name"], "my table")
    assert api.put("/api/tables", json={"name": "", "toml": text}).json()["name"] == "my table"
    assert "my table" in [t["name"] for t in api.get("/api/tables").json()]
    wrong = api.put("/api/tables", json={"name": "", "toml": text.replace("=", ":", 1)})
    assert (wrong.status_code, wrong.json()["code"]) == (422, "H004")


def test_settings_are_kept_and_conflicts_reported(api: TestClient) -> None:
    first = api.get("/api/settings").json()
    kept = api.put(
        "/api/settings", json=first | {"name": "Hollow Creek Gates", "rates": {"labour_per_hour": "55"}}
    )
    assert kept.json()["name"] == "Hollow Creek Gates"
    assert api.put("/api/settings", json=first).status_code == 409
    wrong = api.put("/api/settings", json=kept.json() | {"rates": {"labour_per_hour": "much"}})
    assert wrong.status_code == 422


def test_a_backup_comes_as_one_file(api: TestClient) -> None:
    api.post("/api/jobs", json={})
    answer = api.post("/api/backup")
    assert answer.headers["content-disposition"].endswith('.zip"')
    with zipfile.ZipFile(io.BytesIO(answer.content)) as box:
        assert "shop.sqlite" in box.namelist()


def test_a_backup_is_put_back_beside_or_in_place(api: TestClient, tmp_path: Path) -> None:
    first = api.post("/api/jobs", json={}).json()["id"]
    box = api.post("/api/backup").content
    second = api.post("/api/jobs", json={}).json()["id"]
    beside = api.post("/api/restore?how=beside", content=box).json()
    assert "as it was" in beside["said"]
    assert {j["id"] for j in api.get("/api/jobs").json()} == {first, second}
    placed = api.post("/api/restore?how=replace", content=box).json()
    assert {j["id"] for j in api.get("/api/jobs").json()} == {first}
    assert placed["folder"] in placed["said"]
    assert {Path(r["folder"]).parent for r in (beside, placed)} == {tmp_path}
    with client(Path(placed["folder"])) as former:
        assert {j["id"] for j in former.get("/api/jobs").json()} == {first, second}
    broken = api.post("/api/restore?how=replace", content=box[:400])
    assert (broken.status_code, broken.json()["code"]) == (422, "H004")
    assert {j["id"] for j in api.get("/api/jobs").json()} == {first}


def test_a_program_is_written_to_a_stick_and_read_back(
    api: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = tmp_path / "KINGPIN"
    stick.mkdir()
    monkeypatch.setattr(sticks, "sticks", lambda: {"KINGPIN": stick})
    kept = api.post("/api/files", files={"file": ("gate.txt", b"G21\nM2\n")}).json()
    assert api.get("/api/sticks").json() == ["KINGPIN"]
    done = api.post("/api/sticks", json={"sha256": kept["sha256"], "stick": "KINGPIN", "name": "gate.ngc"})
    assert "read back and the same" in done.json()["said"]
    assert (stick / "gate.ngc").read_bytes() == b"G21\nM2\n"
    for name in ("../gate.ngc", "..\\gate.ngc", ".hidden", "a/b"):
        answer = api.post("/api/sticks", json={"sha256": kept["sha256"], "stick": "KINGPIN", "name": name})
        assert answer.status_code == 422, name
    assert api.post("/api/sticks", json={"sha256": kept["sha256"], "stick": "OTHER"}).status_code == 422


def test_families_follow_every_number(api: TestClient) -> None:
    listed = api.get("/api/families").json()
    assert len(listed) > 15
    for family in listed:
        values = {p["name"]: p["default"] for p in family["fields"]}
        live = api.post(f"/api/families/{family['name']}/live", json={"values": values})
        assert live.status_code == 200, family["name"]
        assert live.json()["scene"]["items"]
        assert api.get(f"/api/families/{family['name']}/picture.svg").text.startswith("<svg")
    wrong = api.post("/api/families/gusset/live", json={"values": {"across": "much"}})
    assert (wrong.status_code, wrong.json()["code"]) == (422, "H004")
    assert "across" in wrong.json()["where"].lower()


def test_quantities_as_said(api: TestClient) -> None:
    assert api.post("/api/say", json={"text": "3/16 in"}).json()["value"] == pytest.approx(4.7625)
    assert api.post("/api/say", json={"text": "10 ga", "metal": "mild steel"}).json()["value"] > 3
    assert api.post("/api/say", json={"text": "10 ga"}).status_code == 422
    for text, kind, shown in (
        ("5", "length", "5 mm = 0.197 in (a number alone is taken in mm)"),
        ("4x8", "sheet", "1219.2 mm × 2438.4 mm"),
        ("40, 30", "place", "40 mm, 30 mm"),
        ("M12", "hole", "13.5 mm (M12 medium)"),
        ("45", "angle", "45 deg (a number alone is taken in deg)"),
        ("8.25 %", "share", "8.25 %"),
    ):
        assert api.post("/api/say", json={"text": text, "kind": kind}).json()["shown"] == shown
    api.put("/api/settings", json={"unit": "in"})
    assert api.post("/api/say", json={"text": "1/4 in"}).json()["shown"] == "0.25 in = 6.35 mm"
    for text in ("1,000 mm", "3/8", "x" * 190, "5'6"):
        assert api.post("/api/say", json={"text": text}).status_code == 422
    assert api.post("/api/say", json={"text": "6", "kind": "ruler"}).status_code == 422
    assert api.get("/api/cards.pdf").content.startswith(b"%PDF")
    assert api.get("/api/cards.pdf?pages=99").status_code == 422
