"""Refuse lock files that name a host or lack hashes. Standard library only."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOST = re.compile(r"https?://|file://|git\+|--(extra-)?index-url|--find-links")


def python_lock(path: Path) -> list[str]:
    """Return what is wrong with a Python lock."""
    text = path.read_text(encoding="utf-8")
    bad = [
        f"{path.name}:{n} names a host" for n, line in enumerate(text.splitlines(), 1) if HOST.search(line)
    ]
    pins = re.split(r"(?m)^(?=[A-Za-z0-9])", text)
    return bad + [
        f"{path.name}: {pin.split('==')[0]} has no hash"
        for pin in pins
        if "==" in pin and "--hash=sha256:" not in pin
    ]


def page_lock(path: Path) -> list[str]:
    """Return what is wrong with the page's lock."""
    packages = json.loads(path.read_text(encoding="utf-8"))["packages"]
    bad = [
        f"{path.name}: {name} has a resolved address"
        for name, entry in packages.items()
        if "resolved" in entry
    ]
    return bad + [
        f"{path.name}: {n} has no integrity hash" for n, e in packages.items() if n and "integrity" not in e
    ]


def main() -> int:
    """Check every lock; return 1 if one is wrong."""
    bad = [line for path in sorted(ROOT.glob("requirements*.lock")) for line in python_lock(path)]
    bad += [
        f"{name} must not be committed (it names hosts)"
        for name in ("uv.lock", "pylock.toml")
        if (ROOT / name).exists()
    ]
    page = ROOT / "client" / "package-lock.json"
    if page.exists():
        bad += page_lock(page)
    for line in bad:
        print(line, file=sys.stderr)
    print(f"lock files: {'clean' if not bad else f'{len(bad)} faults'}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
