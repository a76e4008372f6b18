"""Check the page: its format, lines of at most 120 columns, stations of at most 150 lines, types of scripts and templates, its unit tests. Exit code 0 if clean."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import webclient

WIDEST = 120
"""Most columns of a line of the page's source [-]."""
LONGEST = 150
"""Most lines of a station's view [-]."""


def too_wide() -> list[str]:
    """Return the lines the formatter could not break, as file and line [-]."""
    found = []
    for path in sorted((webclient.CLIENT / "src").rglob("*")):
        if path.suffix in (".svelte", ".ts", ".css") and path.name != "api-types.ts":
            lines = path.read_text(encoding="utf-8").splitlines()
            wide = [n for n, line in enumerate(lines, 1) if len(line) > WIDEST]
            found += [f"{path.relative_to(webclient.ROOT)}:{n} has more than {WIDEST} columns" for n in wide]
    return found


def too_long() -> list[str]:
    """Return the stations' views that hold more than one thought: those of too many lines [-]."""
    found = []
    for path in sorted((webclient.CLIENT / "src" / "stations").rglob("*.svelte")):
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > LONGEST:
            found.append(f"{path.relative_to(webclient.ROOT)} has {lines} lines (at most {LONGEST})")
    return found


def main() -> int:
    """Run formatter, linter, svelte-check and vitest with the locked modules; return 1 if one complains."""
    if wrong := [*too_wide(), *too_long()]:
        print(*wrong, sep="\n", file=sys.stderr)
        return 1
    webclient.modules()
    for words in (("run", "style"), ("run", "check"), ("run", "test")):
        try:
            webclient.npm(*words)
        except subprocess.CalledProcessError:
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
