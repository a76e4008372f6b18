"""Who may come in: names, origins, pairing, and what every answer carries."""

from __future__ import annotations

from pathlib import Path

import pytest

from platewright.web import page
from platewright.web.guard import COOKIE, is_here
from tests.web.helpers import HOST, LAN, SCRIPT, TestClient, client


@pytest.mark.parametrize("host", ["evil.example", "localhost", "localhost:1", "127.0.0.1.evil.example:8730"])
def test_a_foreign_name_is_refused(tmp_path: Path, host: str) -> None:
    answer = client(tmp_path).get("/api/jobs", headers={"host": host})
    assert (answer.status_code, answer.json()["code"]) == (421, "H007")


def test_two_names_are_refused(tmp_path: Path) -> None:
    answer = client(tmp_path).get("/api/jobs", headers=[("host", HOST), ("host", "evil.example")])
    assert answer.status_code == 400


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": f"http://{HOST}.evil.example"}, 403),
        ({"origin": "http://evil.example", "x-platewright": "1"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"origin": f"http://{HOST}"}, 201),
        ({"sec-fetch-site": "same-origin"}, 201),
        (SCRIPT, 201),
    ],
)
def test_writes_come_from_our_own_page_only(tmp_path: Path, headers: dict[str, str], status: int) -> None:
    answer = client(tmp_path).post("/api/jobs", json={}, headers=headers)
    assert answer.status_code == status
    assert answer.json().get("code") == ("H008" if status == 403 else None)
    assert len(client(tmp_path).get("/api/jobs").json()) == (1 if status == 201 else 0)


def test_json_sent_as_plain_text_is_refused(tmp_path: Path) -> None:
    answer = client(tmp_path).post("/api/jobs", content="{}", headers=SCRIPT | {"content-type": "text/plain"})
    assert answer.status_code == 422


def test_the_network_is_off_by_default_and_off_means_no_names(tmp_path: Path) -> None:
    phone = client(tmp_path, peer="192.168.7.9", host=LAN, addresses=(LAN,))
    assert phone.get("/api/hello").status_code == 421
    here = client(tmp_path)
    answer = here.post("/api/pairing", headers=SCRIPT)
    assert answer.status_code == 409
    assert "Let phones in" in answer.json()["do"]


def test_no_token_no_data(tmp_path: Path) -> None:
    phone = client(tmp_path, peer="192.168.7.9", host=LAN, lan=True, addresses=(LAN,))
    # FastAPI keeps included routers whole; their paths are read from the description instead
    paths = list(client(tmp_path / "b").get("/api/openapi.json").json()["paths"])
    assert len(paths) > 25
    for path in paths:
        plain = path.replace("{", "").replace("}", "")
        expected = 200 if path == "/api/hello" else (405 if path == "/api/pair" else 401)
        answer = phone.get(plain)
        assert answer.status_code == expected, path
        assert expected != 401 or answer.json()["code"] == "H009", path
    assert phone.get("/api/jobs", headers={"x-forwarded-for": "127.0.0.1"}).status_code == 401
    assert phone.get("/api/openapi.json").status_code == 401
    assert phone.get("/api/hello").json()["paired"] is False


def test_pairing_and_shutting_out(tmp_path: Path) -> None:
    here = client(tmp_path, lan=True, addresses=(LAN,))
    made = here.post("/api/pairing", headers=SCRIPT).json()
    code = made["urls"][0].split("#")[1]
    assert made["urls"][0].startswith(f"http://{LAN}/pair#")
    assert "<svg" in made["qr"]
    app = here.app
    phone = TestClient(app, base_url=f"http://{LAN}", client=("192.168.7.9", 5))
    wrong = phone.post("/api/pair", json={"code": "guess"}, headers={"origin": f"http://{LAN}"})
    assert wrong.status_code == 409
    cross = phone.post("/api/pair", json={"code": code}, headers={"origin": "http://evil.example"})
    assert cross.status_code == 403
    joined = phone.post(
        "/api/pair", json={"code": code, "name": "welder's phone"}, headers={"origin": f"http://{LAN}"}
    )
    assert joined.status_code == 200
    cookie = joined.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert phone.get("/api/jobs").status_code == 200
    assert phone.get("/api/jobs", headers={"host": "evil.example"}).status_code == 421
    again = phone.post("/api/pair", json={"code": code}, headers={"origin": f"http://{LAN}"})
    assert again.status_code == 409
    for path in ("/api/devices", "/api/sticks"):
        assert phone.get(path).status_code == 409
    assert phone.post("/api/door", headers={"origin": f"http://{LAN}"}).status_code == 409
    assert phone.delete("/api/door", headers={"origin": f"http://{LAN}"}).status_code == 409
    assert phone.post("/api/pairing", headers={"origin": f"http://{LAN}"}).status_code == 409
    sent = phone.post("/api/restore?how=replace", content=b"PK", headers={"origin": f"http://{LAN}"})
    assert (sent.status_code, sent.json()["code"]) == (409, "H012")
    assert phone.post("/api/backup", headers={"origin": f"http://{LAN}"}).status_code == 409
    [device] = here.get("/api/devices").json()
    assert device["name"] == "welder's phone"
    here.delete(f"/api/devices/{device['id']}", headers=SCRIPT)
    assert phone.get("/api/jobs").status_code == 401


def test_a_made_up_cookie_is_nothing(tmp_path: Path) -> None:
    phone = client(tmp_path, peer="192.168.7.9", host=LAN, lan=True, addresses=(LAN,))
    for cookie in (f"{COOKIE}=abc", f"{COOKIE}=", "a=b;;;=;\x01"):
        assert phone.get("/api/jobs", headers={"cookie": cookie}).status_code == 401


def test_every_answer_carries_the_safe_headers(tmp_path: Path) -> None:
    here = client(tmp_path)
    for answer in (here.get("/api/jobs"), here.get("/api/nothing"), here.get("/", headers={"host": "x"})):
        policy = answer.headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "script" not in policy  # no exception for scripts: inline ones do not run
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"
        assert answer.headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize("path", ["/", "/pair"])
def test_a_page_that_was_not_built_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    monkeypatch.setattr(page, "STATIC", tmp_path)
    answer = client(tmp_path).get(path)
    assert (answer.status_code, answer.json()["code"]) == (503, "H011")
    (tmp_path / "index.html").write_text("<p>built</p>", encoding="utf-8")
    assert client(tmp_path).get(path).text == "<p>built</p>"


@pytest.mark.parametrize(
    ("peer", "here"),
    [
        ("127.0.0.1", True),
        ("::1", True),
        ("::ffff:127.0.0.1", True),
        ("192.168.0.5", False),
        ("testclient", False),
        ("", False),
    ],
)
def test_this_machine_is_known_by_address(peer: str, here: bool) -> None:
    assert is_here(peer) is here
