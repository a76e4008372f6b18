"""The guard before every request: names, origins, devices, and the headers of every answer.

Pure ASGI (streams pass through unbuffered). Loopback peers come in without pairing; anybody else needs a
paired device's cookie, and only while the page is open to the network at all.
"""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from platewright.web.problems import problem

__all__ = ["COOKIE", "Guard", "is_here"]

COOKIE = "platewright_device"
OPEN = ("/api/pair", "/api/hello")
"""Paths of the API an unpaired device may use."""
MAX_BODY = 4 << 20
"""Largest body of a request [bytes]; uploads may be bigger."""
BOUNDS = {"/api/files": (40 << 20) + (1 << 16), "/api/restore": 32 << 30}
"""Largest upload with its wrapping [bytes]: each kind of file has its own bound below this; a backup is written to disk
as it comes, and only this machine may send one."""
HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (
        b"content-security-policy",
        b"default-src 'self'; img-src 'self' blob: data:; style-src 'self' 'unsafe-inline'; object-src 'none'; "
        b"base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


def is_here(peer: str) -> bool:
    """Tell whether a peer's address is this machine."""
    try:
        address = ipaddress.ip_address(peer.split("%")[0])
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return (mapped or address).is_loopback


class Guard:
    """Wrap an app.

    Parameters
    ----------
    app : what is guarded
    named : tells whether the page may be asked for under a name with port
    known : tells whether a device token is paired
    """

    def __init__(self, app: ASGIApp, *, named: Callable[[str], bool], known: Callable[[str], bool]) -> None:
        self.app, self.named, self.known = app, named, known

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return

        answer = _Answer(send)
        refused = self._refused(scope)
        if refused is not None:
            await answer.ours(*refused)
            return
        bound = BOUNDS.get(scope["path"], MAX_BODY)
        taken = 0

        async def bounded() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > bound:
                answer.over = True
                return {"type": "http.disconnect"}
            return message

        try:
            await self.app(scope, bounded, answer)
        except Exception:
            if not answer.over:
                raise
        if answer.over and not answer.started:
            await answer.ours(413, problem("H006", limit=f"{bound >> 20} MB"))

    def _refused(self, scope: Scope) -> tuple[int, dict[str, Any]] | None:
        headers: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
        hosts = headers.get("host", [])
        if len(hosts) != 1:
            return 400, problem("H007", host=", ".join(hosts))
        host = hosts[0].lower()
        if not self.named(host):
            return 421, problem("H007", host=host[:80])
        length = headers.get("content-length", ["0"])[0]
        if length.isdigit() and int(length) > BOUNDS.get(scope["path"], MAX_BODY):
            return 413, problem("H006", limit="size")
        if scope["method"] not in ("GET", "HEAD", "OPTIONS") and not _same_origin(headers, host):
            return 403, problem("H008")
        peer = (scope.get("client") or ("",))[0]
        if is_here(peer) or not scope["path"].startswith("/api/") or scope["path"] in OPEN:
            return None
        token = _token(headers)
        return None if token and self.known(token) else (401, problem("H009"))


class _Answer:
    """An answer on its way out: our headers go on it; once the body was too big, only our own words pass."""

    def __init__(self, send: Send) -> None:
        self.send, self.over, self.started = send, False, False

    async def __call__(self, message: Message) -> None:
        """Pass a message of the app on."""
        if self.over and not self.started:
            return
        if message["type"] == "http.response.start":
            self.started = True
            message = {**message, "headers": [*message.get("headers", []), *HEADERS]}
        await self.send(message)

    async def ours(self, status: int, shape: dict[str, Any]) -> None:
        """Send a whole answer of the guard's own."""
        body = json.dumps(shape).encode()
        headers = [
            (b"content-type", b"application/json"),
            (b"content-length", str(len(body)).encode()),
            *HEADERS,
        ]
        self.started = True
        await self.send({"type": "http.response.start", "status": status, "headers": headers})
        await self.send({"type": "http.response.body", "body": body})


def _same_origin(headers: dict[str, list[str]], host: str) -> bool:
    """Tell whether a write comes from our own page, or from a script that says so."""
    site = headers.get("sec-fetch-site", [""])[0]
    origin = headers.get("origin", [""])[0]
    if origin:
        return origin in (f"http://{host}", f"https://{host}")
    if site:
        return site == "same-origin"
    return headers.get("x-platewright") == ["1"]


def _token(headers: dict[str, list[str]]) -> str:
    jar: SimpleCookie = SimpleCookie()
    for line in headers.get("cookie", []):
        try:
            jar.load(line)
        except CookieError:
            return ""
    held = jar.get(COOKIE)
    return held.value if held else ""
