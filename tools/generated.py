"""Write the files that are made from code and data, or check that they are fresh (``--check``).

Each entry of GENERATED is a file and the function that gives its whole text.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))  # for tools.pages
GENERATED = {
    "docs/reference/findings.md": "platewright.findings:page",
    "docs/cut/proof.md": "platewright.proof.docs:page",
    "docs/table/dialects.md": "tools.pages.dialects:page",
    "docs/reference/families.md": "tools.pages.families:page",
    "docs/pictures/families.svg": "tools.pages.families:sheet",
    "docs/pictures/geometry-conventions.svg": "tools.pages.geometry:conventions",
    "docs/pictures/geometry-corners.svg": "tools.pages.geometry:corners",
    "docs/pictures/geometry-edges.svg": "tools.pages.geometry:weld_room",
    "docs/pictures/geometry-operations.svg": "tools.pages.geometry:operations",
    "docs/pictures/tuning.svg": "platewright.tuning.sheet:docs_picture",
    "docs/pictures/starter-chart.svg": "tools.pages.starter_chart:chart_picture",
    "docs/reference/tables.md": "platewright.part.rules.tables:page",
    "docs/manual.md": "platewright.paper.manual:docs_page",
    "docs/reference/options.md": "platewright.burn.docs:page",
    "docs/reference/commands.md": "tools.pages.commands:page",
    "client/src/api-types.ts": "tools.pages.api_types:text",
}


def _text(maker: str) -> str:
    module, name = maker.split(":")
    return str(getattr(importlib.import_module(module), name)())


def main() -> int:
    """Write or check every generated file; return 1 if a checked one is stale."""
    check, stale = "--check" in sys.argv[1:], []
    for name, maker in GENERATED.items():
        path, text = ROOT / name, _text(maker)
        if path.exists() and path.read_text(encoding="utf-8") == text:
            continue
        stale.append(name)
        if not check:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
    for name in stale:
        print(f"{name}: {'stale; run tools/generated.py' if check else 'written'}")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main())
