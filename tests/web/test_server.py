"""The running server: events with replay, an end by Ctrl-C with a page open, the types made from its description."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from tools.pages import api_types

from platewright.errors import RefusedError
from platewright.web import server
from tests.web.helpers import SCRIPT, client, document, free_port, running

ROOT = Path(__file__).resolve().parents[2]


def _until(lines: Iterator[str], word: str) -> list[str]:
    """Return the lines of a stream up to the first that holds a word."""
    read = []
    for line in lines:
        read.append(line)
        if word in line:
            return read
    raise AssertionError(f"the stream ended before {word!r}: {read}")


def test_events_come_as_they_happen_and_are_replayed(tmp_path: Path) -> None:
    with running(tmp_path) as address, httpx.Client(base_url=address, headers=SCRIPT, timeout=20) as http:
        with http.stream("GET", "/api/events") as stream:
            lines = stream.iter_lines()
            _until(lines, "event: hello")
            job = http.post("/api/jobs", json={"document": document()}).json()["id"]
            _until(lines, "event: saved")
            first = next(line for line in lines if line.startswith("id: "))[4:]
        for name, expected in (("two", 1), ("three", 2)):
            http.put(f"/api/jobs/{job}", json={"document": document(name=name), "expected": expected})
        with http.stream("GET", "/api/events", headers={"last-event-id": first}) as stream:
            data = [line[6:] for line in _until(stream.iter_lines(), "3}") if line.startswith("data: ")]
        assert [json.loads(d)["number"] for d in data if "job" in d] == [2, 3]
        with http.stream("GET", "/api/events", headers={"last-event-id": "other-5"}) as stream:
            assert _until(stream.iter_lines(), "event: reset")


def _from_the_network(app: Any) -> Any:
    """Wrap an app: who asks under the number 127.0.0.1 counts as a phone on the shop's network."""

    async def wrapped(scope: dict[str, Any], receive: Any, send: Any) -> None:
        host = dict(scope.get("headers", [])).get(b"host", b"")
        await app(
            {**scope, "client": ("192.168.7.9", 50000)} if host.startswith(b"127.0.0.1") else scope,
            receive,
            send,
        )

    return wrapped


def test_shutting_a_phone_out_ends_its_open_stream(tmp_path: Path) -> None:
    with running(tmp_path, lan=True, network="127.0.0.1", wrap=_from_the_network) as address:
        port = address.rsplit(":", 1)[1]
        with (
            httpx.Client(base_url=address, headers=SCRIPT, timeout=20) as desk,
            httpx.Client(base_url=f"http://127.0.0.1:{port}", headers=SCRIPT, timeout=20) as phone,
        ):
            code = desk.post("/api/pairing").json()["urls"][0].split("#")[1]
            assert phone.post("/api/pair", json={"code": code, "name": "apron\x1b phone"}).status_code == 200
            [device] = desk.get("/api/devices").json()
            assert device["name"] == "apron phone"
            with phone.stream("GET", "/api/events") as stream:
                lines = stream.iter_lines()
                _until(lines, "event: hello")
                assert desk.delete(f"/api/devices/{device['id']}").status_code == 204
                assert "event: devices" not in list(lines)  # it ends by itself, and tells nothing more
            assert phone.get("/api/events").status_code == 401


def test_the_door_is_opened_and_shut_while_the_page_runs(tmp_path: Path) -> None:
    apps: list[Any] = []

    def seen(app: Any) -> Any:
        apps.append(app)
        return app

    def answers(http: httpx.Client) -> int:
        try:
            return http.get("/api/hello").status_code
        except httpx.TransportError:
            return 0

    with running(tmp_path, wrap=seen) as address:
        port = address.rsplit(":", 1)[1]
        door = apps[0].state.server.door
        door._find = lambda: ("127.0.0.2",)  # another address of this machine stands in for the network's
        with (
            httpx.Client(base_url=address, headers=SCRIPT, timeout=20) as desk,
            httpx.Client(base_url=f"http://127.0.0.2:{port}", headers=SCRIPT, timeout=20) as phone,
        ):
            assert answers(phone) == 0
            assert desk.post("/api/pairing").status_code == 409
            opened = desk.post("/api/door")
            if opened.status_code == 409 and sys.platform != "linux":
                pytest.skip("this system has one loopback address")
            assert opened.json() | {"version": ""} == {
                "version": "", "paired": True, "here": True, "lan": True, "closable": True,
            }  # fmt: skip
            assert answers(phone) == 200
            link = desk.post("/api/pairing").json()["urls"][0]
            assert link.startswith(f"http://127.0.0.2:{port}/pair#")
            assert phone.get("/api/hello", headers={"host": f"192.168.9.9:{port}"}).status_code == 421
            assert desk.post("/api/door").json()["lan"] is True  # open already
            assert desk.delete("/api/door").status_code == 204
            assert answers(phone) == 0
            assert answers(desk) == 200
            assert desk.post("/api/door").json()["lan"] is True  # and once more
            assert answers(phone) == 200


def test_a_computer_on_no_network_says_so(tmp_path: Path) -> None:
    here = client(tmp_path)
    here.app.state.server.door._find = tuple  # type: ignore[attr-defined]
    answer = here.post("/api/door", headers=SCRIPT)
    assert answer.status_code == 409
    assert "no network" in answer.json()["what"]


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_a_second_server_on_the_folder_is_reported_who_has_it(tmp_path: Path) -> None:
    port = free_port()
    code = f"from pathlib import Path; from platewright.web.server import serve; serve(Path({str(tmp_path)!r}), port={port}, open_browser=False)"
    child = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.DEVNULL, start_new_session=True)
    try:
        with httpx.Client(base_url=f"http://localhost:{port}", timeout=20) as http:
            for _ in range(400):
                try:
                    http.get("/api/hello")
                    break
                except httpx.TransportError:
                    time.sleep(0.05)
        with pytest.raises(
            RefusedError, match=rf"open already \(at http://localhost:{port}/, by process {child.pid}"
        ):
            server.serve(tmp_path, port=free_port(), open_browser=False)
    finally:
        child.kill()
        child.wait()
    server._opened(tmp_path, "").free()  # the lock of a dead server counts for nothing


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_ctrl_c_ends_the_server_with_a_page_open(tmp_path: Path) -> None:
    port = free_port()
    code = f"from pathlib import Path; from platewright.web.server import serve; serve(Path({str(tmp_path)!r}), port={port}, open_browser=False)"
    child = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True
    )  # fmt: skip
    with httpx.Client(base_url=f"http://localhost:{port}", timeout=20) as http:
        for _ in range(400):
            try:
                http.get("/api/hello")
                break
            except httpx.TransportError:
                time.sleep(0.05)
        with http.stream("GET", "/api/events") as stream:
            lines = stream.iter_lines()  # kept: dropped, it would close the stream
            next(lines)
            began = time.monotonic()
            child.send_signal(signal.SIGINT)
            _, printed = child.communicate(timeout=15)
            assert time.monotonic() - began < 8
            assert printed == ""


def test_a_taken_port_is_reported(tmp_path: Path) -> None:
    with running(tmp_path) as address, pytest.raises(RefusedError, match="is taken"):
        server.serve(tmp_path, port=int(address.rsplit(":", 1)[1]), open_browser=False)


def test_the_pages_types_are_fresh() -> None:
    assert (ROOT / "client/src/api-types.ts").read_text(encoding="utf-8") == api_types.text()


def test_importing_the_package_imports_no_web_library() -> None:
    code = "import sys, platewright.web, platewright.shop, platewright.jobs; print([m for m in ('fastapi', 'pydantic', 'uvicorn') if m in sys.modules])"
    output = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert output.strip() == "[]"
