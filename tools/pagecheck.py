"""Check the page: types of scripts and templates, then its unit tests. Exit code 0 if both are clean."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import webclient


def main() -> int:
    """Run svelte-check and vitest with the locked modules; return 1 if either complains."""
    webclient.modules()
    for words in (("run", "check"), ("run", "test")):
        try:
            webclient.npm(*words)
        except subprocess.CalledProcessError:
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
