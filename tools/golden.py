"""Work the golden jobs again and print what differs from what is kept beside them; ``--accept`` keeps what came out.

A golden job is a folder below ``tests/golden``: ``job.json`` is the job as the page holds it; layout, program, proof and
price beside it are what came of it when somebody last looked at the difference and accepted it. Everything is compared
whole, so that a change of the code shows what it does to a job from its inputs to its price.
"""

from __future__ import annotations

import argparse
import difflib
import json
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
JOBS = ROOT / "tests" / "golden"


def rounded(value: Any) -> Any:
    """Return a document with its numbers to a millionth: the last digits differ between processors."""
    if isinstance(value, float):
        return round(value, 6) + 0.0
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    return [rounded(one) for one in value] if isinstance(value, list | tuple) else value


def made(folder: Path) -> dict[str, str]:
    """Return what comes of a golden job now: file name -> text."""
    from platewright.shop.document import read_job
    from platewright.shop.folder.store import Shop
    from platewright.shop.pipeline import run

    with tempfile.TemporaryDirectory() as home, Shop(Path(home)) as shop:
        job = read_job(json.loads((folder / "job.json").read_text(encoding="utf-8")))
        states = {s.step.station: s for s in run(shop, job)}
        texts: dict[str, str] = {}
        for station in ("layout", "program", "proof", "price"):
            result: dict[str, Any] = states[station].result or {"state": states[station].state}
            kept = {k: result.get(k) for k in ("state", "summary", "verdict", "numbers", "findings", "error")}
            if station in ("layout", "price"):
                kept["data"] = {k: result.get("data", {}).get(k) for k in ("layout", "cost")}
            texts[f"{station}.json"] = json.dumps(rounded(kept), indent=1, ensure_ascii=False) + "\n"
            if station == "program" and result.get("data"):
                texts["program.txt"] = shop.file(result["data"]["program_file"]).decode("ascii")
        return texts


def difference(folder: Path) -> str:
    """Return how what comes of a golden job now differs from what is kept, as a unified diff; empty if it does not."""
    found = []
    for name, text in made(folder).items():
        kept = folder / name
        before = kept.read_text(encoding="utf-8") if kept.exists() else ""
        place = f"tests/golden/{folder.name}/{name}"
        found += difflib.unified_diff(
            before.splitlines(True), text.splitlines(True), f"{place} as kept", f"{place} now", n=1
        )
    return "".join(found)


def main() -> int:
    """Print every difference; return 1 if there is one that was not accepted."""
    parser = argparse.ArgumentParser(prog="run.py golden", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--accept", action="store_true", help="keep what came out")
    requested = parser.parse_args()
    changed = 0
    for folder in sorted(p.parent for p in JOBS.glob("*/job.json")):
        text = difference(folder)
        print(text or f"{folder.name}: as kept", end="" if text else "\n")
        changed += bool(text)
        if requested.accept and text:
            for name, now in made(folder).items():
                (folder / name).write_text(now, encoding="utf-8")
    return 1 if changed and not requested.accept else 0


if __name__ == "__main__":
    sys.exit(main())
