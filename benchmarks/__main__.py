"""``run.py bench [STAGE ...] [--quick] [--json FILE]``: print one line a figure.

A stage with parts can be run in part: ``layout-strips``. Options a part does not know are refused.
"""

from __future__ import annotations

import argparse
import importlib
import inspect
import json
import sys
from collections.abc import Callable, Iterable
from pathlib import Path

from benchmarks.figure import Figure

STAGES = sorted(
    path.parent.stem if path.stem == "__init__" else path.stem
    for path in [*Path(__file__).parent.glob("*.py"), *Path(__file__).parent.glob("*/__init__.py")]
    if "\ndef figures(" in path.read_text(encoding="utf-8")
)
"""Every file or folder here that measures something."""


def _measure(word: str) -> Callable[..., Iterable[Figure]]:
    """Return what measures a stage, or the part of one named after a dash."""
    stage, _, part = word.partition("-")
    if stage not in STAGES:
        raise ValueError(f"no such stage: {stage}; allowed: {', '.join(STAGES)}")
    module = importlib.import_module(f"benchmarks.{stage}")
    parts: dict[str, Callable[..., Iterable[Figure]]] = getattr(module, "PARTS", {})
    if part and part not in parts:
        raise ValueError(
            f"no such part: {word}; allowed: {', '.join(f'{stage}-{p}' for p in parts) or stage}"
        )
    found: Callable[..., Iterable[Figure]] = parts[part] if part else module.figures
    return found


def main() -> int:
    """Run the stages asked for (all by default); exit 1 if a figure is short; what is not measured is said."""
    parser = argparse.ArgumentParser(
        prog="run.py bench", description="Measure each stage beside a library or a published value."
    )
    parser.add_argument("stage", nargs="*", help=f"one or more of: {', '.join(STAGES)}; or STAGE-PART")
    parser.add_argument("--quick", action="store_true", help="a smaller set, for a first look")
    parser.add_argument("--seconds", type=float, help="time a case, where a part takes one [s]")
    parser.add_argument(
        "--only", type=lambda text: text.split(","), help="cases whose name holds one of these"
    )
    parser.add_argument(
        "--share", type=float, help="share of the cases to run, where a stage draws them by number"
    )
    parser.add_argument("--seed", type=int, help="seed of the cases, where a stage draws them by number")
    parser.add_argument("--told", type=Path, help="also write the cases that are short to this file")
    parser.add_argument("--json", type=Path, help="also write the figures to this file")
    requested = parser.parse_args()
    more = {
        k: v for k in ("seconds", "only", "share", "seed", "told") if (v := getattr(requested, k)) is not None
    }
    try:
        measures = [(word, _measure(word)) for word in requested.stage or STAGES]
        for word, measure in measures:
            if unknown := more.keys() - inspect.signature(measure).parameters.keys():
                raise ValueError(f"{word} takes no --{' or --'.join(sorted(unknown))}")
    except ValueError as wrong:
        parser.error(str(wrong))
    print(f"{'figure':<58} {'ours':>16} {'peer':>16} {'ratio':>8}  {'bar':<24} verdict")
    figures = []
    for word, measure in measures:
        for figure in measure(quick=requested.quick, **more):
            print(figure.line(), flush=True)
            figures.append({"stage": word} | figure.as_dict())
            if requested.json:
                requested.json.write_text(json.dumps(figures, indent=1))
    return 1 if any(f["holds"] is False for f in figures) else 0


if __name__ == "__main__":
    sys.exit(main())
