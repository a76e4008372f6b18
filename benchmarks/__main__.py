"""``run.py bench [STAGE ...] [--quick] [--json FILE]``: print one line a figure."""

from __future__ import annotations

import argparse
import importlib
import json
import sys
from pathlib import Path

STAGES = sorted(
    p.stem for p in Path(__file__).parent.glob("*.py") if p.stem not in {"__init__", "__main__", "figure"}
)


def main() -> int:
    """Run the stages asked for (all by default); exit 1 if a figure is short."""
    parser = argparse.ArgumentParser(
        prog="run.py bench", description="Measure each stage beside a library or a published value."
    )
    parser.add_argument("stage", nargs="*", help=f"one or more of: {', '.join(STAGES)}")
    parser.add_argument("--quick", action="store_true", help="a smaller set, for a first look")
    parser.add_argument("--json", type=Path, help="also write the figures to this file")
    asked = parser.parse_args()
    if unknown := set(asked.stage) - set(STAGES):
        parser.error(f"no such stage: {', '.join(sorted(unknown))}; allowed: {', '.join(STAGES)}")
    print(f"{'figure':<58} {'ours':>16} {'peer':>16} {'ratio':>8}  {'bar':<24} verdict")
    figures = []
    for stage in asked.stage or STAGES:
        for figure in importlib.import_module(f"benchmarks.{stage}").figures(quick=asked.quick):
            print(figure.line(), flush=True)
            figures.append({"stage": stage} | figure.as_dict())
    if asked.json:
        asked.json.write_text(json.dumps(figures, indent=1))
    return 0 if all(f["holds"] for f in figures) else 1


if __name__ == "__main__":
    sys.exit(main())
