"""The first photo on the page of a fresh install: no loop is compiled yet (modules are, as an installer leaves them)."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from benchmarks.figure import Figure
from platewright.jobs.runner import FIRST_TIME

MOST = 15.0
"""The photo's outline is shown after at most this [s]."""


class _Page:
    """What a page asks of a server on this machine."""

    def __init__(self, address: str) -> None:
        self.address = address

    def ask(self, path: str, body: bytes | None = None, kind: str = "application/json") -> Any:
        headers = {"X-Platewright": "1", "Content-Type": kind}
        request = urllib.request.Request(f"{self.address}/api/{path}", data=body, headers=headers)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.load(answer)

    def upload(self, data: bytes) -> str:
        edge = uuid.uuid4().hex
        head = f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="strap.jpg"\r\nContent-Type: image/jpeg\r\n\r\n'
        body = head.encode() + data + f"\r\n--{edge}--\r\n".encode()
        return str(self.ask("files", body, f"multipart/form-data; boundary={edge}")["sha256"])


def figures(quick: bool = False) -> Iterable[Figure]:
    """Give the seconds from the first answer of a fresh install to an outline on the page, which says why it is slow."""
    from examples.gate.photo import photo_bytes
    from tests.web.helpers import free_port

    with tempfile.TemporaryDirectory() as home:
        port = free_port()
        fresh = {"NUMBA_CACHE_DIR": str(Path(home) / "loops")}
        started = time.perf_counter()
        server = subprocess.Popen(
            [sys.executable, "-m", "platewright", "serve", "--shop", f"{home}/shop", "--port", str(port), "--no-browser"],
            env=os.environ | fresh, stdout=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            page = _Page(f"http://127.0.0.1:{port}")
            began = _answered(page, started)
            source = {"kind": "photo", "files": [page.upload(photo_bytes())]}
            document = {"name": "first", "parts": [{"id": "s", "name": "strap", "source": source}]}
            job = page.ask("jobs", json.dumps({"document": document}).encode())["id"]
            work = page.ask(f"jobs/{job}/work", json.dumps({"until": "pattern"}).encode())["id"]
            state, words = _ended(page, work)
            taken = time.perf_counter() - began
        finally:
            server.terminate()
            server.wait(20)
    yield Figure(
        name="fresh install: first photo to outline", ours=f"{taken:.1f} s", peer=f"{MOST:.0f} s", ratio=taken / MOST, bar="<= 1",
        holds=state == "done" and taken <= MOST and any(FIRST_TIME in said for said in words), note=f"the server's first answer after {began - started:.1f} s; work {state}",
    )  # fmt: skip


def _answered(page: _Page, started: float) -> float:
    """Wait until the server answers; return when [s]."""
    while time.perf_counter() - started < 60.0:
        try:
            page.ask("jobs")
            return time.perf_counter()
        except OSError:
            time.sleep(0.05)
    raise TimeoutError("the server did not answer within 60 s")


def _ended(page: _Page, work: str) -> tuple[str, set[str]]:
    """Wait until slow work has ended; return its state and what was said of it."""
    until, words = time.perf_counter() + 60.0, set()
    while time.perf_counter() < until:
        found = next(w for w in page.ask("works") if w["id"] == work)
        words.add(found["text"])
        if found["state"] not in ("waiting", "running"):
            return found["state"], words
        time.sleep(0.1)
    return "not ended", words
