"""Saves without end, saying each number only after it is durable (or, spoiled, before). Run as a script."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from platewright.shop.folder.store import Shop


def main(folder: str, spoiled: str) -> None:
    shop = Shop(Path(folder))
    number = len(shop.history("job", "crash"))
    while True:
        number += 1
        if spoiled == "spoiled":
            print(number, flush=True)  # wrong on purpose: said before it is kept
            time.sleep(0.004)
        data = f"file {number} ".encode() * 500
        with shop.database.atomic():
            kept = shop.put_file(data, name=f"{number}.txt", media="text/plain")
            shop.save("job", "crash", {"number": number, "file": kept.sha256})
            shop.keep_result(f"crash-{number}", step="test", doc={"number": number})
        if spoiled != "spoiled":
            print(number, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
