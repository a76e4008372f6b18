"""Kill a saving process at random moments and count what it lost of what it had acknowledged."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from platewright.shop.folder.store import Shop

CHILD = Path(__file__).with_name("crash_child.py")


@dataclass(frozen=True, kw_only=True)
class Damage:
    kills: int
    saves: int
    lost: int
    torn: int
    bad_files: int
    unsound: int


def kill_at_random(folder: Path, *, kills: int, seed: int, spoiled: bool = False) -> Damage:
    """Run the child, kill -9 it between 0 and 60 ms after its first word, reopen, compare; again and again."""
    chance = random.Random(seed)
    saves = lost = torn = bad_files = unsound = 0
    for _ in range(kills):
        words = [sys.executable, str(CHILD), str(folder), "spoiled" if spoiled else "fair"]
        child = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        first = child.stdout.readline()
        time.sleep(chance.uniform(0.0, 0.06))
        child.kill()
        said = [int(line) for line in (first + child.stdout.read()).split("\n") if line.strip()]
        child.wait()
        child.stdout.close()
        saves += len(said)
        with Shop(folder) as shop:
            unsound += len(shop.database.sound())
            revisions = {r.number for r in shop.history("job", "crash")}
            lost += sum(1 for n in said if n not in revisions)
            for n in revisions:
                doc = shop.load("job", "crash", number=n).doc
                torn += shop.result(f"crash-{n}") != {"number": doc["number"]} or doc["number"] != n
            if revisions:
                last = shop.load("job", "crash").doc
                bad_files += shop.file(last["file"]) != f"file {last['number']} ".encode() * 500
    return Damage(kills=kills, saves=saves, lost=lost, torn=torn, bad_files=bad_files, unsound=unsound)
