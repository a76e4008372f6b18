"""Child process of the strip library: told on standard input what to pack, it prints a line for each better answer."""

from __future__ import annotations

import json
import sys
import threading
from typing import Any

__all__ = ["main"]

LOOK = 0.2
"""How often better answers are asked for [s]."""


def main() -> None:
    """Pack (lengths in the question [mm], its time [s]); the last line printed is the best answer."""
    import spyrrow

    question = json.load(sys.stdin)
    items = [
        spyrrow.Item(str(i), [tuple(p) for p in s["loops"][0]], s["count"], s["degrees"])
        for i, s in enumerate(question["shapes"])
    ]
    strip = spyrrow.StripPackingInstance("strip", question["height"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=max(1, int(question["seconds"])),
        num_workers=question["workers"], seed=question["seed"], min_items_separation=question["apart"] or None,
    )  # fmt: skip
    queue, done = spyrrow.ProgressQueue(), threading.Event()
    legal = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas)

    def watch() -> None:
        while not done.wait(LOOK):
            for kind, solution in queue.drain():
                if kind in legal:
                    _tell(solution)

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    found = strip.solve(config, queue)
    done.set()
    watcher.join()
    _tell(found)


def _tell(found: Any) -> None:
    rows = [[int(p.id), p.translation[0], p.translation[1], p.rotation] for p in found.placed_items]
    print(json.dumps(rows), flush=True)


if __name__ == "__main__":
    main()
