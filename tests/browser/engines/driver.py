"""Stock Firefox and a WebKitGTK browser, driven by what they ship with: W3C WebDriver words over two wires.

Glossary: a *wire* carries one command and gives its value. WebKit's driver speaks the standard's HTTP; Firefox
speaks the same commands, framed as `length:[0, id, name, parameters]` over TCP, without a driver program beside it.

Method: everything a person does is a real pointer or key action at a place on the screen; scripts only look, and
find where a thing is. What is clicked must be what lies there (`elementFromPoint`), as for a finger.

Limits: no file dialogs (the Chromium tests upload); WebKitGTK's driver has no touch, so its phone is 360 px wide
with a mouse.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, ClassVar, Protocol

from tests.web.helpers import free_port

# What goes wrong on the page, kept by the page itself.
HOOK = """
if (!window.mistakes) {
  window.mistakes = [];
  const keep = (what) => window.mistakes.push(String(what));
  addEventListener('error', (e) => keep(e.message || `not loaded: ${e.target.src || e.target.href}`), true);
  addEventListener('unhandledrejection', (e) => keep(`rejected: ${e.reason}`));
  addEventListener('securitypolicyviolation', (e) => keep(`policy: ${e.violatedDirective} ${e.blockedURI}`));
  const said = console.error;
  console.error = (...words) => { keep(words.join(' ')); said(...words); };
}
"""
# The one thing that shows of a kind and is called so: its name, label or text. A word in full before a word in part.
FIND = """
const [kind, name] = arguments;
const label = (e) => (e.labels?.[0]?.textContent ?? '');
const called = (e) => (e.getAttribute('aria-label') || label(e) || e.textContent).replace(/\\s+/g, ' ').trim();
const shows = (e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== 'hidden';
const all = [...document.querySelectorAll(kind)].filter(shows);
const found = all.find((e) => called(e) === name) ?? all.find((e) => called(e).includes(name));
"""
PLACE = """
if (!found) return null;
found.scrollIntoView({ block: 'center', inline: 'center' });
const box = found.getBoundingClientRect();
const [x, y] = [box.left + box.width / 2, box.top + box.height / 2];
const there = document.elementFromPoint(x, y);
if (found.disabled || !there || !(found.contains(there) || there.contains(found))) return null;
return [x, y];
"""


class RefusedError(Exception):
    """A command the engine did not carry out, with its reason."""


class Wire(Protocol):
    """What carries a command to an engine."""

    def __call__(self, name: str, **parameters: Any) -> Any: ...


class HttpWire:
    """The standard's own wire (W3C WebDriver, Recommendation 2018, clause 6)."""

    PATHS: ClassVar = {
        "Navigate": ("POST", "/url"),
        "ExecuteScript": ("POST", "/execute/sync"),
        "PerformActions": ("POST", "/actions"),
        "ReleaseActions": ("DELETE", "/actions"),
        "SetWindowRect": ("POST", "/window/rect"),
        "DeleteSession": ("DELETE", ""),
    }

    def __init__(self, port: int) -> None:
        self.base = f"http://127.0.0.1:{port}/session"

    def start(self, capabilities: dict[str, Any]) -> None:
        made = self._send("POST", "", {"capabilities": {"alwaysMatch": capabilities}})
        self.base += f"/{made['sessionId']}"

    def __call__(self, name: str, **parameters: Any) -> Any:
        method, path = self.PATHS[name]
        return self._send(method, path, parameters if method == "POST" else None)

    def _send(self, method: str, path: str, body: dict[str, Any] | None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        requested = urllib.request.Request(self.base + path, data, {"Content-Type": "application/json"})
        requested.method = method
        try:
            with urllib.request.urlopen(requested, timeout=60) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as refused:
            raise RefusedError(refused.read().decode(errors="replace")[:600]) from None


class FramedWire:
    """The same commands as Firefox frames them over TCP."""

    def __init__(self, port: int) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=60)
        self.stream = self.socket.makefile("rb")
        self.number = 0
        self._read()

    def close(self) -> None:
        self.stream.close()
        self.socket.close()

    def _read(self) -> Any:
        length = b""
        while not length.endswith(b":"):
            length += self.stream.read(1) or b":"
        return json.loads(self.stream.read(int(length[:-1])))

    def __call__(self, name: str, **parameters: Any) -> Any:
        self.number += 1
        full = name if ":" in name else f"WebDriver:{name}"
        text = json.dumps([0, self.number, full, parameters]).encode()
        self.socket.sendall(str(len(text)).encode() + b":" + text)
        _, _, wrong, value = self._read()
        if wrong:
            raise RefusedError(f"{full}: {wrong['message']}"[:600])
        return value.get("value", value) if isinstance(value, dict) else value


class Engine:
    """A browser with one page open: look, click, drag, type."""

    def __init__(self, name: str, wire: Wire, downloads: Path, *, touch: bool) -> None:
        self.name, self.wire, self.downloads, self.has_touch = name, wire, downloads, touch
        self.touching = False

    def go(self, address: str) -> None:
        # an address that differs only behind # would keep the page, and its mistakes
        self.wire("Navigate", url="about:blank")
        self.wire("Navigate", url=address)
        self.run(HOOK)

    def run(self, script: str, *words: Any) -> Any:
        return self.wire("ExecuteScript", script=script, args=list(words))

    def mistakes(self) -> list[str]:
        kept: list[str] = self.run("return window.mistakes ?? ['the page went away']")
        return kept

    def size(self, width: int, height: int) -> None:
        """Give the page itself this size [px]; a phone's is touched where the engine can be."""
        self.touching = self.has_touch and width < 500
        self.wire("SetWindowRect", width=width, height=height)
        inner = self.until(lambda: self._inner(width), f"a page {width} px wide")
        self.wire("SetWindowRect", width=width, height=2 * height - inner[1])

    def _inner(self, width: int) -> list[int] | None:
        inner: list[int] = self.run("return [innerWidth, innerHeight]")
        return inner if inner[0] == width else None

    def until(self, look: Callable[[], Any], what: str, *, seconds: float = 90.0) -> Any:
        """Look again until something is there [s]."""
        end = time.monotonic() + seconds
        while not (found := look()):
            if time.monotonic() > end:
                shown = self.run("return document.body.innerText")[:1500]
                raise AssertionError(f"{self.name}: no {what}\n{self.mistakes()}\n{shown}")
            time.sleep(0.05)
        return found

    def shows(self, kind: str, name: str = "") -> Any:
        return self.until(lambda: self.run(FIND + "return found ? [called(found)] : null", kind, name),
                          f"{kind} called {name!r}")  # fmt: skip

    def place(self, kind: str, name: str = "") -> tuple[float, float]:
        """Return where a thing can be clicked [px], once it can and has come to rest there."""
        last: list[list[float] | None] = [None]

        def rests() -> list[float] | None:
            before, last[0] = last[0], self.run(FIND + PLACE, kind, name)
            return last[0] if last[0] == before else None

        x, y = self.until(rests, f"{kind} called {name!r} to click")
        return float(x), float(y)

    def click(self, kind: str, name: str = "") -> None:
        self.drag([self.place(kind, name)])

    def drag(self, spots: list[tuple[float, float]]) -> None:
        """Press at the first place, go through the rest, let go [px]."""
        move = [
            {"type": "pointerMove", "duration": 40, "origin": "viewport", "x": round(x), "y": round(y)}
            for x, y in spots
        ]
        steps = [move[0], {"type": "pointerDown", "button": 0}, *move[1:], {"type": "pointerUp", "button": 0}]
        kind = "touch" if self.touching else "mouse"
        hand = {"type": "pointer", "id": kind, "parameters": {"pointerType": kind}, "actions": steps}
        self.wire("PerformActions", actions=[hand])
        self.wire("ReleaseActions")

    def keys(self, text: str) -> None:
        """Press keys one after the other; special keys by their code points of the standard."""
        steps = [{"type": kind, "value": key} for key in text for kind in ("keyDown", "keyUp")]
        self.wire("PerformActions", actions=[{"type": "key", "id": "keys", "actions": steps}])

    def fill(self, label: str, text: str) -> None:
        """Put text in a field for what it holds, as typed, and leave the field."""
        self.click("input, textarea", label)
        self.until(
            lambda: self.run(FIND + "return document.activeElement === found", "input, textarea", label),
            f"hand in {label}",
        )
        self.run("document.activeElement.select()")
        self.keys(text + TAB)

    def choose(self, label: str, value: str) -> None:
        """Choose in a list. The list itself is drawn by the browser, outside the page."""
        self.shows("select", label)
        self.run(FIND + "found.value = arguments[2]; found.dispatchEvent(new Event('change', { bubbles: true }))",
                 "select", label, value)  # fmt: skip

    def downloaded(self, name: str) -> bytes:
        """Return a file as the browser kept it."""
        file = self.downloads / name
        self.until(lambda: file.is_file() and file.stat().st_size > 0, f"download {name}")
        return file.read_bytes()


TAB = "\ue004"
ENTER = "\ue007"


class Firefox(Engine):
    """Firefox; the page's size and its console are reached through the browser itself."""

    def go(self, address: str) -> None:
        self._inside("Services.console.reset()")
        super().go(address)

    def size(self, width: int, height: int) -> None:
        """Give the page this size [px]: a window is never under 500 px, the page in it may be."""
        self.touching = width < 500
        self.wire("SetWindowRect", width=max(width, 500), height=height)
        pin = "const s = gBrowser.selectedBrowser.style; for (const k of ['width', 'min-width', 'max-width']) s.setProperty(k, arguments[0] + 'px'); s.setProperty('height', arguments[1] + 'px');"
        self._inside(pin, width, height)
        self.until(lambda: self._inner(width), f"a page {width} px wide")

    def _inside(self, script: str, *words: Any) -> Any:
        self.wire("Marionette:SetContext", value="chrome")
        try:
            return self.run(script, *words)
        finally:
            self.wire("Marionette:SetContext", value="content")

    def mistakes(self) -> list[str]:
        """Return the page's own list and every error of its scripts in the browser's console."""
        console = """return Services.console.getMessageArray()
            .filter((m) => m instanceof Ci.nsIScriptError && !(m.flags & Ci.nsIScriptError.warningFlag))
            .filter((m) => m.sourceName.startsWith('http://localhost')).map((m) => m.errorMessage)"""
        return super().mistakes() + list(self._inside(console))


@contextlib.contextmanager
def _process(words: list[str], log: Path, **more: Any) -> Iterator[subprocess.Popen[bytes]]:
    with log.open("wb") as out, subprocess.Popen(words, stdout=out, stderr=out, **more) as made:
        try:
            yield made
        finally:
            made.terminate()
            try:
                made.wait(10)
            except subprocess.TimeoutExpired:
                made.kill()


def _soon(look: Callable[[], Any], what: str) -> Any:
    end = time.monotonic() + 60
    while not (found := look()):
        if time.monotonic() > end:
            raise AssertionError(f"{what} did not start within 60 s")
        time.sleep(0.05)
    return found


@contextlib.contextmanager
def firefox(folder: Path) -> Iterator[Firefox]:
    """Start Firefox with a profile of its own in a folder."""
    downloads = folder / "downloads"
    downloads.mkdir()
    values: dict[str, object] = {
        "marionette.port": 0,
        "browser.download.folderList": 2,
        "browser.download.dir": str(downloads),
        "browser.download.useDownloadDir": True,
        "browser.download.always_ask_before_handling_new_types": False,
        "browser.shell.checkDefaultBrowser": False,
        "pdfjs.disabled": True,
        "ui.prefersReducedMotion": 1,
    }
    lines = [f"user_pref({json.dumps(key)}, {json.dumps(value)});" for key, value in values.items()]
    (folder / "user.js").write_text("\n".join(lines))
    words = [firefox_program() or "", "--headless", "--no-remote", "--marionette", "--remote-allow-system-access",
             "--profile", str(folder), "about:blank"]  # fmt: skip
    env = {**os.environ, "HOME": str(folder), "MOZ_CRASHREPORTER_DISABLE": "1"}
    with _process(words, folder / "log", env=env):
        port = folder / "MarionetteActivePort"
        _soon(lambda: port.is_file() and port.read_text().strip(), "Firefox")
        wire = FramedWire(int(port.read_text()))
        wire("NewSession", capabilities={"alwaysMatch": {"unhandledPromptBehavior": "accept"}})
        yield Firefox("Firefox", wire, downloads, touch=True)
        with contextlib.suppress(RefusedError, OSError, ValueError):
            wire("Marionette:Quit", flags=["eForceQuit"])
        wire.close()


# The little browser's bar would keep its window over 440 px: its buttons shrink.
NARROW = "headerbar *, toolbar *, entry, entry *, button, button image, tab, label { min-width: 0; padding: 0; margin: 0; font-size: 1px; }"


@contextlib.contextmanager
def webkit(folder: Path) -> Iterator[Engine]:
    """Start WebKitGTK's little browser on a screen of its own, with its home in a folder."""
    downloads = folder / "Downloads"
    downloads.mkdir()
    (folder / "gtk-3.0").mkdir()
    (folder / "gtk-3.0/gtk.css").write_text(NARROW)
    (folder / "user-dirs.dirs").write_text(f'XDG_DOWNLOAD_DIR="{downloads}"\n')
    port = free_port()
    env = {**os.environ, "HOME": str(folder), "GDK_BACKEND": "x11", "LIBGL_ALWAYS_SOFTWARE": "1",
           # root in a container has no namespaces to put a sandbox in; the page is our own
           "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1",
           **{f"XDG_{kind}_HOME": str(folder) for kind in ("CONFIG", "CACHE", "DATA")}}  # fmt: skip
    screen = ["Xvfb", "-displayfd", "1", "-screen", "0", "1400x1000x24", "-nolisten", "tcp"]
    log = folder / "screen"
    with contextlib.ExitStack() as open_:
        open_.enter_context(_process(screen, log))
        number = _soon(lambda: [w for w in log.read_text().split() if w.isdigit()], "Xvfb")[0]
        env["DISPLAY"] = f":{number}"
        words = ["WebKitWebDriver", f"--port={port}", "--host=local"]
        open_.enter_context(_process(words, folder / "log", env=env))
        _soon(lambda: _answers(port), "WebKitWebDriver")
        wire = HttpWire(port)
        options = {"binary": webkit_program(), "args": ["--automation"]}
        wire.start({"webkitgtk:browserOptions": options})
        yield Engine("WebKit", wire, downloads, touch=False)
        with contextlib.suppress(RefusedError, OSError):
            wire("DeleteSession")


def _answers(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
        return True
    return False


def firefox_program() -> str | None:
    return os.environ.get("PLATEWRIGHT_FIREFOX") or shutil.which("firefox-esr") or shutil.which("firefox")


def webkit_program() -> str | None:
    """Return WebKitGTK's little browser, if it, its driver and a screen to put it on are installed."""
    if not (shutil.which("WebKitWebDriver") and shutil.which("Xvfb")):
        return None
    places = ("lib/*/webkit2gtk-4.*/MiniBrowser", "libexec/webkit2gtk-4.*/MiniBrowser")
    found = [str(program) for place in places for program in Path("/usr").glob(place)]
    return found[0] if found else None
